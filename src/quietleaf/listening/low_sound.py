"""The lowest of a sound at a low rate: what hum and popped consonants are looked for in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.listening.sound_frames import CHUNK_FRAMES

_RATE_HZ_MIN = 2_000


def low_step(sample_rate_hz: int) -> int:
    """Give how many samples make one of the low sound: a chunk holds a whole number of them.

    Examples
    --------
    >>> [low_step(rate) for rate in (8_000, 11_025, 44_100, 48_000)]
    [4, 5, 21, 24]
    """
    of_chunk = CHUNK_FRAMES * sample_rate_hz // FRAMES_PER_S
    return max(
        step for step in range(1, sample_rate_hz // _RATE_HZ_MIN + 1) if of_chunk % step == 0
    )


def low_sound(samples: NDArray[np.float32], step: int) -> NDArray[np.float64]:
    """Give means of successive samples, as many as are whole.

    Parameters
    ----------
    samples : ndarray, shape (c, n), full scale 1.0
    step : int
        Samples of one mean: `low_step`.

    Returns
    -------
    low : ndarray, shape (c, n // step), float64

    Notes
    -----
    A mean is a poor low-pass, but its zeros lie where it matters: what folds down to under 80 Hz
    from around the new rate of 2 kHz is 28 dB down.
    """
    channels, count = samples.shape[0], samples.shape[1] // step
    whole = samples[:, : count * step].reshape(channels, count, step)
    # A product with a vector: numpy's own mean takes ten times as long over so few.
    means = whole @ np.full(step, 1.0 / step, dtype=np.float32)
    return means.astype(np.float64)
