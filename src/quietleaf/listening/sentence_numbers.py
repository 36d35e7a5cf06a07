"""The numbers of the sentence model, as `bench.sentence_maker` found them.

The browser has the same in `scripts/core`; a test holds the two against each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderNumbers:
    """What readers have in common; pauses and their spreads as natural logarithms of seconds.

    Attributes
    ----------
    length_mean, length_spread : float
        Of the usual pause between sentences, among readers.
    shorter_mean, shorter_spread : float
        By how much the usual pause inside a sentence is less: mean, step of the grid.
    sentence_rate, inner_rate, rate_spread : float
        Logarithms of pauses of either kind in a second of speech; step of the grid.
    between_spread, inner_spread : float
        Of the pauses of either kind about a reader's usual one.
    longer : float
        Pauses longer than usual count with this share of their distance.
    stray : float
        Density far away from all that is usual.
    slope, middle, rates, offset : float
        The logarithm of the odds is ``slope`` for each unit over the usual pause less ``middle``
        of what those inside are shorter; plus ``rates`` times the logarithm of the rates' ratio;
        plus ``offset``.
    kept : float
        What is kept of what is known at each pause; the rest returns to the prior.
    """

    length_mean: float
    length_spread: float
    shorter_mean: float
    shorter_spread: float
    sentence_rate: float
    inner_rate: float
    rate_spread: float
    between_spread: float
    inner_spread: float
    longer: float
    stray: float
    slope: float
    middle: float
    rates: float
    offset: float
    kept: float

    def array(self) -> NDArray[np.float64]:
        """Give those that the loop takes, in its order."""
        return np.array(
            [
                self.between_spread,
                self.inner_spread,
                self.longer,
                self.stray,
                self.slope,
                self.middle,
                self.rates,
                self.offset,
                self.kept,
            ]
        )


NUMBERS = ReaderNumbers(
    length_mean=-0.4848,
    length_spread=0.5354,
    shorter_mean=0.914,
    shorter_spread=0.3349,
    sentence_rate=-2.1162,
    inner_rate=-1.1213,
    rate_spread=0.5,
    between_spread=0.1897,
    inner_spread=0.6085,
    longer=0.7,
    stray=0.01,
    slope=6.466,
    middle=0.4125,
    rates=1.0084,
    offset=0.2636,
    kept=0.985,
)
