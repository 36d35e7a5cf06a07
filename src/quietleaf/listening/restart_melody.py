"""How alike two renditions are in loudness and pitch, and whether the first came to an end.

A sentence that is over falls; one that was broken off does not, and is said again in the same tone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.sound.compiled import kernel

MELODY_NUMBERS = (
    "levels_alike",
    "pitch_apart_st",
    "pitch_spread_st",
    "end_pitch_st",
    "end_fall_st",
    "there_pitch_st",
)
_END_ROWS = 20
_ROWS_MIN = 3
_APART_ST_MOST = 12.0


@kernel
def said_alike(
    level_db: NDArray[np.float32],
    pitch_st: NDArray[np.float32],
    first: int,
    stop: int,
    columns: NDArray[np.int64],
    there: int,
    numbers: NDArray[np.float64],
) -> None:
    """Compare loudness and pitch along a path.

    Parameters
    ----------
    level_db, pitch_st : ndarray, shape (n,)
        Of all rows; pitch in semitones, nan where nothing is voiced.
    first, stop : int
        Rows where the attempt begins, and where it ends and what was read again begins.
    columns : ndarray, shape (k,)
        Where each row of the attempt that matched lies in what was read again; negative before the
        path.
    there : int
        The column of the last of them.
    numbers : ndarray, shape (6,), written
        Correlation of the levels over what matched; median of the differences in pitch, and their
        spread; how far the end of the attempt lies from its own pitch, and how far it falls; the
        pitch of the end against that of the same words read again. 0 where too little is voiced.
    """
    begun = 0
    while begun < columns.size and columns[begun] < 0:
        begun += 1
    count = columns.size - begun
    ours = np.empty(count, dtype=np.float64)
    theirs = np.empty(count, dtype=np.float64)
    apart = np.empty(count, dtype=np.float32)
    voiced = 0
    for row in range(count):
        mine, other = first + begun + row, stop + columns[begun + row]
        ours[row], theirs[row] = level_db[mine], level_db[other]
        step = pitch_st[other] - pitch_st[mine]
        # Octaves are often mistaken.
        if np.isfinite(step) and abs(step) < _APART_ST_MOST:
            apart[voiced] = step
            voiced += 1
    apart = apart[:voiced]
    tried = pitch_st[first:stop]
    end = tried[-_END_ROWS:]
    half = end.size // 2
    last = _middle_voiced(end)
    again = _middle_voiced(pitch_st[max(stop, stop + there - _END_ROWS) : stop + there + 1])
    numbers[0] = _correlation(ours, theirs)
    numbers[1], numbers[2] = 0.0, 0.0
    if voiced >= _ROWS_MIN:
        middle = middle_of(apart)
        numbers[1] = middle
        numbers[2] = middle_of(np.abs(apart - np.float32(middle)))
    numbers[3] = _known(last - _middle_voiced(tried))
    numbers[4] = _known(_middle_voiced(end[half:]) - _middle_voiced(end[:half]))
    numbers[5] = _known(again - last)


@kernel
def middle_of(values: NDArray[np.float32]) -> float:
    """Give the median of at least one value."""
    ordered = np.sort(values)
    return float(ordered[(ordered.size - 1) // 2] + ordered[ordered.size // 2]) / 2.0


@kernel
def _middle_voiced(values: NDArray[np.float32]) -> float:
    voiced = values[np.isfinite(values)]
    return middle_of(voiced) if voiced.size >= _ROWS_MIN else np.nan


@kernel
def _known(value: float) -> float:
    return min(max(value, -_APART_ST_MOST), _APART_ST_MOST) if np.isfinite(value) else 0.0


@kernel
def _correlation(some: NDArray[np.float64], others: NDArray[np.float64]) -> float:
    if some.size < _ROWS_MIN:
        return 0.0
    some_mean, others_mean = some.mean(), others.mean()
    both, mine, theirs = 0.0, 0.0, 0.0
    for row in range(some.size):
        one, other = some[row] - some_mean, others[row] - others_mean
        both += one * other
        mine += one * one
        theirs += other * other
    return float(both / np.sqrt(mine * theirs + 1.0))
