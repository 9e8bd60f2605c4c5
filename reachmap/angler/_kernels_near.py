"""Sums and maxima over the cells about a cell, drifts and ways back; plain arrays only.

The filters of scipy give the same numbers over a whole raster, of which a river wets one cell in
twenty.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, FloatArray, IntArray


@njit(cache=True, error_model="numpy")
def sums_about(
    values: FloatArray,
    rows: IntArray,
    cols: IntArray,
    d_row: IntArray,
    d_col: IntArray,
    weight: float,
    held: bool,
) -> tuple[FloatArray, FloatArray]:
    """Return the weighted sums of values and of their squares over the cells about cells.

    `rows, cols` (n,) are the cells, `d_row, d_col` the offsets of those about them. `held` says
    whether a place off the raster counts as the cell of the rim nearest to it, or as zero.
    """
    n_row, n_col = values.shape
    total, squares = np.zeros(rows.size), np.zeros(rows.size)
    for i in range(rows.size):
        for k in range(d_row.size):
            r, c = rows[i] + d_row[k], cols[i] + d_col[k]
            if not (0 <= r < n_row and 0 <= c < n_col):
                if not held:
                    continue
                r, c = min(max(r, 0), n_row - 1), min(max(c, 0), n_col - 1)
            total[i] += weight * values[r, c]
            squares[i] += weight * (values[r, c] * values[r, c])
    return total, squares


@njit(cache=True, error_model="numpy")
def follow_many(
    wet: BoolArray,
    unknown: BoolArray,
    east: FloatArray,
    north: FloatArray,
    speed: FloatArray,
    row: IntArray,
    col: IntArray,
    steps: int,
    still: float,
) -> tuple[IntArray, IntArray, BoolArray]:
    """Follow places down the current, a cell a step; see `follow.follow_current`.

    Returns the cells met as rows and columns (n, steps), -1 after the end, and whether all of the
    way is known. Water slower than `still` [m/s] carries nothing.
    """
    count, (n_row, n_col) = row.size, wet.shape
    rows = np.full((count, steps), -1, dtype=np.int32)
    cols = np.full((count, steps), -1, dtype=np.int32)
    whole = np.ones(count, dtype=np.bool_)
    for i in range(count):
        y, x = float(row[i]), float(col[i])
        for step in range(steps):
            r, c = int(np.rint(y)), int(np.rint(x))
            if r < 0 or c < 0 or r >= n_row or c >= n_col or unknown[r, c]:
                whole[i] = False
                break
            if not wet[r, c]:
                break
            rows[i, step], cols[i, step] = r, c
            if not np.isfinite(speed[r, c]):
                whole[i] = False
            if not speed[r, c] > still:
                break
            # A step down the rows is a step against north.
            y -= north[r, c] / speed[r, c]
            x += east[r, c] / speed[r, c]
    return rows, cols, whole


@njit(cache=True, error_model="numpy")
def meet_many(
    number: IntArray,
    beyond: BoolArray,
    unknown: BoolArray,
    east: FloatArray,
    north: FloatArray,
    speed: FloatArray,
    row: IntArray,
    col: IntArray,
    steps: int,
    still: float,
) -> tuple[IntArray, IntArray, IntArray, BoolArray]:
    """Return what drifts from cells meet; see `drift.drift_below`.

    `number` is the hazard by each cell, -1 none; `beyond` marks cells out of bounds. Returns steps
    to the first hazard (-1: none), its number, steps to the first cell out of bounds (-1: none) and
    whether the drift comes through unknown water.
    """
    count, (n_row, n_col) = row.size, number.shape
    hazard_step = np.full(count, -1, dtype=np.int32)
    hazard = np.full(count, -1, dtype=np.int32)
    deep_step = np.full(count, -1, dtype=np.int32)
    lost = np.zeros(count, dtype=np.bool_)
    for i in range(count):
        y, x = float(row[i]), float(col[i])
        for step in range(steps):
            r, c = int(np.rint(y)), int(np.rint(x))
            if number[r, c] >= 0 and hazard[i] < 0:
                hazard_step[i], hazard[i] = step, number[r, c]
            if beyond[r, c] and deep_step[i] < 0:
                deep_step[i] = step
            lost[i] |= unknown[r, c]
            if not speed[r, c] > still:
                break
            y -= north[r, c] / speed[r, c]
            x += east[r, c] / speed[r, c]
            if not (-0.5 < y < n_row - 0.5 and -0.5 < x < n_col - 0.5):
                break
    return hazard_step, hazard, deep_step, lost


@njit(cache=True, error_model="numpy")
def walk_back(
    cost: FloatArray, row: int, col: int, steps: IntArray, cell: float
) -> list[tuple[int, int]]:
    """Return the cells of the way down `cost` [m] from a cell; see `follow.route_back`."""
    way = [(row, col)]
    while np.isfinite(cost[row, col]) and cost[row, col] > 0.5 * cell:
        least, to = np.inf, (row, col)
        for k in range(steps.shape[0]):
            r, c = row + steps[k, 0], col + steps[k, 1]
            if not (0 <= r < cost.shape[0] and 0 <= c < cost.shape[1]):
                continue
            whole = cost[r, c] + np.hypot(steps[k, 0], steps[k, 1]) * cell
            if cost[r, c] < cost[row, col] - 1e-9 and whole < least:
                least, to = whole, (r, c)
        if not np.isfinite(least):
            break
        row, col = to
        way.append(to)
    return way
