"""Which of the station's short items make up a length: a small exact-sum search."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ITEMS_MOST = 6
"""More would be a programme of their own."""
_OFFERS_MOST = 40
_STEPS_MOST = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A short item that the station has.

    Attributes
    ----------
    key : str
        The checksum of its file.
    samples : int
        Its length at 48 kHz.
    loudness_lufs : float
        Integrated, one channel.
    """

    key: str
    title: str
    samples: int
    loudness_lufs: float


def chosen_items(offers: Sequence[Offer], most: int) -> tuple[Offer, ...]:
    """Choose items whose lengths together come as near to a length as can be, and not beyond.

    Of equally long choices one of the fewest items is taken.

    Parameters
    ----------
    most : int
        Samples.

    Examples
    --------
    >>> ferry, tide, bells = (
    ...     Offer(key=name, title=name, samples=length, loudness_lufs=-23.0)
    ...     for name, length in (("ferry", 30), ("tide", 45), ("bells", 70))
    ... )
    >>> [one.title for one in chosen_items((ferry, tide, bells), 105)]
    ['ferry', 'bells']
    >>> chosen_items((ferry, tide, bells), 20)
    ()
    """
    usable = sorted(
        (one for one in offers[:_OFFERS_MOST] if 0 < one.samples <= most),
        key=lambda one: -one.samples,
    )
    search = _Search(usable, most)
    search.look(0, ())
    return tuple(sorted((usable[index] for index in search.best), key=offers.index))


class _Search:
    """Tries longer items first, and leaves off where no better sum can come."""

    def __init__(self, usable: Sequence[Offer], most: int) -> None:
        self._lengths = [one.samples for one in usable]
        self._most = most
        self._steps = 0
        self.best: tuple[int, ...] = ()
        self._best_sum = 0

    def look(self, first: int, taken: tuple[int, ...], total: int = 0) -> None:
        self._steps += 1
        better = total > self._best_sum
        as_good = total == self._best_sum and len(taken) < len(self.best)
        if better or as_good:
            self.best, self._best_sum = taken, total
        if len(taken) == ITEMS_MOST or self._steps > _STEPS_MOST:
            return
        left = ITEMS_MOST - len(taken)
        for index in range(first, len(self._lengths)):
            length = self._lengths[index]
            if total + left * length < self._best_sum:
                return
            if total + length <= self._most:
                self.look(index + 1, (*taken, index), total + length)
