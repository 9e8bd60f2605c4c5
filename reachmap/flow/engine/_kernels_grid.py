"""Connected cells, and water interpolated from a coarse list of cells to a fine one."""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.flow.engine.mesh import Refinement

OWN, NEXT, OPPOSITE = 0.5625, 0.1875, 0.0625
"""Bilinear weights at a fine centre, a quarter of a coarse cell off its parent's: 3/4 times 3/4 of
the parent, 3/4 times 1/4 of the two coarse cells next to it, 1/4 times 1/4 of the corner's."""


@njit(cache=True, error_model="numpy", nogil=True)
def label_connected(wet: BoolArray, neighbours: IntArray, name: IntArray) -> None:
    """Write the number of the connected component of each wet cell, from 1 on, 0 for dry cells."""
    n = wet.shape[0]
    stack = np.empty(n, np.int32)
    name[:] = 0
    components = 0
    for first in range(n):
        if not wet[first] or name[first] != 0:
            continue
        components += 1
        name[first] = components
        stack[0] = first
        last = 1
        while last > 0:
            last -= 1
            i = stack[last]
            for side in range(4):
                j = neighbours[i, side]
                if j >= 0 and wet[j] and name[j] == 0:
                    name[j] = components
                    stack[last] = j
                    last += 1


@njit(cache=True, error_model="numpy", nogil=True)
def extrapolate_once(flow: FloatArray, known: BoolArray, neighbours: IntArray) -> None:
    """Give unknown cells next to known ones the mean of these, and mark them known, in place.

    `flow` (cells, 3): level [m], east and north velocity [m/s].
    """
    n = known.shape[0]
    found = known.copy()
    for i in range(n):
        if known[i]:
            continue
        number = 0
        sums = np.zeros(3)
        for side in range(4):
            j = neighbours[i, side]
            if j >= 0 and known[j]:
                number += 1
                for k in range(3):
                    sums[k] += flow[j, k]
        if number > 0:
            found[i] = True
            for k in range(3):
                flow[i, k] = sums[k] / number
    for i in range(n):  # one array put into another compiles two seconds of checks of their shapes
        known[i] = found[i]


@njit(cache=True, error_model="numpy", nogil=True)
def coarse_cells(i: int, refinement: Refinement) -> tuple[int, int, int]:
    """Return the coarse cells round fine cell i besides its parent: in row, in column, corner.

    -1 where there is none. They lie on the side of the parent that the fine cell lies on; rows and
    columns count from 1, in the margin of the raster.
    """
    p = refinement.parent[i]
    neighbours = refinement.neighbours
    along = 3 if (refinement.row[i] - 1) % 2 == 1 else 2
    in_row = neighbours[p, 1 if (refinement.col[i] - 1) % 2 == 1 else 0]
    in_column = neighbours[p, along]
    corner = neighbours[in_row, along] if in_row >= 0 else -1
    return in_row, in_column, corner


@njit(cache=True, error_model="numpy", nogil=True)
def refine(
    flow: FloatArray,
    known: BoolArray,
    refinement: Refinement,
    bed: FloatArray,
    thin: float,
    water: FloatArray,
) -> None:
    """Write the water of fine cells from known coarse levels and velocities, bilinearly.

    Parameters
    ----------
    flow
        Level [m], east and north velocity [m/s] of the coarse cells, shape (coarse cells, 3).
    known
        Where these are known, shape (coarse cells,).
    refinement
        How the cells lie in each other.
    bed
        Of the fine cells, shape (fine cells,) [m].
    thin
        Cells with less water, or whose parent is not known, are dry [m].
    water
        Depth and velocity of the fine cells, shape (fine cells, 3); overwritten.
    """
    for i in range(water.shape[0]):
        for k in range(3):
            water[i, k] = 0.0
        p = refinement.parent[i]
        if p < 0 or not known[p]:
            continue
        in_row, in_column, corner = coarse_cells(i, refinement)
        weight = OWN
        level = OWN * flow[p, 0]
        east = OWN * flow[p, 1]
        north = OWN * flow[p, 2]
        for turn in range(3):
            j = in_row if turn == 0 else (in_column if turn == 1 else corner)
            part = NEXT if turn < 2 else OPPOSITE
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
