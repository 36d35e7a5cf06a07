"""What is over the ceiling in a file that was decoded again, and the dips that cure it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.drive import STEP_SAMPLES
from quietleaf.finishing.limiter import NEED_DELAY, start_need, step_need
from quietleaf.finishing.plan import RATE_HZ, Dip, Mp3
from quietleaf.units import db_of_ratio, ratio_of_db

_NEAR_SAMPLES = RATE_HZ // 50
_WIDER_SAMPLES = RATE_HZ // 500
EXTRA_DB = 0.15
"""A dip goes so much further than what was over: the encoder answers in its own way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Overshoot:
    """A range of samples that takes part in a peak over the ceiling."""

    start: int
    stop: int
    over_db: float


def find_overshoots(
    blocks: Iterable[NDArray[np.float64]], samples: int, ceiling_dbtp: float
) -> tuple[Overshoot, ...]:
    """Find where a sound at 48 kHz is over a ceiling, between its samples too.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (n,)
        The whole sound.
    samples : int
        Its length.

    Returns
    -------
    overshoots : tuple of Overshoot
        In order of time, apart by 20 ms or more; empty where nothing is over.
    """
    ceiling = ratio_of_db(ceiling_dbtp)
    memory = start_need(ceiling)
    found: list[Overshoot] = []
    first = -NEED_DELAY
    for block in _rounded(blocks):
        _, need = step_need(memory, block)
        over = np.flatnonzero(need)
        for start, stop in _groups(over):
            peak_db = db_of_ratio(float(need[start:stop].max())) - ceiling_dbtp
            _add(found, Overshoot(start=first + start, stop=first + stop, over_db=peak_db))
        first += block.size
    return tuple(
        replace(overshoot, start=max(overshoot.start, 0), stop=min(overshoot.stop, samples))
        for overshoot in found
    )


def with_dips(mp3: Mp3, overshoots: tuple[Overshoot, ...]) -> Mp3:
    """Add a dip for each overshoot; where one lies in a dip already, it becomes deeper."""
    dips = list(mp3.dips)
    for overshoot in overshoots:
        start, stop = max(overshoot.start - _WIDER_SAMPLES, 0), overshoot.stop + _WIDER_SAMPLES
        held = [dip for dip in dips if dip.start < stop and start < dip.stop]
        deepest = min((dip.gain_db for dip in held), default=0.0)
        gain_db = round(deepest - overshoot.over_db - EXTRA_DB, 3)
        dips = [dip for dip in dips if dip not in held]
        start = min([start, *(dip.start for dip in held)])
        stop = max([stop, *(dip.stop for dip in held)])
        dips.append(Dip(start=start, stop=stop, gain_db=gain_db))
    return replace(mp3, dips=tuple(sorted(dips, key=lambda dip: dip.start)))


def _rounded(blocks: Iterable[NDArray[np.float64]]) -> Iterator[NDArray[np.float64]]:
    """Cut into multiples of 32 samples, and follow with enough silence."""
    rest = np.empty(0)
    for block in blocks:
        whole = np.concatenate([rest, block]) if rest.size else block
        count = whole.size // STEP_SAMPLES * STEP_SAMPLES
        rest = whole[count:]
        if count:
            yield whole[:count]
    yield np.concatenate([rest, np.zeros(2 * NEED_DELAY + -rest.size % STEP_SAMPLES)])


def _groups(places: NDArray[np.intp]) -> list[tuple[int, int]]:
    if places.size == 0:
        return []
    parted = np.flatnonzero(np.diff(places) > _NEAR_SAMPLES)
    starts = places[np.concatenate([[0], parted + 1])]
    stops = places[np.concatenate([parted, [places.size - 1]])] + 1
    return [(int(start), int(stop)) for start, stop in zip(starts, stops, strict=True)]


def _add(found: list[Overshoot], overshoot: Overshoot) -> None:
    if found and overshoot.start - found[-1].stop <= _NEAR_SAMPLES:
        last = found.pop()
        overshoot = Overshoot(
            start=last.start, stop=overshoot.stop, over_db=max(last.over_db, overshoot.over_db)
        )
    found.append(overshoot)
