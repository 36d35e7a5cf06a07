"""The gain of the even voice over time: one number a sentence, moving in the pauses between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.plan import Sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """The gain goes from one sentence's to the next's, in samples."""

    start: int
    stop: int
    from_db: float
    to_db: float


def moves_between(
    sentences: Sequence[Sentence], places: Sequence[tuple[int, int]], move_samples: int
) -> tuple[Move, ...]:
    """Give every change of gain: a raised cosine in decibels, in the middle of a pause.

    Parameters
    ----------
    places : sequence of (int, int)
        Where each sentence lies: in the sound, or in the master.
    move_samples : int
        The longest that a change takes.
    """
    moves = []
    for (before, after), ((_, start), (stop, _)) in zip(
        pairwise(sentences), pairwise(places), strict=True
    ):
        if before.gain_db == after.gain_db:
            continue
        length = min(move_samples, stop - start)
        first = start + (stop - start - length) // 2
        moves.append(
            Move(start=first, stop=first + length, from_db=before.gain_db, to_db=after.gain_db)
        )
    return tuple(moves)


def gains_db(
    moves: Sequence[Move], before_db: float, places: NDArray[np.floating]
) -> NDArray[np.float64]:
    """Give the gain at some places, in ascending order; ``before_db`` before the first move."""
    levels = np.array([before_db, *(move.to_db for move in moves)])
    reached = np.searchsorted(places, [move.stop for move in moves])
    gains = np.repeat(levels, np.diff(reached, prepend=0, append=places.size))
    for move in moves:
        begin, end = np.searchsorted(places, (move.start, move.stop))
        place = (places[begin:end] - move.start) / (move.stop - move.start)
        share = (1.0 - np.cos(np.pi * place)) / 2.0
        gains[begin:end] = move.from_db + (move.to_db - move.from_db) * share
    return gains
