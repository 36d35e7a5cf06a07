"""Flat tops and zeros, sample by sample, beside a slow look for zeros."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.errors import AudioUnfit
from quietleaf.listening.limits import HEARING_LIMITS
from quietleaf.listening.sample_runs import (
    RunMemory,
    end_runs,
    run_settings,
    start_runs,
    step_runs,
)
from quietleaf.sound.true_peak import true_peak

RATE_HZ = 16_000


def looked_at(sound: NDArray[np.float64], rate: int = RATE_HZ) -> RunMemory:
    """Look at a whole sound, shape (n, c)."""
    settings = run_settings(rate, HEARING_LIMITS.dropout_s_min, HEARING_LIMITS.clip_samples_min)
    memory = start_runs(settings, sound.shape[1])
    step_runs(settings, memory, sound)
    return end_runs(settings, memory)


def zeros_twin(sound: NDArray[np.float64], shortest: int) -> list[tuple[int, int]]:
    """Find runs of zeros in all channels that lie inside the sound."""
    silent = [not frame.any() for frame in sound]
    runs, start = [], None
    for place, zero in enumerate([*silent, False]):
        if zero and start is None:
            start = place
        elif not zero and start is not None:
            if start > 0 and place < len(silent) and place - start >= shortest:
                runs.append((start, place))
            start = None
    return runs


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("seed", range(6))
def test_zeros_by_their_twin(seed: int, channels: int) -> None:
    draw = np.random.default_rng(seed)
    # The array library's own types take a choice of numbers for whole ones.
    sound = (0.1 * draw.choice([-1.0, 1.0], size=(RATE_HZ, channels))).astype(np.float64)
    # Apart by more than the 50 ms within which two are told as one.
    for place in range(0, RATE_HZ - 2_400, 1_700):
        start = place + int(draw.integers(0, 300))
        sound[start : start + int(draw.integers(20, 500))] = 0.0
    shortest = round(HEARING_LIMITS.dropout_s_min * RATE_HZ)
    found = looked_at(sound).zero_runs
    assert [(run.start, run.stop) for run in found] == zeros_twin(sound, shortest)
    assert [run.zeros for run in found] == [run.stop - run.start for run in found]


def test_zeros_close_together_are_told_as_one() -> None:
    sound = np.full((RATE_HZ, 1), 0.1)
    sound[4_000:4_100] = sound[4_300:4_400] = 0.0
    (run,) = looked_at(sound).zero_runs
    assert (run.start, run.stop, run.zeros) == (4_000, 4_400, 200)


def test_zeros_that_fade_in_are_none() -> None:
    """Quiet sound rounds to zeros by itself."""
    n = np.arange(RATE_HZ)
    sound = 0.01 * np.sin(2 * np.pi * 200 / RATE_HZ * n) * np.abs(np.linspace(-1.0, 1.0, n.size))
    sound[7_900:8_100] = 0.0
    assert not looked_at(sound[:, np.newaxis]).zero_runs


@pytest.mark.parametrize(
    ("length", "found"), [(1, False), (2, False), (3, True), (5, True), (40, True)]
)
def test_flat_tops_count_from_three_samples(length: int, found: bool) -> None:
    sound = 0.1 * np.sin(2 * np.pi * 300 / RATE_HZ * np.arange(RATE_HZ))
    sound[5_000 : 5_000 + length] = 0.8
    tops = looked_at(sound[:, np.newaxis]).flat_tops
    assert bool(tops) == found
    if found:
        assert (tops[0].start, tops[0].stop) == (5_000, 5_000 + length)
        assert (tops[0].runs, tops[0].longest) == (1, length)
        assert tops[0].value == 0.8


def test_flat_tops_below_are_found_as_those_above() -> None:
    sound = 0.1 * np.sin(2 * np.pi * 300 / RATE_HZ * np.arange(RATE_HZ))
    sound[5_000:5_006] = -0.8
    (top,) = looked_at(sound[:, np.newaxis]).flat_tops
    assert (top.start, top.stop, top.value) == (5_000, 5_006, 0.8)


def test_flat_tops_within_400_ms_are_told_as_one() -> None:
    sound = 0.1 * np.sin(2 * np.pi * 300 / RATE_HZ * np.arange(2 * RATE_HZ))
    for place in (2_000, 4_000, 6_000, 20_000):
        sound[place : place + 4] = 0.8
    tops = looked_at(sound[:, np.newaxis]).flat_tops
    assert [(top.start, top.stop, top.runs) for top in tops] == [
        (2_000, 6_004, 3),
        (20_000, 20_004, 1),
    ]


@pytest.mark.parametrize("bits", [8, 16])
def test_a_low_voice_in_coarse_steps_has_no_flat_tops(bits: int) -> None:
    steps = 2 ** (bits - 1)
    tone = 0.9 * np.sin(2 * np.pi * 83.0 / RATE_HZ * np.arange(RATE_HZ))
    assert not looked_at((np.round(tone * steps) / steps)[:, np.newaxis]).flat_tops


@pytest.mark.parametrize("rate", [11_025, 48_000])
def test_peaks_are_those_of_the_whole(rate: int) -> None:
    sound = np.random.default_rng(3).uniform(-0.9, 0.9, size=(rate // 3, 2))
    last = looked_at(sound, rate)
    assert last.sample_peak.tolist() == np.abs(sound).max(axis=0).tolist()
    assert last.true_peak.tolist() == true_peak(sound, rate).tolist()


@pytest.mark.parametrize("bad", [np.nan, np.inf])
@pytest.mark.parametrize("place", [0, 500, 15_999])
def test_what_is_no_number_is_refused(place: int, bad: float) -> None:
    sound = np.zeros((RATE_HZ, 2))
    sound[place, 1] = bad
    with pytest.raises(AudioUnfit, match="holds some that are none"):
        looked_at(sound)
