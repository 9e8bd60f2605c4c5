"""Compiled searches over the cells of a mask; their cost grows with the cells visited alone."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, FloatArray, IntArray


@njit(cache=True, error_model="numpy")
def fill_from(
    rows: IntArray, cols: IntArray, mask: BoolArray, d_row: IntArray, d_col: IntArray
) -> BoolArray:
    """Return the cells of `mask` that steps (`d_row`, `d_col`) join to the cells `rows, cols`."""
    n_row, n_col = mask.shape
    found = np.zeros(mask.shape, dtype=np.bool_)
    todo = [(0, 0)]
    todo.clear()
    for i in range(rows.size):
        if mask[rows[i], cols[i]] and not found[rows[i], cols[i]]:
            found[rows[i], cols[i]] = True
            todo.append((rows[i], cols[i]))
    while todo:
        row, col = todo.pop()
        for k in range(d_row.size):
            r, c = row + d_row[k], col + d_col[k]
            if 0 <= r < n_row and 0 <= c < n_col and mask[r, c] and not found[r, c]:
                found[r, c] = True
                todo.append((r, c))
    return found


@njit(cache=True, error_model="numpy")
def nearest_of(
    mask: BoolArray, rows: IntArray, cols: IntArray, reach: int
) -> tuple[FloatArray, IntArray, IntArray]:
    """Return distance [cells], row and column of the cell of `mask` nearest to each cell.

    The search goes ring by ring, as far as `reach` cells; where nothing is as near, the distance is
    inf and the place the cell itself. Of cells equally near the westernmost counts, then the
    northernmost.
    """
    n_row, n_col = mask.shape
    far = np.full(rows.size, np.inf)
    near_row, near_col = rows.copy(), cols.copy()
    for i in range(rows.size):
        row, col, best = rows[i], cols[i], reach * reach + 1
        for ring in range(reach + 1):
            if ring * ring > best:  # cells of a ring lie at least `ring` away
                break
            for c in range(max(col - ring, 0), min(col + ring, n_col - 1) + 1):
                # A whole column at either side of the ring, its two ends between them.
                step = 1 if abs(c - col) == ring else 2 * ring
                for r in range(row - ring, row + ring + 1, step):
                    if not (0 <= r < n_row) or not mask[r, c]:
                        continue
                    away = (r - row) ** 2 + (c - col) ** 2
                    first = c < near_col[i] or (c == near_col[i] and r < near_row[i])
                    if away < best or (away == best and first and best <= reach * reach):
                        best, near_row[i], near_col[i] = away, r, c
        if best <= reach * reach:
            far[i] = np.sqrt(best)
    return far, near_row, near_col


@njit(cache=True, error_model="numpy")
def greatest_about(
    values: FloatArray, rows: IntArray, cols: IntArray, d_row: IntArray, d_col: IntArray
) -> FloatArray:
    """Return the greatest value >= 0 over the cells about cells, 0 where there is none; shape (n,).

    `d_row, d_col` are the steps from a cell to those about it; off the raster there is none.
    """
    n_row, n_col = values.shape
    greatest = np.zeros(rows.size)
    for i in range(rows.size):
        most = 0.0
        for k in range(d_row.size):
            r, c = rows[i] + d_row[k], cols[i] + d_col[k]
            if 0 <= r < n_row and 0 <= c < n_col:
                most = max(most, values[r, c])
        greatest[i] = most
    return greatest
