"""Make the example station, and take its sample reading through the whole job, step by step.

What is there already is kept: a second time only shows it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from quietleaf.booth.edits import ArticleStarted
from quietleaf.errors import Conflict, NotFound
from quietleaf.planning.station import Station
from quietleaf.storage.index_rows import ReadingRow, reading_row
from quietleaf.storage.reading_folder import find_reading
from quietleaf.storage.station_file import ExampleReading, read_example, read_station
from quietleaf.units import samples_of_s
from quietleaf.work.bring_in import BringIn, BroughtIn, bring_in
from quietleaf.work.finish_programme import finish_programme
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.plan_station import plan_station
from quietleaf.work.rebuild_index import RebuildReport, rebuild_index
from quietleaf.work.see_reading import SeenReading, see_reading
from quietleaf.work.tools import Tools


@dataclass(frozen=True, slots=True, kw_only=True)
class StationMade:
    """The example station is planned."""

    station: Station
    example: ExampleReading


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleIn:
    """The sample reading is in the station.

    Attributes
    ----------
    brought : BroughtIn or None
        None where it was in from an earlier time.
    articles : int
        Marked, so that listeners can jump between them.
    """

    row: ReadingRow
    folder: Path
    brought: BroughtIn | None
    articles: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleFinished:
    """Its master is made and was listened to again."""

    seen: SeenReading
    folder: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexProved:
    """The index was made again from the folders alone."""

    report: RebuildReport


Step = StationMade | SampleIn | SampleFinished | IndexProved


def make_example(file: Path, request: FinishProgramme, tools: Tools) -> Iterator[Step]:
    """Do the whole job on the example, telling of each step when it is done.

    Parameters
    ----------
    file : Path
        The example station's file.
    request : FinishProgramme
        How to finish; its source is put in here.

    Raises
    ------
    Conflict
        If the folder holds another station.
    QuietleafError
        Whatever the steps refuse.
    """
    station, example = read_station(file), read_example(file)
    _plan(station, tools)
    yield StationMade(station=station, example=example)

    brought = None
    rows = tools.database.readings(
        programme_key=example.programme_key, issue_date=example.issue_date
    )
    if not rows:
        brought = bring_in(
            BringIn(
                path=example.sample,
                programme_key=example.programme_key,
                issue_date=example.issue_date,
                reader=example.reader,
            ),
            tools,
        )
        rows = (_mark_articles(brought.reading_id, example, tools),)
    row = rows[0]
    folder = tools.data / row.folder
    articles = len(find_reading(tools.data, row.reading_id).timeline().articles)
    yield SampleIn(row=row, folder=folder, brought=brought, articles=articles)

    if not row.masters:
        finish_programme(replace(request, source=row.reading_id), tools)
    yield SampleFinished(seen=see_reading(row.reading_id, tools), folder=folder / "masters")
    yield IndexProved(report=rebuild_index(tools))


def _plan(station: Station, tools: Tools) -> None:
    try:
        there = tools.database.load_station()
    except NotFound:
        plan_station(station, tools)
        return
    if there.name != station.name:
        raise Conflict(
            "demo/other-station",
            f"{tools.data} holds another station, {there.name}. The example needs a folder of "
            "its own; name one with --data.",
        )


def _mark_articles(reading_id: str, example: ExampleReading, tools: Tools) -> ReadingRow:
    """Mark the articles as a reader does while reading; the labels say where they begin."""
    folder = find_reading(tools.data, reading_id)
    take = folder.takes()[0]
    for article in json.loads(example.labels.read_text("utf-8"))["articles"]:
        folder.append(
            ArticleStarted(
                take=take.take,
                sample=samples_of_s(article["start_s"], take.sample_rate_hz),
                title=article["title"],
            ),
            author=example.reader,
            at=tools.clock(),
        )
    row = reading_row(folder)
    tools.database.index_reading(row)
    return row
