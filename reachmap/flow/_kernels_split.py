"""Compiled kernels of the split over channels: the network of wet cells, its faces, their flows."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import FloatArray, IntArray


@njit(cache=True, error_model="numpy")
def face_pairs(number: IntArray, station: FloatArray, jump: float) -> tuple[IntArray, IntArray]:
    """Return the right and lower neighbour of each cell, shape (cells,); -1: none.

    `number` is each raster cell's place in the list of wet cells, -1 where not wet. No face joins
    cells whose stations are more than `jump` [m] apart: that is the neck of a bend, not the river.
    """
    n_row, n_col = number.shape
    count = 0
    for r in range(n_row):
        for c in range(n_col):
            count += number[r, c] >= 0
    right = np.full(count, -1, np.int32)
    down = np.full(count, -1, np.int32)
    for r in range(n_row):
        for c in range(n_col):
            i = number[r, c]
            if i < 0:
                continue
            here = station[r, c]
            if c + 1 < n_col and abs(station[r, c + 1] - here) <= jump:
                right[i] = number[r, c + 1]
            if r + 1 < n_row and abs(station[r + 1, c] - here) <= jump:
                down[i] = number[r + 1, c]
    return right, down


@njit(cache=True, error_model="numpy")
def connected(right: IntArray, down: IntArray, start: np.ndarray) -> np.ndarray:
    """Return the mask of cells connected to the `start` cells through faces, shape (cells,)."""
    n = right.size
    left = np.full(n, -1, np.int32)
    up = np.full(n, -1, np.int32)
    for i in range(n):
        if right[i] >= 0:
            left[right[i]] = i
        if down[i] >= 0:
            up[down[i]] = i
    found = start.copy()
    stack = np.empty(n, np.int64)
    size = 0
    for i in range(n):
        if found[i]:
            stack[size] = i
            size += 1
    while size > 0:
        size -= 1
        i = stack[size]
        for side in range(4):
            j = right[i] if side == 0 else left[i] if side == 1 else down[i] if side == 2 else up[i]
            if j >= 0 and not found[j]:
                found[j] = True
                stack[size] = j
                size += 1
    return found


@njit(cache=True, error_model="numpy")
def face_conductance(
    conductance: FloatArray, root_slope: FloatArray, other: IntArray
) -> FloatArray:
    """Return each face's conductance, the flow for one metre of fall [m2/s]; 0: no face.

    Two half cells in a row: the harmonic mean of the cells' `conductance` (depth^(5/3)/n), over the
    square root of the slope.
    """
    out = np.zeros(other.size)
    for i in range(other.size):
        j = other[i]
        if j >= 0:
            root = 0.5 * (root_slope[i] + root_slope[j])
            out[i] = 2 * conductance[i] * conductance[j] / (conductance[i] + conductance[j]) / root
    return out


@njit(cache=True, error_model="numpy")
def first_linked(right: IntArray, down: IntArray) -> np.ndarray:
    """Return for each cell the first cell it is linked to, itself if none, shape (cells,)."""
    first = np.arange(right.size)
    for i in range(right.size):
        for side in range(2):
            j = right[i] if side == 0 else down[i]
            if j >= 0:
                low, high = min(i, j), max(i, j)
                first[high] = min(first[high], low)
    return first


@njit(cache=True, error_model="numpy")
def add_faces(
    other: IntArray,
    conductance: FloatArray,
    first: np.ndarray,
    start: np.ndarray,
    entry: FloatArray,
) -> None:
    """Add the faces between each cell and its `other` one to the net's matrix, in place."""
    for i in range(other.size):
        j = other[i]
        if j >= 0:
            e = conductance[i]
            entry[start[i + 1] - 1] += e
            entry[start[j + 1] - 1] += e
            low, high = min(i, j), max(i, j)
            entry[start[high] + low - first[high]] -= e


@njit(cache=True, error_model="numpy")
def skyline_solve(
    right: IntArray,
    down: IntArray,
    conductance_right: FloatArray,
    conductance_down: FloatArray,
    own: FloatArray,
    enter: FloatArray,
) -> FloatArray:
    """Return the heights at which what flows out of each cell equals what enters, shape (cells,).

    The net's matrix (`own` on the diagonal besides its faces) is factored L D L^T in place within
    its skyline: each row from its first linked cell to the diagonal (George and Liu 1981, chapter
    4, from memory). With cells sorted downstream rows are as short as the river is wide in cells.
    """
    n = right.size
    first = first_linked(right, down)
    start = np.zeros(n + 1, np.int64)
    for i in range(n):
        start[i + 1] = start[i] + i - first[i] + 1
    entry = np.zeros(start[n])
    for i in range(n):
        entry[start[i + 1] - 1] += own[i]
    add_faces(right, conductance_right, first, start, entry)
    add_faces(down, conductance_down, first, start, entry)
    diagonal = np.zeros(n)
    height = enter.copy()
    for i in range(n):
        # Packed rows: entry[row + j] is the matrix at (i, j), for j from first[i] to i.
        row = start[i] - first[i]
        for j in range(first[i], i):
            other = start[j] - first[j]
            total = entry[row + j]
            for k in range(max(first[i], first[j]), j):
                total -= entry[row + k] * entry[other + k]
            entry[row + j] = total
        last = entry[row + i]
        right_side = height[i]
        for j in range(first[i], i):
            # Until here the row holds L D; dividing gives L, and the right side is carried along.
            factor = entry[row + j] / diagonal[j]
            last -= entry[row + j] * factor
            entry[row + j] = factor
            right_side -= factor * height[j]
        diagonal[i] = last
        height[i] = right_side
    # Then D, and L^T by columns: each known height is taken off those before it.
    height /= diagonal
    for i in range(n - 1, -1, -1):
        row = start[i] - first[i]
        for j in range(first[i], i):
            height[j] -= entry[row + j] * height[i]
    return height


@njit(cache=True, error_model="numpy")
def cell_flows(
    right: IntArray,
    down: IntArray,
    conductance_right: FloatArray,
    conductance_down: FloatArray,
    height: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return the flow to the right and down in each cell: mean of its two faces [m3/s]."""
    n = right.size
    across = np.zeros(n)
    along = np.zeros(n)
    for i in range(n):
        j = right[i]
        if j >= 0:
            # Half to either cell: summed over both faces this is the mean flow through the cell.
            q = 0.5 * conductance_right[i] * (height[i] - height[j])
            across[i] += q
            across[j] += q
        j = down[i]
        if j >= 0:
            q = 0.5 * conductance_down[i] * (height[i] - height[j])
            along[i] += q
            along[j] += q
    return across, along
