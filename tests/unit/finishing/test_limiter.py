"""The limiter against plain twins written line by line from its description."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from quietleaf.finishing.limiter import (
    LOOK_AHEAD_MS,
    NEED_DELAY,
    RELEASE_MS,
    long_phases,
    start_need,
    start_reduction,
    step_need,
    step_reduction,
)
from quietleaf.sound.true_peak import ANNEX_2_PHASES

RATE_HZ = 48_000


def plain_need(samples: NDArray[np.float64], threshold: float) -> NDArray[np.float64]:
    """Give each sample the greatest value, on or between samples, that it takes part in."""
    around = np.pad(samples, 64)
    need = np.zeros(around.size)
    over = np.abs(around) > threshold
    need[over] = np.abs(around[over])
    for taps in np.array(ANNEX_2_PHASES):
        for n in range(32, around.size - 32):
            value = abs(float(taps @ around[n : n - 12 : -1]))
            if value > threshold:
                need[n - 11 : n + 1] = np.maximum(need[n - 11 : n + 1], value)
    for taps in long_phases():
        for n in range(32, around.size - 32):
            value = abs(float(taps @ around[n - 15 : n + 17]))
            if value > threshold:
                need[n - 15 : n + 17] = np.maximum(need[n - 15 : n + 17], value)
    return need[64:-64]


def plain_gain(
    need: NDArray[np.float64], cut: float, look_ahead: int, keep: float
) -> NDArray[np.float64]:
    """Release, least over the look-ahead, two means: one sample at a time."""
    released = np.ones(need.size + 4 * look_ahead)
    last = 1.0
    for n, value in enumerate(need):
        last = 1.0 - (1.0 - last) * keep
        if 1.0 - last < 1e-5:
            last = 1.0
        last = min(last, cut / value) if value > cut else last
        released[n + 2 * look_ahead] = last
    for n in range(need.size + 2 * look_ahead, released.size):
        last = 1.0 - (1.0 - last) * keep
        released[n] = last = 1.0 if 1.0 - last < 1e-5 else last
    count = released.size - look_ahead
    least = np.array([released[n : n + look_ahead].min() for n in range(count)])
    half = look_ahead // 2
    for _ in range(2):
        least = np.array([least[max(n - half + 1, 0) : n + 1].mean() for n in range(count)])
    return least[2 * look_ahead : 2 * look_ahead + need.size]


def run_need(samples: NDArray[np.float64], threshold: float, block: int) -> NDArray[np.float64]:
    memory = start_need(threshold)
    padded = np.concatenate([samples, np.zeros(-samples.size % block + 2 * NEED_DELAY)])
    padded = np.concatenate([padded, np.zeros(-padded.size % block)])
    parts = [step_need(memory, part) for part in padded.reshape(-1, block)]
    seen = np.concatenate([part[0] for part in parts])[NEED_DELAY:]
    assert np.array_equal(seen[: samples.size], samples)
    return np.concatenate([part[1] for part in parts])[NEED_DELAY:][: samples.size]


@pytest.mark.parametrize("block", [32, 96, 2_048])
def test_need_equals_its_plain_twin(block: int) -> None:
    draw = np.random.default_rng(11)
    samples = 0.3 * draw.normal(size=1_500)
    samples[700:900] *= 0.01
    samples[1_200:1_210] *= 4.0
    np.testing.assert_allclose(
        run_need(samples, 0.7, block), plain_need(samples, 0.7), rtol=1e-12, atol=0.0
    )


def test_need_is_zero_where_nothing_is_over() -> None:
    assert not run_need(0.1 * np.random.default_rng(4).normal(size=4_096), 0.9, 1_024).any()


def test_the_longer_interpolation_passes_a_constant_and_nothing_above_half_the_rate() -> None:
    phases = long_phases()
    np.testing.assert_allclose(phases.sum(axis=1), 1.0, rtol=1e-12)
    np.testing.assert_allclose(phases[0], phases[2][::-1], atol=1e-12)
    tone = np.cos(2 * np.pi * 0.2 * (np.arange(32) - 15))
    for phase, place in zip(phases, (0.25, 0.5, 0.75), strict=True):
        assert phase @ tone == pytest.approx(np.cos(2 * np.pi * 0.2 * place), abs=1e-3)


@settings(max_examples=30)
@given(st.integers(0, 50), st.sampled_from([0.2, 0.5, 0.9]))
def test_gain_equals_its_plain_twin_and_never_lets_through(seed: int, cut: float) -> None:
    draw = np.random.default_rng(seed)
    need = np.where(draw.random(2_400) < 0.01, cut * (1.0 + 2.0 * draw.random(2_400)), 0.0)
    need[300:1_300] *= draw.random() < 0.5
    reduction = start_reduction(cut, LOOK_AHEAD_MS, RELEASE_MS)
    late = np.concatenate([need, np.zeros(800)])
    parts = [step_reduction(reduction, part) for part in late.reshape(-1, 800)]
    gain = np.concatenate([np.ones(800) if part is None else part for part in parts])
    gain = gain[reduction.delay : reduction.delay + need.size]
    wanted = plain_gain(need, cut, reduction.look_ahead, reduction.keep)
    np.testing.assert_allclose(gain, wanted, rtol=0.0, atol=1e-12)
    asked = np.where(need > cut, cut / np.maximum(need, cut), 1.0)
    assert (gain <= asked + 1e-12).all()


def test_gain_is_exactly_one_where_nothing_is_asked() -> None:
    reduction = start_reduction(0.5, LOOK_AHEAD_MS, RELEASE_MS)
    assert step_reduction(reduction, np.zeros(4_800)) is None
    need = np.zeros(RATE_HZ)
    need[1_000] = 1.0
    gain = step_reduction(reduction, need)
    assert gain is not None
    assert (gain[-100:] == 1.0).all()
    assert step_reduction(reduction, np.zeros(4_800)) is None
    # Half of the peak is taken, over 3 ms before it, and given back in half a second.
    assert gain.min() == pytest.approx(0.5, abs=0.01)
    assert (gain < 1.0).sum() < 0.65 * RATE_HZ
