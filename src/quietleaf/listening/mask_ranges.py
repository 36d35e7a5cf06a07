"""Ranges where a row of yes and no says yes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def ranges_of(mask: NDArray[np.bool_], closed: int = 0) -> NDArray[np.int64]:
    """Give the half-open ranges where a mask is true, shape (k, 2).

    Parameters
    ----------
    closed : int
        Gaps of up to so many belong to the range around them.

    Examples
    --------
    >>> ranges_of(np.array([True, True, False, True])).tolist()
    [[0, 2], [3, 4]]
    >>> ranges_of(np.array([True, True, False, True]), closed=1).tolist()
    [[0, 4]]
    """
    padded = np.concatenate([[False], mask, [False]])
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    ranges = edges.reshape(-1, 2).astype(np.int64)
    if closed == 0 or ranges.shape[0] == 0:
        return ranges
    apart = ranges[1:, 0] - ranges[:-1, 1] > closed
    starts = ranges[np.concatenate([[True], apart]), 0]
    stops = ranges[np.concatenate([apart, [True]]), 1]
    joined: NDArray[np.int64] = np.stack([starts, stops], axis=1)
    return joined
