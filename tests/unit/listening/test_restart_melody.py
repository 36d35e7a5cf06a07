"""Loudness and pitch of two renditions of the same words."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.restart_melody import said_alike
from quietleaf.listening.restart_rows import SpeechRows


def rows(pitch_st: NDArray[np.float64], again_st: NDArray[np.float64]) -> SpeechRows:
    waves = np.sin(np.arange(pitch_st.size) / 5.0)
    count = 2 * pitch_st.size
    none = np.zeros((count, 0), dtype=np.float32)
    return SpeechRows(
        roots=none,
        centred=none,
        shapes=none,
        frame=np.arange(count),
        mean=0.0,
        deviation=1.0,
        level_db=np.concatenate([waves, waves - 6.0]).astype(np.float32),
        pitch_st=np.concatenate([pitch_st, again_st]).astype(np.float32),
    )


def compared(of: SpeechRows) -> dict[str, float]:
    count = of.level_db.size // 2
    names = ("levels", "apart", "spread", "end", "fall", "there")
    numbers = said_alike(of, 0, count, np.arange(count), count - 1, count, count)
    return dict(zip(names, numbers, strict=True))


def test_the_same_melody_two_semitones_higher_and_softer() -> None:
    melody = 80.0 + 3.0 * np.sin(np.arange(100) / 15.0)
    told = compared(rows(melody, melody + 2.0))
    # The levels differ by 6 dB throughout: they go together all the same.
    assert told["levels"] == pytest.approx(1.0, abs=0.03)
    assert told["apart"] == pytest.approx(2.0, abs=1e-4)
    assert told["spread"] == pytest.approx(0.0, abs=1e-4)
    assert told["there"] == pytest.approx(2.0, abs=0.5)


def test_a_sentence_that_comes_to_its_end_falls() -> None:
    level = np.full(100, 80.0)
    falling = level.copy()
    falling[-20:] -= np.linspace(0.0, 6.0, 20)
    ended, broken = compared(rows(falling, level)), compared(rows(level, level))
    # Of a line through 20 rows the second half lies 10/19 of its 6 semitones under the first.
    assert ended["fall"] == pytest.approx(-60.0 / 19.0, abs=1e-3)
    assert ended["end"] == pytest.approx(-3.0, abs=0.2)
    assert broken["fall"] == 0.0
    assert broken["end"] == 0.0


def test_whispering_has_no_melody() -> None:
    none = np.full(100, np.nan)
    told = compared(rows(none, none))
    assert told["levels"] > 0.9
    assert [told[name] for name in ("apart", "spread", "end", "fall", "there")] == [0.0] * 5
