"""See one reading: what it is for, what was heard and made, and the files."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain
from pathlib import Path

from quietleaf.delivery.report import ReportFacts, report_html
from quietleaf.delivery.report_json import report_from_json
from quietleaf.errors import Damaged, NotFound
from quietleaf.listening.words_check import WordsCheck
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.day import slots_of_day
from quietleaf.planning.outlet import OUTLET_KIND
from quietleaf.planning.programme import USUAL_REVIEW, Programme
from quietleaf.planning.station import Station
from quietleaf.planning.words import WordsFor, fill_words
from quietleaf.storage.index_rows import MasterRow, ReadingRow
from quietleaf.storage.report_faces import report_faces
from quietleaf.storage.versions import read_versions
from quietleaf.storage.zones import zone_named
from quietleaf.work.kept_words import kept_words
from quietleaf.work.summary import Summary, summary_of
from quietleaf.work.tools import Tools

OFFERED = ("wave", "mp3", "report", "plan")
"""Kinds of files that are made for people, in the order in which they are asked for."""
REPORT_FACTS = "report-facts"
"""The kind of the file that this view is made from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeFile:
    """A file that was made from a reading.

    Attributes
    ----------
    kind : str
        ``plan``, ``wave``, ``mp3``, ``report``, or ``outlet:`` and the key of an outlet.
    name : str
        The file's name alone.
    """

    kind: str
    name: str
    bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenReading:
    """A reading as the desk sees it.

    Attributes
    ----------
    airs_at : datetime or None
        The first time on its air date, in the station's zone.
    part : int or None
        Which part of a serial.
    opening_words, closing_words : str
        Written out; empty where nothing was assigned.
    words : WordsCheck or None
        What was found of them in the master; None where nobody listened for them.
    report : ReportFacts or None
        None until it is finished; judged by the programme's review depth as it is now.
    """

    station_name: str
    station_note: str
    summary: Summary
    airs_at: datetime | None
    part: int | None
    opening_words: str
    closing_words: str
    words: WordsCheck | None
    takes: int
    report: ReportFacts | None
    files: tuple[MadeFile, ...]

    @property
    def player(self) -> str | None:
        """Name of the file that a page plays: the MP3, or the wave where there is none."""
        names = {file.kind: file.name for file in self.files}
        return names.get("mp3") or names.get("wave")


def see_reading(reading_id: str, tools: Tools) -> SeenReading:
    """Gather what the page of one reading shows.

    Raises
    ------
    NotFound
        If there is no such reading.
    Damaged
        If a file of it is not as it was written.
    """
    row = tools.database.reading(reading_id)
    station = tools.database.load_station()
    programme = next((one for one in station.programmes if one.key == row.programme_key), None)
    review = programme.review if programme else USUAL_REVIEW
    report = _report(row, tools)
    assignment = _assignment_of(row, station)
    opening_words, closing_words = _words(row, programme, assignment, station)
    return SeenReading(
        station_name=station.name,
        station_note=station.note,
        summary=summary_of(row, review),
        airs_at=_airs_at(row, station),
        part=assignment.part if assignment else None,
        opening_words=opening_words,
        closing_words=closing_words,
        words=_words_check(row, tools),
        takes=row.takes,
        report=report and replace(report, review=review),
        files=tuple(
            MadeFile(kind=made.kind, name=_name(made), bytes=made.bytes)
            for made in sorted(row.masters, key=_offered_place)
            if made.kind in OFFERED or made.kind.startswith(OUTLET_KIND)
        ),
    )


def _offered_place(made: MasterRow) -> tuple[int, str]:
    """Order files as they are asked for, those of outlets last."""
    known = made.kind in OFFERED
    return (OFFERED.index(made.kind) if known else len(OFFERED), made.kind)


def find_made_file(reading_id: str, name: str, tools: Tools) -> Path:
    """Give the path of a file that was made from a reading, by its name.

    The name is only compared with those that the index and the records of earlier versions have,
    so that it can lead nowhere else.

    Raises
    ------
    NotFound
        If there is no such reading, or nothing of that name was made from it.
    Damaged
        If the index has it and the disk does not.
    """
    row = tools.database.reading(reading_id)
    earlier = (version.masters for version in read_versions(tools.data / row.folder))
    masters = chain(row.masters, chain.from_iterable(earlier))
    made = next((made for made in masters if _name(made) == name), None)
    if made is None:
        raise NotFound(
            "reading/no-file",
            f"Nothing of that name was made from reading {reading_id}. "
            "Its page lists what there is.",
        )
    path = _path(row, made, tools)
    if not path.is_file():
        raise Damaged(
            "reading/master",
            f"{name} was made from reading {reading_id} and is not on the disk. "
            "Finish the reading again.",
        )
    return path


def report_now(reading_id: str, tools: Tools) -> str | None:
    """Write a reading's report again where the programme's review depth has changed since.

    Returns
    -------
    page : str or None
        None where the file that was made says the same, or there is none.

    Raises
    ------
    NotFound, Damaged
        As `see_reading`.
    """
    row = tools.database.reading(reading_id)
    made, seen = _report(row, tools), see_reading(reading_id, tools)
    if made is None or seen.report is None or made.review == seen.report.review:
        return None
    return report_html(seen.report, report_faces())


def _name(made: MasterRow) -> str:
    return made.path.rpartition("/")[2]


def _path(row: ReadingRow, made: MasterRow, tools: Tools) -> Path:
    return tools.data / row.folder / made.path


def _report(row: ReadingRow, tools: Tools) -> ReportFacts | None:
    made = next((made for made in row.masters if made.kind == REPORT_FACTS), None)
    if made is None:
        return None
    try:
        return report_from_json(json.loads(_path(row, made, tools).read_bytes()))
    except (OSError, ValueError) as fault:
        raise Damaged(
            "reading/report-facts",
            f"The report of reading {row.reading_id} cannot be read. Finish the reading again.",
        ) from fault


def _words_check(row: ReadingRow, tools: Tools) -> WordsCheck | None:
    wave = next((made for made in row.masters if made.kind == "wave"), None)
    return None if wave is None else kept_words(tools.data / row.folder, wave.sha256)


def _assignment_of(row: ReadingRow, station: Station) -> Assignment | None:
    return next(
        (
            assignment
            for assignment in station.assignments
            if (assignment.programme_key, assignment.issue_date, assignment.air_date)
            == (row.programme_key, row.issue_date, row.air_date)
        ),
        None,
    )


def _words(
    row: ReadingRow, programme: Programme | None, assignment: Assignment | None, station: Station
) -> tuple[str, str]:
    if programme is None or assignment is None:
        return "", ""
    given = WordsFor(
        service=station.name,
        programme=programme.title,
        publication=programme.publication,
        issue_date=row.issue_date,
        readers=row.readers,
        part=assignment.part,
    )
    return fill_words(programme.opening_words, given), fill_words(programme.closing_words, given)


def _airs_at(row: ReadingRow, station: Station) -> datetime | None:
    if row.air_date is None:
        return None
    slots = slots_of_day(station, row.air_date, zone_named(station.zone))
    return next((slot.starts_at for slot in slots if slot.programme.key == row.programme_key), None)
