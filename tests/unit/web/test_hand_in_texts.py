"""The sentences of handing in, of the receipt and of practice."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from quietleaf.web import hand_in_texts, practice_texts
from quietleaf.work.checked_takes import CheckedTake
from quietleaf.work.hearings import SeenHearing
from quietleaf.work.kept_hearing import HeardReading
from quietleaf.work.practice_feedback import Feedback
from quietleaf.work.see_hand_in import CopySeen, OpenTake

FORBIDDEN = re.compile(r"\b(error|invalid|buffer|session|exception|file)\b", re.IGNORECASE)
WELL = HeardReading(
    duration_s=60.0,
    verdict="ready",
    reasons=("Nothing was found that needs hearing.",),
    things_to_hear=0,
    cut_off=0,
    active_speech_dbov=-25.0,
    noise_floor_dbov=-65.0,
)
COPY = CopySeen(takes=2, held_s=3391.9, open_takes=())
FEEDBACK = Feedback(
    kind="practice",
    reading_id="practice-1",
    length_s=72.0,
    holds=1,
    opening_marked=True,
    closing_marked=True,
    copy=COPY,
    hearing=None,
)


def plain(text: str) -> str:
    """Write a text with plain spaces."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("texts", [hand_in_texts, practice_texts])
def test_no_word_is_the_machines(texts: object) -> None:
    told = [value for name, value in vars(texts).items() if name.isupper()]
    words = " ".join(str(value) for value in told)
    assert len(words) > 500
    assert not FORBIDDEN.search(words)


@pytest.mark.parametrize(
    ("copy", "told"),
    [
        (CopySeen(takes=0, held_s=0.0, open_takes=()), "Nothing has arrived at the station yet."),
        (COPY, "The station has 56 min 31, in two takes, all complete."),
        (replace(COPY, takes=1), "The station has 56 min 31, in one take, complete."),
        (
            CopySeen(takes=1, held_s=75.0, open_takes=(OpenTake(take=2, length_s=15.0),)),
            "The station has 1 min 15. Take 2 has not come to its end there yet.",
        ),
    ],
)
def test_the_copy_is_told(copy: CopySeen, told: str) -> None:
    assert plain(hand_in_texts.copy_words(copy)) == told


@pytest.mark.parametrize(
    ("heard", "told"),
    [
        (WELL, "It was heard well: nothing was found that asks for another ear."),
        (
            replace(WELL, verdict="needs an ear", things_to_hear=2),
            "It was heard through. The desk will listen to two places in it.",
        ),
        (
            replace(WELL, verdict="needs an ear"),
            "It was heard through. Somebody at the desk will listen to it too.",
        ),
        (
            replace(WELL, verdict="needs an ear", things_to_hear=2, review="whole"),
            "It was heard through. The desk will listen to all of it before it goes out.",
        ),
        (
            replace(WELL, things_to_hear=2, review="none"),
            "It was heard through, and can go out.",
        ),
        (
            replace(WELL, verdict="read again"),
            "It did not come across well, and may have to be read again.",
        ),
    ],
)
def test_a_verdict_is_told_to_its_reader(heard: HeardReading, told: str) -> None:
    seen = SeenHearing(heard=heard, done=1.0, trouble="")
    assert hand_in_texts.hearing_words(seen) == told


def test_listening_and_its_trouble_are_told() -> None:
    on = SeenHearing(heard=None, done=0.3, trouble="")
    for texts in (hand_in_texts, practice_texts):
        assert texts.hearing_words(on) == "The station is listening to it now."
        off = texts.hearing_words(replace(on, trouble="The disk is away."))
        assert off == "The station could not listen to it just now. The disk is away."


def test_a_checksum_can_be_compared_by_eye() -> None:
    assert hand_in_texts.spaced("0123456789abcdef" * 4).split() == ["01234567", "89abcdef"] * 4


def test_a_take_is_named_with_its_length() -> None:
    take = CheckedTake(take=3, length_s=754.9, sample_rate_hz=48_000, sha256="0" * 64, trouble="")
    assert plain(hand_in_texts.take_line(take)) == "Take 3, 12 min 34"


@pytest.mark.parametrize(
    ("heard", "begins"),
    [
        (replace(WELL, active_speech_dbov=-10.0), "Your voice was too loud for the microphone. "),
        (replace(WELL, cut_off=2), "Your voice was too loud for the microphone in two places."),
        (replace(WELL, active_speech_dbov=-41.0), "Your voice was quiet (−41 dB)."),
        (replace(WELL, verdict="needs an ear", reasons=("There is much noise.",)), "There is"),
    ],
)
def test_what_would_make_it_better_is_said(heard: HeardReading, begins: str) -> None:
    assert plain(practice_texts.advice(heard)[0]).startswith(begins)
    assert practice_texts.heard_words(heard) == "You were heard. This would make it better:"


def test_a_good_voice_hears_no_advice() -> None:
    assert practice_texts.advice(WELL) == ()
    assert practice_texts.heard_words(WELL).startswith("You were heard well")


def test_no_voice_is_said() -> None:
    nobody = replace(
        WELL, active_speech_dbov=None, verdict="read again", reasons=("No speech was found.",)
    )
    assert practice_texts.heard_words(nobody) == "No voice was heard."


def test_what_was_done_is_said() -> None:
    held, marked = practice_texts.deeds(FEEDBACK)
    assert held.startswith("You held once and went on.")
    assert marked == "You marked where the opening and the closing words begin."
    assert "in one go" in practice_texts.deeds(replace(FEEDBACK, holds=0))[0]
    assert "five" not in practice_texts.deeds(replace(FEEDBACK, holds=5))[0]
    (alone,) = practice_texts.deeds(replace(FEEDBACK, kind="try-out", closing_marked=False))
    assert alone == held
    unmarked = practice_texts.deeds(replace(FEEDBACK, opening_marked=False, closing_marked=False))[
        1
    ]
    assert unmarked.startswith("The opening and the closing words were not marked;")
