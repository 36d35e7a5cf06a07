"""How likely a pair is a restart once a recogniser has listened: a line through what is known."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.restart_pairs import PAIR_NUMBERS
from quietleaf.listening.restart_words import WORD_NUMBERS
from quietleaf.listening.restart_words_numbers import MEANS, OFFSET, SLOPE, SPREADS, WEIGHTS

OF_PAIR = (
    "again_pause_log",
    "before_pause_log",
    "apart_s",
    "phrases",
    "length_s",
    "before_likelihood",
    "again_likelihood",
    "next_phrase_s",
    "last_phrase_s",
    "whole_mean",
    "shape_whole",
)
"""What else of a pair counts: how it lies, and how alike the whole sounds."""
FACTS = ("sound_odds", *WORD_NUMBERS, *OF_PAIR)
AWAY_MOST = 4.0
"""Deviations from the mean beyond which the line does not look."""
_LEAST = 1e-4
_WITHIN = (-10.0, 40.0)
"""What could not be laid along at all has a mean of minus a million."""
_PLACES = [PAIR_NUMBERS.index(name) for name in OF_PAIR]
_LINE = np.array([MEANS, SPREADS, WEIGHTS[:-1]])


def facts_of(
    likelihood: float, pair: NDArray[np.float32], words: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Put together what is known of a pair, shape (30,), in the order of `FACTS`.

    Parameters
    ----------
    likelihood : float
        By the sound alone.
    pair, words : ndarray, shape (62,), (18,)
        As `pair_numbers` and `word_numbers` give them.
    """
    likely = min(max(likelihood, _LEAST), 1.0 - _LEAST)
    of_pair = np.clip(pair[_PLACES], *_WITHIN)
    return np.array([math.log(likely / (1.0 - likely)), *words, *of_pair])


def likelihood_by_words(
    likelihood: float, pair: NDArray[np.float32], words: NDArray[np.float64]
) -> float:
    """Say how likely a pair is a restart, 0 to 1; see `facts_of`."""
    means, spreads, weights = _LINE
    away = np.clip((facts_of(likelihood, pair, words) - means) / spreads, -AWAY_MOST, AWAY_MOST)
    odds = SLOPE * (float(away @ weights) + WEIGHTS[-1]) + OFFSET
    return 1.0 / (1.0 + math.exp(-odds))
