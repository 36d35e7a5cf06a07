"""Sentence starts: how sound is cut into blocks cannot be heard, nor how loud it is."""

from __future__ import annotations

import functools
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from quietleaf.listening.sentence_starts import (
    SentenceStart,
    sentence_starts,
    start_sentences,
    step_sentences,
)
from tests.voices import RATE_HZ, reading


@functools.cache
def sound() -> NDArray[np.float64]:
    """Make a short reading with a breath, at half the rate it is made at."""
    made = reading(seed=6, sentences=5)
    made.noise(0.3, -44.0)
    made.pause(0.06)
    made.speech(1.6)
    made.pause(0.4)
    made.speech(1.2)
    return made.samples()[::2]


@functools.cache
def at_once() -> tuple[SentenceStart, ...]:
    """Hear it as one block."""
    return sentence_starts(sound(), RATE_HZ // 2)


@given(cuts=st.lists(st.floats(0.0, 1.0), max_size=40))
def test_any_cutting_gives_the_same(cuts: list[float]) -> None:
    whole = sound()
    places = sorted({0, whole.size, *(int(cut * whole.size) for cut in cuts)})
    memory = start_sentences(RATE_HZ // 2)
    found: list[SentenceStart] = []
    for start, stop in pairwise(places):
        found += step_sentences(memory, whole[start:stop])
    assert tuple(found) == at_once()


def test_what_is_known_is_known_within_a_third_of_a_second() -> None:
    whole = sound()
    memory = start_sentences(RATE_HZ // 2)
    block = RATE_HZ // 2 // 100
    late_s = []
    for start in range(0, whole.size, block):
        for found in step_sentences(memory, whole[start : start + block]):
            late_s.append((start + block - found.pause_stop) / (RATE_HZ // 2))
    assert len(late_s) == len(at_once()) > 5
    assert max(late_s) <= 0.3


@given(gain_db=st.integers(-12, 10))
def test_a_gain_moves_nothing_by_more_than_a_frame(gain_db: int) -> None:
    louder = sentence_starts(sound() * 10.0 ** (gain_db / 20.0), RATE_HZ // 2)
    assert len(louder) == len(at_once())
    for one, other in zip(louder, at_once(), strict=True):
        assert abs(one.pause_stop - other.pause_stop) <= 2 * RATE_HZ // 200
