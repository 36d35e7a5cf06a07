"""Echo where a room was put around a voice, and none in a dry one."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from quietleaf.listening.findings import Finding
from quietleaf.listening.listen import hear
from tests.voices import RATE_HZ, reading


def in_room(sound: NDArray[np.float64], decay_s: float) -> NDArray[np.float64]:
    """Add as much of a room as there is voice, dying by 60 dB in so long."""
    time_s = np.arange(round(1.2 * decay_s * RATE_HZ)) / RATE_HZ
    room = np.random.default_rng(7).normal(size=time_s.size) * 10 ** (-3 * time_s / decay_s)
    heard: NDArray[np.float64] = fftconvolve(sound, room / np.sqrt(np.sum(room**2)))
    return sound + heard[: sound.size]


def echoes(sound: NDArray[np.float64]) -> list[Finding]:
    """Give the findings of echo."""
    hearing = hear([sound[:, np.newaxis]], RATE_HZ, 1)
    return [found for found in hearing.findings if found.kind == "echo"]


def test_a_voice_in_an_echoing_room() -> None:
    sound = in_room(reading(sentences=12).samples(), 0.9)
    (found,) = echoes(sound)
    assert found.start_s == 0.0
    assert found.end_s == pytest.approx(sound.size / RATE_HZ, abs=2.1)
    assert found.severity == "hear"
    assert found.value is not None
    assert 0.25 < found.value < 1.2


def test_a_stretch_from_an_echoing_room() -> None:
    sound = reading(sentences=24).samples()
    start, stop = 20 * RATE_HZ, 40 * RATE_HZ
    sound[start:stop] = in_room(sound[start:stop], 0.9)
    (found,) = echoes(sound)
    assert found.start_s == pytest.approx(20.0, abs=6.0)
    assert found.end_s == pytest.approx(40.0, abs=6.0)


def test_hum_hides_no_echo() -> None:
    sound = in_room(reading(sentences=12).samples(), 0.9)
    time_s = np.arange(sound.size) / RATE_HZ
    sound += 0.004 * sum(np.sin(2 * np.pi * 50.0 * line * time_s) for line in (1, 2, 3))
    assert echoes(sound)


@pytest.mark.parametrize("room_dbov", [-85.0, -60.0])
def test_a_dry_voice_has_none(room_dbov: float) -> None:
    assert not echoes(reading(sentences=12, room_dbov=room_dbov).samples())
