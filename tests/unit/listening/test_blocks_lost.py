"""Blocks of samples that play twice or are missing, found where they were put and nowhere else."""

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.listen import hear
from tests.voices import RATE_HZ, reading


def dropouts(sound: NDArray[np.float64], rate: int = RATE_HZ) -> list[Finding]:
    """Give the findings of lost sound, as 16 bits hold it."""
    held = np.round(sound * 32767) / 32768
    hearing = hear([held[:, np.newaxis]], rate, 1)
    return [found for found in hearing.findings if found.kind == "dropout"]


@pytest.mark.parametrize("block", [128, 441, 1024, 4096])
def test_a_block_that_plays_twice(block: int) -> None:
    sound = reading(sentences=12).samples()
    for start in (2 * RATE_HZ, 20 * RATE_HZ - 100):  # the second lies across chunks
        sound[start + block : start + 2 * block] = sound[start : start + block]
    first, second = dropouts(sound)
    for found, start in ((first, 2 * RATE_HZ), (second, 20 * RATE_HZ - 100)):
        assert found.start_s == pytest.approx((start + block) / RATE_HZ, abs=2e-4)
        assert found.end_s == pytest.approx((start + 2 * block) / RATE_HZ, abs=2e-4)
        assert found.value == pytest.approx(1000 * block / RATE_HZ)
        assert found.unit == "ms"


def test_a_block_that_is_missing() -> None:
    """Voiced all through, so that what comes after is not what was led to."""
    rate = 16_000
    time_s = np.arange(6 * rate) / rate
    pitch = 2 * np.pi * 117.3 * time_s + 3 * np.sin(2 * np.pi * 0.7 * time_s)
    voice = 0.02 * sum(np.cos(k * pitch + k * k) / k for k in range(1, 14))
    voice += 1e-4 * np.random.default_rng(2).normal(size=voice.size)
    place = 3 * rate
    (found,) = dropouts(np.delete(voice, np.arange(place, place + 150)), rate)
    assert found.start_s == pytest.approx(3.0, abs=2e-4)
    assert found.unit == "times what is around it"
    assert found.value is not None
    assert found.value > 10.0


def test_a_tone_of_whole_periods_is_no_repeat() -> None:
    time_s = np.arange(5 * RATE_HZ) / RATE_HZ
    assert not dropouts(0.3 * np.sin(2 * np.pi * 375 * time_s))


def test_a_voice_has_none() -> None:
    assert not dropouts(reading(sentences=12, room_dbov=-90.0).samples())
