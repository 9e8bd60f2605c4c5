"""Compiled search for the low ground that water could reach, cell by cell from its edge."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray

NOT_COMPARED, LOW, HIGH, TOO_FAR = 0, 1, 2, 3
"""States of a cell: not compared, below or above the level of the wet cell nearest to it, or that
cell lies beyond `RINGS`."""
RINGS = 80
"""Cells within which the nearest wet cell is looked for; our choice: the cost goes with its square,
and beyond it a transform of the whole raster is the cheaper."""


@njit(cache=True, error_model="numpy")
def low_ground(
    rows: IntArray,
    cols: IntArray,
    level: FloatArray,
    bed: FloatArray,
    inside: BoolArray,
) -> tuple[CodeArray, BoolArray]:
    """Return which inside cells next to water, low or unknown ground are low, and what is reached.

    Parameters
    ----------
    rows, cols, level
        Cells under water, at least one, and its level there [m], shape (n,).
    bed, inside
        Height of the ground [m], and where it is known; shape (y, x).

    Notes
    -----
    From the water over low and over unknown ground, four neighbours. Of wet cells equally near the
    westernmost counts, then that of the first row: the choice of scipy's Euclidean distance
    transform.
    """
    n_row, n_col = bed.shape
    state, found = np.zeros(bed.shape, np.uint8), np.zeros(bed.shape, np.bool_)
    number = np.full(bed.shape, -1, np.int32)
    todo = [(0, 0)]
    todo.clear()
    for i in range(rows.size):
        number[rows[i], cols[i]] = i
        found[rows[i], cols[i]] = True
        todo.append((rows[i], cols[i]))
    highest = level[0]
    for i in range(level.size):  # the array's own maximum compiles a second longer
        if level[i] > highest or np.isnan(level[i]):
            highest = level[i]
    while todo:
        row, col = todo.pop()
        for side in range(4):
            r = row + (1 if side == 0 else -1 if side == 1 else 0)
            c = col + (1 if side == 2 else -1 if side == 3 else 0)
            if not (0 <= r < n_row and 0 <= c < n_col) or found[r, c] or state[r, c] == HIGH:
                continue
            if inside[r, c]:
                state[r, c] = HIGH if bed[r, c] >= highest else _compared(r, c, number, level, bed)
                if state[r, c] == TOO_FAR:
                    return state, found
            if state[r, c] != HIGH:
                found[r, c] = True
                todo.append((r, c))
    return state, found


@njit(cache=True, error_model="numpy")
def _compared(row: int, col: int, number: IntArray, level: FloatArray, bed: FloatArray) -> int:
    """Return LOW or HIGH against the level of the wet cell nearest to a cell, or TOO_FAR."""
    n_row, n_col = number.shape
    best, near_row, near_col = RINGS * RINGS + 1, -1, -1
    for ring in range(1, RINGS + 1):
        if ring * ring > best:  # cells of a ring lie at least `ring` away
            break
        for c in range(max(col - ring, 0), min(col + ring, n_col - 1) + 1):
            # A whole column at either side of the ring, its two ends between them.
            step = 1 if abs(c - col) == ring else 2 * ring
            for r in range(row - ring, row + ring + 1, step):
                if not (0 <= r < n_row) or number[r, c] < 0:
                    continue
                away = (r - row) ** 2 + (c - col) ** 2
                first = c < near_col or (c == near_col and r < near_row)
                if away < best or (away == best and first):
                    best, near_row, near_col = away, r, c
    if near_row < 0:
        return TOO_FAR
    return LOW if bed[row, col] < level[number[near_row, near_col]] else HIGH
