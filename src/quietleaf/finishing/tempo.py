"""The pace of reading changed by a few percent: single periods of the voice left out or repeated.

Between two such places nothing is touched, to the last bit: pitch, colour and room tone stay those
of the recording. A place is looked for where the sound is most alike itself a few milliseconds
later, or so quiet that it does not matter; both sides are cross-faded there.

A fold over blocks, flat in memory; where a block begins changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.plan import RATE_HZ
from quietleaf.sound.compiled import kernel

LAG_SAMPLES_MIN = RATE_HZ // 400
LAG_SAMPLES_MAX = RATE_HZ * 15 // 1000
"""From the shortest period of a voice to a long one, or several short ones: 2.5 to 15 ms."""
_LAG_SAMPLES = RATE_HZ * 9 // 1000
"""About so much is left out or repeated at one place."""
_FREE_SAMPLES = RATE_HZ * 6 // 1000
"""The pace is even to so much, so that a place can have the period of its voice."""
_FADE_SAMPLES = RATE_HZ // 100
STRETCH_SAMPLES_MIN = 2 * (LAG_SAMPLES_MAX + _FADE_SAMPLES)
"""Of this length on a stretch can be changed by 3 percent."""
_LOOK_SAMPLES = RATE_HZ
"""A place is looked for within so much around the middle of its cell."""
_DECIMATE = 8
_HOP = 60
"""Places are tried every 60 samples of 6 kHz, 10 ms; every 5 ms finds no better ones."""
_CALM = 2e-3
"""Sound that much weaker than the voice (-27 dB) need not be alike itself."""
_VOICE_PERCENTILE = 95.0
_NOTHING = 1e-20


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A range that becomes longer or shorter: ``samples`` is its new length."""

    start: int
    stop: int
    samples: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cell:
    """A part of a stretch with one place in it, and the change that is due at its end.

    Attributes
    ----------
    due : int
        Samples left out (negative) or repeated so far, for an even pace.
    free : int
        By so many what is done may differ from what is due.
    """

    start: int
    stop: int
    due: int
    free: int


def stretched(
    blocks: Iterator[NDArray[np.float64]], stretches: Sequence[Stretch]
) -> Iterator[NDArray[np.float64]]:
    """Change the length of some ranges of a sound.

    Parameters
    ----------
    blocks : iterator of ndarray, shape (n,), 48 kHz
    stretches : sequence of Stretch
        Sorted and apart; each long enough for what is done in it (`STRETCH_SAMPLES_MIN`).

    Returns
    -------
    blocks : iterator of ndarray
        Of any sizes. Outside the stretches every sample is as it came.
    """
    line = _Line(blocks)
    for stretch in stretches:
        changed = 0
        for cell in _cells(stretch):
            yield from line.until(cell.start)
            part, change = _spliced(line.take(cell.stop), *_bounds(cell, changed))
            changed += change
            yield part
    yield from line.rest()


