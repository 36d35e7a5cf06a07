"""Gated loudness and range, beside slow twins, and windows that move every 10 ms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from quietleaf.listening.frames import frame_starts
from quietleaf.listening.loudness import (
    channel_weights,
    integrated_loudness_lufs,
    loudness_range_lu,
    lufs_of_power,
    power_of_lufs,
)
from quietleaf.listening.loudness_windows import (
    hop_powers,
    loudness_of,
    start_loudness,
    step_loudness,
)


def uneven(seed: int, hops: int) -> NDArray[np.float64]:
    """Draw powers as a reading has them: -80 to -10 LUFS, in stretches."""
    draw = np.random.default_rng(seed)
    levels = np.repeat(draw.uniform(-80.0, -10.0, size=hops // 7 + 1), 7)[:hops]
    powers = np.array([power_of_lufs(level) for level in levels])
    return powers * draw.uniform(0.5, 1.5, size=hops)


def integrated_twin(power: NDArray[np.float64]) -> float | None:
    """Do BS.1770-5, Annex 1, block by block."""
    blocks = [sum(power[i : i + 4]) / 4 for i in range(len(power) - 3)]
    kept = [z for z in blocks if lufs_of_power(z) > -70.0]
    if not kept:
        return None
    gate = lufs_of_power(sum(kept) / len(kept)) - 10.0
    kept = [z for z in kept if lufs_of_power(z) > gate]
    return lufs_of_power(sum(kept) / len(kept))


def range_twin(power: NDArray[np.float64]) -> float:
    """Do EBU Tech 3342 value by value."""
    padded = [*power, *[0.0] * 15]
    values = [sum(padded[i : i + 30]) / 30 for i in range(len(padded) - 29)]
    kept = sorted(z for z in values if lufs_of_power(z) >= -70.0)
    gate = lufs_of_power(sum(kept) / len(kept)) - 20.0
    kept = [z for z in kept if lufs_of_power(z) >= gate]
    low, high = (kept[math.floor((len(kept) - 1) * p / 100 + 1 + 0.5) - 1] for p in (10, 95))
    return lufs_of_power(high) - lufs_of_power(low)


@pytest.mark.parametrize("seed", range(8))
def test_integrated_by_its_twin(seed: int) -> None:
    power = uneven(seed, 100 + 37 * seed)
    assert integrated_loudness_lufs(power) == pytest.approx(integrated_twin(power), abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_range_by_its_twin(seed: int) -> None:
    power = uneven(seed, 100 + 37 * seed)
    assert loudness_range_lu(power) == pytest.approx(range_twin(power), abs=1e-9)


def test_gates_are_strict_for_loudness() -> None:
    at_gate = np.full(8, power_of_lufs(-70.0))
    assert integrated_loudness_lufs(at_gate) is None
    assert integrated_loudness_lufs(at_gate * 1.001) == pytest.approx(-70.0, abs=0.01)


@pytest.mark.parametrize("hops", [0, 1, 3])
def test_under_400_ms_there_is_no_loudness(hops: int) -> None:
    assert integrated_loudness_lufs(np.ones(hops)) is None
    assert loudness_range_lu(np.ones(hops)) is None


def test_range_needs_3_s_and_sound() -> None:
    assert loudness_range_lu(np.ones(29)) is None
    assert loudness_range_lu(np.zeros(100)) is None
    assert loudness_range_lu(np.ones(30)) is not None


def test_powers_and_loudness_are_inverse() -> None:
    assert lufs_of_power(power_of_lufs(-23.0)) == pytest.approx(-23.0)
    assert lufs_of_power(0.0) == -math.inf


@pytest.mark.parametrize("channels", [1, 2, 3, 8])
def test_channels_without_a_layout_are_equal(channels: int) -> None:
    assert channel_weights(channels).tolist() == [1.0] * channels


@pytest.mark.parametrize("rate", [11_025, 44_100, 48_000])
@pytest.mark.parametrize("frames_a_step", [1, 7, 1_000])
def test_greatest_window_by_its_twin(frames_a_step: int, rate: int) -> None:
    draw = np.random.default_rng(frames_a_step)
    energy = draw.uniform(0.0, 1.0, size=(2, 700)) ** 4
    memory = start_loudness(rate, 2)
    for first in range(0, 700, frames_a_step):
        step_loudness(memory, energy[:, first : first + frames_a_step])
    starts = frame_starts(0, 701, rate)
    both = energy.sum(axis=0)
    found = loudness_of(memory)
    for frames, ours in ((40, found.momentary_max_lufs), (300, found.short_term_max_lufs)):
        powers = [
            both[i : i + frames].sum() / (starts[i + frames] - starts[i])
            for i in range(700 - frames + 1)
        ]
        assert ours == pytest.approx(lufs_of_power(max(powers)), abs=1e-9)
    hops = [both[i : i + 10].sum() / (starts[i + 10] - starts[i]) for i in range(0, 700, 10)]
    np.testing.assert_allclose(hop_powers(memory), hops)


def test_silence_and_nothing_have_no_loudness() -> None:
    for frames in (0, 10, 500):
        memory = start_loudness(48_000, 1)
        step_loudness(memory, np.zeros((1, frames)))
        found = loudness_of(memory)
        assert found.integrated_lufs is found.range_lu is None
        assert found.momentary_max_lufs is found.short_term_max_lufs is None
