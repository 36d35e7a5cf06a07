"""Lays one stretch of speech along another that may say the same, from their beginnings on.

Rows are 20 ms of speech with the pauses left out; a gain is how much more alike two rows are than
two at random, in standard deviations.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.sound.compiled import kernel

SLOPE = 0.3
"""The second may be so much faster or slower."""
SHIFT_ROWS = 4
"""One of the two may begin so much later."""
_SHIFT_COST = np.float32(0.6)
_BEND_COST = np.float32(0.5)
_NEVER = np.float32(-1e9)
_STRAIGHT, _STAYED, _SKIPPED, _BEGUN = 0, 1, 2, 3


def columns_for(rows: int) -> int:
    """Say how many rows of the second the first may lie along."""
    return int(rows * (1.0 + SLOPE)) + 2 * SHIFT_ROWS


@kernel
def first_look(gains: NDArray[np.float32], curve: NDArray[np.float32]) -> None:
    """Lay the beginning of one stretch along that of another.

    Parameters
    ----------
    gains : ndarray, shape (r, c)
    curve : ndarray, shape (k,), written
        The best sum of gains up to each row; goes on level where rows are missing.
    """
    before = np.empty(gains.shape[1], dtype=np.float32)
    now = np.empty(gains.shape[1], dtype=np.float32)
    most = np.float32(0.0)
    for row in range(curve.size):
        if row < gains.shape[0]:
            most = _NEVER
            first = max(0, int(row * (1.0 - SLOPE)) - SHIFT_ROWS)
            stop = min(gains.shape[1], int(row * (1.0 + SLOPE)) + SHIFT_ROWS + 1)
            now[:] = _NEVER
            for column in range(first, stop):
                came = _begun(row, column)
                if row > 0:
                    came = max(came, before[column] - _BEND_COST)
                    if column > 0:
                        came = max(came, before[column - 1])
                    if column > 1:
                        came = max(came, before[column - 2] - _BEND_COST)
                now[column] = came + gains[row, column]
                most = max(most, now[column])
            before, now = now, before
        curve[row] = most


@kernel
def looks_both_ways(
    gains: NDArray[np.float32],
    places: NDArray[np.int64],
    columns: int,
    curves: NDArray[np.float32],
) -> None:
    """Lay the beginnings of several stretches along that of a later one, and it along theirs.

    Parameters
    ----------
    gains : ndarray, shape (n, c)
        Of all rows that are there from the first place on, with those of the later one.
    places : ndarray, shape (p,)
        The rows where the stretches begin.
    columns : int
        So many rows a stretch may lie along: `columns_for` of ``k``.
    curves : ndarray, shape (p, 2, k), written
        As `first_look` gives them: of each along the later one, of that along each.
    """
    for index in range(places.size):
        at = places[index]
        stop = min(gains.shape[0], at + curves.shape[2])
        first_look(gains[at:stop], curves[index, 0])
        stop = min(gains.shape[0], at + columns)
        theirs = np.empty((min(gains.shape[1], curves.shape[2]), stop - at), dtype=np.float32)
        for row in range(theirs.shape[0]):
            for column in range(theirs.shape[1]):
                theirs[row, column] = gains[at + column, row]
        first_look(theirs, curves[index, 1])


@kernel
def laid_along(
    gains: NDArray[np.float32],
    curve: NDArray[np.float32],
    ends: NDArray[np.int64],
    steps: NDArray[np.int8],
) -> None:
    """Lay a whole stretch along another.

    Parameters
    ----------
    gains : ndarray, shape (r, c)
    curve : ndarray, shape (r,), written
        The best sum of gains up to each row.
    ends : ndarray, shape (r,), written
        The column where it is reached.
    steps : ndarray, shape (r, c), written
        How each place was reached, for `path_back`.
    """
    count = gains.shape[1]
    before = np.full(count, _NEVER, dtype=np.float32)
    now = np.empty(count, dtype=np.float32)
    for row in range(gains.shape[0]):
        best = _NEVER
        # Where so few columns are there that none can be reached, no way leads on.
        ends[row], steps[row, 0] = 0, _BEGUN
        now[:] = _NEVER
        first = max(0, int(row * (1.0 - SLOPE)) - SHIFT_ROWS)
        stop = min(count, int(row * (1.0 + SLOPE)) + SHIFT_ROWS + 1)
        for column in range(first, stop):
            came, step = _begun(row, column), _BEGUN
            if row > 0:
                if before[column] - _BEND_COST > came:
                    came, step = before[column] - _BEND_COST, _STAYED
                if column > 0 and before[column - 1] > came:
                    came, step = before[column - 1], _STRAIGHT
                if column > 1 and before[column - 2] - _BEND_COST > came:
                    came, step = before[column - 2] - _BEND_COST, _SKIPPED
            now[column] = came + gains[row, column]
            steps[row, column] = step
            if now[column] > best:
                best = now[column]
                ends[row] = column
        curve[row] = best
        before, now = now, before


@kernel
def path_back(
    gains: NDArray[np.float32],
    steps: NDArray[np.int8],
    row: int,
    column: int,
    path: NDArray[np.float32],
    columns: NDArray[np.int64],
) -> int:
    """Go back from a place; write gains and columns on the way, 0 and -1 before; give the bends."""
    bends = 0
    path[:] = 0.0
    columns[:] = -1
    while row >= 0 and column >= 0:
        path[row] = gains[row, column]
        columns[row] = column
        step = steps[row, column]
        if step == _BEGUN:
            break
        if step == _STAYED:
            bends += 1
        elif step == _SKIPPED:
            bends += 1
            column -= 2
        else:
            column -= 1
        row -= 1
    return bends


@kernel
def _begun(row: int, column: int) -> np.float32:
    if (row == 0 and column <= SHIFT_ROWS) or (column == 0 and row <= SHIFT_ROWS):
        return -_SHIFT_COST * np.float32(row + column)
    return _NEVER
