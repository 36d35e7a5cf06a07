"""A pitch tracker for tests, written line by line from its paper: nothing of it is ours.

A. de Cheveigne, H. Kawahara, "YIN, a fundamental frequency estimator for speech and music", JASA
111 (2002): the difference function (equation 6), its cumulative mean (8), the threshold (step 4),
and the parabola (step 5).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_THRESHOLD = 0.1
_WINDOW_S = 0.025


def yin_hz(
    samples: NDArray[np.float64],
    rate_hz: int,
    hop_s: float = 0.01,
    low_hz: float = 70.0,
    high_hz: float = 400.0,
) -> NDArray[np.float64]:
    """Give the pitch every ``hop_s``, shape (k,); 0 where nothing repeats itself."""
    window = round(_WINDOW_S * rate_hz)
    shortest, longest = round(rate_hz / high_hz), round(rate_hz / low_hz)
    found = []
    for start in range(0, samples.size - window - longest - 1, round(hop_s * rate_hz)):
        part = samples[start : start + window + longest + 1]
        early = part[:window]
        products = np.correlate(part, early, mode="valid")
        squares = np.concatenate([[0.0], np.cumsum(part * part)])
        energies = squares[window:] - squares[: squares.size - window]
        difference = energies[0] + energies - 2.0 * products
        lags = np.arange(difference.size)
        means = np.cumsum(difference[1:]) / lags[1:]
        normal = np.concatenate([[1.0], difference[1:] / np.maximum(means, 1e-20)])
        under = np.flatnonzero(normal[shortest:longest] < _THRESHOLD)
        if under.size == 0:
            found.append(0.0)
            continue
        lag = shortest + int(under[0])
        while lag + 1 < longest and normal[lag + 1] < normal[lag]:
            lag += 1
        left, middle, right = normal[lag - 1 : lag + 2]
        bend = left - 2.0 * middle + right
        found.append(rate_hz / (lag + (0.5 * (left - right) / bend if bend > 0.0 else 0.0)))
    return np.array(found)
