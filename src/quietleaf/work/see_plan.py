"""See the plan: what comes next, and one programme, reader or booth with what hangs on it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from quietleaf.planning.assignment import Assignment
from quietleaf.planning.programme import Programme
from quietleaf.planning.station import Station, programme_named
from quietleaf.storage.tokens import Token, TokenPurpose
from quietleaf.storage.zones import zone_named
from quietleaf.work.own_station import is_example
from quietleaf.work.tools import Tools

ON_A_PAGE = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenAssignment:
    """An assignment with its programme.

    Attributes
    ----------
    booth_name : str
        Empty where no booth is agreed.
    reads_at : datetime or None
        Aware, in the station's zone.
    """

    assignment: Assignment
    programme: Programme
    booth_name: str
    reads_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenPlan:
    """The plan as the desk sees it.

    Attributes
    ----------
    coming : tuple of SeenAssignment
        One page of what is still to air or to be read; those that never air stand last.
    count : int
        How many come on all pages.
    """

    station: Station
    is_example: bool
    today: date
    coming: tuple[SeenAssignment, ...]
    count: int
    page: int
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WaysIn:
    """What lets a browser in just now.

    Attributes
    ----------
    standing : tuple of Token
        Browsers that are this booth, or links of this reader.
    unused : tuple of Token
        Addresses that were given out and not opened yet; of a reader none.
    """

    standing: tuple[Token, ...]
    unused: tuple[Token, ...]
    zone: ZoneInfo


def see_plan(page: int, tools: Tools) -> SeenPlan:
    """Gather the overview; a page past the last one gives the last.

    Raises
    ------
    NotFound
        If no station is planned here yet.
    """
    station = tools.database.load_station()
    zone = zone_named(station.zone)
    today = tools.clock().astimezone(zone).date()
    programmes = {programme.key: programme for programme in station.programmes}
    coming = sorted(
        (one for one in station.assignments if _comes(one, today, tools)),
        key=lambda one: (
            one.air_date or date.max,
            programmes[one.programme_key].air_times[:1],
            one.issue_date,
            one.programme_key,
        ),
    )
    pages = max(1, -(-len(coming) // ON_A_PAGE))
    page = min(max(page, 1), pages)
    booths = {booth.key: booth.name for booth in station.booths}
    return SeenPlan(
        station=station,
        is_example=is_example(station),
        today=today,
        coming=tuple(
            SeenAssignment(
                assignment=one,
                programme=programmes[one.programme_key],
                booth_name=booths.get(one.booth or "", ""),
                reads_at=None if one.reads_at is None else one.reads_at.astimezone(zone),
            )
            for one in coming[(page - 1) * ON_A_PAGE : page * ON_A_PAGE]
        ),
        count=len(coming),
        page=page,
        pages=pages,
    )


def see_booth_ways(key: str, tools: Tools) -> WaysIn:
    """Give the browsers that are a booth, and the addresses that would make one."""
    return WaysIn(
        standing=_live("booth", tools, booth=key),
        unused=_live("enrol", tools, booth=key),
        zone=_zone(tools),
    )


def see_reader_ways(name: str, tools: Tools) -> WaysIn:
    """Give a reader's personal links that still open."""
    return WaysIn(standing=_live("link", tools, reader=name), unused=(), zone=_zone(tools))


def next_assignment(station: Station, programme_key: str, day: date) -> Assignment:
    """Draw up an assignment from those before it, so that little is left to choose.

    Issue and air date are the same day, a serial goes on by one part, and no reader is chosen.

    Raises
    ------
    NotFound
        If the station has no such programme.
    """
    programme = programme_named(station, programme_key)
    parts = [
        one.part
        for one in station.assignments
        if one.programme_key == programme_key and one.part is not None
    ]
    return Assignment(
        programme_key=programme_key,
        issue_date=day,
        air_date=day if day.weekday() in programme.weekdays else None,
        part=max(parts, default=0) + 1 if programme.serial else None,
    )


def _comes(assignment: Assignment, today: date, tools: Tools) -> bool:
    if assignment.air_date is not None:
        return assignment.air_date >= today
    readings = tools.database.readings(assignment_key=assignment.key)
    return all(row.state == "in the booth" for row in readings)


def _live(
    purpose: TokenPurpose, tools: Tools, *, booth: str | None = None, reader: str | None = None
) -> tuple[Token, ...]:
    now = tools.clock()
    tokens = tools.database.tokens(purpose=purpose, booth=booth, reader=reader)
    return tuple(token for token in tokens if token.is_live(now))


def _zone(tools: Tools) -> ZoneInfo:
    return zone_named(tools.database.load_station().zone)
