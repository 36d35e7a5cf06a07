"""Take what is short: a walk-in or a substitute reads what nobody reads yet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from quietleaf.errors import Conflict, NotAllowed
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.coming_in import likely_issue, next_part, short_of
from quietleaf.planning.programme import Programme
from quietleaf.planning.station import Station, programme_named
from quietleaf.planning.words import names_in_words, written_date
from quietleaf.storage.zones import zone_named
from quietleaf.work.messages import tell_desk
from quietleaf.work.open_reading import parts_of
from quietleaf.work.sit_down import Sitting
from quietleaf.work.tools import Tools


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeSlot:
    """What a reader takes on."""

    programme_key: str
    air_date: date


def take_slot(request: TakeSlot, sitting: Sitting, tools: Tools) -> Assignment:
    """Plan a reader for what is short today or tomorrow, and tell the desk.

    Raises
    ------
    NotAllowed
        If the reader only practises.
    NotFound
        If there is no such programme.
    Conflict
        If somebody else has it, or its time has come.
    """
    if sitting.practice:
        raise NotAllowed(
            "stand/practice", "Leave the practice first, then take what is to be read."
        )
    before = tools.database.load_station()
    read = _parts_read(before, request.programme_key, tools)

    def change(station: Station) -> Station:
        return _taken(station, request, sitting, read, tools)

    station = tools.database.change_station(change)
    assignment = _assignment(station, request)
    assert assignment is not None, "it was just planned"
    if assignment != _assignment(before, request):
        programme = programme_named(station, request.programme_key)
        tell_desk(
            "taken",
            sitting,
            tools,
            text=f"{sitting.reader} reads {programme.title} for {written_date(request.air_date)}.",
            assignment_key=assignment.key,
        )
    return assignment


def _taken(
    station: Station, request: TakeSlot, sitting: Sitting, read: frozenset[int], tools: Tools
) -> Station:
    programme = programme_named(station, request.programme_key)
    planned = _assignment(station, request)
    if planned is not None and sitting.reader in planned.readers:
        return station  # pressed twice
    if planned is not None and planned.readers:
        raise Conflict(
            "stand/taken",
            f"{names_in_words(planned.readers)} has {programme.title} now. Thank you all the "
            "same; see what else is short.",
        )
    zone = zone_named(station.zone)
    short = {
        (each.programme.key, each.airs_at.date()) for each in short_of(station, tools.clock(), zone)
    }
    if (programme.key, request.air_date) not in short:
        raise Conflict(
            "stand/not-short",
            f"{programme.title} is not wanted for {written_date(request.air_date)} any more: its "
            "time has come, or the plan has changed. See what else is short.",
        )
    new = replace(
        planned or _new_assignment(station, programme, request, read),
        readers=(sitting.reader,),
        booth=sitting.booth,
        reads_at=tools.clock(),
    )
    if planned is None:
        return replace(station, assignments=(*station.assignments, new))
    return replace(
        station,
        assignments=tuple(new if each is planned else each for each in station.assignments),
    )


def _new_assignment(
    station: Station, programme: Programme, request: TakeSlot, read: frozenset[int]
) -> Assignment:
    return Assignment(
        programme_key=programme.key,
        issue_date=likely_issue(station, programme, request.air_date),
        air_date=request.air_date,
        part=next_part(station, programme, read),
    )


def _assignment(station: Station, request: TakeSlot) -> Assignment | None:
    found = (
        each
        for each in station.assignments
        if each.programme_key == request.programme_key and each.air_date == request.air_date
    )
    return next(found, None)


def _parts_read(station: Station, programme_key: str, tools: Tools) -> frozenset[int]:
    if not programme_named(station, programme_key).serial:
        return frozenset()
    rows = tools.database.readings(programme_key=programme_key)
    return frozenset(parts_of(rows, station, tools).values())
