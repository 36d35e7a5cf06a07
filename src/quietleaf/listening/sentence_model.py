"""How likely a sentence begins after a pause, for this reader: learned as the reader goes on.

A reader is four unknowns: how long the pauses between sentences are, how much shorter those inside
them, how often either comes. Each is on a grid; a pause and the speech before it say which cells
of the grid are likelier than before, and all cells together say what the pause was.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.sentence_numbers import NUMBERS, ReaderNumbers
from quietleaf.sound.compiled import kernel

LIKELY = 0.6
"""From here on a pause is taken for the one before a sentence."""
LENGTHS = 24
LENGTH_S_MIN, LENGTH_S_MAX = 0.14, 1.8
SPREAD = np.array([-1.0, 0.0, 1.0])
WEIGHTS = np.array([0.25, 0.5, 0.25])
PAUSE_S_MIN, PAUSE_S_MAX = 0.09, 3.0
SPEECH_S_MIN, SPEECH_S_MAX = 0.2, 12.0
LEARNED_S_MAX = 2.0
"""Longer pauses say nothing of a reader: a page was turned, somebody came in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderGrid:
    """The cells: logarithms of seconds, differences of them, and how many a second.

    Attributes
    ----------
    length : ndarray, shape (24,)
        The natural logarithm of the usual pause between sentences, seconds.
    shorter : ndarray, shape (3,)
        By how much the logarithm of the usual pause inside a sentence is less.
    sentence_rate, inner_rate : ndarray, shape (3,)
        Pauses of either kind in a second of speech.
    prior : ndarray, shape (24, 3, 3, 3)
        Likelihood of each cell before anything was heard.
    """

    length: NDArray[np.float64]
    shorter: NDArray[np.float64]
    sentence_rate: NDArray[np.float64]
    inner_rate: NDArray[np.float64]
    prior: NDArray[np.float64]


def reader_grid(numbers: ReaderNumbers = NUMBERS) -> ReaderGrid:
    """Lay the grid for a model's numbers."""
    length = np.linspace(np.log(LENGTH_S_MIN), np.log(LENGTH_S_MAX), LENGTHS)
    usual = np.exp(-0.5 * ((length - numbers.length_mean) / numbers.length_spread) ** 2)
    usual /= usual.sum()
    prior = (
        usual[:, None, None, None]
        * WEIGHTS[None, :, None, None]
        * WEIGHTS[None, None, :, None]
        * WEIGHTS[None, None, None, :]
    )
    return ReaderGrid(
        length=length,
        shorter=numbers.shorter_mean + numbers.shorter_spread * SPREAD,
        sentence_rate=np.exp(numbers.sentence_rate + numbers.rate_spread * SPREAD),
        inner_rate=np.exp(numbers.inner_rate + numbers.rate_spread * SPREAD),
        prior=prior,
    )


_GRID = reader_grid()


@dataclass(slots=True, kw_only=True)
class ReaderMemory:
    """What is known of this reader: a likelihood for each cell."""

    numbers: ReaderNumbers = NUMBERS
    grid: ReaderGrid = _GRID
    cells: NDArray[np.float64] = field(default_factory=_GRID.prior.copy)


def likelihood_of(reader: ReaderMemory, pause_s: float, speech_s: float) -> float:
    """Say how likely a sentence begins after a pause, and learn from it.

    Parameters
    ----------
    pause_s, speech_s : float
        How long the pause was, and the speech from the pause before to it.

    Examples
    --------
    >>> reader = ReaderMemory()
    >>> pauses_s = [0.25, 0.7, 0.2, 0.3, 0.8, 0.25, 0.75, 0.3, 0.2, 0.7] * 3
    >>> found = [likelihood_of(reader, pause_s, 2.0) >= LIKELY for pause_s in pauses_s]
    >>> found[-10:] == [pause_s > 0.5 for pause_s in pauses_s[-10:]]
    True
    """
    grid = reader.grid
    cells = reader.cells if pause_s <= LEARNED_S_MAX else reader.cells.copy()
    return _learn(
        np.log(min(max(pause_s, PAUSE_S_MIN + 0.001), PAUSE_S_MAX)),
        min(max(speech_s, SPEECH_S_MIN), SPEECH_S_MAX),
        grid.length,
        grid.shorter,
        grid.sentence_rate,
        grid.inner_rate,
        grid.prior,
        reader.numbers.array(),
        cells,
    )


@kernel
def _learn(
    log_pause: float,
    speech_s: float,
    length: NDArray[np.float64],
    shorter: NDArray[np.float64],
    sentence_rate: NDArray[np.float64],
    inner_rate: NDArray[np.float64],
    prior: NDArray[np.float64],
    numbers: NDArray[np.float64],
    cells: NDArray[np.float64],
) -> float:
    between_spread, inner_spread, longer, stray = numbers[0], numbers[1], numbers[2], numbers[3]
    slope, middle, rates, offset, kept = numbers[4], numbers[5], numbers[6], numbers[7], numbers[8]
    total = 0.0
    likelihood = 0.0
    for i in range(length.size):
        u = (log_pause - length[i]) / between_spread
        if u > 0.0:
            u *= longer
        between = (np.exp(-0.5 * u * u) + stray) / between_spread
        for j in range(shorter.size):
            v = (log_pause - (length[i] - shorter[j])) / inner_spread
            inner = (np.exp(-0.5 * v * v) + 0.3 * stray) / inner_spread
            over = slope * (log_pause - (length[i] - middle * shorter[j]))
            over = min(max(over, -8.0), 8.0)
            for k in range(sentence_rate.size):
                for m in range(inner_rate.size):
                    cell = cells[i, j, k, m]
                    odds = over + rates * np.log(sentence_rate[k] / inner_rate[m]) + offset
                    likelihood += cell / (1.0 + np.exp(-odds))
                    cell *= np.exp(-(sentence_rate[k] + inner_rate[m]) * speech_s) * (
                        between * sentence_rate[k] + inner * inner_rate[m]
                    )
                    cells[i, j, k, m] = cell
                    total += cell
    for i in range(length.size):
        for j in range(shorter.size):
            for k in range(sentence_rate.size):
                for m in range(inner_rate.size):
                    cells[i, j, k, m] = (
                        kept * cells[i, j, k, m] / total + (1.0 - kept) * prior[i, j, k, m]
                    )
    return likelihood
