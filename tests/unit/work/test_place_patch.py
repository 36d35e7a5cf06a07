"""What is read again stands in the place of the old sentence, both joins chosen by listening."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import resample_poly

from quietleaf.booth.corrections import corrections
from quietleaf.booth.edits import ArticleStarted, Undo
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.place_patch import place_patch, place_patches
from quietleaf.work.record_reading import seal_as_arrived
from quietleaf.work.sent_back import sent_back
from quietleaf.work.tools import Tools
from tests.readings import AT
from tests.sent_back import (
    SENTENCES,
    Stand,
    patches,
    read_later,
    sent_back_reading,
    spans,
)
from tests.voices import RATE_HZ


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    with Database(database_url(tmp_path)) as database:
        yield Tools(data=tmp_path, database=database, clock=lambda: AT)


def test_the_new_sentence_stands_between_the_old_ones(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 4)
    later = read_later()
    Stand(made.folder, tools).read(made.numbers[4], later.samples())
    (before, new, after) = spans(made.folder)
    assert (before[0], new[0], after[0]) == (1, 2, 1)
    assert made.spoken[3][1] < before[2] < made.spoken[4][0]
    # 3.7 s of room come before the new sentence, which lasts for 2.4 s.
    assert 3.0 < new[1] < 3.7
    assert 6.1 < new[2] < 6.9
    assert made.spoken[4][1] < after[1] < made.spoken[5][0]
    # Both pauses are as this reader pauses: 0.6 to 0.7 s.
    assert 0.55 < (before[2] - made.spoken[3][1]) + (3.7 - new[1]) < 0.75
    assert 0.55 < (new[2] - 6.1) + (made.spoken[5][0] - after[1]) < 0.75
    (one,) = corrections(made.folder.standing)
    assert one.patch == patches(made.folder)[0]
    with TimelineSound(made.folder) as sound:
        assert len(sound.joins) == 2


def test_where_nobody_reads_the_old_sentence_stays(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 4)
    whole = spans(made.folder)
    Stand(made.folder, tools).read(made.numbers[4], read_later(speaks_s=0.0).samples())
    assert patches(made.folder) == []
    assert spans(made.folder) == whole


def test_where_its_end_never_came_the_old_sentence_stays(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 4)
    whole = spans(made.folder)
    stand = Stand(made.folder, tools)
    stand.journal.roll(RATE_HZ, read_for=made.numbers[4], fresh=True)
    stand.journal.again((1, 0))
    stand.journal.sound(read_later().samples())
    stand.send()
    stand.close()
    # The browser went, and did not come back.
    seal_as_arrived(made.folder, "Ada Quill", tools)
    place_patches(made.folder, tools)
    assert spans(made.folder) == whole


def test_what_was_broken_off_at_the_stand_leaves_the_old_sentence(
    tmp_path: Path, tools: Tools
) -> None:
    made = sent_back_reading(tmp_path, 4)
    whole = spans(made.folder)
    stand = Stand(made.folder, tools)
    stand.journal.roll(RATE_HZ, read_for=made.numbers[4], fresh=True)
    stand.journal.again((1, 0))
    stand.journal.sound(read_later().samples())
    stand.journal.again((1, 0))
    stand.journal.seal()
    stand.send()
    assert spans(made.folder) == whole


def test_of_several_tries_the_last_one_with_a_voice_stands(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 4)
    whole = spans(made.folder)
    stand = Stand(made.folder, tools)
    stand.read(made.numbers[4], read_later(speaks_s=2.4).samples())
    first = spans(made.folder)
    stand.read(made.numbers[4], read_later(12, speaks_s=1.9).samples(), fresh=False)
    second = spans(made.folder)
    assert [take for take, _, _ in second] == [1, 3, 1]
    stand.read(made.numbers[4], read_later(13, speaks_s=0.0).samples(), fresh=False)
    assert spans(made.folder) == second
    # Another page begins anew; what was read before stays as long as nothing is read there.
    other = Stand(made.folder, tools)
    other.read(made.numbers[4], read_later(14, speaks_s=2.1).samples())
    assert [take for take, _, _ in spans(made.folder)] == [1, 5, 1]
    numbers = [edit.number for edit in made.folder.ledger() if edit.edit_id.startswith("patch:")]
    for number, expected in zip(reversed(numbers), (second, first, whole), strict=True):
        undone = made.folder.append(Undo(of=number), author="Desk", at=AT)
        assert spans(made.folder) == expected
        assert undone.what == Undo(of=number)


def test_two_sentences_stand_each_in_its_place(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 2, 6)
    stand = Stand(made.folder, tools)
    stand.read(made.numbers[6], read_later(15).samples())
    stand.read(made.numbers[2], read_later(16).samples())
    assert [take for take, _, _ in spans(made.folder)] == [1, 3, 1, 2, 1]
    assert [piece.is_read for piece in sent_back(made.folder)] == [True, True]
    # What is known of the places does not move with what is read.
    assert [piece.number for piece in sent_back(made.folder)] == [
        made.numbers[2],
        made.numbers[6],
    ]


def test_the_first_and_the_last_sentence_can_be_read_again(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 0, SENTENCES - 1)
    stand = Stand(made.folder, tools)
    stand.read(made.numbers[0], read_later(17).samples())
    stand.read(made.numbers[SENTENCES - 1], read_later(18).samples())
    first, old, last = spans(made.folder)
    assert (first[0], old[0], last[0]) == (2, 1, 3)
    assert 3.3 < first[1] < 3.7
    assert last[2] == pytest.approx(6.1 + 0.3, abs=0.1)
    assert made.spoken[0][1] < old[1] < made.spoken[1][0]
    assert made.spoken[-2][1] < old[2] < made.spoken[-1][0]


def test_an_article_goes_on_beginning_with_its_sentence(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 4)
    mark = ArticleStarted(take=1, sample=round((made.spoken[4][0] - 0.05) * RATE_HZ), title="A")
    made.folder.append(mark, author="Ada", at=AT)
    Stand(made.folder, tools).read(made.numbers[4], read_later().samples())
    (article,) = made.folder.reload().timeline().articles
    (patch,) = patches(made.folder)
    assert (article.take, article.sample) == patch.begin


def test_who_reads_on_is_heard_to_the_end_of_what_was_sent_back(
    tmp_path: Path, tools: Tools
) -> None:
    made = sent_back_reading(tmp_path, 4)
    with made.folder.open_take(1) as take:
        start, stop = (round(at_s * RATE_HZ) for at_s in (made.spoken[5][0], made.spoken[6][1]))
        following = take.read(start, stop)[:, 0]
    # Two more sentences, a little slower; then the room.
    slower = np.asarray(resample_poly(following, 103, 100))
    later = read_later().samples()
    sound = np.concatenate([later[: -RATE_HZ // 10], slower, later[-RATE_HZ // 2 :]])
    Stand(made.folder, tools).read(made.numbers[4], sound)
    _, new, after = spans(made.folder)
    assert 6.1 < new[2] < 6.9
    assert made.spoken[4][1] < after[1] < made.spoken[5][0]


def test_a_take_at_another_rate_is_placed_as_well(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 4)
    sound = read_later().samples()[::2]
    stand = Stand(made.folder, tools)
    stand.journal.roll(RATE_HZ // 2, read_for=made.numbers[4], fresh=True)
    stand.journal.again((1, 0))
    stand.journal.sound(sound)
    stand.journal.seal()
    stand.send()
    (patch,) = patches(made.folder)
    assert 3.0 < patch.begin[1] / (RATE_HZ / 2) < 3.7
    assert made.spoken[3][1] < patch.start[1] / RATE_HZ < made.spoken[4][0]
    assert made.spoken[4][1] < patch.stop[1] / RATE_HZ < made.spoken[5][0]


def test_asking_twice_enters_it_once(tmp_path: Path, tools: Tools) -> None:
    made = sent_back_reading(tmp_path, 4)
    Stand(made.folder, tools).read(made.numbers[4], read_later().samples())
    revision = made.folder.reload().revision
    place_patch(made.folder, 2, tools)
    place_patches(made.folder, tools)
    assert made.folder.reload().revision == revision


def test_a_sentence_for_nothing_that_was_asked_joins_at_the_end(
    tmp_path: Path, tools: Tools
) -> None:
    made = sent_back_reading(tmp_path, 4)
    stand = Stand(made.folder, tools)
    stand.journal.roll(RATE_HZ, read_for=2, fresh=True)
    stand.journal.sound(np.zeros(4_800))
    stand.send()
    assert made.folder.reload().takes()[-1].read_for is None
