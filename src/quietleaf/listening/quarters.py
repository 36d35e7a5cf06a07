"""Quarters of frames: what moves within 10 ms, for clicks and the crackle of paper."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.frames import FRAMES_PER_S
from quietleaf.sound.compiled import kernel

QUARTERS = 4


def quarter_powers(
    samples: NDArray[np.float32], position: int, first: int, count: int, sample_rate_hz: int
) -> NDArray[np.float32]:
    """Measure the highs of each 2.5 ms of frames ``first`` to ``first + count``.

    Parameters
    ----------
    samples : ndarray, shape (c, n), float32
        From sample ``position`` on: at least one sample more than the frames have at either end.

    Returns
    -------
    powers : ndarray, shape (count, 4)
        Mean squares of the differences of successive samples, summed over channels; the difference
        lifts by 6 dB an octave, so that a low voice does not hide a click.

    Examples
    --------
    One step, in the second quarter of the second frame:

    >>> samples = np.zeros((1, 321), dtype=np.float32)
    >>> samples[0, 220:] = 0.5
    >>> np.argwhere(quarter_powers(samples, -1, 0, 2, 16_000)).tolist()
    [[1, 1]]
    """
    index = np.arange(QUARTERS * first, QUARTERS * (first + count) + 1, dtype=np.int64)
    a_second = QUARTERS * FRAMES_PER_S
    edges = (2 * index * sample_rate_hz + a_second) // (2 * a_second) - position
    powers = np.zeros(index.size - 1, dtype=np.float32)
    for channel in samples:
        _add_powers(channel, edges, powers)
    return powers.reshape(count, QUARTERS)


@kernel
def _add_powers(
    samples: NDArray[np.float32], edges: NDArray[np.int64], powers: NDArray[np.float32]
) -> None:
    for quarter in range(powers.size):
        start, stop = edges[quarter], edges[quarter + 1]
        total = np.float32(0.0)
        for i in range(start, stop):
            step = samples[i] - samples[i - 1]
            total += step * step
        powers[quarter] += total / np.float32(stop - start)
