"""Cuts at both ends of a take: on real folders, once each, and on the reading as it stands."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.booth.edits import ArticleStarted, Cut, Happening, StateSet, Undo
from quietleaf.booth.replay import counting
from quietleaf.errors import Conflict
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.tools import Tools
from quietleaf.work.trim_take import AFTER_S, BEFORE_S, trim_take
from tests.readings import AT, create_rolling, folder_with
from tests.voices import RATE_HZ, Made

PLACE_S = 0.06


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with Database(database_url(tmp_path)) as opened:
        yield opened


@pytest.fixture
def tools(tmp_path: Path, database: Database) -> Tools:
    return Tools(data=tmp_path, database=database, clock=lambda: AT)


def take_with_paper(seed: int = 1) -> tuple[NDArray[np.float64], float, float]:
    """Make a take with paper at both ends; give it, and where its words begin and end."""
    made = Made(seed=seed)
    made.pause(0.3)
    made.noise(0.8, -34.0, 300.0, 7_000.0)
    made.pause(0.6)
    start, _ = made.speech(2.0)
    made.pause(0.6)
    _, stop = made.speech(2.0)
    made.pause(0.7)
    made.noise(0.8, -34.0, 300.0, 7_000.0)
    made.pause(0.2)
    return made.samples(), start, stop


def cuts_of(folder: ReadingFolder) -> list[Cut]:
    """Give the cuts that count, in the order of the take."""
    happened = [edit.what for edit in counting(folder.reload().standing)]
    return sorted(
        (what for what in happened if isinstance(what, Cut)), key=lambda cut: (cut.take, cut.start)
    )


def length_of(folder: ReadingFolder) -> int:
    """Give the samples that stay in the programme."""
    return sum(span.stop - span.start for span in folder.reload().timeline().spans)


def test_words_stay_with_a_little_room(tmp_path: Path, tools: Tools) -> None:
    samples, start_s, stop_s = take_with_paper()
    folder = folder_with(tmp_path, samples)
    trim_take(folder, 1, tools)
    head, tail = cuts_of(folder)
    assert (head.start, tail.stop) == (0, samples.size)
    assert head.stop / RATE_HZ == pytest.approx(start_s - BEFORE_S, abs=PLACE_S)
    assert tail.start / RATE_HZ == pytest.approx(stop_s + AFTER_S, abs=PLACE_S)
    assert {edit.author for edit in folder.ledger()[2:]} == {"Quietleaf"}
    assert length_of(folder) == tail.start - head.stop


def test_paper_close_to_a_word_takes_its_room(tmp_path: Path, tools: Tools) -> None:
    made = Made(seed=2)
    _, paper_stop_s = made.noise(0.8, -34.0, 300.0, 7_000.0)
    made.pause(0.13)
    start_s, _ = made.speech(2.0)
    made.pause(0.8)
    folder = folder_with(tmp_path, made.samples())
    trim_take(folder, 1, tools)
    head = cuts_of(folder)[0]
    assert paper_stop_s - 0.02 < head.stop / RATE_HZ < start_s - 0.05


def test_asking_again_changes_nothing(tmp_path: Path, tools: Tools) -> None:
    folder = folder_with(tmp_path, take_with_paper()[0])
    trim_take(folder, 1, tools)
    revision = folder.reload().revision
    trim_take(folder, 1, tools)
    assert folder.reload().revision == revision
    # What somebody took back stays taken back.
    folder.append(Undo(of=revision), author="Ada", at=AT)
    trim_take(folder, 1, tools)
    assert folder.reload().revision == revision + 1
    assert len(cuts_of(folder)) == 1


def test_a_stop_between_the_two_cuts_is_made_good(tmp_path: Path, tools: Tools) -> None:
    folder = folder_with(tmp_path, take_with_paper()[0])
    times = iter([AT])
    stopping = Tools(data=tools.data, database=tools.database, clock=lambda: next(times))
    with pytest.raises(StopIteration):
        trim_take(folder, 1, stopping)
    assert len(cuts_of(folder)) == 1
    trim_take(folder, 1, tools)
    assert len(cuts_of(folder)) == 2


def test_each_take_has_its_own_cuts(tmp_path: Path, tools: Tools) -> None:
    first, second = take_with_paper(3)[0], take_with_paper(4)[0]
    folder = folder_with(tmp_path, first, second)
    trim_take(folder, 2, tools)
    trim_take(folder, 1, tools)
    assert [cut.take for cut in cuts_of(folder)] == [1, 1, 2, 2]


@pytest.mark.parametrize(("length_s", "left_s"), [(0.5, 0.0), (1.9, 0.0), (2.1, 2.1), (40.0, 40.0)])
def test_a_take_without_a_voice(
    tmp_path: Path, tools: Tools, length_s: float, left_s: float
) -> None:
    made = Made(seed=5)
    made.pause(0.1)
    made.noise(length_s - 0.2, -40.0, 300.0, 7_000.0)
    made.pause(0.1)
    folder = folder_with(tmp_path, made.samples())
    trim_take(folder, 1, tools)
    assert length_of(folder) == round(left_s * RATE_HZ)


def test_an_empty_take_and_one_that_is_still_recorded_stay(tmp_path: Path, tools: Tools) -> None:
    empty = folder_with(tmp_path, np.zeros(0), name="empty")
    rolling = create_rolling(tmp_path)
    for folder in (empty, rolling):
        revision = folder.reload().revision
        trim_take(folder, 1, tools)
        assert folder.reload().revision == revision


def test_a_voice_from_end_to_end_is_not_cut(tmp_path: Path, tools: Tools) -> None:
    made = Made(seed=6)
    made.speech(3.0)
    folder = folder_with(tmp_path, made.samples())
    trim_take(folder, 1, tools)
    assert cuts_of(folder) == []


def test_a_long_take_is_looked_at_from_both_ends(tmp_path: Path, tools: Tools) -> None:
    """The first word comes later than one look reaches, the last long before the end."""
    made = Made(seed=7)
    made.pause(40.0)
    start_s, _ = made.speech(2.0)
    made.pause(25.0)
    _, stop_s = made.speech(2.0)
    made.pause(33.0)
    folder = folder_with(tmp_path, made.samples())
    trim_take(folder, 1, tools)
    head, tail = cuts_of(folder)
    assert head.stop / RATE_HZ == pytest.approx(start_s - BEFORE_S, abs=PLACE_S)
    assert tail.start / RATE_HZ == pytest.approx(stop_s + AFTER_S, abs=PLACE_S)


class Meddler:
    """A clock that another author's entry comes in with, so many times."""

    def __init__(self, folder: ReadingFolder, times: int, what: Happening) -> None:
        self.folder = ReadingFolder(folder.path)
        self.times = times
        self.what = what

    def __call__(self) -> datetime:
        if self.times > 0:
            self.times -= 1
            self.folder.reload().append(self.what, author="Ada", at=AT + timedelta(seconds=1))
        return AT


