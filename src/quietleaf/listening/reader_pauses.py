"""How long a reader pauses between sentences: what is usual, and what listeners would notice."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

COUNTED_S = 0.25
"""Shorter ones lie inside sentences; ITU-T P.56 by the STL manual: grammatical from 0.3 s on."""
LONGEST_COUNTED_S = 3.0
"""Longer ones are no measure of how a reader pauses."""
KNOWN_FROM = 12
UNKNOWN_MEDIAN_S = 0.5
UNKNOWN_SIGMA = 0.45
"""Of the logarithm. Between readers 0.18 to 0.55 was measured; listeners judged 0.6 s most natural
(Frontiers 2022, Japanese). What is taken for a reader who is not known yet is ours."""
SIGMA_LEAST = 0.18
"""No reader is known to be more even than this."""
_SIGMA_MIN = 0.3
_SHORTEST_S = 0.12
_LONGEST_S = (1.2, 2.2)
_SIGMAS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderPauses:
    """A reader's sentence pauses: log-normal, as pauses of reading are [1]_.

    Attributes
    ----------
    count : int
        How many were heard.
    median_s : float
    sigma : float
        Deviation of the logarithm.

    References
    ----------
    .. [1] Campione and Véronis 2002, A large-scale multilingual study of silent pause duration.
    """

    count: int
    median_s: float
    sigma: float

    @property
    def shortest_s(self) -> float:
        """What is shorter between sentences is noticed."""
        return max(_SHORTEST_S, self.median_s * math.exp(-_SIGMAS * self._at_least))

    @property
    def longest_s(self) -> float:
        """What is longer between sentences is noticed."""
        natural = self.median_s * math.exp(_SIGMAS * self._at_least)
        return min(_LONGEST_S[1], max(_LONGEST_S[0], natural))

    def usual_s(self, share: float = 0.8) -> tuple[float, float]:
        """Give the range that holds so much of this reader's pauses, evenly on both sides.

        Examples
        --------
        >>> low, high = UNKNOWN.usual_s()
        >>> round(low, 2), round(high, 2)
        (0.28, 0.89)
        """
        away = NormalDist().inv_cdf(0.5 + share / 2.0) * self.sigma
        return self.median_s * math.exp(-away), self.median_s * math.exp(away)

    @property
    def _at_least(self) -> float:
        return max(self.sigma, _SIGMA_MIN)


UNKNOWN = ReaderPauses(count=0, median_s=UNKNOWN_MEDIAN_S, sigma=UNKNOWN_SIGMA)


def reader_pauses(pauses_s: Iterable[float]) -> ReaderPauses:
    """Learn a reader's pauses from those that were heard between sentences, in seconds.

    Those under 0.25 s and over 3 s do not count; under twelve say nothing yet.

    Examples
    --------
    >>> reader_pauses([0.6] * 11) == UNKNOWN
    True
    >>> known = reader_pauses([0.4, 0.5, 0.6, 0.7] * 4)
    >>> known.count, round(known.median_s, 2), round(known.sigma, 2)
    (16, 0.55, 0.21)
    """
    lengths = np.array([one for one in pauses_s if COUNTED_S <= one <= LONGEST_COUNTED_S])
    if lengths.size < KNOWN_FROM:
        return UNKNOWN
    logs = np.log(lengths)
    return ReaderPauses(
        count=int(lengths.size),
        median_s=float(np.exp(np.median(logs))),
        sigma=max(float(logs.std()), SIGMA_LEAST),
    )
