"""Joins of *again* are placed by listening: on real folders, once each, never against a reader."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.booth.edits import Again, ArticleStarted, Edit, Undo
from quietleaf.booth.replay import counting
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.place_again import place_agains
from quietleaf.work.tools import Tools
from tests.readings import AT, folder_with
from tests.voices import RATE_HZ, Made

PLACE_S = 0.06


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    with Database(database_url(tmp_path)) as database:
        yield Tools(data=tmp_path, database=database, clock=lambda: AT)


@dataclass(frozen=True, kw_only=True)
class Stumbled:
    """A take with a stumble in its third sentence, and where everything lies in it, in seconds."""

    sound: NDArray[np.float64]
    first_end: float
    pause: float
    back: float
    mark: float
    resume: float
    word: float
    breath: float | None


def stumbled(seed: int = 1, *, breath: bool = False, late_s: float = 0.8) -> Stumbled:
    made = Made(seed=seed)
    made.pause(0.5)
    made.speech(2.5)
    made.pause(0.55)
    _, end = made.speech(2.0)
    made.pause(0.6)
    start, _ = made.speech(1.3)  # the sentence that stumbles
    made.pause(0.4)
    mark = made.length_s
    made.pause(1.0)
    made.noise(0.5, -38.0, 300.0, 7_000.0)  # paper, while the lead-in plays
    made.pause(1.5)
    resume = made.length_s
    made.pause(late_s)
    breathed = None
    if breath:
        breathed, _ = made.noise(0.3, -56.0)
        made.pause(0.06)
    word, _ = made.speech(2.2)
    made.pause(0.5)
    made.speech(2.0)
    made.pause(0.5)
    return Stumbled(
        sound=made.samples(),
        first_end=end,
        pause=start - end,
        back=start - 0.15,
        mark=mark,
        resume=resume,
        word=word,
        breath=breathed,
    )


def at(seconds: float) -> int:
    return round(seconds * RATE_HZ)


def again_of(made: Stumbled) -> Again:
    mark, back, resume = at(made.mark), at(made.back), at(made.resume)
    return Again(
        take=1, mark=mark, back_take=1, back_sample=back, resume=resume, lead_in=3 * RATE_HZ
    )


def pressed(tmp_path: Path, made: Stumbled) -> tuple[ReadingFolder, Edit]:
    folder = folder_with(tmp_path, made.sound)
    return folder, folder.append(again_of(made), author="Ada", at=AT)


def standing(folder: ReadingFolder) -> list[Again]:
    happened = (edit.what for edit in counting(folder.reload().standing))
    return [what for what in happened if isinstance(what, Again)]


@pytest.mark.parametrize("late_s", [0.3, 0.8, 14.0])
def test_the_pause_is_the_readers_own_and_words_are_whole(
    tmp_path: Path, tools: Tools, late_s: float
) -> None:
    made = stumbled(late_s=late_s)
    folder, _ = pressed(tmp_path, made)
    place_agains(folder, 1, tools)
    (placed,) = standing(folder)
    left, entered = placed.back_sample / RATE_HZ, placed.resume / RATE_HZ
    assert made.first_end < left < made.first_end + made.pause
    assert made.resume <= entered < made.word
    assert (left - made.first_end) + (made.word - entered) == pytest.approx(
        made.pause if late_s > 0.3 else 0.6, abs=PLACE_S + 0.04
    )


def test_a_breath_belongs_to_what_follows(tmp_path: Path, tools: Tools) -> None:
    made = stumbled(breath=True)
    folder, _ = pressed(tmp_path, made)
    place_agains(folder, 1, tools)
    (placed,) = standing(folder)
    assert made.breath is not None
    assert made.resume <= placed.resume / RATE_HZ < made.breath


def test_nothing_is_heard_twice_and_no_paper(tmp_path: Path, tools: Tools) -> None:
    made = stumbled()
    folder, _ = pressed(tmp_path, made)
    place_agains(folder, 1, tools)
    with TimelineSound(folder.reload()) as sound:
        heard = np.concatenate([block[:, 0] for block in sound.blocks()])
        cut = heard.size
        joins = [span.stop for span in sound.timeline.spans][:-1]
    (join,) = joins
    assert cut < made.sound.size
    around = heard[join - RATE_HZ // 50 : join + RATE_HZ // 50]
    room = 10 ** (-66.0 / 20)
    assert np.sqrt(np.mean(around**2)) < 2.0 * room


def test_asking_twice_changes_nothing(tmp_path: Path, tools: Tools) -> None:
    folder, _ = pressed(tmp_path, stumbled())
    place_agains(folder, 1, tools)
    before = folder.reload().revision
    place_agains(folder, 1, tools)
    assert folder.reload().revision == before


def test_the_new_entry_stands_before_the_old_one_is_taken_back(
    tmp_path: Path, tools: Tools
) -> None:
    folder, edit = pressed(tmp_path, stumbled())
    place_agains(folder, 1, tools)
    new, undo = folder.reload().ledger()[-2:]
    assert (new.edit_id, undo.edit_id) == (f"place:{edit.number}", f"placed:{edit.number}")
    assert undo.what == Undo(of=edit.number)


def test_what_was_taken_back_is_left(tmp_path: Path, tools: Tools) -> None:
    folder, edit = pressed(tmp_path, stumbled())
    folder.append(Undo(of=edit.number), author="Ada", at=AT)
    before = folder.revision
    place_agains(folder, 1, tools)
    assert folder.reload().revision == before


def test_a_stop_between_the_two_entries_is_made_good(tmp_path: Path, tools: Tools) -> None:
    made = stumbled()
    folder, edit = pressed(tmp_path, made)
    better = replace(again_of(made), resume=again_of(made).resume + 100)
    folder.append(better, author="Quietleaf", at=AT, edit_id=f"place:{edit.number}")
    place_agains(folder, 1, tools)
    assert standing(folder) == [better]


def test_if_the_reader_took_it_back_meanwhile_the_placed_one_goes_too(
    tmp_path: Path, tools: Tools
) -> None:
    made = stumbled()
    folder, edit = pressed(tmp_path, made)
    better = replace(again_of(made), resume=again_of(made).resume + 100)
    folder.append(better, author="Quietleaf", at=AT, edit_id=f"place:{edit.number}")
    folder.append(Undo(of=edit.number), author="Ada", at=AT)
    place_agains(folder, 1, tools)
    assert standing(folder) == []


def test_a_sentence_goes_back_over_a_hold(tmp_path: Path, tools: Tools) -> None:
    first, second = Made(seed=4), Made(seed=5)
    first.pause(0.3)
    first.speech(2.0)
    first.pause(0.5)
    _, end = first.speech(1.8)
    first.pause(0.6)
    start, _ = first.speech(1.2)  # it stumbles, and the reader holds
    first.pause(0.4)
    second.pause(3.6)
    word, _ = second.speech(2.5)
    second.pause(0.6)
    folder = folder_with(tmp_path, first.samples(), second.samples())
    again = Again(
        take=2, mark=at(0.2), back_take=1, back_sample=at(start - 0.15), resume=at(3.2), lead_in=0
    )
    folder.append(again, author="Ada", at=AT)
    place_agains(folder, 1, tools)
    assert standing(folder) == [again]
    place_agains(folder, 2, tools)
    (placed,) = standing(folder)
    assert (placed.back_take, placed.take) == (1, 2)
    assert end < placed.back_sample / RATE_HZ < start
    pause = placed.back_sample / RATE_HZ - end + word - placed.resume / RATE_HZ
    assert pause == pytest.approx(0.6, abs=PLACE_S)


def test_the_first_sentence_after_a_hold_is_joined_to_the_last_before_it(
    tmp_path: Path, tools: Tools
) -> None:
    first, second = Made(seed=6), Made(seed=7)
    first.pause(0.3)
    first.speech(2.0)
    first.pause(0.5)
    _, end = first.speech(1.8)
    first.pause(0.9)
    second.pause(0.4)
    start, _ = second.speech(1.4)
    second.pause(0.5)
    mark = second.length_s
    second.pause(3.9)
    word, _ = second.speech(2.5)
    second.pause(0.6)
    folder = folder_with(tmp_path, first.samples(), second.samples())
    again = Again(
        take=2,
        mark=at(mark),
        back_take=2,
        back_sample=at(start - 0.2),
        resume=at(mark + 3.1),
        lead_in=3 * RATE_HZ,
    )
    folder.append(again, author="Ada", at=AT)
    place_agains(folder, 2, tools)
    (placed,) = standing(folder)
    assert placed.back_take == 1
    assert end < placed.back_sample / RATE_HZ < end + 0.9
    pause = placed.back_sample / RATE_HZ - end + word - placed.resume / RATE_HZ
    assert pause == pytest.approx(0.5, abs=PLACE_S)
    assert len(folder.timeline().spans) == 2


@pytest.mark.parametrize("is_one_back", [True, False])
def test_three_times_in_the_same_place_is_one_join(
    tmp_path: Path, tools: Tools, is_one_back: bool
) -> None:
    """The stand may leave off where the first one did, or before each new beginning."""
    made = Made(seed=8)
    made.pause(0.3)
    made.speech(2.2)
    made.pause(0.5)
    _, end = made.speech(2.0)
    made.pause(0.6)
    start, _ = made.speech(1.3)
    agains = []
    back = start - 0.15
    for _ in range(3):
        made.pause(0.4)
        mark = made.length_s
        made.pause(3.9)
        word, _ = made.speech(1.6)
        agains.append((mark, back, mark + 3.1))
        if not is_one_back:
            back = word - 0.15
    made.pause(0.5)
    made.speech(2.0)
    made.pause(0.5)
    folder = folder_with(tmp_path, made.samples())
    for mark, left, resume in agains:
        again = Again(
            take=1,
            mark=at(mark),
            back_take=1,
            back_sample=at(left),
            resume=at(resume),
            lead_in=3 * RATE_HZ,
        )
        folder.append(again, author="Ada", at=AT)
    place_agains(folder, 1, tools)
    assert len(standing(folder)) == 3
    before, after = folder.timeline().spans
    assert end < before.stop / RATE_HZ < start
    pause = before.stop / RATE_HZ - end + word - after.start / RATE_HZ
    assert pause == pytest.approx(0.6, abs=PLACE_S)
    revision = folder.revision
    place_agains(folder, 1, tools)
    assert folder.reload().revision == revision


def test_what_is_had_back_goes_on_with_a_short_pause(tmp_path: Path, tools: Tools) -> None:
    made = Made(seed=9)
    made.pause(0.3)
    made.speech(2.2)
    made.pause(0.6)
    start, _ = made.speech(1.0)
    mark = made.length_s - 0.1  # pressed while the last syllable is spoken
    end = made.length_s
    made.pause(2.0)
    now = made.length_s
    made.pause(0.9)
    word, _ = made.speech(2.0)
    made.pause(0.5)
    folder = folder_with(tmp_path, made.samples())
    first = folder.append(
        Again(
            take=1,
            mark=at(mark),
            back_take=1,
            back_sample=at(start - 0.15),
            resume=at(mark),
            lead_in=2 * RATE_HZ,
        ),
        author="Ada",
        at=AT,
    )
    back = Again(take=1, mark=at(now), back_take=1, back_sample=at(mark), resume=at(now))
    folder.append(back, author="Ada", at=AT)
    folder.append(Undo(of=first.number), author="Ada", at=AT)
    place_agains(folder, 1, tools)
    (placed,) = standing(folder)
    assert placed.back_sample / RATE_HZ > end - 0.03
    assert placed.resume / RATE_HZ < word - 0.02
    pause = placed.back_sample / RATE_HZ - end + word - placed.resume / RATE_HZ
    assert 0.15 < pause < 0.4


def test_the_very_first_sentence_begins_with_a_little_room(tmp_path: Path, tools: Tools) -> None:
    made = Made(seed=10)
    made.pause(0.8)
    made.speech(1.5)
    made.pause(0.4)
    mark = made.length_s
    made.pause(1.2)
    word, _ = made.speech(2.0)
    made.pause(0.5)
    folder = folder_with(tmp_path, made.samples())
    again = Again(
        take=1, mark=at(mark), back_take=1, back_sample=at(0.6), resume=at(mark + 0.6), lead_in=0
    )
    folder.append(again, author="Ada", at=AT)
    place_agains(folder, 1, tools)
    (span,) = folder.reload().timeline().spans
    assert word - span.start / RATE_HZ == pytest.approx(0.2, abs=PLACE_S)


def test_an_article_begins_with_its_sentence_read_again(tmp_path: Path, tools: Tools) -> None:
    made = stumbled()
    folder = folder_with(tmp_path, made.sound)
    marked = at(made.first_end + made.pause - 0.05)
    folder.append(ArticleStarted(take=1, sample=marked, title="Ferry"), author="Ada", at=AT)
    folder.append(again_of(made), author="Ada", at=AT)
    place_agains(folder, 1, tools)
    (article,) = folder.reload().timeline().articles
    (placed,) = standing(folder)
    assert article.title == "Ferry"
    assert article.sample == placed.resume


def test_words_read_before_the_end_of_the_lead_in_are_kept(tmp_path: Path, tools: Tools) -> None:
    made = stumbled(late_s=0.0)
    folder = folder_with(tmp_path, made.sound)
    late = replace(again_of(made), resume=at(made.word + 0.7))
    folder.append(late, author="Ada", at=AT)
    place_agains(folder, 1, tools)
    (placed,) = standing(folder)
    assert placed.resume / RATE_HZ < made.word - 0.04


def test_where_nobody_reads_on_the_places_of_the_stand_stay(tmp_path: Path, tools: Tools) -> None:
    made = stumbled()
    stop = round((made.resume + 0.2) * RATE_HZ)
    folder = folder_with(tmp_path, made.sound[:stop])
    folder.append(again_of(made), author="Ada", at=AT)
    place_agains(folder, 1, tools)
    assert standing(folder) == [again_of(made)]


def test_what_comes_between_the_two_entries_is_looked_at_again(
    tmp_path: Path, tools: Tools
) -> None:
    """The stand marks an article just before the old entry is taken back."""
    folder, edit = pressed(tmp_path, stumbled())
    asked = []

    def clock() -> datetime:
        asked.append(1)
        if len(asked) == 2:
            marked = ArticleStarted(take=1, sample=9, title="")
            ReadingFolder(folder.path).append(marked, author="Ada", at=AT)
        return AT

    place_agains(folder, 1, replace(tools, clock=clock))
    (placed,) = standing(folder)
    assert placed != again_of(stumbled())
    assert folder.ledger()[-1].what == Undo(of=edit.number)


def test_if_the_reader_takes_it_back_between_the_two_the_placed_one_goes(
    tmp_path: Path, tools: Tools
) -> None:
    folder, edit = pressed(tmp_path, stumbled())
    asked = []

    def clock() -> datetime:
        asked.append(1)
        if len(asked) == 2:
            ReadingFolder(folder.path).append(Undo(of=edit.number), author="Ada", at=AT)
        return AT

    place_agains(folder, 1, replace(tools, clock=clock))
    assert standing(folder) == []
    revision = folder.revision
    place_agains(folder, 1, tools)
    assert (standing(folder), folder.revision) == ([], revision)
