"""Samples that are missing, or were cut off, told from what is around them by least squares.

Sound is taken to go on as it does around the gap: an autoregressive model is fitted there, and the
missing samples are those that leave the least of its error.

References
----------
Janssen, Veldhuis and Vries 1986, Adaptive interpolation of discrete-time signals that can be
modeled as autoregressive processes (IEEE Trans. ASSP 34, from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.linalg import cho_factor, cho_solve, solve_toeplitz

GAP_ORDER = 480
"""10 ms at 48 kHz: a model that reaches back over a period of the voice goes on with its pitch."""
GAP_AROUND = 2_880
CLIP_ORDER = 48
CLIP_AROUND = 1_440
"""So many samples on each side tell the model."""
_LOADING = 1e-9
_FLOOR = 1e-14
_GAP_ROUNDS = 2
_CLIP_ROUNDS = 3
_BEYOND_MOST = 2.0
_FREE_SHARE = 1.6


def filled(samples: NDArray[np.float64], missing: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Fill gaps of some milliseconds.

    Parameters
    ----------
    samples : ndarray, shape (n,), 48 kHz
        With `GAP_AROUND` samples on each side of what is missing, as far as there are any.
    missing : ndarray, shape (n,)

    Returns
    -------
    whole : ndarray, shape (n,)
        The same, with other samples where they were missing.

    Notes
    -----
    Two rounds: the first model is told from what is there, the second from what was filled in too.
    """
    whole = np.where(missing, 0.0, samples)
    for number in range(_GAP_ROUNDS):
        unknown = missing if number == 0 else np.zeros_like(missing)
        whole[missing] = _solved(whole, missing, _model(whole, unknown, GAP_ORDER))
    return whole


def unclipped(samples: NDArray[np.float64], clipped: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Give back what was cut off; the new samples lie beyond the old ones, by 6 dB at most.

    Parameters
    ----------
    samples : ndarray, shape (n,), 48 kHz
        With `CLIP_AROUND` samples on each side of what was cut off, as far as there are any.
    clipped : ndarray, shape (n,)

    Notes
    -----
    The first model is told from the sound as it was cut off, which is nearer to what it was than a
    gap; two more from what was found.
    """
    whole = samples.copy()
    nothing = np.zeros_like(clipped)
    signs, least = np.sign(samples[clipped]), np.abs(samples[clipped])
    for _ in range(_CLIP_ROUNDS):
        found = signs * _solved(whole, clipped, _model(whole, nothing, CLIP_ORDER))
        whole[clipped] = signs * least * _beyond(found / least)
    return whole


def _beyond(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Keep shares of a level over 1 and under 2, with no new corner and no new flat top."""
    over = np.maximum(share - _FREE_SHARE, 0.0)
    bent: NDArray[np.float64] = np.clip(share, 1.0, _FREE_SHARE)
    return bent + (_BEYOND_MOST - _FREE_SHARE) * np.tanh(over / (_BEYOND_MOST - _FREE_SHARE))


def _model(
    samples: NDArray[np.float64], missing: NDArray[np.bool_], order: int
) -> NDArray[np.float64]:
    """Fit a model, shape (order + 1,) with 1 first, to what is known.

    From autocorrelations under a window; each lag is made up for what is missing of it.
    """
    window = np.hanning(samples.size + 2)[1:-1]
    alike = _autocorrelation(np.where(missing, 0.0, window * samples), order)
    if missing.any():
        known = _autocorrelation(np.where(missing, 0.0, window), order)
        alike *= _autocorrelation(window, order) / np.maximum(known, _FLOOR)
    alike[0] = alike[0] * (1.0 + _LOADING) + _FLOOR
    told = solve_toeplitz(alike[:-1], alike[1:])
    weights: NDArray[np.float64] = np.concatenate([[1.0], -told])
    return weights


def _autocorrelation(samples: NDArray[np.float64], lags: int) -> NDArray[np.float64]:
    size = next_fast_len(samples.size + lags, real=True)
    products: NDArray[np.float64] = irfft(np.abs(rfft(samples, size)) ** 2, size)[: lags + 1]
    return products


def _solved(
    samples: NDArray[np.float64], missing: NDArray[np.bool_], weights: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give the missing samples that leave the least squared error."""
    order = weights.size - 1
    products = np.correlate(weights, weights, mode="full")
    places = np.flatnonzero(missing)
    first, last = max(0, int(places[0]) - order), min(samples.size, int(places[-1]) + order + 1)
    known = np.where(missing, 0.0, samples)[first:last]
    around = np.convolve(known, products, mode="full")[order : order + known.size]
    apart = np.abs(places[:, np.newaxis] - places)
    matrix = np.where(apart <= order, products[order + np.minimum(apart, order)], 0.0)
    matrix[np.diag_indices_from(matrix)] += _LOADING * products[order]
    found: NDArray[np.float64] = cho_solve(cho_factor(matrix), -around[places - first])
    return found
