"""See what became of what a reader read before."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

from quietleaf.booth.edits import StateSet
from quietleaf.booth.reading import ReadingState
from quietleaf.booth.replay import counting
from quietleaf.errors import QuietleafError
from quietleaf.planning.day import slots_of_day
from quietleaf.planning.station import Station
from quietleaf.storage.index_rows import ReadingRow, folder_of_row
from quietleaf.storage.zones import zone_named
from quietleaf.work.hand_in import HANDED_IN
from quietleaf.work.open_reading import LATE
from quietleaf.work.summary import summary_of
from quietleaf.work.tools import Tools

SHOWN = 30
"""The latest of them; all are counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenBefore:
    """One reading of before.

    Attributes
    ----------
    part : int or None
        Which part of a serial; None elsewhere.
    airs_at : datetime or None
        The first time on its air date, in the station's zone; None where it never airs.
    is_over : bool
        That time has come.
    note : str
        What the desk wrote when it gave the reading back.
    was_returned : bool
        It was given back once.
    """

    reading_id: str
    programme_title: str
    publication: str
    issue_date: date
    part: int | None
    air_date: date | None
    airs_at: datetime | None
    is_over: bool
    state: ReadingState
    duration_s: float
    note: str
    was_returned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenReader:
    """What a reader has done for the station.

    Attributes
    ----------
    readings : tuple of SeenBefore
        The latest `SHOWN` of them, the latest issue first.
    handed_in : int
        How many were handed in, of all.
    total_s : float
        How long those are together.
    """

    reader: str
    today: date
    readings: tuple[SeenBefore, ...]
    handed_in: int
    total_s: float


def see_reader(reader: str, tools: Tools) -> SeenReader:
    """Gather a reader's earlier readings: those handed in, and those that the desk gave back."""
    station = tools.database.load_station()
    now = tools.clock()
    rows = [
        row
        for row in tools.database.readings(reader=reader)
        if row.state in (*HANDED_IN, "returned") and not row.reading_id.startswith(LATE)
    ]
    handed_in = [row for row in rows if row.state in HANDED_IN]
    latest = rows[-SHOWN:]
    readings = tuple(see_before(row, station, now, tools) for row in reversed(latest))
    return SeenReader(
        reader=reader,
        today=now.astimezone(zone_named(station.zone)).date(),
        readings=readings,
        handed_in=len(handed_in),
        total_s=sum(summary_of(row).duration_s for row in handed_in),
    )


def see_before(row: ReadingRow, station: Station, now: datetime, tools: Tools) -> SeenBefore:
    """Say what became of one reading."""
    part, note, was_returned = _from_folder(row, tools)
    airs_at = _airs_at(row, station)
    return SeenBefore(
        reading_id=row.reading_id,
        programme_title=row.programme_title,
        publication=row.publication,
        issue_date=row.issue_date,
        part=part,
        air_date=row.air_date,
        airs_at=airs_at,
        is_over=airs_at is not None and airs_at <= now,
        state=row.state,
        duration_s=summary_of(row).duration_s,
        note=note,
        was_returned=was_returned,
    )


def _from_folder(row: ReadingRow, tools: Tools) -> tuple[int | None, str, bool]:
    try:
        folder = folder_of_row(tools.data, row)
    except QuietleafError:
        # One that cannot be read any more must not hide all the others.
        return None, "", False
    notes = [edit.what for edit in counting(folder.standing) if isinstance(edit.what, StateSet)]
    returned = bool(notes) and notes[-1].state == "returned"
    was_returned = any(each.state == "returned" for each in notes)
    return folder.facts.part, notes[-1].note if returned else "", was_returned


def _airs_at(row: ReadingRow, station: Station) -> datetime | None:
    if row.air_date is None:
        return None
    # Of this programme alone: a plan of years has thousands of assignments.
    programmes = tuple(each for each in station.programmes if each.key == row.programme_key)
    alone = replace(station, programmes=programmes, assignments=())
    slots = slots_of_day(alone, row.air_date, zone_named(station.zone))
    return slots[0].starts_at if slots else None
