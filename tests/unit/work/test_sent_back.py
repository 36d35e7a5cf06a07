"""What a return sends back becomes whole sentences, found by listening."""

from __future__ import annotations

from pathlib import Path

import pytest

from quietleaf.booth.edits import Decided, StateSet
from quietleaf.work.sent_back import sent_back
from tests.readings import AT
from tests.sent_back import SENTENCES, sent_back_reading
from tests.voices import RATE_HZ


def test_a_place_in_a_sentence_is_that_sentence(tmp_path: Path) -> None:
    made = sent_back_reading(tmp_path, 4)
    (piece,) = sent_back(made.folder)
    start, stop = piece.start[1] / RATE_HZ, piece.stop[1] / RATE_HZ
    assert made.spoken[3][1] < start < made.spoken[4][0]
    assert made.spoken[4][1] < stop < made.spoken[5][0]
    assert piece.sentences == 1
    assert piece.length_s == pytest.approx(stop - start)
    assert piece.at_s == pytest.approx(made.spoken[4][0] + 0.6)
    assert [(one.remark, one.note) for one in piece.asked] == [("text", "sentence 4")]
    assert not piece.is_read


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_place_from_pause_to_pause_is_what_lies_between(tmp_path: Path, share: float) -> None:
    made = sent_back_reading(tmp_path, 4)
    spoken = made.spoken

    def in_pause_after(sentence: int) -> int:
        pause_s = spoken[sentence + 1][0] - spoken[sentence][1]
        return round((spoken[sentence][1] + share * pause_s) * RATE_HZ)

    marked = Decided(
        start=(1, in_pause_after(5)),
        stop=(1, in_pause_after(6)),
        finding="",
        decision="read again",
    )
    for what in (
        StateSet(state="handed in", note=""),
        marked,
        StateSet(state="returned", note=""),
    ):
        made.folder.append(what, author="Desk", at=AT)
    _, piece = sent_back(made.folder)
    assert spoken[5][1] < piece.start[1] / RATE_HZ < spoken[6][0]
    assert spoken[6][1] < piece.stop[1] / RATE_HZ < spoken[7][0]
    assert piece.sentences == 1


def test_the_first_and_the_last_sentence_reach_to_the_ends(tmp_path: Path) -> None:
    made = sent_back_reading(tmp_path, 0, SENTENCES - 1)
    first, last = sent_back(made.folder)
    assert 0 <= first.start[1] / RATE_HZ < made.spoken[0][0]
    assert last.stop == (1, made.folder.takes()[0].samples)


def test_sentences_that_follow_on_each_other_are_read_in_one_go(tmp_path: Path) -> None:
    made = sent_back_reading(tmp_path, 6, 2, 3)
    one, two = sent_back(made.folder)
    assert [asked.note for asked in one.asked] == ["sentence 2", "sentence 3"]
    assert (one.number, one.sentences) == (made.numbers[2], 2)
    assert made.spoken[3][1] < one.stop[1] / RATE_HZ < made.spoken[4][0]
    assert [asked.note for asked in two.asked] == ["sentence 6"]


def test_two_things_in_one_sentence_are_one_to_read(tmp_path: Path) -> None:
    made = sent_back_reading(tmp_path, 4)
    folder = made.folder
    # Sent back a second time, before anything was read.
    for what in (
        StateSet(state="handed in", note=""),
        Decided(
            start=(1, round((made.spoken[4][0] + 1.1) * RATE_HZ)),
            stop=(1, round((made.spoken[4][0] + 1.3) * RATE_HZ)),
            finding="pop",
            decision="read again",
        ),
        StateSet(state="returned", note=""),
    ):
        folder.append(what, author="Desk", at=AT)
    (piece,) = sent_back(folder)
    assert [(one.remark, one.note) for one in piece.asked] == [("text", "sentence 4"), ("", "")]
    assert piece.sentences == 1


def test_a_reading_that_was_not_returned_asks_for_nothing(tmp_path: Path) -> None:
    made = sent_back_reading(tmp_path)
    assert sent_back(made.folder) == ()
