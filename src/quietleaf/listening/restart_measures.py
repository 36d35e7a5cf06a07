"""What is measured of one stretch of speech along another: compiled, for it is often asked."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.restart_alignment import laid_along, path_back
from quietleaf.listening.restart_melody import MELODY_NUMBERS, middle_of, said_alike
from quietleaf.sound.compiled import kernel

LOOK_ROWS = 40
"""0.8 s of each start are held against all others near by."""
MEASURES = (
    "matched",
    "matched_end",
    "bends",
    "total",
    "whole_mean",
    "look_mean",
    "first_03",
    "first_05",
    "first_08",
    "first_20",
    "worst_03",
    "last_03",
    "last_015",
    "fall_db",
    "level_step_db",
    "shape_matched",
    "shape_05",
    "shape_whole",
    "shape_worst",
    "centred_matched",
    "centred_05",
    "centred_whole",
    "centred_worst",
    "gain_quarter",
    "gain_share",
    *MELODY_NUMBERS,
)
"""``matched`` and ``matched_end`` are rows of the attempt, and the last row that they lie along."""
MATCH_COST = np.float32(1.0)
_LIKE = np.float32(0.5)
_MELODY_AT = len(MEASURES) - len(MELODY_NUMBERS)


@kernel
def measure_along(
    gains: NDArray[np.float32],
    shapes: NDArray[np.float32],
    centred: NDArray[np.float32],
    level_db: NDArray[np.float32],
    pitch_st: NDArray[np.float32],
    first: int,
    stop: int,
    measures: NDArray[np.float64],
) -> None:
    """Lay an attempt along what was read again, and measure it.

    Parameters
    ----------
    gains : ndarray, shape (r, c)
        Of the rows from ``first`` on, with those from ``stop`` on.
    shapes, centred, level_db, pitch_st : ndarray
        As in `SpeechRows`.
    first, stop : int
        Where the attempt and what was read again begin.
    measures : ndarray, shape (31,), written
        In the order of `MEASURES`.
    """
    count = gains.shape[0]
    curve = np.empty(count, dtype=np.float32)
    ends = np.empty(count, dtype=np.int64)
    steps = np.empty(gains.shape, dtype=np.int8)
    laid_along(gains, curve, ends, steps)
    matched, over = 1, curve[0] - MATCH_COST
    for row in range(1, count):
        if curve[row] - MATCH_COST * np.float32(row + 1) > over:
            matched, over = row + 1, curve[row] - MATCH_COST * np.float32(row + 1)
    whole = np.empty(count, dtype=np.float32)
    columns = np.empty(count, dtype=np.int64)
    path_back(gains, steps, count - 1, ends[count - 1], whole, columns)
    half = np.empty(matched, dtype=np.float32)
    half_columns = np.empty(matched, dtype=np.int64)
    bends = path_back(gains, steps, matched - 1, ends[matched - 1], half, half_columns)
    end = ends[matched - 1]
    there = stop + end

    measures[0], measures[1], measures[2] = matched, end, bends
    measures[3] = curve[matched - 1]
    measures[4] = curve[count - 1] / count
    measures[5] = _mean_up_to(curve, LOOK_ROWS)
    measures[6] = _mean_up_to(curve, 15)
    measures[7] = _mean_up_to(curve, 25)
    measures[8] = _mean_up_to(curve, 40)
    measures[9] = _mean_up_to(curve, 100)
    measures[10] = _worst(whole)
    measures[11] = _mean(whole[-15:])
    measures[12] = _mean(whole[-8:])
    measures[13] = _mean(level_db[max(0, stop - 4) : stop]) - middle_of(level_db[first:stop])
    measures[14] = middle_of(level_db[stop : there + 1]) - middle_of(
        level_db[first : first + matched]
    )
    _measure_alike(shapes, first, stop, columns, half_columns, measures[15:19])
    _measure_alike(centred, first, stop, columns, half_columns, measures[19:23])
    measures[23] = np.sort(half)[matched // 4]
    like = 0
    for row in range(matched):
        if half[row] > _LIKE:
            like += 1
    measures[24] = like / matched
    said_alike(level_db, pitch_st, first, stop, columns[:matched], end, measures[_MELODY_AT:])


@kernel
def _measure_alike(
    vectors: NDArray[np.float32],
    first: int,
    stop: int,
    columns: NDArray[np.int64],
    half_columns: NDArray[np.int64],
    measures: NDArray[np.float64],
) -> None:
    """Write how alike vectors are along a path: over what matched, 0.5 s, all, and the worst."""
    measures[0] = _mean(_along(vectors, first, stop, half_columns))
    alike = _along(vectors, first, stop, columns)
    measures[1] = _mean(alike[:25])
    measures[2] = _mean(alike)
    measures[3] = _worst(alike)


@kernel
def _along(
    vectors: NDArray[np.float32], first: int, stop: int, columns: NDArray[np.int64]
) -> NDArray[np.float32]:
    """Give the products of vectors along a path; 0 before it."""
    alike = np.zeros(columns.size, dtype=np.float32)
    for row in range(columns.size):
        if columns[row] >= 0:
            product = np.float32(0.0)
            for index in range(vectors.shape[1]):
                product += vectors[first + row, index] * vectors[stop + columns[row], index]
            alike[row] = product
    return alike


@kernel
def _mean_up_to(curve: NDArray[np.float32], rows: int) -> float:
    count = min(rows, curve.size)
    return float(curve[count - 1] / count)


@kernel
def _mean(values: NDArray[np.float32]) -> float:
    total = 0.0
    for value in values:
        total += value
    return total / values.size


@kernel
def _worst(path: NDArray[np.float32]) -> float:
    """Give the lowest mean over 0.3 s."""
    rows = min(15, path.size)
    total = 0.0
    for row in range(rows):
        total += path[row]
    least = total
    for row in range(rows, path.size):
        total += path[row] - path[row - rows]
        least = min(least, total)
    return least / rows
