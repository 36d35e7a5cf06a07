"""Percentiles of a few numbers at a time, which the hearing asks for thousands of times an hour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray


def percentiles(values: NDArray[Any], percents: Sequence[float]) -> list[NDArray[Any]]:
    """Give percentiles along the last axis, between its values by proportion.

    Parameters
    ----------
    values : ndarray, shape (..., n), float
        ``n`` is at least 1.

    Returns
    -------
    percentiles : list of ndarray, shape (...)

    Notes
    -----
    What `numpy.percentile` gives by its own method, which takes three times as long over few.

    Examples
    --------
    >>> [float(one) for one in percentiles(np.array([4.0, 1.0, 2.0]), (50.0, 75.0))]
    [2.0, 3.0]
    """
    ordered = np.sort(values, axis=-1)
    found = []
    for percent in percents:
        below, share = divmod((ordered.shape[-1] - 1) * percent / 100.0, 1.0)
        low = ordered[..., int(below)]
        high = ordered[..., min(int(below) + 1, ordered.shape[-1] - 1)]
        found.append(low + (high - low) * ordered.dtype.type(share))
    return found