ARTICLE = ArticleStarted(take=1, sample=0, title="")


def test_what_is_entered_meanwhile_does_not_stop_it(tmp_path: Path, database: Database) -> None:
    folder = folder_with(tmp_path, take_with_paper()[0])
    meddled = Tools(data=tmp_path, database=database, clock=Meddler(folder, 3, ARTICLE))
    trim_take(folder, 1, meddled)
    assert len(cuts_of(folder)) == 2


def test_after_five_attempts_it_says_so(tmp_path: Path, database: Database) -> None:
    folder = folder_with(tmp_path, take_with_paper()[0])
    meddled = Tools(data=tmp_path, database=database, clock=Meddler(folder, 99, ARTICLE))
    with pytest.raises(Conflict, match="changed since"):
        trim_take(folder, 1, meddled)


def test_a_reading_that_is_cleared_stays_as_it_is(tmp_path: Path, tools: Tools) -> None:
    folder = folder_with(tmp_path, take_with_paper()[0])
    folder.append(StateSet(state="handed in", note=""), author="Ada", at=AT)
    folder.append(StateSet(state="cleared", note=""), author="Ada", at=AT)
    with pytest.raises(Conflict, match="stays as it is"):
        trim_take(folder, 1, tools)
    assert cuts_of(folder) == []
