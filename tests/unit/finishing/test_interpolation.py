"""What is missing or was cut off, told from what is around it; the truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.finishing.interpolation import GAP_AROUND, filled, unclipped
from tests.voices import RATE_HZ


def vowel() -> NDArray[np.float64]:
    """Two seconds of a gliding vowel over a little noise."""
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    phase = 2 * np.pi * (115.0 * time_s + 2.0 * np.sin(2 * np.pi * 0.7 * time_s))
    sound = np.zeros(time_s.size)
    for harmonic in range(1, 30):
        away = [(harmonic * 115.0 - centre) / (0.2 * centre) for centre in (500.0, 1_500.0)]
        strength = sum(1.0 / (1.0 + one * one) for one in away)
        sound += strength * np.cos(harmonic * phase + np.pi * harmonic**2 / 30)
    sound += 0.003 * np.random.default_rng(1).normal(size=time_s.size)
    return 0.1 * sound


VOICE = vowel()


def loud_places(count: int, around: int) -> list[int]:
    power = np.convolve(VOICE**2, np.ones(960) / 960, "same")
    loud = np.flatnonzero(power > np.percentile(power, 60.0))
    loud = loud[(loud > around) & (loud < VOICE.size - around - RATE_HZ // 20)]
    return [int(place) for place in np.random.default_rng(8).choice(loud, count)]


def signal_to_error_db(truth: NDArray[np.float64], found: NDArray[np.float64]) -> float:
    return 10.0 * float(np.log10(np.sum(truth**2) / np.sum((truth - found) ** 2)))


@pytest.mark.parametrize(("gap_ms", "least_db"), [(0.25, 30.0), (2.0, 20.0), (8.0, 10.0)])
def test_a_gap_in_a_voice_is_filled_as_the_voice_goes_on(gap_ms: float, least_db: float) -> None:
    gap = round(gap_ms * RATE_HZ / 1000)
    errors, powers = [], []
    for place in loud_places(12, GAP_AROUND):
        part = VOICE[place - GAP_AROUND : place + gap + GAP_AROUND]
        missing = np.zeros(part.size, dtype=np.bool_)
        missing[GAP_AROUND : GAP_AROUND + gap] = True
        damaged = np.where(missing, 0.7, part)
        whole = filled(damaged, missing)
        assert np.array_equal(whole[~missing], part[~missing])
        errors.append(signal_to_error_db(part[missing], whole[missing]))
        powers.append(10 * np.log10(np.mean(whole[missing] ** 2) / np.mean(part[missing] ** 2)))
    assert np.median(errors) >= least_db
    assert abs(np.median(powers)) < 2.0


@pytest.mark.parametrize("over_db", [1.0, 3.0])
def test_what_was_cut_off_comes_back_beyond_the_level(over_db: float) -> None:
    part = VOICE[RATE_HZ // 2 : RATE_HZ // 2 + RATE_HZ // 10]
    level = float(np.abs(part).max()) * 10 ** (-over_db / 20)
    held = np.clip(part, -level, level)
    clipped = np.abs(held) >= level
    whole = unclipped(held, clipped)
    assert np.array_equal(whole[~clipped], part[~clipped])
    assert np.all(np.abs(whole[clipped]) >= level)
    assert np.all(np.abs(whole[clipped]) <= 2.0 * level)
    before = signal_to_error_db(part[clipped], held[clipped])
    assert signal_to_error_db(part[clipped], whole[clipped]) > before + 8.0


def test_silence_is_filled_with_silence() -> None:
    missing = np.zeros(9_600, dtype=np.bool_)
    missing[4_000:4_200] = True
    assert not filled(np.zeros(9_600), missing).any()
