"""Pace: syllables of a made voice are counted, and dead air is no reading time."""

import numpy as np
import pytest

from quietleaf.listening.pace import PaceMemory, pace_of, step_pace
from quietleaf.listening.sound_frames import sound_frames

RATE = 16_000


def syllables(per_s: float, length_s: float) -> np.ndarray:
    """A buzz of 120 Hz whose loudness rises and falls so many times a second."""
    time_s = np.arange(round(length_s * RATE)) / RATE
    buzz = sum(np.sin(2 * np.pi * 120 * k * time_s) / k for k in range(1, 20))
    swell = np.maximum(0.02, np.sin(np.pi * per_s * time_s) ** 2)
    room = 1e-4 * np.random.default_rng(2).normal(size=time_s.size)
    return np.asarray(0.1 * buzz * swell + room)


def counted(samples: np.ndarray) -> PaceMemory:
    memory = PaceMemory()
    for chunk in sound_frames(samples, RATE):
        step_pace(memory, chunk, np.ones(chunk.count, dtype=np.bool_))
    return memory


def nuclei(memory: PaceMemory) -> np.ndarray:
    return memory.nuclei.values().astype(np.int64)


@pytest.mark.parametrize("per_s", [2.5, 4.0, 6.0])
def test_every_swell_is_a_syllable(per_s: float) -> None:
    found = nuclei(counted(syllables(per_s, 45.0)))
    assert len(found) == pytest.approx(45.0 * per_s, abs=2)


def test_a_swell_on_the_edge_of_a_chunk_is_counted_once() -> None:
    found = nuclei(counted(syllables(4.0, 60.0)))
    near = np.diff(found[(found > 1_900) & (found < 2_100)])
    assert np.all((near > 22) & (near < 28))


def test_what_is_no_voice_has_no_syllables() -> None:
    memory = PaceMemory()
    for chunk in sound_frames(syllables(4.0, 45.0), RATE):
        speech = np.arange(chunk.first, chunk.first + chunk.count) < 2_500
        step_pace(memory, chunk, speech)
    found = nuclei(memory)
    assert len(found) == pytest.approx(100, abs=2)
    assert found.max() < 2_500


def test_a_word_alone_has_no_pace() -> None:
    pace = pace_of(np.arange(0, 500, 25, dtype=np.uint32), np.array([[0.0, 5.0]]), 5.0)
    assert pace.words_per_minute is None


def test_nobody_speaks_and_there_is_no_pace() -> None:
    pace = pace_of(np.empty(0, dtype=np.uint32), np.empty((0, 2)), 5.0)
    assert pace.words_per_minute is None
    assert pace.stretches == ()
