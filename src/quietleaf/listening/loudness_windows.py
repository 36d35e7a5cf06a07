"""Loudness as a recording goes by: windows of 0.4 and 3 s that move over K-weighted frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import FRAMES_PER_S, ROOM_S, frame_starts
from quietleaf.listening.hearing import MOMENTARY_HOPS, SHORT_TERM_HOPS, Loudness
from quietleaf.listening.loudness import (
    channel_weights,
    integrated_loudness_lufs,
    loudness_range_lu,
    lufs_of_power,
)
from quietleaf.listening.series import Series

_FRAMES_A_HOP = 10
_MOMENTARY_FRAMES = MOMENTARY_HOPS * _FRAMES_A_HOP
_SHORT_TERM_FRAMES = SHORT_TERM_HOPS * _FRAMES_A_HOP


@dataclass(slots=True, kw_only=True)
class LoudnessMemory:
    """What was heard so far.

    Attributes
    ----------
    hops : Series of float64
        Weighted K-power (mean square) of successive 100 ms.
    recent : ndarray, shape (k,)
        Weighted K-energies of the last frames, as far as windows still reach back.
    frames : int
        Frames so far.
    momentary_power_max, short_term_power_max : float
        Greatest mean square of 400 ms and of 3 s, at every 10 ms: on a hop of 100 ms the greatest
        momentary loudness can be missed by half a LU (EBU Tech 3341, signal 13).
    """

    sample_rate_hz: int
    weights: NDArray[np.float64]
    hops: Series
    recent: NDArray[np.float64]
    frames: int
    momentary_power_max: float
    short_term_power_max: float


def start_loudness(sample_rate_hz: int, channels: int) -> LoudnessMemory:
    """Begin before the first sample."""
    return LoudnessMemory(
        sample_rate_hz=sample_rate_hz,
        weights=channel_weights(channels),
        hops=Series(np.float64, ROOM_S * FRAMES_PER_S // _FRAMES_A_HOP),
        recent=np.empty(0),
        frames=0,
        momentary_power_max=0.0,
        short_term_power_max=0.0,
    )


def step_loudness(memory: LoudnessMemory, k_energy: NDArray[np.float64]) -> None:
    """Take the K-weighted energies (sums of squares) of the next frames, shape (c, k)."""
    energy = np.concatenate([memory.recent, memory.weights @ k_energy])
    first = memory.frames - memory.recent.size
    starts = frame_starts(first, energy.size + 1, memory.sample_rate_hz)
    tens = _sums(energy, _FRAMES_A_HOP, 1)

    next_hop = len(memory.hops) * _FRAMES_A_HOP - first
    places = np.arange(next_hop, tens.size, _FRAMES_A_HOP)
    memory.hops.extend(tens[places] / (starts[places + _FRAMES_A_HOP] - starts[places]))

    memory.momentary_power_max = max(
        memory.momentary_power_max, _greatest_power(tens, starts, _MOMENTARY_FRAMES)
    )
    memory.short_term_power_max = max(
        memory.short_term_power_max, _greatest_power(tens, starts, _SHORT_TERM_FRAMES)
    )
    memory.frames += k_energy.shape[1]
    memory.recent = energy[max(0, energy.size - _SHORT_TERM_FRAMES + 1) :].copy()


def loudness_of(memory: LoudnessMemory) -> Loudness:
    """Put the four figures together."""
    power = hop_powers(memory)
    return Loudness(
        integrated_lufs=integrated_loudness_lufs(power),
        range_lu=loudness_range_lu(power),
        momentary_max_lufs=_measured(memory.momentary_power_max),
        short_term_max_lufs=_measured(memory.short_term_power_max),
    )


def hop_powers(memory: LoudnessMemory) -> NDArray[np.float64]:
    """Give the weighted K-power of each complete 100 ms, shape (k,)."""
    return memory.hops.values().astype(np.float64, copy=False)


def _greatest_power(tens: NDArray[np.float64], starts: NDArray[np.int64], frames: int) -> float:
    windows = _sums(tens, frames // _FRAMES_A_HOP, _FRAMES_A_HOP)
    return float((windows / (starts[frames:] - starts[:-frames])).max()) if windows.size else 0.0


def _sums(values: NDArray[np.float64], count: int, step: int) -> NDArray[np.float64]:
    """Sum ``count`` values that lie ``step`` apart, from every place where all of them exist."""
    size = values.size - (count - 1) * step
    if size <= 0:
        return np.empty(0)
    total = values[:size].copy()
    for index in range(1, count):
        total += values[index * step : index * step + size]
    return total


def _measured(power: float) -> float | None:
    return lufs_of_power(power) if power > 0.0 else None
