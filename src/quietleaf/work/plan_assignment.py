"""Plan an assignment: who reads what; add it, change it, take it out while nothing is recorded."""

from __future__ import annotations

from dataclasses import replace

from quietleaf.errors import Conflict, Invalid
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.check_station import check_turn
from quietleaf.planning.person import FORMER_READER
from quietleaf.planning.station import Station, assignment_named, programme_named
from quietleaf.work.tools import Tools

MOST_READERS = 2


def add_assignment(assignment: Assignment, tools: Tools) -> Assignment:
    """Add an assignment; its key is made of its programme and its day.

    Raises
    ------
    Invalid
        If it names what is not there, or its programme has an assignment for that day.
    """
    _check_readers(assignment)

    def change(station: Station) -> Station:
        _check_turn(station, assignment)
        _refuse_retired(station, assignment.readers)
        return replace(station, assignments=(*station.assignments, replace(assignment, key="")))

    return tools.database.change_station(change).assignments[-1]


def change_assignment(assignment: Assignment, tools: Tools) -> Assignment:
    """Change the assignment of this key.

    Raises
    ------
    NotFound
        If there is none of that key.
    Invalid
        If it would not hold together.
    Conflict
        If something was recorded for it, and more than its booth or its time would change.
    """
    _check_readers(assignment)
    is_begun = bool(tools.database.readings(assignment_key=assignment.key))

    def change(station: Station) -> Station:
        before = assignment_named(station, assignment.key)
        same = replace(before, booth=assignment.booth, reads_at=assignment.reads_at)
        if is_begun and same != assignment:
            title = programme_named(station, before.programme_key).title
            raise Conflict(
                "plan/assignment-begun",
                f"{title} has a reading for this assignment, which goes by its programme, dates, "
                "readers and part. Its booth and its time can still change; for anything else "
                "make another assignment.",
            )
        if same != assignment:
            _check_turn(station, assignment)
            new = tuple(reader for reader in assignment.readers if reader not in before.readers)
            _refuse_retired(station, new)
        return replace(
            station,
            assignments=tuple(assignment if one is before else one for one in station.assignments),
        )

    return assignment_named(tools.database.change_station(change), assignment.key)


def remove_assignment(key: str, tools: Tools) -> None:
    """Take an assignment out of the plan.

    Raises
    ------
    NotFound
        If there is none of that key.
    Conflict
        If something was recorded for it.
    """
    is_begun = bool(tools.database.readings(assignment_key=key))

    def change(station: Station) -> Station:
        gone = assignment_named(station, key)
        if is_begun:
            title = programme_named(station, gone.programme_key).title
            raise Conflict(
                "plan/assignment-begun",
                f"This assignment of {title} stays, since something was recorded for it.",
            )
        return replace(
            station, assignments=tuple(one for one in station.assignments if one is not gone)
        )

    tools.database.change_station(change)


def _check_turn(station: Station, assignment: Assignment) -> None:
    """Hold an assignment against its programme; that there is one is checked with all names."""
    for programme in station.programmes:
        if programme.key == assignment.programme_key:
            check_turn(assignment, programme)


def _refuse_retired(station: Station, readers: tuple[str, ...]) -> None:
    for reader in readers:
        if reader in station.retired or reader == FORMER_READER:
            raise Invalid(
                "plan/assignment-retired",
                f"{reader} does not read here any more. Choose somebody else, or add the name to "
                "the readers again.",
            )


def _check_readers(assignment: Assignment) -> None:
    readers = assignment.readers
    if len(readers) > MOST_READERS or len(set(readers)) < len(readers):
        raise Invalid(
            "plan/assignment-readers",
            "An assignment has one reader or two different ones. Leave the second empty, or "
            "choose somebody else.",
        )
