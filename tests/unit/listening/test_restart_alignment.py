"""Stretches laid along one another, beside a slow twin."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.restart_alignment import (
    SHIFT_ROWS,
    SLOPE,
    columns_for,
    first_look,
    laid_along,
    looks_both_ways,
    path_back,
)


def slow_curve(gains: NDArray[np.float32]) -> list[float]:
    """Best sums up to each row, place by place."""
    best: dict[tuple[int, int], float] = {}
    curve = []
    for row in range(gains.shape[0]):
        for column in range(gains.shape[1]):
            if column < max(0, int(row * (1 - SLOPE)) - SHIFT_ROWS):
                continue
            if column > int(row * (1 + SLOPE)) + SHIFT_ROWS:
                continue
            ways = [best.get((row - 1, column - 1), -1e9)]
            ways += [best.get((row - 1, column), -1e9) - 0.5]
            ways += [best.get((row - 1, column - 2), -1e9) - 0.5]
            if (row == 0 and column <= SHIFT_ROWS) or (column == 0 and row <= SHIFT_ROWS):
                ways.append(-0.6 * (row + column))
            best[row, column] = max(ways) + float(gains[row, column])
        curve.append(max(value for (at, _), value in best.items() if at == row))
    return curve


def test_curves_are_those_of_the_slow_twin() -> None:
    draw = np.random.default_rng(3)
    for rows in (4, 17, 30):
        gains = draw.normal(size=(rows, columns_for(rows))).astype(np.float32)
        wanted = slow_curve(gains)
        curve = np.empty(rows, dtype=np.float32)
        steps = np.empty(gains.shape, dtype=np.int8)
        ends = np.empty(rows, dtype=np.int64)
        laid_along(gains, curve, ends, steps)
        np.testing.assert_allclose(curve, wanted, atol=1e-4)
        looked = np.empty(rows, dtype=np.float32)
        first_look(gains, looked)
        np.testing.assert_allclose(looked, wanted, atol=1e-4)


def test_many_starts_are_laid_along_a_later_one_and_it_along_them() -> None:
    draw = np.random.default_rng(5)
    rows, width = 10, columns_for(10)
    # Of the last start five rows are left.
    gains = draw.normal(size=(45, width)).astype(np.float32)
    places = np.array([0, 7, 40])
    curves = np.empty((3, 2, rows), dtype=np.float32)
    looks_both_ways(gains, places, width, curves)
    for place, (theirs, mine) in zip(places, curves, strict=True):
        wanted = slow_curve(gains[place : place + rows])
        wanted += wanted[-1:] * (rows - len(wanted))
        np.testing.assert_allclose(theirs, wanted, atol=1e-4)
        if place + width <= 45:
            wanted = slow_curve(gains[place : place + width, :rows].T)
            np.testing.assert_allclose(mine, wanted, atol=1e-4)


def test_the_way_back_is_the_one_that_was_best() -> None:
    draw = np.random.default_rng(4)
    gains = draw.normal(size=(40, columns_for(40))).astype(np.float32)
    for row in range(40):
        gains[row, round(1.2 * row) + 2] += 4.0
    curve = np.empty(40, dtype=np.float32)
    ends = np.empty(40, dtype=np.int64)
    steps = np.empty(gains.shape, dtype=np.int8)
    laid_along(gains, curve, ends, steps)
    path = np.empty(40, dtype=np.float32)
    columns = np.empty(40, dtype=np.int64)
    bends = path_back(gains, steps, 39, int(ends[39]), path, columns)
    assert columns[0] == 2
    assert 4 <= bends <= 12
    assert np.abs(columns - (1.2 * np.arange(40) + 2)).max() <= 1.0
    assert abs(float(curve[39] - (path.sum() - 0.5 * bends - 0.6 * 2))) < 1e-3


def test_missing_rows_leave_the_curve_level() -> None:
    curve = np.empty(10, dtype=np.float32)
    first_look(np.ones((4, 20), dtype=np.float32), curve)
    assert curve.tolist() == [1.0, 2.0, 3.0] + [4.0] * 7


def test_rows_that_no_column_is_near_have_no_way_back() -> None:
    gains = np.ones((30, 6), dtype=np.float32)
    curve = np.empty(30, dtype=np.float32)
    ends = np.empty(30, dtype=np.int64)
    # 1 would go back row by row: what lay in memory must not count.
    steps = np.ones(gains.shape, dtype=np.int8)
    laid_along(gains, curve, ends, steps)
    path = np.empty(30, dtype=np.float32)
    columns = np.empty(30, dtype=np.int64)
    assert path_back(gains, steps, 29, int(ends[29]), path, columns) == 0
    assert not path[:29].any()
    assert (columns[:29] == -1).all()
