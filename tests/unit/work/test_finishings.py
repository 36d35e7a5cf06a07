"""Finishing in the background: real processes, on a reading of a few seconds."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from quietleaf.booth.edits import StateSet
from quietleaf.errors import Conflict
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.finishing_marks import FinishingMark, read_mark, write_mark
from quietleaf.storage.index_rows import reading_row, version_in_use
from quietleaf.storage.reading_folder import ReadingFolder, new_reading
from quietleaf.storage.versions import read_versions
from quietleaf.work.finish_job import job_to_text
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.finishings import Finishings
from quietleaf.work.tools import Tools
from tests.repaired import AT, FACTS, add_take
from tests.stations import STATION
from tests.voices import reading
from tests.waiting import wait_for as wait_so_long

LONGEST_S = 600.0
"""They are of low priority, and may have to wait for every other test."""
VOICE = reading(seed=13, sentences=3).samples()
SILENCE = np.zeros(3 * 48_000)


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    with Database(database_url(tmp_path)) as database:
        database.save_station(STATION)
        yield Tools(data=tmp_path, database=database, clock=lambda: AT)


def wait_for(look: Callable[[], object]) -> None:
    wait_so_long(look, LONGEST_S)


def bring(tools: Tools, reading_id: str = "r7", sound: np.ndarray = VOICE) -> ReadingFolder:
    facts = replace(FACTS, reading_id=reading_id)
    with new_reading(tools.data, facts, at=AT, author="Desk") as folder:
        add_take(folder, sound)
        folder.append(StateSet(state="handed in", note=""), author="Desk", at=AT)
    tools.database.index_reading(reading_row(folder))
    return folder


def finishing(tools: Tools, most: int = 1) -> Finishings:
    usual = FinishProgramme(source="", mp3_kbps=64)
    return Finishings(tools, usual, database_url(tools.data), most)


def left(folder: ReadingFolder) -> list[str]:
    return sorted(path.name for path in (folder.path / "masters").iterdir())


def test_it_is_made_once_and_how_it_ended_is_told(tools: Tools) -> None:
    folder, silent = bring(tools), bring(tools, "quiet", SILENCE)
    jobs = finishing(tools, most=2)
    jobs.ask("r7", "Ida Marsh")
    jobs.ask("quiet", "Tom")
    assert {one.reading_id for one in jobs.seen()} == {"r7", "quiet"}
    with pytest.raises(Conflict, match="being finished already"):
        jobs.ask("r7", "Tom")
    wait_for(lambda: not jobs.seen())
    mark = read_mark(folder.path)
    assert mark is not None
    assert (mark.by, mark.ending) == ("Ida Marsh", "made")
    (version,) = read_versions(folder.path)
    assert (version.number, version.by, version.revision) == (1, "Ida Marsh", folder.revision)
    # What the folder says is what the index says.
    assert tools.database.reading("r7") == reading_row(folder.reload())
    refused = read_mark(silent.path)
    assert refused is not None
    assert refused.ending == "refused"
    assert refused.told.startswith("A programme is made of speech; this recording is silent")
    assert left(silent) == ["finishing.json"]


def test_it_is_stopped_on_its_way_and_who_waits_comes_next(tools: Tools) -> None:
    first, second = bring(tools), bring(tools, "second")
    jobs = finishing(tools, most=1)
    jobs.ask("r7", "Ida")
    jobs.ask("second", "Tom")
    one, two = jobs.seen()
    assert (one.reading_id, one.before) == ("r7", 0)
    assert (two.reading_id, two.before) == ("second", 1)
    # Its turn has not come: nothing is begun, and nothing is left of it.
    jobs.stop("second", "Tom")
    assert [one.reading_id for one in jobs.seen()] == ["r7"]
    wait_for(lambda: any(one.step for one in jobs.seen()) or not jobs.seen())
    jobs.stop("r7", "Ida Marsh")
    assert jobs.seen() == ()
    for folder, who in ((first, "Ida Marsh"), (second, "Tom")):
        mark = read_mark(folder.path)
        assert mark is not None
        assert (mark.ending, mark.told) == ("stopped", who)
        assert left(folder) == ["finishing.json"]
    with pytest.raises(Conflict, match="not being finished any more"):
        jobs.stop("r7", "Ida")


def test_a_station_that_closes_leaves_it_due_and_goes_on_with_it(tools: Tools) -> None:
    folder = bring(tools)
    jobs = finishing(tools)
    jobs.ask("r7", "Ida")
    wait_for(lambda: any(one.step for one in jobs.seen()) or not jobs.seen())
    jobs.close()
    mark = read_mark(folder.path)
    assert mark is not None
    assert mark.ending is None
    assert left(folder) == ["finishing.json"]
    opened = finishing(tools)
    opened.resume()
    wait_for(lambda: not opened.seen())
    assert version_in_use(folder.path) == 1
    # What has ended is not begun again, nor what was made without anybody being left to say so.
    for told in (read_mark(folder.path), FinishingMark(asked_at=AT, by="Ida")):
        assert told is not None
        write_mark(folder.path, told)
        again = finishing(tools)
        again.resume()
        assert again.seen() == ()
        ended = read_mark(folder.path)
        assert ended is not None
        assert ended.ending == "made"


@pytest.mark.long
def test_it_never_outlives_whoever_started_it(tools: Tools) -> None:
    folder = bring(tools)
    with subprocess.Popen(
        [sys.executable, "-P", "-m", "quietleaf.work.finish_job"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        request = FinishProgramme(source="r7")
        process.stdin.write(job_to_text(request, tools.data, database_url(tools.data)))
        process.stdin.flush()
        assert json.loads(process.stdout.readline())["step"] == "listening to the recording"
        process.stdin.close()
        assert process.wait(LONGEST_S) == 130
    assert left(folder) == []


@pytest.mark.long
def test_one_that_was_killed_is_told_and_the_next_begins(tools: Tools) -> None:
    folder = bring(tools)
    jobs = finishing(tools)
    jobs.ask("r7", "Ida")
    (job,) = jobs._state.jobs.values()
    wait_for(lambda: job.step)
    assert job.process is not None
    job.process.kill()
    wait_for(lambda: not jobs.seen())
    mark = read_mark(folder.path)
    assert mark is not None
    assert mark.ending == "broken off"
    assert read_versions(folder.path) == ()
    assert tools.database.reading("r7").masters == ()


@pytest.mark.parametrize(
    ("state", "why"), [("cleared", "Return it first"), ("in the booth", "This is being read")]
)
def test_what_is_cleared_or_being_read_is_not_finished(tools: Tools, state: str, why: str) -> None:
    folder = bring(tools)
    if state == "cleared":
        folder.append(StateSet(state="cleared", note=""), author="Desk", at=AT)
    else:
        add_take(folder, VOICE[:48_000])
    with pytest.raises(Conflict, match=why):
        finishing(tools).ask("r7", "Ida")
    assert left(folder) == []


def test_what_was_cleared_in_the_moment_of_asking_is_not_finished(tools: Tools) -> None:
    folder = bring(tools)
    write_mark(folder.path, FinishingMark(asked_at=AT, by="Ida"))
    folder.append(StateSet(state="cleared", note=""), author="Desk", at=AT)
    jobs = finishing(tools)
    jobs.resume()
    wait_for(lambda: not jobs.seen())
    mark = read_mark(folder.path)
    assert mark is not None
    assert (mark.ending, "This reading is cleared" in mark.told) == ("refused", True)
    assert left(folder) == ["finishing.json"]


def test_a_mark_is_read_back_and_a_broken_one_is_none(tools: Tools) -> None:
    folder = bring(tools)
    assert read_mark(folder.path) is None
    asked_at = datetime(2026, 11, 25, 14, 20, tzinfo=UTC)
    mark = FinishingMark(
        asked_at=asked_at,
        by="Zoë",
        ending="refused",
        ended_at=asked_at + timedelta(seconds=3),
        told="Too short.",
    )
    write_mark(folder.path, mark)
    assert read_mark(folder.path) == mark
    for broken in (b"{", b"[]", b'{"asked_at": 5}', b"\xff"):
        (folder.path / "masters" / "finishing.json").write_bytes(broken)
        assert read_mark(folder.path) is None
