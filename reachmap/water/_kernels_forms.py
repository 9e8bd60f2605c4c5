"""Compiled loops over wet cells: a surface fitted about each, and what rises around it."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, FloatArray, IntArray

TERMS = 6
"""Terms of a quadratic surface: 1, x, y, x2, y2, x y."""


@njit(cache=True, error_model="numpy")
def fit_surfaces(
    height: FloatArray,
    known: BoolArray,
    rows: IntArray,
    cols: IntArray,
    radius: int,
    whole: FloatArray,
    ridge: float,
) -> FloatArray:
    """Fit a quadratic surface to the known cells of a square window about each cell.

    The window has 2 `radius` + 1 cells a side; x runs along columns and y along rows, in cells from
    the middle. `whole` is the pseudo-inverse of a window all of whose cells are known, shape
    (6, cells), row by row. Where some are not, the normal equations are solved by Cholesky, with
    `ridge` times the number of cells on the diagonal of all terms but the first: a few cells in
    a row, which tell no curvature, then give none. Returns the terms, shape (n, 6); NaN where fewer
    than 6 cells are known.
    """
    n_row, n_col = height.shape
    terms = np.full((rows.size, TERMS), np.nan)
    matrix = np.zeros((TERMS, TERMS))
    for i in range(rows.size):
        row, col = rows[i], cols[i]
        top, bottom = max(row - radius, 0), min(row + radius + 1, n_row)
        left, right = max(col - radius, 0), min(col + radius + 1, n_col)
        count = 0
        for r in range(top, bottom):
            for c in range(left, right):
                count += known[r, c]
        # Heights from the middle cell's own: sums of squares of a height above the sea lose digits.
        zero = height[row, col]
        if count == whole.shape[1]:
            _weighted(height[top:bottom, left:right], zero, whole, terms[i])
        elif count >= TERMS:
            matrix[:] = 0.0
            terms[i] = 0.0
            _add_up(height, known, (top, bottom, left, right), (row, col), matrix, terms[i])
            for a in range(1, TERMS):
                matrix[a, a] += ridge * count
            _solve(matrix, terms[i])
        terms[i, 0] += zero
    return terms


@njit(cache=True, error_model="numpy")
def _weighted(window: FloatArray, zero: float, whole: FloatArray, terms: FloatArray) -> None:
    """Put the terms of a window all of whose cells are known into `terms`."""
    side = window.shape[1]
    for k in range(TERMS):
        total = 0.0
        for r in range(side):
            for c in range(side):
                total += whole[k, r * side + c] * (window[r, c] - zero)
        terms[k] = total


@njit(cache=True, error_model="numpy")
def _add_up(
    height: FloatArray,
    known: BoolArray,
    window: tuple[int, int, int, int],
    middle: tuple[int, int],
    matrix: FloatArray,
    right: FloatArray,
) -> None:
    """Add the known cells of a window to the lower half of the normal equations."""
    row, col = middle
    zero = height[row, col]
    base = np.ones(TERMS)
    for r in range(window[0], window[1]):
        for c in range(window[2], window[3]):
            if not known[r, c]:
                continue
            x, y = float(c - col), float(r - row)
            base[1], base[2], base[3], base[4], base[5] = x, y, x * x, y * y, x * y
            for a in range(TERMS):
                right[a] += base[a] * (height[r, c] - zero)
                for b in range(a + 1):
                    matrix[a, b] += base[a] * base[b]


@njit(cache=True, error_model="numpy")
def _solve(matrix: FloatArray, right: FloatArray) -> None:
    """Solve a symmetric positive system in place, given its lower half, by Cholesky."""
    size = right.size
    for a in range(size):
        for b in range(a + 1):
            total = matrix[a, b]
            for k in range(b):
                total -= matrix[a, k] * matrix[b, k]
            if a == b:
                matrix[a, a] = np.sqrt(total)
            else:
                matrix[a, b] = total / matrix[b, b]
        total = right[a]
        for k in range(a):
            total -= matrix[a, k] * right[k]
        right[a] = total / matrix[a, a]
    for a in range(size - 1, -1, -1):
        total = right[a]
        for k in range(a + 1, size):
            total -= matrix[k, a] * right[k]
        right[a] = total / matrix[a, a]


@njit(cache=True, error_model="numpy")
def rises_along(
    height: FloatArray,
    rows: IntArray,
    cols: IntArray,
    d_row: FloatArray,
    d_col: FloatArray,
    n_steps: int,
) -> tuple[FloatArray, FloatArray]:
    """Return how far the ground rises above each cell, and falls below it, along a direction.

    Parameters as in `look_across`, `d_row, d_col` of shape (n,); steps are cells. The highest and
    the lowest of the cells met, less the cell's own height, at least 0; NaN ends the look.
    """
    n_row, n_col = height.shape
    up, down = np.zeros(rows.size), np.zeros(rows.size)
    for i in range(rows.size):
        own = height[rows[i], cols[i]]
        for step in range(1, n_steps + 1):
            r, c = round(rows[i] + step * d_row[i]), round(cols[i] + step * d_col[i])
            if r < 0 or c < 0 or r >= n_row or c >= n_col or np.isnan(height[r, c]):
                break
            up[i] = max(up[i], height[r, c] - own)
            down[i] = max(down[i], own - height[r, c])
    return up, down


@njit(cache=True, error_model="numpy")
def sheltered_by(
    blocks: BoolArray,
    rows: IntArray,
    cols: IntArray,
    d_row: FloatArray,
    d_col: FloatArray,
    n_steps: int,
) -> FloatArray:
    """Return how many cells up the current something blocks it; infinite: nothing within `n_steps`.

    `d_row, d_col` point downstream, shape (y, x); the way follows them from cell to cell, so that
    along a bend it keeps its distance from the banks. Where they are NaN it ends.
    """
    n_row, n_col = blocks.shape
    found = np.full(rows.size, np.inf)
    for i in range(rows.size):
        row, col = float(rows[i]), float(cols[i])
        r, c = rows[i], cols[i]
        for step in range(1, n_steps + 1):
            row, col = row - d_row[r, c], col - d_col[r, c]
            if np.isnan(row) or np.isnan(col):
                break
            r, c = round(row), round(col)
            if r < 0 or c < 0 or r >= n_row or c >= n_col:
                break
            if blocks[r, c]:
                found[i] = step
                break
    return found
