"""How likely a pair of phrase starts is a restart: trees and a line, half and half."""

from __future__ import annotations

import base64

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.restart_numbers import LINE, OFFSET, SLOPE, TREES
from quietleaf.listening.restart_pairs import PAIR_NUMBERS
from quietleaf.listening.trees import Trees, tree_scores, unpacked

AWAY_MOST = 4.0
"""Deviations from the mean beyond which the line does not look."""
_TREES = unpacked(TREES)
_LINE = np.frombuffer(base64.b85decode("".join(LINE.split())), dtype="<f4").reshape(3, -1)


def restart_likelihoods(numbers: NDArray[np.float32]) -> NDArray[np.float64]:
    """Say how likely pairs are restarts, 0 to 1.

    Parameters
    ----------
    numbers : ndarray, shape (n, 62)
        As `pair_numbers` gives them.
    """
    return likelihoods_of(model_odds(numbers, _TREES, _LINE), SLOPE, OFFSET)


def model_odds(
    numbers: NDArray[np.float32], trees: Trees, line: NDArray[np.float32]
) -> NDArray[np.float64]:
    """Give logarithms of odds before `likelihoods_of` sets them right.

    Parameters
    ----------
    line : ndarray, shape (3, 63)
        Means, spreads and weights of the numbers; of the last column the weight alone counts: it
        is added.
    """
    count = len(PAIR_NUMBERS)
    away = np.clip((numbers - line[0, :count]) / line[1, :count], -AWAY_MOST, AWAY_MOST)
    straight = away.astype(np.float64) @ line[2, :count] + line[2, count]
    odds: NDArray[np.float64] = (tree_scores(numbers, trees)[:, 0] + straight) / 2.0
    return odds


def likelihoods_of(odds: NDArray[np.float64], slope: float, offset: float) -> NDArray[np.float64]:
    """Set logarithms of odds right, and give the likelihoods that they mean."""
    likelihoods: NDArray[np.float64] = 1.0 / (1.0 + np.exp(-(slope * odds + offset)))
    return likelihoods
