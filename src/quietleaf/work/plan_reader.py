"""Plan a reader: add a name, change it, take it out where nothing hangs on it."""

from __future__ import annotations

from dataclasses import replace

from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.station import Station
from quietleaf.work.tools import Tools

LONGEST_NAME = 80


def add_reader(name: str, tools: Tools) -> str:
    """Add a reader, by the name that is spoken.

    Raises
    ------
    Invalid
        If the name is empty, too long, has a slash, or is there already.
    """
    _check_name(name)
    for there in tools.database.load_station().readers:
        if there.casefold() == name.casefold() and there != name:
            raise Invalid(
                "plan/reader-alike",
                f"There is a reader {there} already, who differs from {name} by capitals alone. If "
                "it is somebody else, add what tells them apart.",
            )
    tools.database.change_station(
        lambda station: replace(station, readers=(*station.readers, name))
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
        If they are in the middle of a reading.
    """
    _check_name(new_name)
    if name == new_name:
        find_reader(tools.database.load_station(), name)
        return name
    if tools.database.readings(reader=name, state="in the booth"):
        raise Conflict(
            "plan/reader-in-booth",
            f"{name} has a reading that is not handed in yet, and it goes by this name. "
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
    """Take a reader out of the plan; their links end.

    Raises
    ------
    NotFound
        If there is no such reader.
    Conflict
        If an assignment names them.
    """

    def change(station: Station) -> Station:
        find_reader(station, name)
        assigned = sum(name in one.readers for one in station.assignments)
        if assigned:
            raise Conflict(
                "plan/reader-used",
                f"{name} stays, since {assigned} of the assignments "
                f"{'names' if assigned == 1 else 'name'} them. Give them to somebody else first.",
            )
        return replace(station, readers=tuple(one for one in station.readers if one != name))

    tools.database.change_station(change)
    _end_ways_in(name, tools)


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
