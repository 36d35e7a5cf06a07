"""Open the reading of an assignment: the unfinished one, wherever it was begun, or a new one."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from quietleaf.booth.reading import ReadingFacts
from quietleaf.errors import Conflict, NotAllowed
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.station import Station, assignment_named, programme_named
from quietleaf.storage.index_rows import ReadingRow, folder_of_row, reading_row
from quietleaf.storage.reading_folder import ReadingFolder, create_reading, reading_paths
from quietleaf.storage.reading_places import READINGS, place_of
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.work.hand_in import HANDED_IN
from quietleaf.work.sit_down import Sitting
from quietleaf.work.tools import Tools

_OPENING = threading.Lock()
"""Two who read one programme, or one who presses twice, get one reading: they take turns."""
LATE = "late-"
"""Ids of what came after its reading was over begin so: that is for the desk to hear."""
_ID_LETTERS = 8
_DATE_LETTERS = 11
"""A folder's name begins with a date of 10 letters and a hyphen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedReading:
    """A reading that was opened.

    Attributes
    ----------
    place : str
        ``readings:<id>``.
    found : bool
        Something had been recorded in it before.
    """

    reading_id: str
    place: str
    folder: ReadingFolder
    found: bool


def open_reading(assignment_key: str, sitting: Sitting, tools: Tools) -> OpenedReading:
    """Find what this reader has not finished for an assignment, or begin it.

    Raises
    ------
    NotFound
        If nothing of that key is planned.
    NotAllowed
        If it is planned for somebody else.
    Conflict
        If it was handed in already.
    """
    station = tools.database.load_station()
    assignment = own_assignment(station, assignment_key, sitting)
    with _OPENING:
        so_far = read_so_far(assignment, sitting.reader, tools)
        if so_far.unfinished is not None:
            folder = so_far.unfinished
        elif so_far.is_done:
            raise Conflict(
                "stand/handed-in",
                "You have handed this one in already, and it is safe. If it needs mending, the "
                "desk gives it back to you.",
            )
        else:
            folder = _begin(assignment, station, sitting, tools)
    _has_come(assignment_key, tools)
    return OpenedReading(
        reading_id=folder.facts.reading_id,
        place=place_of(READINGS, folder.facts.reading_id),
        folder=folder,
        found=bool(folder.takes()),
    )


def _has_come(assignment_key: str, tools: Tools) -> None:
    """Take note that a paper is there after all: the desk need not look for it any more."""
    for message in tools.database.messages(open_only=True):
        if message.kind == "paper-missing" and message.assignment_key == assignment_key:
            tools.database.see_message(message.message_id, tools.clock())


def own_assignment(station: Station, key: str, sitting: Sitting) -> Assignment:
    """Give an assignment to whom it is planned for.

    Raises
    ------
    NotFound
        If nothing of that key is planned.
    NotAllowed
        If it is planned for somebody else.
    """
    assignment = assignment_named(station, key)
    if sitting.practice or sitting.reader not in assignment.readers:
        raise NotAllowed(
            "stand/not-yours",
            f"This one is not planned for {sitting.reader}, so that it does not open here. "
            "Look at what you read today, or ask the desk.",
        )
    return assignment


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSoFar:
    """What one reader has read for an assignment.

    Attributes
    ----------
    unfinished : ReadingFolder or None
        What they began, or got back from the desk.
    done : ReadingFolder or None
        What they handed in last.
    """

    unfinished: ReadingFolder | None
    done: ReadingFolder | None

    @property
    def is_done(self) -> bool:
        """Say whether they handed it in."""
        return self.done is not None

    @property
    def is_begun(self) -> bool:
        """Say whether something was recorded that is not handed in: its issue is settled."""
        return self.unfinished is not None and bool(self.unfinished.takes())


def read_so_far(assignment: Assignment, reader: str, tools: Tools) -> ReadSoFar:
    """Look how far a reader has got with an assignment, in the folders themselves.

    A station that was killed may have more on its disk than its index knows.
    """
    folders = [
        folder
        for folder in _folders_of(assignment, tools)
        if reader in folder.facts.readers and not folder.facts.reading_id.startswith(LATE)
    ]
    unfinished = [
        folder
        for folder in folders
        if folder.state not in HANDED_IN
        # Until something is recorded the plan may change, and what was opened before does not fit.
        and (folder.takes() or folder.facts.issue_date == assignment.issue_date)
    ]
    return ReadSoFar(
        unfinished=max(
            unfinished, key=lambda folder: (len(folder.takes()), folder.revision), default=None
        ),
        done=max(
            (folder for folder in folders if folder.state in HANDED_IN),
            key=lambda folder: folder.ledger()[-1].at,
            default=None,
        ),
    )


def _folders_of(assignment: Assignment, tools: Tools) -> list[ReadingFolder]:
    made_for = tools.database.readings(assignment_key=assignment.key)
    # What was brought in as a file names no assignment: issue and air date say which it is.
    brought_in = tools.database.readings(
        programme_key=assignment.programme_key, issue_date=assignment.issue_date
    )
    rows = [
        *made_for,
        *(
            row
            for row in brought_in
            if row.assignment_key is None and row.air_date == assignment.air_date
        ),
    ]
    return [folder_of_row(tools.data, row) for row in rows]


def parts_of(rows: Iterable[ReadingRow], station: Station, tools: Tools) -> dict[str, int]:
    """Give which part of a serial each reading is, by its id; those that are none are left out.

    The plan is asked first, and the folder alone where that does not know the reading.
    """
    planned = {assignment.key: assignment.part for assignment in station.assignments}
    parts: dict[str, int] = {}
    for row in rows:
        if row.assignment_key in planned:
            part = planned[row.assignment_key]
        else:
            part = folder_of_row(tools.data, row).facts.part
        if part is not None:
            parts[row.reading_id] = part
    return parts


def give_pass(sitting: Sitting, tools: Tools) -> str:
    """Let the page send sound for the reading that is open; give the secret for it.

    Earlier passes stay good: what a page still has to send goes by the one that it had.

    Raises
    ------
    Conflict
        If nothing is open.
    """
    if sitting.reading is None:
        raise Conflict(
            "stand/nothing-open",
            "Sound is sent for a reading, and none is open here. Choose what you read first.",
        )
    secret = new_secret()
    tools.database.add_token(
        Token(
            sha256=sha256_of(secret),
            purpose="pass",
            booth=sitting.booth,
            reader=sitting.reader,
            reading=sitting.reading,
            made_at=tools.clock(),
        )
    )
    return secret


def _begin(
    assignment: Assignment, station: Station, sitting: Sitting, tools: Tools
) -> ReadingFolder:
    programme = programme_named(station, assignment.programme_key)
    facts = ReadingFacts(
        reading_id=_new_id(tools),
        programme_key=programme.key,
        programme_title=programme.title,
        publication=programme.publication,
        issue_date=assignment.issue_date,
        readers=assignment.readers,
        air_date=assignment.air_date,
        assignment_key=assignment.key,
        part=assignment.part,
    )
    folder = create_reading(tools.data, facts, tools.clock(), sitting.reader)
    tools.database.index_reading(reading_row(folder))
    return folder


def _new_id(tools: Tools) -> str:
    taken = {path.name[_DATE_LETTERS:] for path in reading_paths(tools.data)}
    while (new := uuid.uuid4().hex[:_ID_LETTERS]) in taken:
        pass
    return new
