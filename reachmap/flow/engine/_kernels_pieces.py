"""Cells that hang together, and water carried from a coarse list of cells to a fine one."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, FloatArray, IntArray


@njit(cache=True, error_model="numpy", nogil=True)
def name_pieces(wet: BoolArray, beside: IntArray, name: IntArray) -> None:
    """Write for each wet cell which piece of touching wet cells it belongs to, 0 for dry ones."""
    n = wet.shape[0]
    queue = np.empty(n, np.int32)
    name[:] = 0
    pieces = 0
    for first in range(n):
        if not wet[first] or name[first] != 0:
            continue
        pieces += 1
        name[first] = pieces
        queue[0] = first
        last = 1
        while last > 0:
            last -= 1
            i = queue[last]
            for side in range(4):
                j = beside[i, side]
                if j >= 0 and wet[j] and name[j] == 0:
                    name[j] = pieces
                    queue[last] = j
                    last += 1


@njit(cache=True, error_model="numpy", nogil=True)
def spread_out(flow: FloatArray, known: BoolArray, beside: IntArray) -> None:
    """Give cells beside known ones the mean of these, and call them known, in place.

    `flow` (cells, 3) level, east and north speed.
    """
    n = known.shape[0]
    found = known.copy()
    for i in range(n):
        if known[i]:
            continue
        number = 0
        sums = np.zeros(3)
        for side in range(4):
            j = beside[i, side]
            if j >= 0 and known[j]:
                number += 1
                for k in range(3):
                    sums[k] += flow[j, k]
        if number > 0:
            found[i] = True
            for k in range(3):
                flow[i, k] = sums[k] / number
    known[:] = found


@njit(cache=True, error_model="numpy", nogil=True)
def refine(
    flow: FloatArray,
    known: BoolArray,
    beside: IntArray,
    parent: IntArray,
    row: IntArray,
    col: IntArray,
    bed: FloatArray,
    thin: float,
    water: FloatArray,
) -> None:
    """Write the water of fine cells from known coarse levels and speeds, bilinearly.

    `flow` (coarse cells, 3), `parent` the coarse cell that holds each fine one, -1 for none. Fine
    cells whose own coarse cell is not known, or with less than `thin` [m], are dry.
    """
    for i in range(water.shape[0]):
        for k in range(3):
            water[i, k] = 0.0
        p = parent[i]
        if p < 0 or not known[p]:
            continue
        aside = beside[p, 1 if (col[i] - 1) % 2 == 1 else 0]
        ahead_side = 3 if (row[i] - 1) % 2 == 1 else 2
        ahead = beside[p, ahead_side]
        corner = beside[aside, ahead_side] if aside >= 0 else -1
        weight = 0.5625
        level = 0.5625 * flow[p, 0]
        east = 0.5625 * flow[p, 1]
        north = 0.5625 * flow[p, 2]
        for turn in range(3):
            j = aside if turn == 0 else (ahead if turn == 1 else corner)
            part = 0.1875 if turn < 2 else 0.0625
            if j >= 0 and known[j]:
                weight += part
                level += part * flow[j, 0]
                east += part * flow[j, 1]
                north += part * flow[j, 2]
        depth = level / weight - bed[i]
        if depth > thin:
            water[i, 0] = depth
            water[i, 1] = east / weight
            water[i, 2] = north / weight
