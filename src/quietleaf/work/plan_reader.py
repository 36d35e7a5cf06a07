"""Plan a reader: add a name, change it, retire it."""

from __future__ import annotations

from dataclasses import replace

from quietleaf.booth.reading import ReadingState
from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.person import FORMER_READER
from quietleaf.planning.station import Station
from quietleaf.storage.zones import zone_named
from quietleaf.work.hand_in import HANDED_IN
from quietleaf.work.tools import Tools

LONGEST_NAME = 80
WITH_READER: tuple[ReadingState, ...] = ("in the booth", "returned")
"""States in which a reading is still to be handed in; it is found again by its reader's name."""


def add_reader(name: str, tools: Tools) -> str:
    """Add a reader, by the name that is spoken; one who was retired reads again.

    Raises
    ------
    Invalid
        If the name is empty, too long, has a slash, or is there already.
    """
    _check_name(name)
    refuse_erased(name, tools)
    before = tools.database.load_station()
    for there in (*before.readers, *before.retired):
        if there.casefold() == name.casefold() and there != name:
            raise Invalid(
                "plan/reader-alike",
                f"There is a reader {there} already, who differs from {name} by capitals alone. If "
                "it is somebody else, add what tells them apart.",
            )
    tools.database.change_station(
        lambda station: replace(
            station,
            readers=(*station.readers, name),
            retired=tuple(one for one in station.retired if one != name),
        )
    )
    return name


def change_reader(name: str, new_name: str, tools: Tools) -> str:
    """Change a reader's name; assignments and pace follow, and links to the old name end.

    Raises
    ------
    NotFound
        If there is no such reader.
    Invalid
        If the new name is empty, too long, has a slash, or is there already.
    Conflict
        If they are in the middle of a reading, or got one back.
    """
    _check_name(new_name)
    if name == new_name:
        find_reader(tools.database.load_station(), name)
        return name
    refuse_erased(new_name, tools)
    if any(tools.database.reading_ids(reader=name, state=state) for state in WITH_READER):
        raise Conflict(
            "plan/reader-in-booth",
            f"{name} has a reading that is still to be handed in, and it goes by this name. "
            "Change the name when it is handed in.",
        )

    def change(station: Station) -> Station:
        find_reader(station, name)
        return replace(
            station,
            readers=tuple(new_name if one == name else one for one in station.readers),
            assignments=tuple(
                replace(
                    assignment,
                    readers=tuple(new_name if one == name else one for one in assignment.readers),
                )
                for assignment in station.assignments
            ),
        )

    tools.database.change_station(change)
    pace = tools.database.pace(name)
    if pace is not None:
        tools.database.keep_pace(new_name, pace, tools.clock())
    _end_ways_in(name, tools)
    return new_name


def remove_reader(name: str, tools: Tools) -> None:
    """Let somebody read here no longer; their links end.

    Who has read, or is named by an assignment that is over, is retired: offered no more, and named
    where they read. Nothing is left of somebody else.

    Raises
    ------
    NotFound
        If there is no such reader.
    Conflict
        If an assignment that is to come names them.
    """

    has_read = bool(tools.database.reading_ids(reader=name))

    def change(station: Station) -> Station:
        find_reader(station, name)
        named = [one for one in station.assignments if name in one.readers]
        to_come = sum(_is_to_come(one, station, tools) for one in named)
        if to_come:
            raise Conflict(
                "plan/reader-used",
                f"{name} stays, since {to_come} of the assignments to come "
                f"{'names' if to_come == 1 else 'name'} them. Give them to somebody else first.",
            )
        return replace(
            station,
            readers=tuple(one for one in station.readers if one != name),
            retired=(*station.retired, name) if named or has_read else station.retired,
        )

    tools.database.change_station(change)
    _end_ways_in(name, tools)


def _is_to_come(assignment: Assignment, station: Station, tools: Tools) -> bool:
    """Say whether somebody is still to read it: what never airs, until it was handed in."""
    if assignment.air_date is not None:
        return assignment.air_date >= tools.clock().astimezone(zone_named(station.zone)).date()
    rows = tools.database.readings(assignment_key=assignment.key)
    return not any(row.state in HANDED_IN for row in rows)


def refuse_erased(name: str, tools: Tools) -> None:
    """Refuse the name of somebody who was erased: it would be taken for theirs in old folders.

    Raises
    ------
    Invalid
        If somebody of that name was.
    """
    if name.casefold() == FORMER_READER or tools.database.people.is_erased(name):
        raise Invalid(
            "person/erased",
            "Somebody of this name was erased here, and old readings must not be taken for "
            "another's. Add what tells them apart.",
        )


def find_reader(station: Station, name: str) -> str:
    """Give the name of a reader of this station.

    Raises
    ------
    NotFound
        If nobody of that name reads here.
    """
    if name not in station.readers:
        raise NotFound("plan/no-reader", f"There is no reader {name!r} at {station.name}.")
    return name


def _check_name(name: str) -> None:
    if not name or len(name) > LONGEST_NAME or "/" in name or not name.isprintable():
        raise Invalid(
            "plan/reader-name",
            f"A reader's name is what is spoken, at most {LONGEST_NAME} letters on one line and "
            f"without a slash; {name!r} is not. Write it as it is said.",
        )


def _end_ways_in(name: str, tools: Tools) -> None:
    now = tools.clock()
    for purpose in ("link", "sitting"):
        for token in tools.database.tokens(purpose=purpose, reader=name):
            if token.is_live(now):
                tools.database.end_token(token.sha256, now)
