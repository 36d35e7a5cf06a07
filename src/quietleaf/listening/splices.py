"""Splices: places where samples are missing, told from what goes before and what comes after."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.sound.compiled import kernel

UNLIKE_MIN = 10.0
"""In an hour of recorded readers nothing came to more than 8.2; of splices nine in ten reach 14
where the sound leaves the upper part of its band empty. Ours."""
_BLOCK = 16
_PART = 256 * _BLOCK
_NEAR_S = 0.012
_RATIO_MIN = 4.0
_LEAST = 8 / 32768
_FIT_S = 0.016
_ORDER_MIN, _ORDER_MAX = 16, 32
_BEFORE_PEAK, _AFTER_PEAK = 4, 2
_EDGE_S = 0.05
_FLOOR = 1 / 32768
_BESIDE_S = 0.008
_UNDER_DB = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Splice:
    """A place where two sounds meet.

    Attributes
    ----------
    place : int
        The first sample of the second.
    unlike : float
        How far it lies from what either side leads to, in greatest errors of the fit.
    """

    place: int
    unlike: float


@dataclass(slots=True, kw_only=True)
class SpliceMemory:
    """What was heard so far.

    Attributes
    ----------
    before : ndarray, shape (c, m) or None
        The last tenth of a second.
    position : int
        The sample after it.
    """

    sample_rate_hz: int
    before: NDArray[np.float32] | None = None
    position: int = 0
    found: list[Splice] = field(default_factory=list)


def step_splices(memory: SpliceMemory, samples: NDArray[np.float32]) -> None:
    """Take the samples of the next chunk in, shape (c, n).

    Notes
    -----
    Speech goes on as its last hundredths of a second lead to: 16 to 32 samples predict the next
    (linear prediction, covariance method), forward from what is before and backward from what is
    after. Where both fail at one sample by 10 times the greatest error in 16 ms, samples are
    missing. Only peaks of the fourth difference that stand 4 times over all others within 12 ms
    are looked at, with sound on both sides within 25 dB of that around: what was cut in a pause is
    no fault. In noise, and where the two sounds happen to meet, a splice cannot be told.
    """
    rate = memory.sample_rate_hz
    edge = round(_EDGE_S * rate)
    if memory.before is None:
        memory.before = np.zeros((samples.shape[0], 2 * edge), dtype=np.float32)
    sound = np.concatenate([memory.before, samples], axis=1)
    first = memory.position - memory.before.shape[1]
    places = np.empty(sound.shape[1] // _BLOCK, dtype=np.int64)
    beside = round(_BESIDE_S * rate)
    for channel in sound:
        rms = float(np.sqrt(np.dot(channel, channel) / channel.size))
        least = 10.0 ** (-_UNDER_DB / 20.0) * rms
        count = _peaks(channel, round(_NEAR_S * rate) // _BLOCK, edge, _RATIO_MIN, _LEAST, places)
        for at in places[:count]:
            if first + at < edge or _quieter(channel, int(at), beside) < least:
                continue
            splice = _splice(channel, int(at), rate)
            if splice is not None and splice.unlike >= UNLIKE_MIN:
                memory.found.append(Splice(place=first + splice.place, unlike=splice.unlike))
    memory.before = sound[:, sound.shape[1] - 2 * edge :].copy()
    memory.position += samples.shape[1]


def _quieter(sound: NDArray[np.float32], place: int, beside: int) -> float:
    """Give the RMS of the quieter side; the samples next to the place are left out."""
    before = sound[place - 4 - beside : place - 4].astype(np.float64)
    after = sound[place + 4 : place + 4 + beside].astype(np.float64)
    return float(np.sqrt(min(np.mean(before**2), np.mean(after**2))))


def _splice(sound: NDArray[np.float32], peak: int, rate: int) -> Splice | None:
    """Give the sample near a peak that both sides lead to least."""
    order = min(_ORDER_MAX, max(_ORDER_MIN, rate // 1000))
    fit = round(_FIT_S * rate)
    first, stop = peak - _BEFORE_PEAK, peak + _AFTER_PEAK
    if first - fit - order < 0 or stop + fit + order > sound.size:
        return None
    part = sound[first - fit - order : stop + fit + order].astype(np.float64)
    count = stop - first
    forward = _errors(part[: fit + order + count], order, count)
    backward = _errors(part[::-1][: fit + order + count], order, count)[::-1]
    if forward.size == 0 or backward.size == 0:
        return None
    # Sample i fails forward, sample i - 1 backward: the splice lies between the two.
    both = np.minimum(forward[1:], backward[:-1])
    best = int(both.argmax())
    return Splice(place=first + 1 + best, unlike=float(both[best]))


def _errors(sound: NDArray[np.float64], order: int, count: int) -> NDArray[np.float64]:
    """Predict the last samples from a fit to those before; in greatest errors of the fit."""
    windows = np.lib.stride_tricks.sliding_window_view(sound, order)[:-1]
    known, wanted = windows[:-count], sound[order:-count]
    products = known.T @ known
    products += np.eye(order) * (1e-9 * float(np.trace(products)) + 1e-18)
    weights = np.linalg.solve(products, known.T @ wanted)
    least = max(float(np.abs(wanted - known @ weights).max()), _FLOOR)
    errors: NDArray[np.float64] = np.abs(sound[-count:] - windows[-count:] @ weights) / least
    return errors


@kernel
def _fourth_differences(sound: NDArray[np.float32], differences: NDArray[np.float32]) -> None:
    """Give their sizes, from the fifth sample on."""
    first, second, third, fourth = sound[:-4], sound[1:-3], sound[2:-2], sound[3:-1]
    last = sound[4:]
    for i in range(last.size):
        differences[i] = abs(
            last[i]
            - np.float32(4.0) * (fourth[i] + second[i])
            + np.float32(6.0) * third[i]
            + first[i]
        )


@kernel
def _peaks(
    sound: NDArray[np.float32],
    near: int,
    edge: int,
    ratio: float,
    least: float,
    places: NDArray[np.int64],
) -> int:
    """Find peaks of the fourth difference that stand alone; each place counts in one call only."""
    blocks = sound.size // _BLOCK
    greatest = np.zeros(blocks, dtype=np.int32)
    # A part at a time, which stays near the processor.
    changes = np.zeros(_PART, dtype=np.float32)
    # What is not negative has the order of its bits, and whole numbers are compared many at once.
    bits = changes.view(np.int32)
    for part in range(0, blocks * _BLOCK, _PART):
        stop = min(_PART, blocks * _BLOCK - part)
        first = 4 if part == 0 else 0
        _fourth_differences(sound[part + first - 4 : part + stop], changes[first:stop])
        for block in range(stop // _BLOCK):
            most = np.int32(0)
            for i in range(block * _BLOCK, (block + 1) * _BLOCK):
                most = max(most, bits[i])
            greatest[part // _BLOCK + block] = most
    peaks = greatest.view(np.float32)
    count = 0
    for block in range(near, blocks - near):
        peak = peaks[block]
        if peak < least or peak < peaks[block - 1] or peak < peaks[block + 1]:
            continue
        alone = True
        for away in range(2, near + 1):
            if peak <= ratio * max(peaks[block - away], peaks[block + away]):
                alone = False
                break
        if not alone:
            continue
        place = block * _BLOCK
        first = block * _BLOCK
        _fourth_differences(sound[first - 4 : (block + 1) * _BLOCK], changes)
        for i in range(first, (block + 1) * _BLOCK):
            if changes[i - first] == peak:
                place = i
        if edge <= place < sound.size - edge:
            places[count] = place
            count += 1
    return count
