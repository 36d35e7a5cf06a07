"""Hum as it is in a sound: lines at multiples of one frequency that drifts a little.

The sound is looked at in short blocks, turned back by the frequency that is expected: a line is
then a slow spiral. Over 8 s its frequency is taken to change evenly. Blocks in which something else
sounds at a line say less of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import firwin, upfirdn

from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.ranges import Sound, one_channel
from quietleaf.sound.compiled import kernel

WINDOW_SAMPLES = 8 * RATE_HZ
HOP_SAMPLES = WINDOW_SAMPLES // 2
STEP = 24
_LOW_HZ = RATE_HZ / STEP
_TAPS = 241
_PASS_HZ = 520.0
_BLOCK = 320
_BLOCK_HOP = 160
"""0.16 s, half overlapping: a pause of 0.2 s holds one, and lines 50 Hz apart do not mix."""
_BLOCKS_MIN = 12
_ROUNDS = 4
_AWAY_HZ, _DRIFT_HZ_S = 0.25, 0.02
_NEXT_HZ = 0.03
_QUIET_PERCENT = 10.0
_NOTHING = 1e-20
_CLEAN_SHARE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """The lines in one window.

    Attributes
    ----------
    middle : float
        Sample of the sound that the phases are told for.
    hz, drift_hz_s : float
        Of the first line there, and by how much it changes in a second.
    heights : ndarray, shape (h,), complex
        Amplitude and phase of each line at the middle.
    over : ndarray, shape (h,)
        Power of each line over what else is there at quiet moments.
    """

    middle: float
    hz: float
    drift_hz_s: float
    heights: NDArray[np.complex128]
    over: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """What short blocks hold at each line, turned back by the expected frequency.

    Attributes
    ----------
    turned : ndarray, shape (b, h), complex
    middles : ndarray, shape (b,)
        In samples of the sound.
    """

    turned: NDArray[np.complex128]
    middles: NDArray[np.float64]


def blocks_of(
    sound: Sound, start: int, stop: int, mains_hz: float, lines: NDArray[np.int64]
) -> Blocks | None:
    """Look at a range in blocks; None where it is too short."""
    # On fixed places, so that it does not matter where a range begins.
    start = -(-start // STEP) * STEP
    half = _TAPS // 2
    first, last = max(0, start - half), min(sound.info.frames, stop + half)
    heard = np.pad(one_channel(sound.read(first, last)), (first - start + half, half))
    low = upfirdn(firwin(_TAPS, _PASS_HZ, fs=RATE_HZ), heard, 1, STEP)[_TAPS // STEP :]
    low = low[: (stop - start) // STEP]
    count = (low.size - _BLOCK) // _BLOCK_HOP + 1
    if count < _BLOCKS_MIN:
        return None
    frames = np.lib.stride_tricks.sliding_window_view(low, _BLOCK)[::_BLOCK_HOP]
    window = np.hanning(_BLOCK + 1)[:_BLOCK]
    turn = np.exp(-2j * np.pi * mains_hz / _LOW_HZ * np.outer(np.arange(_BLOCK), lines))
    places = np.arange(count) * _BLOCK_HOP
    turned = frames @ (turn * (2.0 * window / window.sum())[:, np.newaxis])
    begun = start / STEP + places
    turned = turned * np.exp(-2j * np.pi * mains_hz / _LOW_HZ * np.outer(begun, lines))
    middles = np.asarray(start + (places + _BLOCK / 2.0) * STEP, dtype=np.float64)
    return Blocks(turned=turned, middles=middles)


def lines_of(
    blocks: Blocks, mains_hz: float, lines: NDArray[np.int64], near: Lines | None = None
) -> Lines:
    """Fit the lines.

    Parameters
    ----------
    near : Lines, optional
        Of the window before: the frequency is looked for near it.

    Notes
    -----
    In each round the frequency and its drift are those that leave the most power in the lines, by
    weights that are the inverse of what the blocks hold beside them.
    """
    turned = blocks.turned
    middle = float(blocks.middles.mean())
    away_s = (blocks.middles - middle) / RATE_HZ
    power = np.abs(turned) ** 2
    weights = 1.0 / (power + np.median(power, axis=0) + _NOTHING)
    off, drift = (0.0, 0.0) if near is None else (near.hz - mains_hz, near.drift_hz_s)
    span_hz = _AWAY_HZ if near is None else _NEXT_HZ
    span_drift = _DRIFT_HZ_S
    counts = (41, 15) if near is None else (13, 9)
    heights = np.zeros(lines.size, dtype=np.complex128)
    for _ in range(_ROUNDS):
        offs = off + np.linspace(-span_hz, span_hz, counts[0])
        drifts = drift + np.linspace(-span_drift, span_drift, counts[1])
        off, drift = _steadiest(turned * weights, weights.sum(axis=0), lines, away_s, offs, drifts)
        phase = 2.0 * np.pi * (off * away_s + 0.5 * drift * away_s**2)
        still = turned * np.exp(-1j * np.outer(phase, lines))
        heights = (weights * still).sum(axis=0) / weights.sum(axis=0)
        beside = np.abs(still - heights) ** 2
        # What sounds in one block reaches into the next.
        beside[1:-1] = np.maximum(beside[1:-1], np.maximum(beside[:-2], beside[2:]))
        weights = 1.0 / (beside + np.percentile(beside, _QUIET_PERCENT, axis=0) + _NOTHING)
        span_hz, span_drift, counts = span_hz / 6.0, span_drift / 4.0, (13, 9)
    quiet = np.percentile(beside, _QUIET_PERCENT, axis=0)
    turn = np.exp(2j * np.pi * mains_hz / RATE_HZ * middle * lines)
    return Lines(
        middle=middle,
        hz=mains_hz + off,
        drift_hz_s=drift,
        heights=heights * turn,
        over=np.abs(heights) ** 2 / (quiet + _NOTHING),
    )


def lines_sound(
    found: Lines, lines: NDArray[np.int64], start: int, stop: int
) -> NDArray[np.float64]:
    """Make the lines of a window for a range of samples."""
    heights = np.zeros(int(lines.max()), dtype=np.complex128)
    heights[lines - 1] = found.heights
    return _made(
        heights,
        2.0 * np.pi * found.hz / RATE_HZ,
        2.0 * np.pi * found.drift_hz_s / RATE_HZ**2,
        start - found.middle,
        stop - start,
    )


def presence(
    blocks: Blocks, found: Lines, mains_hz: float, lines: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Say for each block how much of the lines is there, and how much that tells.

    Returns
    -------
    share : ndarray, shape (b,)
        1 as they were found, 0 nothing.
    weight : ndarray, shape (b,)
        Little where something else sounds.
    """
    away_s = (blocks.middles - found.middle) / RATE_HZ
    phase = (found.hz - mains_hz) * away_s + 0.5 * found.drift_hz_s * away_s**2
    still = blocks.turned * np.exp(-2j * np.pi * np.outer(phase, lines))
    heights = found.heights / np.exp(2j * np.pi * mains_hz / RATE_HZ * found.middle * lines)
    power = float(np.sum(np.abs(heights) ** 2)) + _NOTHING
    share = (still @ heights.conj()).real / power
    beside = np.sum(np.abs(still - np.outer(share, heights)) ** 2, axis=1) / power
    return share, 1.0 / (beside + _CLEAN_SHARE)


