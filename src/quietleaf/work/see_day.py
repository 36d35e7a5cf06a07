"""See a day: what is planned, who reads it, and how far each reading has got."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from quietleaf.errors import NotFound
from quietleaf.planning.day import Slot, nearest_assigned_day, slots_of_day
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.storage.zones import zone_named
from quietleaf.work.summary import Summary, summary_of
from quietleaf.work.tools import Tools

FIRST_DAY = date(1970, 1, 2)
LAST_DAY = date(2199, 12, 31)
"""Days that can be looked at; every zone's table of clock changes covers them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenSlot:
    """A slot as the desk sees it.

    Attributes
    ----------
    starts_at, ends_at : datetime
        Aware, in the station's zone.
    issue_date : date or None
        None where nothing is assigned.
    readers : tuple of str
        Empty is a hole.
    is_over : bool
        Its time on air has passed.
    readings : tuple of Summary
        What was read for it, the newest first.
    """

    starts_at: datetime
    ends_at: datetime
    programme_title: str
    publication: Publication
    issue_date: date | None
    part: int | None
    readers: tuple[str, ...]
    is_over: bool
    readings: tuple[Summary, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenDay:
    """A day as the desk sees it.

    Attributes
    ----------
    now : datetime or None
        The present moment in the station's zone; None on another day.
    begun : int
        How many of the slots have begun: the present moment lies after so many.
    before, after : date or None
        The days beside it; None at the ends of the calendar.
    nearest : date or None
        Where nothing is assigned on this day: the nearest day that has an assignment.
    """

    station_name: str
    station_note: str
    day: date
    today: date
    now: datetime | None
    begun: int
    before: date | None
    after: date | None
    slots: tuple[SeenSlot, ...]
    nearest: date | None


def see_day(day: date | None, tools: Tools) -> SeenDay:
    """Gather what the board of a day shows; None is today in the station's zone.

    Raises
    ------
    NotFound
        If no station is planned here yet, or the day is out of reach.
    """
    station = tools.database.load_station()
    zone = zone_named(station.zone)
    now = tools.clock()
    today = now.astimezone(zone).date()
    shown = today if day is None else day
    if not FIRST_DAY <= shown <= LAST_DAY:
        raise NotFound(
            "day/out-of-reach",
            f"Days can be looked at from {FIRST_DAY.year} to {LAST_DAY.year}; "
            f"{shown.isoformat()} is out of reach.",
        )
    slots = _seen_slots(station, shown, zone, now, tools)
    assigned = any(slot.readers for slot in slots)
    return SeenDay(
        station_name=station.name,
        station_note=station.note,
        day=shown,
        today=today,
        now=now.astimezone(zone) if shown == today else None,
        begun=sum(slot.starts_at.astimezone(UTC) <= now for slot in slots),
        before=shown - timedelta(days=1) if shown > FIRST_DAY else None,
        after=shown + timedelta(days=1) if shown < LAST_DAY else None,
        slots=slots,
        nearest=None if assigned else nearest_assigned_day(station, shown),
    )


def _seen_slots(
    station: Station, day: date, zone: tzinfo, now: datetime, tools: Tools
) -> tuple[SeenSlot, ...]:
    publications = {publication.title: publication for publication in station.publications}
    read: dict[str, list[Summary]] = {}
    for row in tools.database.readings(air_date=day):
        read.setdefault(row.programme_key, []).insert(0, summary_of(row))
    return tuple(
        _seen_slot(
            slot,
            publications[slot.programme.publication],
            tuple(read.get(slot.programme.key, ())),
            slot.ends_at.astimezone(UTC) <= now,
        )
        for slot in slots_of_day(station, day, zone)
    )


def _seen_slot(
    slot: Slot, publication: Publication, readings: tuple[Summary, ...], is_over: bool
) -> SeenSlot:
    assignment = slot.assignment
    readers = readings[0].readers if readings else assignment.readers if assignment else ()
    issue_date = (
        readings[0].issue_date if readings else assignment.issue_date if assignment else None
    )
    return SeenSlot(
        starts_at=slot.starts_at,
        ends_at=slot.ends_at,
        programme_title=slot.programme.title,
        publication=publication,
        issue_date=issue_date,
        part=assignment.part if assignment else None,
        readers=readers,
        is_over=is_over,
        readings=readings,
    )
