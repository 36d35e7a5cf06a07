"""The last step: one gain for the whole, the limiter, and for an MP3 its dips."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.limiter import (
    NEED_DELAY,
    Reduction,
    start_need,
    start_reduction,
    step_need,
    step_reduction,
)
from quietleaf.finishing.plan import RATE_HZ, Dip, Drive
from quietleaf.units import ratio_of_db

DIP_EDGE_SAMPLES = RATE_HZ // 100
"""A dip sinks and rises by a raised cosine of 10 ms on either side of its range."""
STEP_SAMPLES = 32
_LOWEST_CUT = 1e-9


@dataclass(slots=True, kw_only=True)
class _Channel:
    """One drive on its way: its limiter, and the samples that wait for their gains.

    Attributes
    ----------
    place : int
        Where in the master the next sample out lies; negative while nothing is ready.
    """

    ratio: float
    reduction: Reduction
    waiting: NDArray[np.float64]
    dips: tuple[Dip, ...]
    place: int


def cut_of(gain_db: float, aim_dbtp: float) -> float:
    """Give the value, before the gain, that the limiter brings all greater ones down to."""
    return max(ratio_of_db(aim_dbtp - gain_db), _LOWEST_CUT)


def driven_blocks(
    dry: Iterator[NDArray[np.float64]], drives: tuple[tuple[Drive, tuple[Dip, ...]], ...]
) -> Iterator[tuple[NDArray[np.float64], ...]]:
    """Bring the dry sound to its loudness, for several drives at once.

    Parameters
    ----------
    dry : iterator of ndarray, shape (n,), full scale 1.0
    drives : tuple of (Drive, tuple of Dip)

    Returns
    -------
    blocks : iterator of tuples of ndarray
        For each drive the next samples of its sound; each is as long in all as what came in.
    """
    memory = start_need(min(cut_of(drive.gain_db, drive.aim_dbtp) for drive, _ in drives))
    channels = [_channel(drive, dips) for drive, dips in drives]
    length = 0
    for block in dry:
        length += block.size
        samples, need = step_need(memory, _padded(block))
        yield tuple(_step(channel, samples, need, length) for channel in channels)
    silence = np.zeros(2 * NEED_DELAY + max(channel.waiting.size for channel in channels))
    samples, need = step_need(memory, _padded(silence))
    yield tuple(_step(channel, samples, need, length) for channel in channels)


def dip_gain(dips: tuple[Dip, ...], first: int, count: int) -> NDArray[np.float64] | None:
    """Give the gain of a range of the master under some dips; None where there is none near."""
    gain_db = None
    for dip in dips:
        begin = max(dip.start - DIP_EDGE_SAMPLES, first)
        end = min(dip.stop + DIP_EDGE_SAMPLES, first + count)
        if begin >= end:
            continue
        if gain_db is None:
            gain_db = np.zeros(count)
        place = np.arange(begin, end)
        outside = np.maximum(np.maximum(dip.start - place, place - dip.stop + 1), 0)
        share = (1.0 + np.cos(np.pi * outside / (DIP_EDGE_SAMPLES + 1))) / 2.0
        part = gain_db[begin - first : end - first]
        np.minimum(part, dip.gain_db * share, out=part)
    if gain_db is None:
        return None
    gain: NDArray[np.float64] = 10.0 ** (gain_db / 20.0)
    return gain


def _channel(drive: Drive, dips: tuple[Dip, ...]) -> _Channel:
    reduction = start_reduction(
        cut_of(drive.gain_db, drive.aim_dbtp), drive.look_ahead_ms, drive.release_ms
    )
    return _Channel(
        ratio=ratio_of_db(drive.gain_db),
        reduction=reduction,
        waiting=np.zeros(reduction.delay),
        dips=dips,
        place=-NEED_DELAY - reduction.delay,
    )


def _padded(block: NDArray[np.float64]) -> NDArray[np.float64]:
    missing = -block.size % STEP_SAMPLES
    return np.concatenate([block, np.zeros(missing)]) if missing else block


def _step(
    channel: _Channel, samples: NDArray[np.float64], need: NDArray[np.float64], length: int
) -> NDArray[np.float64]:
    whole = np.concatenate([channel.waiting, samples])
    channel.waiting = whole[samples.size :].copy()
    out = whole[: samples.size] * channel.ratio
    gain = step_reduction(channel.reduction, need)
    if gain is not None:
        out *= gain
    first, channel.place = channel.place, channel.place + samples.size
    begin, end = max(-first, 0), min(length - first, samples.size)
    out = out[begin : max(end, begin)]
    dipped = dip_gain(channel.dips, first + begin, out.size) if channel.dips else None
    return out if dipped is None else out * dipped
