"""Active speech level: how loud the speech is while somebody speaks."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import P56_THRESHOLDS

_MARGIN_DB = 15.9


def active_speech_level_dbov(
    sum_of_squares: float, active_samples: NDArray[np.int64]
) -> float | None:
    """Find the active speech level from what was counted while listening.

    Parameters
    ----------
    sum_of_squares : float
        Of all samples, full scale 1.0.
    active_samples : ndarray, shape (15,)
        Per threshold, the samples at which the envelope, with its hangover, was active.

    Returns
    -------
    level : float or None, dBov
        Relative to RMS 1.0. None for digital silence, and where the sound never stands the
        margin of 15.9 dB over the lowest threshold (-90 dBov).

    Notes
    -----
    The level is where the power over the active time stands 15.9 dB above the threshold that
    defines that time, on the straight line between the two thresholds around it.

    References
    ----------
    .. [1] ITU-T P.56, method B, with the constants of the ITU-T Software Tool Library (G.191).

    Examples
    --------
    A sound that is active all the time has its own power for a level:

    >>> samples = 48_000
    >>> round(active_speech_level_dbov(0.01 * samples, np.full(15, samples)), 2)
    -20.0
    """
    before: tuple[float, float] | None = None
    for threshold, samples in zip(P56_THRESHOLDS, active_samples, strict=True):
        if samples == 0 or sum_of_squares <= 0.0:
            return None
        level = 10.0 * math.log10(sum_of_squares / int(samples))
        over = level - 20.0 * math.log10(threshold) - _MARGIN_DB
        if over <= 0.0:
            if before is None:
                return None
            share = before[1] / (before[1] - over)
            return before[0] + share * (level - before[0])
        before = (level, over)
    return None


def counted_samples(
    level: int,
    active: NDArray[np.int64],
    entered: NDArray[np.int64],
    left: NDArray[np.int64],
    samples: int,
    hangover_samples: int,
) -> NDArray[np.int64]:
    """Close the counts at the end of the sound: what is still active, or still hangs over."""
    counts = active.copy()
    for threshold in range(counts.size):
        if threshold < level:
            counts[threshold] += samples - entered[threshold]
        elif left[threshold] >= 0:
            counts[threshold] += min(samples - left[threshold], hangover_samples)
    return counts
