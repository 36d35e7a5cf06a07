"""Popped consonants where they were put, however low the voice and whatever rumbles."""

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.listen import hear
from tests.voices import RATE_HZ, reading


def thump(peak: float) -> NDArray[np.float64]:
    """Make a burst of 60 ms around 40 Hz."""
    time_s = np.arange(round(0.06 * RATE_HZ)) / RATE_HZ
    shape = (1.0 - np.exp(-time_s / 0.004)) * np.exp(-time_s / 0.03)
    burst: NDArray[np.float64] = shape * np.sin(2 * np.pi * 40.0 * time_s)
    burst *= peak / np.abs(burst).max()
    return burst


def pops(sound: NDArray[np.float64]) -> list[Finding]:
    """Give the findings of pops."""
    hearing = hear([sound[:, np.newaxis]], RATE_HZ, 1)
    return [found for found in hearing.findings if found.kind == "pop"]


@pytest.mark.parametrize("place_s", [1.5, 13.0, 19.95])
def test_a_pop_where_it_was_put(place_s: float) -> None:
    sound = reading(sentences=10).samples()
    start = round(place_s * RATE_HZ)
    burst = thump(0.4)
    sound[start : start + burst.size] += burst
    (found,) = pops(sound)
    assert found.severity == "hear"
    assert found.start_s == pytest.approx(place_s, abs=0.04)
    assert found.end_s == pytest.approx(place_s + 0.06, abs=0.06)
    assert found.value is not None
    assert found.limit is not None
    assert found.value > found.limit


def test_rumble_hides_what_is_no_louder() -> None:
    sound = reading(sentences=10).samples()
    draw = np.random.default_rng(4)
    spectrum = np.fft.rfft(draw.normal(size=sound.size))
    hz = np.fft.rfftfreq(sound.size, 1 / RATE_HZ)
    rumble = np.fft.irfft(np.where((hz > 20.0) & (hz < 60.0), spectrum, 0.0), sound.size)
    sound += 0.03 * rumble / rumble.std()
    start = 12 * RATE_HZ
    burst = thump(0.06)
    sound[start : start + burst.size] += burst
    assert not [found for found in pops(sound) if found.severity == "hear"]


def test_a_soft_pop_is_noted() -> None:
    sound = reading(sentences=10).samples()
    start = 13 * RATE_HZ
    burst = thump(0.05)
    sound[start : start + burst.size] += burst
    (found,) = pops(sound)
    assert found.severity == "note"
    assert found.start_s == pytest.approx(13.0, abs=0.04)


def test_a_burst_with_no_voice_after_it_is_no_pop() -> None:
    made = reading()
    made.pause(3.0)
    sound = made.samples()
    burst = thump(0.4)
    start = sound.size - 2 * RATE_HZ
    sound[start : start + burst.size] += burst
    assert not pops(sound)


def test_a_voice_pops_not() -> None:
    assert not pops(reading(sentences=12, room_dbov=-85.0).samples())
