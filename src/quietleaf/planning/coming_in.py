"""What a reader finds on coming in: what is theirs to read, what is short, what a paper says."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Literal

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.day import Slot, slots_of_day
from quietleaf.planning.programme import Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station, programme_named

When = Literal["today", "soon", "missed"]
_ORDER: tuple[When, ...] = ("today", "soon", "missed")
DAYS_AHEAD = 14
"""What airs, or is read, later than so many days from now is nobody's matter today."""
DAYS_BACK = 60
"""So long after its day something that was begun is looked for."""
_WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToRead:
    """An assignment as its reader finds it.

    Attributes
    ----------
    when : {"today", "soon", "missed"}
        Read today, or on the air today; later; its time on the air is over.
    airs_at : datetime or None
        The first time on its air date, in the station's zone; None where it never airs.
    begun : bool
        Something was recorded and not handed in.
    """

    assignment: Assignment
    programme: Programme
    when: When
    airs_at: datetime | None
    begun: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """A programme that nobody reads yet.

    Attributes
    ----------
    airs_at : datetime
        The next time that it will be on the air, in the station's zone.
    assignment : Assignment or None
        What is planned for it, without a reader; None where nothing is.
    """

    programme: Programme
    airs_at: datetime
    assignment: Assignment | None


def to_read(
    station: Station,
    reader: str,
    now: datetime,
    zone: tzinfo,
    *,
    done: Collection[str] = (),
    begun: Collection[str] = (),
) -> tuple[ToRead, ...]:
    """Give what a reader still has to read, what is for today first.

    Parameters
    ----------
    now : datetime
        Aware.
    done, begun : collection of str
        Keys of the assignments that this reader handed in; and of those that have something
        recorded and were not handed in, which are given whatever their day.
    """
    today = now.astimezone(zone).date()
    found = [
        _to_read(station, assignment, now, zone, assignment.key in begun)
        for assignment in station.assignments
        if reader in assignment.readers
        and assignment.key not in done
        and (assignment.key in begun or _matters(assignment, today, zone))
    ]
    return tuple(sorted(found, key=_place))


def may_be_open(assignment: Assignment, today: date) -> bool:
    """Say whether something of an assignment may still be read: it is not long past."""
    day = assignment.air_date
    return day is None or day >= today - timedelta(days=DAYS_BACK)


def reads_today(
    station: Station,
    now: datetime,
    zone: tzinfo,
    is_done: Callable[[Assignment, str], bool] = lambda _assignment, _reader: False,
) -> dict[str, tuple[str, ...]]:
    """Give the readers who read today with the titles of what they read, in the day's order.

    Parameters
    ----------
    is_done : callable
        Says whether a reader has handed an assignment in; asked for today's alone.
    """
    names: dict[str, tuple[str, ...]] = {}
    today = now.astimezone(zone).date()
    due = [
        _to_read(station, assignment, now, zone, False)
        for assignment in station.assignments
        if assignment.readers and _matters(assignment, today, zone)
    ]
    for each in sorted(due, key=_place):
        if each.when == "today":
            for reader in each.assignment.readers:
                if not is_done(each.assignment, reader):
                    names[reader] = (*names.get(reader, ()), each.programme.title)
    return names


def short_of(station: Station, now: datetime, zone: tzinfo) -> tuple[Short, ...]:
    """Give what nobody reads yet and is on the air later today or tomorrow, the next first.

    A private request is never among it: who sees one is for the desk to say.
    """
    today = now.astimezone(zone).date()
    found: dict[tuple[str, date], Short] = {}
    for day in (today, today + timedelta(days=1)):
        for slot in slots_of_day(station, day, zone):
            if slot.is_hole and slot.starts_at.astimezone(UTC) > now:
                found.setdefault(
                    (slot.programme.key, day),
                    Short(
                        programme=slot.programme,
                        airs_at=slot.starts_at,
                        assignment=slot.assignment,
                    ),
                )
    return tuple(found.values())


