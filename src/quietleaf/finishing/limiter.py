"""The true-peak limiter: where it must act, and by how much.

Two steps, so that several loudnesses can be tried on one pass: `need` says of each sample the
greatest value between samples that it takes part in; a `Reduction` makes a gain of that for one
drive and one ceiling.

The gain at each sample is at most ``ceiling / need``: the release comes first, then the least
over the look-ahead, then two running means that together are no longer than it. Two
interpolations are heeded: that of BS.1770-5, Annex 2, and a longer one that other meters resemble
(32 taps, cut off at 0.97 of half the rate), which reads up to 0.5 dB more on hard material.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.plan import RATE_HZ
from quietleaf.sound.compiled import kernel
from quietleaf.sound.true_peak import interpolation_phases, phase_bound

LOOK_AHEAD_MS = 3.0
RELEASE_MS = 50.0
_CHUNK = 32
NEED_DELAY = 2 * _CHUNK
"""A need is final once so many samples have followed."""
_LONG_TAPS = 32
_LONG_KAISER = 9.0
_LONG_CUT_OFF = 0.97
_ALL_BACK = 1e-5
"""A gain within 0.0001 dB of 1 is 1."""


def long_phases() -> NDArray[np.float64]:
    """Give the three phases of the longer interpolation, shape (3, 32).

    Tap ``j`` of the phase at place f weighs the sample ``j - 15`` after the one before f.
    """
    place = np.arange(1, 4)[:, np.newaxis] / 4.0
    distance = np.arange(_LONG_TAPS) - (_LONG_TAPS / 2 - 1) - place
    half = _LONG_TAPS / 2
    window = np.i0(_LONG_KAISER * np.sqrt(np.maximum(1.0 - (distance / half) ** 2, 0.0)))
    phases = np.sinc(_LONG_CUT_OFF * distance) * window
    scaled: NDArray[np.float64] = phases / phases.sum(axis=1, keepdims=True)
    return scaled


@dataclass(slots=True, kw_only=True)
class NeedMemory:
    """What `step_need` keeps: the last samples, and the needs that are not final yet.

    Attributes
    ----------
    threshold : float
        Values up to this need nothing, and are not looked for.
    """

    threshold: float
    short: NDArray[np.float64]
    long: NDArray[np.float64]
    bound: float
    samples: NDArray[np.float64]
    need: NDArray[np.float64]


def start_need(threshold: float) -> NeedMemory:
    """Begin with silence before the first sample.

    Parameters
    ----------
    threshold : float, above 0
        The least value, full scale 1.0, that any drive will have to turn down.
    """
    short, long = interpolation_phases(RATE_HZ), long_phases()
    return NeedMemory(
        threshold=threshold,
        short=short,
        long=long,
        bound=max(phase_bound(short), phase_bound(long), 1.0),
        samples=np.zeros(NEED_DELAY),
        need=np.zeros(NEED_DELAY),
    )


def step_need(
    memory: NeedMemory, samples: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Take the next block; give samples and their needs, 64 samples late.

    Parameters
    ----------
    samples : ndarray, shape (n,), n a multiple of 32

    Returns
    -------
    samples, need : ndarray, shape (n,)
        The need of a sample is the greatest magnitude, on or between samples, that it takes
        part in; 0 where that is not over the threshold. The first 64 are silence.
    """
    whole = np.concatenate([memory.samples, samples])
    need = np.concatenate([memory.need, np.zeros(samples.size)])
    _need(whole, need, _CHUNK, memory.short, memory.long, memory.threshold, memory.bound)
    memory.samples = whole[-NEED_DELAY:].copy()
    memory.need = need[-NEED_DELAY:].copy()
    return whole[: samples.size], need[: samples.size]


@dataclass(slots=True, kw_only=True)
class Reduction:
    """The limiter's gain for one drive and one ceiling, block by block.

    Attributes
    ----------
    cut : float
        The ceiling over the drive's gain: needs beyond it are brought down to it.
    delay : int
        By how many samples gains come later than the needs they answer.
    least : float
        The least gain so far.
    reduced : int
        Samples so far whose gain was under 1.
    """

    cut: float
    look_ahead: int
    keep: float
    history: NDArray[np.float64]
    state: NDArray[np.float64]
    delay: int
    least: float = 1.0
    reduced: int = 0


def start_reduction(cut: float, look_ahead_ms: float, release_ms: float) -> Reduction:
    """Begin without reduction."""
    half = max(1, round(look_ahead_ms * RATE_HZ / 2000.0))
    look_ahead = 2 * half
    return Reduction(
        cut=cut,
        look_ahead=look_ahead,
        keep=float(np.exp(-1000.0 / (release_ms * RATE_HZ))),
        history=np.ones(2 * look_ahead),
        state=np.ones(1),
        delay=look_ahead - 1,
    )