def _steadiest(
    weighted: NDArray[np.complex128],
    sums: NDArray[np.float64],
    lines: NDArray[np.int64],
    away_s: NDArray[np.float64],
    offs: NDArray[np.float64],
    drifts: NDArray[np.float64],
) -> tuple[float, float]:
    """Give the frequency and the drift at which the lines add up to the most."""
    best, chosen = -1.0, (0.0, 0.0)
    for drift in drifts:
        phase = np.outer(offs, away_s) + 0.5 * drift * away_s**2
        turn = np.exp(-2j * np.pi * phase)
        power = np.zeros(offs.size)
        raised, reached = np.ones_like(turn), 0
        for column, line in enumerate(lines.tolist()):
            while reached < line:
                raised = raised * turn
                reached += 1
            power += np.abs(raised @ weighted[:, column]) ** 2 / sums[column]
        index = int(power.argmax())
        if power[index] > best:
            best, chosen = float(power[index]), (float(offs[index]), float(drift))
    return chosen


@kernel
def _made(
    heights: NDArray[np.complex128], turn: float, drift: float, first: float, count: int
) -> NDArray[np.float64]:
    made = np.empty(count)
    phase = turn * first + 0.5 * drift * first * first
    now = np.exp(1j * phase)
    step = np.exp(1j * (turn + drift * (first + 0.5)))
    change = np.exp(1j * drift)
    for i in range(count):
        raised = now
        total = (heights[0] * raised).real
        for line in range(1, heights.size):
            raised = raised * now
            total += (heights[line] * raised).real
        made[i] = total
        now = now * step
        step = step * change
    return made
