"""Words of two stretches held against each other, by stretches made of rows and likelihoods."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.recognised import Stretch, sounding_rows
from quietleaf.listening.restart_pairs import PAIR_NUMBERS
from quietleaf.listening.restart_words import WORD_NUMBERS, Voice, voice_of, word_numbers
from quietleaf.listening.restart_words_model import FACTS, likelihood_by_words
from quietleaf.listening.restart_words_numbers import MEANS, SPREADS, WEIGHTS

Rows = NDArray[np.float32]
DRAW = np.random.default_rng(5)
SOUNDS = DRAW.normal(size=(30, 120))


def said(*sounds: int) -> Rows:
    """Give the rows of some sounds, eight each, never twice quite the same."""
    rows = np.repeat(SOUNDS[list(sounds)], 8, axis=0)
    return (4.0 + rows + 0.6 * DRAW.normal(size=rows.shape)).astype(np.float32)


def stretch(rows: Rows, *likelihoods: float) -> Stretch:
    return Stretch(
        pieces=tuple(f" w{index}" for index in range(len(likelihoods))),
        likelihoods=np.array(likelihoods),
        rows=rows,
    )


VOICE: Voice = voice_of(said(*range(30)))
WHOLE = stretch(said(*range(12)), -0.2, -0.1, -0.3, -0.1)


def numbers(
    tried: Stretch, in_said: list[float], in_tried: list[float], whole: Stretch = WHOLE
) -> dict[str, float]:
    found = word_numbers(tried, whole, np.array(in_said), np.array(in_tried), VOICE)
    assert np.isfinite(found).all()
    return dict(zip(WORD_NUMBERS, found.tolist(), strict=True))


def test_the_beginning_of_what_was_said_is_told_from_other_words() -> None:
    same = numbers(stretch(said(*range(5)), -0.4, -0.2), [-0.5, -0.2], [-0.3, -0.2, -6.0, -8.0])
    other = numbers(stretch(said(*range(20, 25)), -0.4, -0.2), [-9.0, -7.0], [-8.0, -9.0, -7.0, -9])
    assert same["rows"] == other["rows"] == 40
    for name in ("rows_03", "rows_whole", "worst_03", "lost_mean", "kept_sum", "said_sum"):
        assert same[name] > other[name] + 1.0
    # Two of four words were tried before the reader broke off.
    assert (same["said_pieces"], same["rest_s"]) == (2, 0.0)
    assert other["rest_s"] > 0.5


def test_words_that_went_on_otherwise_show_in_what_is_left_over() -> None:
    tried = stretch(said(0, 1, 2, 3, 4, 25, 26, 27, 28, 29), -0.4, -0.2)
    found = numbers(tried, [-0.5, -8.0], [-0.3, -7.0, -6.0, -8.0])
    assert found["rest_s"] == pytest.approx(5 * 8 / 50, abs=0.06)
    assert found["last_03"] < 1.0 < found["rows_05"]


@pytest.mark.parametrize("tried", [stretch(said(0)[:0]), stretch(said(0, 1)[:3], -1.0)])
def test_a_stretch_of_next_to_nothing_is_measured_too(tried: Stretch) -> None:
    found = numbers(tried, [-3.0] * len(tried.pieces), [-9.0] * 4)
    assert (found["rows_whole"], found["rest_s"]) == (0.0, 0.0)


def test_where_too_little_follows_nothing_is_laid_along() -> None:
    whole = stretch(said(0, 1)[:9])
    assert numbers(stretch(said(*range(9)), -0.1), [-0.1], [], whole)["rows_whole"] == 0.0


def test_a_voice_without_sound_is_measured_too() -> None:
    voice = voice_of(np.zeros((3, 120), dtype=np.float32))
    found = word_numbers(WHOLE, WHOLE, WHOLE.likelihoods, WHOLE.likelihoods, voice)
    assert np.isfinite(found).all()


def test_words_make_the_sounds_likelihood_greater_or_less() -> None:
    assert len(MEANS) == len(SPREADS) == len(WEIGHTS) - 1 == len(FACTS)
    pair = np.zeros(len(PAIR_NUMBERS), dtype=np.float32)
    usual = dict(zip(FACTS, MEANS, strict=True))
    for index, name in enumerate(PAIR_NUMBERS):
        pair[index] = usual.get(name, 0.0)
    same = numbers(stretch(said(*range(5)), -0.4, -0.2), [-0.5, -0.2], [-0.3, -0.2, -6.0, -8.0])
    other = numbers(stretch(said(*range(20, 25)), -0.4, -0.2), [-9.0, -7.0], [-8.0, -9.0, -7.0, -9])
    as_said, as_others = (
        likelihood_by_words(0.5, pair, np.array(list(found.values()))) for found in (same, other)
    )
    assert as_others < 0.2 < 0.8 < as_said
    assert likelihood_by_words(0.1, pair, np.array(list(same.values()))) < as_said


def test_a_stretch_is_as_text_what_its_pieces_are() -> None:
    assert stretch(said(0), -0.1, -0.2).text == "w0 w1"
    assert sounding_rows(np.zeros(10), 16_000).size == 0