def _cells(stretch: Stretch) -> Iterator[_Cell]:
    length = stretch.stop - stretch.start
    change = stretch.samples - length
    if change == 0:
        return
    count = max(1, round(abs(change) / _LAG_SAMPLES))
    usual = abs(change) // count
    free = max(0, min(_FREE_SAMPLES, usual - LAG_SAMPLES_MIN, LAG_SAMPLES_MAX - usual))
    for number in range(count):
        start = stretch.start + length * number // count
        stop = stretch.start + length * (number + 1) // count
        beyond = max(0, stop - start - _LOOK_SAMPLES)
        last = number == count - 1
        yield _Cell(
            start=start + beyond // 2,
            stop=stop - (beyond - beyond // 2),
            due=change * (number + 1) // count,
            free=0 if last else free,
        )


def _bounds(cell: _Cell, changed: int) -> tuple[int, int]:
    """Give the least and the greatest change at a place."""
    due = cell.due - changed
    if due < 0:
        return min(due + cell.free, -1), due - cell.free
    return max(due - cell.free, 1), due + cell.free


def _spliced(part: NDArray[np.float64], least: int, most: int) -> tuple[NDArray[np.float64], int]:
    """Leave out or repeat a few milliseconds of a cell, where it is heard least."""
    shorter = most < 0
    low, high = abs(least), abs(most)
    assert part.size >= high + _FADE_SAMPLES, "a cell holds its lag and its cross-fade"
    place, lag = _place(part, low, high)
    early = part[place : place + _FADE_SAMPLES]
    late = part[place + lag : place + lag + _FADE_SAMPLES]
    if shorter:
        # From the earlier into the later: what lies between is left out.
        middle = _faded(early, late)
        pieces = (part[:place], middle, part[place + lag + _FADE_SAMPLES :])
    else:
        middle = _faded(late, early)
        pieces = (part[: place + lag], middle, part[place + _FADE_SAMPLES :])
    return np.concatenate(pieces), -lag if shorter else lag


def _faded(leaving: NDArray[np.float64], coming: NDArray[np.float64]) -> NDArray[np.float64]:
    """Cross-fade two sounds that are alike by some measure, so that their power stays."""
    alike = max(0.0, _alike(leaving, coming))
    share = (1.0 - np.cos(np.pi * (np.arange(leaving.size) + 0.5) / leaving.size)) / 2.0
    stay = 1.0 - share
    power = stay * stay + share * share + 2.0 * alike * stay * share
    made: NDArray[np.float64] = (leaving * stay + coming * share) / np.sqrt(power)
    return made


def _alike(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    energy = float(np.sqrt(np.dot(one, one) * np.dot(other, other)))
    return float(np.dot(one, other)) / max(energy, _NOTHING)


def _place(part: NDArray[np.float64], low: int, high: int) -> tuple[int, int]:
    """Choose a place and a lag: at 6 kHz first, the lag then to the sample."""
    whole = part.size // _DECIMATE
    each = part[: whole * _DECIMATE].reshape(whole, _DECIMATE)
    slow = each.mean(axis=1)
    energy = np.einsum("ij,ij->i", each, each) / _DECIMATE
    fade = _FADE_SAMPLES // _DECIMATE
    frames = energy[: energy.size // fade * fade].reshape(-1, fade).mean(axis=1)
    voice = float(np.percentile(frames, _VOICE_PERCENTILE)) if frames.size else 0.0
    calm = 2.0 * fade * voice * _CALM + _NOTHING
    lags = (low // _DECIMATE, max(high // _DECIMATE, low // _DECIMATE))
    place, lag = _search(slow, energy, lags[0], lags[1], fade, _HOP, calm)
    place = min(place * _DECIMATE, part.size - high - _FADE_SAMPLES)
    first = max(low, (lag - 1) * _DECIMATE)
    last = max(first, min(high, (lag + 1) * _DECIMATE))
    early = part[place : place + _FADE_SAMPLES]
    late = part[place + first : place + last + _FADE_SAMPLES]
    products = np.correlate(late, early, mode="valid")
    squares = np.concatenate([[0.0], np.cumsum(late * late)])
    energies = squares[_FADE_SAMPLES:] - squares[: products.size]
    return place, first + int(np.argmax(products / np.sqrt(energies + _NOTHING)))


class _Line:
    """Blocks as one line of samples that is read once."""

    def __init__(self, blocks: Iterator[NDArray[np.float64]]) -> None:
        self._blocks = blocks
        self._held: NDArray[np.float64] = np.empty(0)
        self._place = 0

    def until(self, place: int) -> Iterator[NDArray[np.float64]]:
        """Give all up to a place, as it comes."""
        while self._place < place and self._fill():
            part = self._held[: place - self._place]
            self._held = self._held[part.size :]
            self._place += part.size
            yield part

    def take(self, place: int) -> NDArray[np.float64]:
        """Give all up to a place at once."""
        parts = list(self.until(place))
        return np.concatenate(parts) if parts else np.empty(0)

    def rest(self) -> Iterator[NDArray[np.float64]]:
        """Give what is left."""
        while self._fill():
            part, self._held = self._held, np.empty(0)
            self._place += part.size
            yield part

    def _fill(self) -> bool:
        while self._held.size == 0:
            block = next(self._blocks, None)
            if block is None:
                return False
            self._held = block
        return True


@kernel
def _search(
    slow: NDArray[np.float64],
    energy: NDArray[np.float64],
    low: int,
    high: int,
    fade: int,
    hop: int,
    calm: float,
) -> tuple[int, int]:
    """Find where a stretch of ``fade`` is most like the one ``low`` to ``high`` samples later."""
    size = slow.size
    full_sum = np.zeros(size + 1)
    for i in range(size):
        full_sum[i + 1] = full_sum[i] + energy[i]
    best, place_found, lag_found = np.inf, 0, low
    for place in range(0, size - high - fade + 1, hop):
        full_early = full_sum[place + fade] - full_sum[place]
        for lag in range(low, high + 1):
            later = place + lag
            product = 0.0
            for i in range(fade):
                product += slow[place + i] * slow[later + i]
            full = full_early + full_sum[later + fade] - full_sum[later]
            # What is above 3 kHz is no more alike than noise is: its difference is its energy.
            cost = (full - 2.0 * product) / (full + calm)
            if cost < best:
                best, place_found, lag_found = cost, place, lag
    return place_found, lag_found