def likely_issue(station: Station, programme: Programme, air_date: date) -> date:
    """Guess the issue that a programme without an assignment is read from.

    A daily paper is read on the day; a weekly one goes by the weeks from an issue that is planned;
    a part of a book has the day on which it first airs. Whatever is guessed, the reader is asked.
    """
    publication = publication_of(station, programme)
    if publication is not None and publication.appears == "weekly":
        known = [
            assignment.issue_date
            for assignment in station.assignments
            if assignment.programme_key == programme.key
        ]
        if known:
            weeks = (air_date - max(known)) // _WEEK
            return max(known) + weeks * _WEEK
    return air_date


def next_part(station: Station, programme: Programme, read: Collection[int] = ()) -> int | None:
    """Give the part that follows the last one planned or read; None where there are no parts."""
    if not programme.serial:
        return None
    planned = (
        assignment.part
        for assignment in station.assignments
        if assignment.programme_key == programme.key and assignment.part is not None
    )
    return max((*planned, *read), default=0) + 1


def publication_of(station: Station, programme: Programme) -> Publication | None:
    """Give what a programme is read from; None if that has left the plan."""
    found = (each for each in station.publications if each.title == programme.publication)
    return next(found, None)


def has_issues(publication: Publication | None) -> bool:
    """Say whether it appears on days, so that a date stands on its front page."""
    return publication is None or publication.appears != "once"


def issues_a_paper_can_say(
    publication: Publication | None, planned: date, today: date
) -> tuple[date, ...]:
    """Give the dates that a paper in somebody's hand is likely to have: those out by now first.

    Today's and the latest before it come first, and those still to come last. The planned one is
    not among them: it was asked about first.

    Examples
    --------
    >>> paper = Publication(key="p", title="P", kind="newspaper", appears="daily")
    >>> days = issues_a_paper_can_say(paper, date(2026, 11, 25), date(2026, 11, 25))
    >>> days[0].isoformat(), days[-1].isoformat(), len(days)
    ('2026-11-24', '2026-11-26', 7)
    """
    if publication is not None and publication.appears == "weekly":
        days = {planned + weeks * _WEEK for weeks in (-3, -2, -1, 1)}
    else:
        last = max(planned, today) + timedelta(days=1)
        days = {last - timedelta(days=back) for back in range(8)}
    return tuple(sorted(days - {planned}, key=lambda day: (day > today, abs(day - today))))


def _to_read(
    station: Station, assignment: Assignment, now: datetime, zone: tzinfo, begun: bool
) -> ToRead:
    programme = programme_named(station, assignment.programme_key)
    slots: tuple[Slot, ...] = ()
    if assignment.air_date is not None:
        # Of this programme alone: a plan of years has thousands of assignments.
        alone = replace(station, programmes=(programme,), assignments=())
        slots = slots_of_day(alone, assignment.air_date, zone)
    today = now.astimezone(zone).date()
    read_on = None if assignment.reads_at is None else assignment.reads_at.astimezone(zone).date()
    when: When = "soon"
    if slots and slots[-1].ends_at.astimezone(UTC) <= now:
        when = "missed"
    elif read_on == today or (read_on is None and assignment.air_date == today):
        when = "today"
    elif read_on is not None and read_on < today and assignment.air_date == today:
        when = "today"  # agreed for an earlier day and still to be read: it is due now
    return ToRead(
        assignment=assignment,
        programme=programme,
        when=when,
        airs_at=slots[0].starts_at if slots else None,
        begun=begun,
    )


def _matters(assignment: Assignment, today: date, zone: tzinfo) -> bool:
    """Say whether a reader should see it today: not what is past, nor what is far ahead."""
    reads_at = assignment.reads_at
    if assignment.air_date is not None and assignment.air_date < today:
        return False
    day = assignment.air_date if reads_at is None else reads_at.astimezone(zone).date()
    return day is None or day <= today + timedelta(days=DAYS_AHEAD)


def _place(each: ToRead) -> tuple[int, float, str, str]:
    moment = each.assignment.reads_at or each.airs_at
    # What has no time at all, a private request, comes after what has one.
    at = float("inf") if moment is None else moment.timestamp()
    when = "today" if each.begun else each.when
    return _ORDER.index(when), at, each.programme.title, each.assignment.key
