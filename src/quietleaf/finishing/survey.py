"""The survey: one pass over the sound that gives what a plan is made from.

A fold. Its law: any cutting into blocks gives the same, to rounding.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.high_pass import (
    TOO_SMALL,
    HighPassMemory,
    start_high_pass,
    step_high_pass,
)
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.sound.compiled import kernel
from quietleaf.sound.kweighting import k_weighting

FRAME_SAMPLES = RATE_HZ // 200
"""Frames of 5 ms: edges are looked for in steps of this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What one pass over 48 kHz mono says to a planner. An incomplete last frame is left out.

    Attributes
    ----------
    samples : int
    power : ndarray, shape (k,), float32
        Mean square of each frame after the high-pass.
    k_power : ndarray, shape (k,), float32
        The same, K-weighted.
    peak : ndarray, shape (k,), float32
        Greatest magnitude in each frame after the high-pass.
    dc : float
        Mean of the samples as they came, full scale 1.0.
    raw_power, high_passed_power : float
        Mean squares of the whole, before (without its DC) and after the high-pass.
    """

    samples: int
    power: NDArray[np.float32]
    k_power: NDArray[np.float32]
    peak: NDArray[np.float32]
    dc: float
    raw_power: float
    high_passed_power: float


@dataclass(slots=True, kw_only=True)
class SurveyMemory:
    """What the survey keeps from block to block.

    Attributes
    ----------
    filters : ndarray, shape (6,)
        Of the two stages of the K-weighting.
    sums : ndarray, shape (3,)
        Of the unfinished frame: squares, K-weighted squares, greatest magnitude.
    """

    high_pass: HighPassMemory
    numbers: NDArray[np.float64]
    filters: NDArray[np.float64]
    sums: NDArray[np.float64]
    filled: int = 0
    samples: int = 0
    total: float = 0.0
    squares: float = 0.0
    filtered_squares: float = 0.0
    power: list[NDArray[np.float32]] = field(default_factory=list)
    k_power: list[NDArray[np.float32]] = field(default_factory=list)
    peak: list[NDArray[np.float32]] = field(default_factory=list)


def start_survey() -> SurveyMemory:
    """Begin."""
    weighting = k_weighting(RATE_HZ)
    return SurveyMemory(
        high_pass=start_high_pass(RATE_HZ),
        numbers=np.concatenate([weighting.shelf, weighting.high_pass]),
        filters=np.zeros(6),
        sums=np.zeros(3),
    )


def step_survey(memory: SurveyMemory, samples: NDArray[np.float64]) -> None:
    """Take the next block, shape (n,), full scale 1.0, 48 kHz."""
    filtered = step_high_pass(memory.high_pass, samples)
    frames = (memory.filled + samples.size) // FRAME_SAMPLES
    power = np.empty(frames, dtype=np.float32)
    k_power = np.empty(frames, dtype=np.float32)
    peak = np.empty(frames, dtype=np.float32)
    totals = np.zeros(3)
    memory.filled = _survey(
        samples,
        filtered,
        memory.numbers,
        memory.filters,
        memory.sums,
        memory.filled,
        FRAME_SAMPLES,
        power,
        k_power,
        peak,
        totals,
    )
    memory.samples += samples.size
    memory.total += totals[0]
    memory.squares += totals[1]
    memory.filtered_squares += totals[2]
    memory.power.append(power)
    memory.k_power.append(k_power)
    memory.peak.append(peak)


def survey_result(memory: SurveyMemory) -> Survey:
    """Give what was found so far."""
    count = max(memory.samples, 1)
    dc = memory.total / count
    return Survey(
        samples=memory.samples,
        power=np.concatenate([*memory.power, np.empty(0, dtype=np.float32)]),
        k_power=np.concatenate([*memory.k_power, np.empty(0, dtype=np.float32)]),
        peak=np.concatenate([*memory.peak, np.empty(0, dtype=np.float32)]),
        dc=dc,
        raw_power=max(0.0, memory.squares / count - dc * dc),
        high_passed_power=memory.filtered_squares / count,
    )


@kernel
def _survey(
    samples: NDArray[np.float64],
    filtered: NDArray[np.float64],
    numbers: NDArray[np.float64],
    filters: NDArray[np.float64],
    sums: NDArray[np.float64],
    filled: int,
    frame: int,
    power: NDArray[np.float32],
    k_power: NDArray[np.float32],
    peak: NDArray[np.float32],
    totals: NDArray[np.float64],
) -> int:
    b0, b1, b2, a1, a2 = numbers[0], numbers[1], numbers[2], numbers[3], numbers[4]
    c1, c2 = numbers[5], numbers[6]
    x1, x2, s1, s2, k1, k2 = (
        filters[0],
        filters[1],
        filters[2],
        filters[3],
        filters[4],
        filters[5],
    )
    square, k_square, greatest = sums[0], sums[1], sums[2]
    total, raw, high = 0.0, 0.0, 0.0
    done, start = 0, 0
    while start < samples.size:
        stop = min(start + frame - filled, samples.size)
        for i in range(start, stop):
            total += samples[i]
            raw += samples[i] * samples[i]
            x = filtered[i]
            square += x * x
            greatest = max(greatest, abs(x))
            s = (b0 * x + b1 * x1 + b2 * x2 - a2 * s2) - a1 * s1
            k = ((s - (s1 + s1)) + s2 - c2 * k2) - c1 * k1
            x2, x1 = x1, x
            s2, s1 = s1, s
            k2, k1 = k1, k
            k_square += k * k
        filled += stop - start
        start = stop
        if filled == frame:
            power[done] = square / frame
            k_power[done] = k_square / frame
            peak[done] = greatest
            high += square
            square, k_square, greatest = 0.0, 0.0, 0.0
            filled = 0
            done += 1
            if abs(s1) + abs(s2) + abs(k1) + abs(k2) < TOO_SMALL:
                s1, s2, k1, k2 = 0.0, 0.0, 0.0, 0.0
    filters[0], filters[1], filters[2] = x1, x2, s1
    filters[3], filters[4], filters[5] = s2, k1, k2
    sums[0], sums[1], sums[2] = square, k_square, greatest
    totals[0], totals[1], totals[2] = total, raw, high
    return filled
