"""How alike two renditions are in loudness and pitch, and whether the first came to an end.

A sentence that is over falls; one that was broken off does not, and is said again in the same tone.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.restart_rows import SpeechRows

_END_ROWS = 20
_ROWS_MIN = 3
_APART_ST_MOST = 12.0


def said_alike(
    rows: SpeechRows,
    first: int,
    stop: int,
    columns: NDArray[np.int64],
    there: int,
    matched: int,
    length: int,
) -> tuple[float, ...]:
    """Compare loudness and pitch along a path.

    Parameters
    ----------
    first, stop : int
        Rows where the attempt and what was read again begin.
    columns : ndarray, shape (k,)
        Where each row of the attempt lies in what was read again; negative before the path.
    there : int
        The column of the last row that matched.
    matched, length : int
        Rows of the attempt that matched, and all of them.

    Returns
    -------
    numbers : tuple of six floats
        Correlation of the levels over what matched; median of the differences in pitch, and their
        spread; how far the end of the attempt lies from its own pitch, and how far it falls; the
        pitch of the end against that of the same words read again. 0 where too little is voiced.
    """
    on = np.flatnonzero(columns[:matched] >= 0)
    ours, theirs = first + on, stop + columns[on]
    apart = rows.pitch_st[theirs] - rows.pitch_st[ours]
    # Octaves are often mistaken.
    apart = apart[np.isfinite(apart) & (np.abs(apart) < _APART_ST_MOST)]
    tried = rows.pitch_st[first : first + length]
    end = tried[-_END_ROWS:]
    own, last = _median(tried), _median(end)
    half = end.size // 2
    fall = _median(end[half:]) - _median(end[:half])
    again = _median(rows.pitch_st[max(stop, stop + there - _END_ROWS) : stop + there + 1])
    return (
        _correlation(rows.level_db[ours], rows.level_db[theirs]),
        _known(_median(apart)),
        middle(np.abs(apart - middle(apart))) if apart.size >= _ROWS_MIN else 0.0,
        _known(last - own),
        _known(fall),
        _known(again - last),
    )


def middle(values: NDArray[Any]) -> float:
    """Give the median of at least one value; numpy's own takes several times as long over few."""
    ordered = np.sort(values)
    return float(ordered[(ordered.size - 1) // 2] + ordered[ordered.size // 2]) / 2.0


def _median(values: NDArray[np.float32]) -> float:
    voiced = values[np.isfinite(values)]
    return middle(voiced) if voiced.size >= _ROWS_MIN else float("nan")


def _known(value: float) -> float:
    return float(np.clip(value, -_APART_ST_MOST, _APART_ST_MOST)) if np.isfinite(value) else 0.0


def _correlation(some: NDArray[np.float32], others: NDArray[np.float32]) -> float:
    if some.size < _ROWS_MIN:
        return 0.0
    some, others = some - some.mean(), others - others.mean()
    return float(some @ others / np.sqrt(float(some @ some) * float(others @ others) + 1.0))
