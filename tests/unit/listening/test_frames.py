"""The compiled loop over samples, beside slow twins written line by line."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, lfilter

from quietleaf.listening.frames import (
    P56_THRESHOLDS,
    ChannelMemory,
    frame_filters,
    frame_start,
    frame_starts,
    hear_frames,
)
from quietleaf.listening.speech_level import MARGIN_DB, active_speech_level_dbov
from quietleaf.sound.kweighting import high_pass_denominator, k_weighting
from tests.signals import gated_tone, speech_like

RATES_HZ = (8_000, 11_025, 22_050, 44_100, 48_000)
Energies = tuple[NDArray[np.float64], ...]


def heard(sound: NDArray[np.float64], rate: int) -> tuple[ChannelMemory, Energies]:
    """Run the loop over a whole sound."""
    filters = frame_filters(rate)
    memory = ChannelMemory()
    energies = np.zeros((4, sound.size * 100 // rate + 2))
    done = hear_frames(
        sound,
        0,
        0,
        rate,
        filters.numbers,
        filters.hangover_samples,
        np.array(P56_THRESHOLDS),
        memory.filters,
        memory.level,
        memory.active,
        memory.entered,
        memory.left,
        *energies,
    )
    k_energy, full_energy, voice_energy, low_energy = energies[:, :done]
    return memory, (k_energy, full_energy, voice_energy, low_energy)


def high_passed(sound: NDArray[np.float64], corner_hz: float, rate: int) -> NDArray[np.float64]:
    """Filter with a level pass-band, as a library does it."""
    denominator = high_pass_denominator(corner_hz, 0.5**0.5, rate)
    gain = (denominator[0] - denominator[1] + denominator[2]) / 4.0
    return np.asarray(lfilter(gain * np.array([1.0, -2.0, 1.0]), denominator, sound))


def p56_twin(sound: NDArray[np.float64], rate: int) -> tuple[list[int], float | None]:
    """Do method B of ITU-T P.56 sample by sample: activity counts, and the level they give."""
    keep = np.exp(-1.0 / (rate * 0.03))
    hangover = int(0.2 * rate + 0.5)
    thresholds = [2.0**exponent for exponent in range(-15, 0)]
    active, hanging = [0] * 15, [hangover] * 15
    smooth = envelope = energy = 0.0
    for x in sound.tolist():
        energy += x * x
        smooth = keep * smooth + (1.0 - keep) * abs(x)
        envelope = keep * envelope + (1.0 - keep) * smooth
        for j, threshold in enumerate(thresholds):
            if envelope >= threshold:
                active[j] += 1
                hanging[j] = 0
            elif hanging[j] < hangover:
                active[j] += 1
                hanging[j] += 1
    levels = [
        (10.0 * np.log10(energy / count), 20.0 * np.log10(threshold))
        for count, threshold in zip(active, thresholds, strict=True)
        if count
    ]
    for (low, low_c), (high, high_c) in pairwise(levels):
        if high - high_c <= MARGIN_DB < low - low_c:
            share = (low - low_c - MARGIN_DB) / ((low - low_c) - (high - high_c))
            return active, float(low + share * (high - low))
    return active, None


@pytest.mark.parametrize("rate", RATES_HZ)
def test_energies_are_those_of_the_filters(rate: int) -> None:
    sound = speech_like(2, 1.5, rate) + 0.01
    weighting = k_weighting(rate)
    shelf = lfilter(weighting.shelf[:3], [1.0, *weighting.shelf[3:]], sound)
    k_weighted = lfilter([1.0, -2.0, 1.0], [1.0, *weighting.high_pass], shelf)
    _, energies = heard(sound, rate)
    starts = [frame_start(index, rate) for index in range(energies[0].size + 1)]
    voice = high_passed(sound, 80.0, rate)
    low = lfilter(*butter(2, 500.0, fs=rate), voice)
    twins = (k_weighted, high_passed(sound, 20.0, rate), voice, low)
    for ours, twin in zip(energies, twins, strict=True):
        expected = [float(np.sum(twin[a:b] ** 2)) for a, b in pairwise(starts)]
        np.testing.assert_allclose(ours, expected, rtol=1e-6, atol=1e-15)


@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000])
@pytest.mark.parametrize("seed", [1, 2])
def test_active_speech_by_its_twin(seed: int, rate: int) -> None:
    sound = speech_like(seed, 6.0, rate, level_dbfs=-20.0 - 12.0 * seed)
    memory, _ = heard(sound, rate)
    filters = frame_filters(rate)
    counts, level = p56_twin(high_passed(sound, 20.0, rate), rate)
    assert level is not None
    ours = active_speech_level_dbov(filters, memory, sound.size)
    assert ours == pytest.approx(level, abs=1e-6)
    for j, count in enumerate(counts):
        active = int(memory.active[j])
        if j < memory.level[0]:
            active += sound.size - int(memory.entered[j])
        elif memory.left[j] >= 0:
            active += min(sound.size - int(memory.left[j]), filters.hangover_samples)
        assert active == count


@pytest.mark.parametrize("seconds", [0.5, 1.05, 1.15, 1.5, 3.0])
def test_a_hangover_that_the_end_cuts_short(seconds: float) -> None:
    sound = gated_tone(1.0, 1.0, seconds)
    memory, _ = heard(sound, 8_000)
    _, level = p56_twin(high_passed(sound, 20.0, 8_000), 8_000)
    ours = active_speech_level_dbov(frame_filters(8_000), memory, sound.size)
    assert ours == pytest.approx(level, abs=1e-6)


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000])
def test_forty_frames_are_400_ms_to_the_nearest_sample(rate: int) -> None:
    starts = frame_starts(0, 1_000, rate)
    assert starts.tolist() == [frame_start(index, rate) for index in range(1_000)]
    assert set((starts[40:] - starts[:-40]).tolist()) <= {round(0.4 * rate)}


def test_sum_and_silence() -> None:
    memory, energies = heard(np.full(4_805, 0.25), 48_000)
    assert memory.sum == pytest.approx(4_805 * 0.25)
    assert energies[0].size == 10
    memory, energies = heard(np.zeros(48_000), 48_000)
    assert memory.sum == memory.sum_of_squares == 0.0
    assert not np.concatenate(energies).any()
    assert active_speech_level_dbov(frame_filters(48_000), memory, 48_000) is None


def test_nothing_lingers_after_the_sound() -> None:
    """Filter memories that decay for ever would make silence slow and loud."""
    memory, energies = heard(np.concatenate([speech_like(1, 0.5), np.zeros(20 * 48_000)]), 48_000)
    assert energies[0][-1] == energies[1][-1] == energies[2][-1] == energies[3][-1] == 0.0
    assert not memory.filters[2:12].any()
    assert not memory.filters[18:].any()
