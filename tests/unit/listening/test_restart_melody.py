"""Loudness and pitch of two renditions of the same words."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.restart_melody import MELODY_NUMBERS, said_alike


def compared(pitch_st: NDArray[np.float64], again_st: NDArray[np.float64]) -> dict[str, float]:
    count = pitch_st.size
    waves = np.sin(np.arange(count) / 5.0)
    level_db = np.concatenate([waves, waves - 6.0]).astype(np.float32)
    both_st = np.concatenate([pitch_st, again_st]).astype(np.float32)
    numbers = np.empty(len(MELODY_NUMBERS))
    said_alike(level_db, both_st, 0, count, np.arange(count), count - 1, numbers)
    return dict(zip(MELODY_NUMBERS, numbers.tolist(), strict=True))


def test_the_same_melody_two_semitones_higher_and_softer() -> None:
    melody = 80.0 + 3.0 * np.sin(np.arange(100) / 15.0)
    told = compared(melody, melody + 2.0)
    # The levels differ by 6 dB throughout: they go together all the same.
    assert told["levels_alike"] == pytest.approx(1.0, abs=0.03)
    assert told["pitch_apart_st"] == pytest.approx(2.0, abs=1e-4)
    assert told["pitch_spread_st"] == pytest.approx(0.0, abs=1e-4)
    assert told["there_pitch_st"] == pytest.approx(2.0, abs=0.5)


def test_a_sentence_that_comes_to_its_end_falls() -> None:
    level = np.full(100, 80.0)
    falling = level.copy()
    falling[-20:] -= np.linspace(0.0, 6.0, 20)
    ended, broken = compared(falling, level), compared(level, level)
    # Of a line through 20 rows the second half lies 10/19 of its 6 semitones under the first.
    assert ended["end_fall_st"] == pytest.approx(-60.0 / 19.0, abs=1e-3)
    assert ended["end_pitch_st"] == pytest.approx(-3.0, abs=0.2)
    assert broken["end_fall_st"] == 0.0
    assert broken["end_pitch_st"] == 0.0


def test_whispering_has_no_melody() -> None:
    none = np.full(100, np.nan)
    told = compared(none, none)
    assert told["levels_alike"] > 0.9
    assert [told[name] for name in MELODY_NUMBERS[1:]] == [0.0] * 5
