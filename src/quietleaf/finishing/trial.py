"""The trial: one pass over the dry master that says how loud any drive would make it.

The limiter lowers loudness by an amount that grows with the gain. Of each drive tried, only the
stretches under reduction are summed: the energy of a 100 ms hop is that of the K-weighted samples
times the squared gains of the limiter. Filtering the limited sound anew differs from this by under
0.001 LU.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.drive import STEP_SAMPLES, cut_of
from quietleaf.finishing.high_pass import TOO_SMALL
from quietleaf.finishing.limiter import (
    LOOK_AHEAD_MS,
    NEED_DELAY,
    RELEASE_MS,
    start_need,
    start_reduction,
    step_need,
    step_reduction,
)
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.listening.loudness import integrated_loudness_lufs
from quietleaf.sound.compiled import kernel
from quietleaf.sound.kweighting import k_weighting
from quietleaf.units import ratio_of_db

HOP_SAMPLES = RATE_HZ // 10
_HOPS_AT_FIRST = 36_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What one drive would give.

    Attributes
    ----------
    gain_db, aim_dbtp : float
    loudness_lufs : float or None
        Integrated, of the limited sound, one channel; None where there is no measurement.
    lost_lu : float
        By how much the limiter lowers it.
    reduction_db : float
        The most that the limiter takes, as a positive number.
    reduced_share : float
        Share of the samples under reduction.
    """

    gain_db: float
    aim_dbtp: float
    loudness_lufs: float | None
    lost_lu: float
    reduction_db: float
    reduced_share: float


def try_drives(
    dry: Iterator[NDArray[np.float64]], samples: int, drives: tuple[tuple[float, float], ...]
) -> tuple[Tried, ...]:
    """Predict the loudness that each drive, a gain in dB and an aim in dBTP, would give.

    Parameters
    ----------
    dry : iterator of ndarray, shape (n,), 48 kHz
    samples : int
        How many there are in all.
    drives : tuple of (float, float)
    """
    weighting = k_weighting(RATE_HZ)
    numbers = np.concatenate([weighting.shelf, weighting.high_pass])
    filters = np.zeros(6)
    memory = start_need(min(cut_of(*drive) for drive in drives))
    reductions = [start_reduction(cut_of(*drive), LOOK_AHEAD_MS, RELEASE_MS) for drive in drives]
    delay = NEED_DELAY + reductions[0].delay
    waiting = np.zeros(delay)
    energy = np.zeros((1 + len(drives), _HOPS_AT_FIRST))
    place = -delay
    for block in _with_silence(dry, delay):
        weighted = np.empty(block.size)
        _k_weighted(block, numbers, filters, weighted)
        whole = np.concatenate([waiting, weighted])
        waiting, weighted = whole[block.size :].copy(), whole[: block.size]
        if (place + block.size) // HOP_SAMPLES >= energy.shape[1]:
            energy = np.concatenate([energy, np.zeros_like(energy)], axis=1)
        _add_squares(weighted, place, HOP_SAMPLES, energy[0])
        _, need = step_need(memory, block)
        for reduction, change in zip(reductions, energy[1:], strict=True):
            gain = step_reduction(reduction, need)
            if gain is not None:
                _add_changes(weighted, gain, place, HOP_SAMPLES, change)
        place += block.size
    hops = samples // HOP_SAMPLES
    tried = []
    for number, ((gain_db, aim_dbtp), reduction) in enumerate(
        zip(drives, reductions, strict=True), start=1
    ):
        power = energy[:, :hops] * (ratio_of_db(2.0 * gain_db) / HOP_SAMPLES)
        plain = integrated_loudness_lufs(power[0])
        limited = integrated_loudness_lufs(power[0] + power[number])
        tried.append(
            Tried(
                gain_db=gain_db,
                aim_dbtp=aim_dbtp,
                loudness_lufs=limited,
                lost_lu=0.0 if plain is None or limited is None else plain - limited,
                reduction_db=max(0.0, -20.0 * float(np.log10(reduction.least))),
                reduced_share=reduction.reduced / max(samples, 1),
            )
        )
    return tuple(tried)


def _with_silence(
    dry: Iterator[NDArray[np.float64]], samples: int
) -> Iterator[NDArray[np.float64]]:
    """Follow the sound with silence, so that its last samples come out."""
    for block in dry:
        missing = -block.size % STEP_SAMPLES
        if missing:
            rest = np.zeros(missing + samples + -samples % STEP_SAMPLES)
            yield np.concatenate([block, rest])
            return
        yield block
    yield np.zeros(samples + -samples % STEP_SAMPLES)


@kernel
def _k_weighted(
    samples: NDArray[np.float64],
    numbers: NDArray[np.float64],
    filters: NDArray[np.float64],
    weighted: NDArray[np.float64],
) -> None:
    b0, b1, b2, a1, a2 = numbers[0], numbers[1], numbers[2], numbers[3], numbers[4]
    c1, c2 = numbers[5], numbers[6]
    x1, x2, s1 = filters[0], filters[1], filters[2]
    s2, k1, k2 = filters[3], filters[4], filters[5]
    for i in range(samples.size):
        x = samples[i]
        s = (b0 * x + b1 * x1 + b2 * x2 - a2 * s2) - a1 * s1
        k = ((s - (s1 + s1)) + s2 - c2 * k2) - c1 * k1
        x2, x1 = x1, x
        s2, s1 = s1, s
        k2, k1 = k1, k
        weighted[i] = k
    if abs(s1) + abs(s2) + abs(k1) + abs(k2) < TOO_SMALL:
        s1, s2, k1, k2 = 0.0, 0.0, 0.0, 0.0
    filters[0], filters[1], filters[2] = x1, x2, s1
    filters[3], filters[4], filters[5] = s2, k1, k2


@kernel
def _add_squares(
    weighted: NDArray[np.float64], place: int, hop: int, energy: NDArray[np.float64]
) -> None:
    start = max(0, -place)
    while start < weighted.size:
        index = (place + start) // hop
        stop = min((index + 1) * hop - place, weighted.size)
        total = 0.0
        for i in range(start, stop):
            total += weighted[i] * weighted[i]
        energy[index] += total
        start = stop


@kernel
def _add_changes(
    weighted: NDArray[np.float64],
    gain: NDArray[np.float64],
    place: int,
    hop: int,
    energy: NDArray[np.float64],
) -> None:
    for i in range(max(0, -place), weighted.size):
        if gain[i] < 1.0:
            change = gain[i] * gain[i] - 1.0
            energy[(place + i) // hop] += change * weighted[i] * weighted[i]
