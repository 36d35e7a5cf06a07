"""Loudness from the powers of successive 100 ms: gated, and as a range."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.hearing import LOUDNESS_OFFSET_DB, MOMENTARY_HOPS, SHORT_TERM_HOPS

_ABSOLUTE_GATE_LUFS = -70.0
_RELATIVE_GATE_LU = -10.0
_RANGE_GATE_LU = -20.0
_RANGE_PERCENTILES = (10.0, 95.0)
_SILENCE_AFTER_HOPS = 15
_SURROUND_WEIGHT = 1.41
_WEIGHTS = {
    4: (1.0, 1.0, _SURROUND_WEIGHT, _SURROUND_WEIGHT),
    5: (1.0, 1.0, 1.0, _SURROUND_WEIGHT, _SURROUND_WEIGHT),
    6: (1.0, 1.0, 1.0, 0.0, _SURROUND_WEIGHT, _SURROUND_WEIGHT),
}


def channel_weights(channels: int) -> NDArray[np.float64]:
    """Give each channel's weight in the sum of powers, by how many channels there are.

    Parameters
    ----------
    channels : int
        4 are taken as left, right and two surrounds, 5 as left, right, centre and two
        surrounds, 6 as the same with the low-frequency channel fourth, all others as equals.

    Returns
    -------
    weights : ndarray, shape (channels,)

    References
    ----------
    .. [1] ITU-R BS.1770-5 (11/2023), Annex 1, Table 3.

    Examples
    --------
    >>> channel_weights(5)
    array([1.  , 1.  , 1.  , 1.41, 1.41])
    """
    return np.array(_WEIGHTS.get(channels, (1.0,) * channels))


def lufs_of_power(power: float) -> float:
    """Turn a weighted K-power into loudness; 0 gives -inf (BS.1770-5, equation 2)."""
    return LOUDNESS_OFFSET_DB + 10.0 * math.log10(power) if power > 0.0 else -math.inf


def power_of_lufs(loudness_lufs: float) -> float:
    """Turn loudness into a weighted K-power."""
    return float(10.0 ** ((loudness_lufs - LOUDNESS_OFFSET_DB) / 10.0))


def integrated_loudness_lufs(power: NDArray[np.float64]) -> float | None:
    """Measure the loudness of the whole, gated twice.

    Parameters
    ----------
    power : ndarray, shape (k,)
        Weighted K-power of successive 100 ms.

    Returns
    -------
    loudness : float or None, LUFS
        None where no block of 400 ms is louder than -70 LUFS: silence, or under 0.4 s of sound.

    Notes
    -----
    Blocks of 400 ms every 100 ms; those strictly louder than -70 LUFS and strictly louder than
    10 LU under the mean of these count. An incomplete last block is left out.

    References
    ----------
    .. [1] ITU-R BS.1770-5 (11/2023), Annex 1.

    Examples
    --------
    >>> round(integrated_loudness_lufs(np.full(50, power_of_lufs(-23.0))), 2)
    -23.0
    >>> integrated_loudness_lufs(np.zeros(50)) is None
    True
    """
    blocks = _windows(power, MOMENTARY_HOPS)
    blocks.sort()
    kept = blocks[np.searchsorted(blocks, power_of_lufs(_ABSOLUTE_GATE_LUFS), side="right") :]
    if kept.size == 0:
        return None
    gate = float(kept.mean()) * 10.0 ** (_RELATIVE_GATE_LU / 10.0)
    return lufs_of_power(float(kept[np.searchsorted(kept, gate, side="right") :].mean()))


def loudness_range_lu(power: NDArray[np.float64]) -> float | None:
    """Measure how far loudness ranges: 95th less 10th percentile of gated short-term loudness.

    Parameters
    ----------
    power : ndarray, shape (k,)
        Weighted K-power of successive 100 ms.

    Returns
    -------
    range : float or None, LU
        None for under 3 s of sound and for silence. Not to be relied on under 60 s.

    Notes
    -----
    1.5 s of silence are added at the end, as asked for files. Gates keep values at or above
    -70 LUFS and at or above 20 LU under the mean power of these.

    References
    ----------
    .. [1] EBU Tech 3342 v4 (2023).

    Examples
    --------
    >>> halves = np.repeat([power_of_lufs(-20.0), power_of_lufs(-30.0)], 200)
    >>> round(loudness_range_lu(halves), 1)
    10.0
    """
    if power.size < SHORT_TERM_HOPS:
        return None
    values = _windows(power, SHORT_TERM_HOPS, _SILENCE_AFTER_HOPS)
    values.sort()
    kept = values[np.searchsorted(values, power_of_lufs(_ABSOLUTE_GATE_LUFS)) :]
    if kept.size == 0:
        return None
    kept = kept[np.searchsorted(kept, kept.mean() * 10.0 ** (_RANGE_GATE_LU / 10.0)) :]
    low, high = (kept[int((kept.size - 1) * p / 100.0 + 0.5)] for p in _RANGE_PERCENTILES)
    return lufs_of_power(float(high)) - lufs_of_power(float(low))


def _windows(power: NDArray[np.float64], hops: int, silent_hops: int = 0) -> NDArray[np.float64]:
    """Give the mean of each ``hops`` successive powers, the last of them reaching into silence."""
    if power.size < hops:
        return np.empty(0)
    total = np.zeros(power.size - hops + 1 + silent_hops)
    # One shifted slice at a time: the same sum of the same numbers wherever a window lies.
    for shift in range(hops):
        part = power[shift : shift + total.size]
        total[: part.size] += part
    total /= hops
    return total
