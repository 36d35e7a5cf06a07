"""One day on the air: its slots in order, each with its assignment or a hole."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.programme import Programme
from quietleaf.planning.station import Station


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A programme's place in a day.

    Attributes
    ----------
    starts_at, ends_at : datetime
        Aware, in the station's zone, as its clocks will show them.
    assignment : Assignment or None
        None, or one without readers, is a hole.
    """

    programme: Programme
    starts_at: datetime
    ends_at: datetime
    assignment: Assignment | None

    @property
    def is_hole(self) -> bool:
        """Say whether nobody reads this yet."""
        return self.assignment is None or not self.assignment.readers


def slots_of_day(station: Station, day: date, zone: tzinfo) -> tuple[Slot, ...]:
    """Give the slots that begin on a day, in the order in which they air.

    A civil time that the clocks skip in spring airs as much later as they are put forward; one
    that they show twice in autumn airs the first time. Slots are measured in time that passes, so
    one across the change ends when its length is over.

    Parameters
    ----------
    zone : tzinfo
        The station's zone, by the name in `Station.zone`.

    Examples
    --------
    >>> from datetime import time
    >>> from zoneinfo import ZoneInfo
    >>> programme = Programme(
    ...     key="early", title="Early", publication="Post", slot_s=1800.0, window=None,
    ...     opening_words="", closing_words="", weekdays=(6,), air_times=(time(1, 30),),
    ... )
    >>> station = Station(
    ...     name="S", note="", zone="Europe/London", originator="S", programmes=(programme,),
    ...     readers=(), assignments=(),
    ... )
    >>> for slot in slots_of_day(station, date(2026, 3, 29), ZoneInfo("Europe/London")):
    ...     print(slot.starts_at, slot.is_hole)
    2026-03-29 02:30:00+01:00 True
    """
    assigned = {
        assignment.programme_key: assignment
        for assignment in station.assignments
        if assignment.air_date == day
    }
    slots = [
        _slot(programme, datetime.combine(day, air_time, zone), zone, assigned.get(programme.key))
        for programme in station.programmes
        if day.weekday() in programme.weekdays
        for air_time in programme.air_times
    ]
    return tuple(
        sorted(slots, key=lambda slot: (slot.starts_at.astimezone(UTC), slot.programme.title))
    )


def nearest_assigned_day(station: Station, day: date) -> date | None:
    """Give the day nearest to this one that has an assignment; of two, the later.

    None where nothing is assigned for any day.
    """
    days = {assignment.air_date for assignment in station.assignments if assignment.air_date}
    return min(days, key=lambda other: (abs((other - day).days), other < day), default=None)


def _slot(
    programme: Programme, civil: datetime, zone: tzinfo, assignment: Assignment | None
) -> Slot:
    starts_at = civil.astimezone(UTC)  # arithmetic in a zone would count by its clocks
    ends_at = starts_at + timedelta(seconds=programme.slot_s or 0.0)
    return Slot(
        programme=programme,
        starts_at=starts_at.astimezone(zone),
        ends_at=ends_at.astimezone(zone),
        assignment=assignment,
    )
