"""Kinds of sound: what is speech and what is not, however a recording is cut."""

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.sound_frames import sound_frames
from quietleaf.listening.sound_kind_names import KINDS
from quietleaf.listening.sound_kinds import KindsChunk, end_kinds, start_kinds, step_kinds
from tests.voices import RATE_HZ, Made


@pytest.fixture(scope="module")
def made() -> tuple[NDArray[np.float64], list[tuple[float, float]]]:
    """Half a minute of made voice, and where it speaks."""
    voice = Made(seed=5, room_dbov=-70.0)
    spans = []
    voice.pause(0.5)
    for length_s in (3.0, 2.0, 4.0, 2.5, 3.0, 2.0, 3.5):
        spans.append(voice.speech(length_s))
        voice.pause(0.7)
    return voice.samples(), spans


def test_a_made_voice_is_speech(
    made: tuple[NDArray[np.float64], list[tuple[float, float]]],
) -> None:
    samples, spans = made
    speech = np.concatenate([chunk.speech for chunk in _kinds(samples)])
    spoken = np.zeros(speech.size, dtype=np.bool_)
    for start_s, stop_s in spans:
        spoken[round(start_s * 100) : round(stop_s * 100)] = True
    assert speech[spoken].mean() > 0.9
    assert speech[~spoken].mean() < 0.15


def test_each_chunk_is_told_once_and_the_end_changes_nothing(
    made: tuple[NDArray[np.float64], list[tuple[float, float]]],
) -> None:
    chunks = sound_frames(made[0], RATE_HZ)
    memory = start_kinds()
    told = [step_kinds(memory, chunk) for chunk in chunks]
    assert [one.frames.first if one else None for one in told] == [None, 0]
    last, again = end_kinds(memory), end_kinds(memory)
    assert last is not None
    assert again is not None
    assert last.frames.first == 2000
    assert last.speech.size == chunks[1].count
    assert last.speech.tobytes() == again.speech.tobytes()
    assert last.sounds.shares.shape == (last.sounds.start.size, len(KINDS))
    assert last.sounds.shares.sum(axis=1) == pytest.approx(1.0, abs=1e-5)
    assert (last.sounds.start >= 2000).all()


def test_silence_holds_nothing() -> None:
    (chunk,) = _kinds(np.zeros(5 * 16_000), 16_000)
    assert not chunk.speech.any()
    assert chunk.sounds.start.size == 0
    assert end_kinds(start_kinds()) is None


def _kinds(samples: NDArray[np.float64], rate: int = RATE_HZ) -> list[KindsChunk]:
    memory = start_kinds()
    found = [step_kinds(memory, chunk) for chunk in sound_frames(samples, rate)]
    return [one for one in [*found, end_kinds(memory)] if one]