def step_reduction(reduction: Reduction, need: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Give the gains, shape (n,), of the samples ``delay`` before these needs; None for all 1."""
    history = reduction.history
    if reduction.state[0] == 1.0 and need.max(initial=0.0) <= reduction.cut:
        if history.min() == 1.0:
            return None
        released = np.concatenate([history, np.ones(need.size)])
    else:
        released = np.concatenate([history, need])
        _release(released, history.size, reduction.cut, reduction.keep, reduction.state)
    reduction.history = released[-history.size :].copy()
    gain = np.ones(need.size)
    reduced = _smooth(released, reduction.look_ahead, gain)
    reduction.reduced += reduced
    reduction.least = min(reduction.least, float(gain.min()))
    return gain if reduced else None


def released_gains(
    need: NDArray[np.float64], cut: float, release_ms: float, frames_a_s: float
) -> NDArray[np.float64]:
    """Give the limiter's gains at a coarse rate, without look-ahead: for estimates.

    Parameters
    ----------
    need : ndarray, shape (k,)
        The greatest value of each frame.
    """
    gains = need.copy()
    keep = float(np.exp(-1000.0 / (release_ms * frames_a_s)))
    _release(gains, 0, cut, keep, np.ones(1))
    return gains


@kernel
def _need(
    samples: NDArray[np.float64],
    need: NDArray[np.float64],
    chunk: int,
    short: NDArray[np.float64],
    long: NDArray[np.float64],
    threshold: float,
    bound: float,
) -> None:
    # Outputs are worked out for the chunks from the second to the last but one: each needs up to
    # 16 samples on either side, and is heeded by as many.
    chunks = samples.size // chunk
    peaks = np.empty(chunks)
    for index in range(chunks):
        peak = 0.0
        for i in range(index * chunk, (index + 1) * chunk):
            peak = max(peak, abs(samples[i]))
        peaks[index] = peak
    out = np.empty(chunk)
    for index in range(1, chunks - 1):
        near = max(peaks[index - 1], peaks[index], peaks[index + 1])
        if near * bound <= threshold:
            continue
        first = index * chunk
        for i in range(first, first + chunk):
            value = abs(samples[i])
            if value > threshold:
                need[i] = max(need[i], value)
        for phase in range(short.shape[0]):
            out[:] = 0.0
            for tap in range(short.shape[1]):
                weight = short[phase, tap]
                base = first - tap
                for i in range(chunk):
                    out[i] += weight * samples[base + i]
            for i in range(chunk):
                value = abs(out[i])
                if value > threshold:
                    for k in range(first + i - short.shape[1] + 1, first + i + 1):
                        need[k] = max(need[k], value)
        reach = long.shape[1] // 2
        for phase in range(long.shape[0]):
            out[:] = 0.0
            for tap in range(long.shape[1]):
                weight = long[phase, tap]
                base = first + tap - reach + 1
                for i in range(chunk):
                    out[i] += weight * samples[base + i]
            for i in range(chunk):
                value = abs(out[i])
                if value > threshold:
                    for k in range(first + i - reach + 1, first + i + reach + 1):
                        need[k] = max(need[k], value)


@kernel
def _release(
    released: NDArray[np.float64],
    first: int,
    cut: float,
    keep: float,
    state: NDArray[np.float64],
) -> None:
    # Needs come in, gains go out, in the same array: what is asked for at once, given back slowly.
    last = state[0]
    for i in range(first, released.size):
        need = released[i]
        last = 1.0 - (1.0 - last) * keep
        if 1.0 - last < _ALL_BACK:
            last = 1.0
        if need > cut:
            last = min(last, cut / need)
        released[i] = last
    state[0] = last


@kernel
def _smooth(released: NDArray[np.float64], look_ahead: int, gain: NDArray[np.float64]) -> int:
    """Fill ``gain``; entry n answers ``released[n + look_ahead + 1]`` and what is around it."""
    size = gain.size
    offset = released.size - size - look_ahead + 1
    reduced = 0
    start = 0
    while start < released.size:
        if released[start] == 1.0:
            start += 1
            continue
        # A stretch of reduction, with gaps too short to come back to 1 for sure.
        stop = start + 1
        gap = 0
        for i in range(start, released.size):
            if released[i] < 1.0:
                stop = i + 1
                gap = 0
            else:
                gap += 1
                if gap > 2 * look_ahead:
                    break
        first = max(start - look_ahead + 1, offset)
        last = min(stop + look_ahead - 2, offset + size)
        if first < last:
            reduced += last - first
            _smooth_stretch(released, look_ahead, first, last, offset, gain)
        start = stop
    return reduced


@kernel
def _smooth_stretch(
    released: NDArray[np.float64],
    look_ahead: int,
    first: int,
    last: int,
    offset: int,
    gain: NDArray[np.float64],
) -> None:
    half = look_ahead // 2
    base = first - look_ahead + 2
    count = last - base
    least = released[base : base + count + look_ahead - 1].copy()
    width = 1
    size = least.size
    while 2 * width <= look_ahead:
        size -= width
        for i in range(size):
            least[i] = min(least[i], least[i + width])
        width *= 2
    rest = look_ahead - width
    if rest > 0:
        for i in range(count):
            least[i] = min(least[i], least[i + rest])
    for _ in range(2):
        total = 0.0
        previous = np.empty(half)
        for i in range(count):
            slot = i % half
            value = least[i]
            total += value
            if i >= half:
                total -= previous[slot]
            previous[slot] = value
            least[i] = total / half
    for i in range(count - (last - first), count):
        gain[base + i - offset] = min(least[i], 1.0)
