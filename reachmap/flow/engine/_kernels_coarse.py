"""Help from the next coarser grid: what it is asked, and how its answer comes back.

Full approximation scheme (Brandt 1977, from memory). With R the residual of a grid per unit area, w
the fine water and I the mean over the four fine cells of a coarse one, the coarse grid solves
R_c(w_c) = R_c(I w) - I R(w), and w_c - I w is added to the fine water, bilinearly. Where the fine
water is steady the right side is R_c(I w), so nothing changes: the coarse grid speeds the way, it
does not change the goal. Only coarse cells whose four are all deep take part; others hold still, as
do edges, which the fine grid sees to by itself.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import BoolArray, Float32Array, FloatArray, IntArray
from reachmap.flow.engine._kernels_flux import FAST, GRAVITY, rough_bed_drag
from reachmap.flow.engine._kernels_step import cell_loss

CALM_FROUDE2 = 0.9**2
"""Square of the Froude number above which fine water is left to the fine grid. Our choice."""
HELD = 1e-9
"""Pace of a coarse cell that holds still."""


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def cell_residual(
    i: int,
    water: FloatArray,
    bed: FloatArray,
    rough2: FloatArray,
    tilt: Float32Array,
    stir: Float32Array,
    beside: IntArray,
    gates: FloatArray,
    extra: FloatArray,
    cell: float,
) -> tuple[float, float, float]:
    """Return the residual of cell i: mass [m/s], east and north momentum [m2/s2]; 0: steady."""
    mass, east, north, _ = cell_loss(i, water, bed, tilt, stir, beside, gates, extra, cell)
    h = water[i, 0]
    u = water[i, 1]
    v = water[i, 2]
    drag = rough_bed_drag(rough2[i], h) * h * h * np.sqrt(u * u + v * v)
    push_east = extra[i, 1] if extra.shape[0] > 0 else 0.0
    push_north = extra[i, 2] if extra.shape[0] > 0 else 0.0
    return mass / cell, east / cell + drag * u - push_east, north / cell + drag * v - push_north


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def gather(
    water: FloatArray,
    bed: FloatArray,
    rough2: FloatArray,
    tilt: Float32Array,
    stir: Float32Array,
    beside: IntArray,
    gates: FloatArray,
    extra: FloatArray,
    cell: float,
    parent: IntArray,
    usable: BoolArray,
    deep: float,
    coarse: FloatArray,
    asked: FloatArray,
    active: BoolArray,
) -> None:
    """Write the coarse water I w, the mean residual I R(w) and which coarse cells take part.

    `parent` is the coarse cell that holds each fine one, -1 for none; `usable` and deeper than
    `deep` [m] must all four fine cells be. `coarse` and `asked` (coarse cells, 3).
    """
    n = coarse.shape[0]
    children = np.zeros(n, np.int8)
    coarse[:, :] = 0.0
    asked[:, :] = 0.0
    for i in range(water.shape[0]):
        p = parent[i]
        if p < 0:
            continue
        h = water[i, 0]
        coarse[p, 0] += 0.25 * h
        coarse[p, 1] += 0.25 * h * water[i, 1]
        coarse[p, 2] += 0.25 * h * water[i, 2]
        swift = water[i, 1] * water[i, 1] + water[i, 2] * water[i, 2]
        if h > deep and usable[i] and swift < CALM_FROUDE2 * GRAVITY * h:
            children[p] += 1
            mass, east, north = cell_residual(
                i, water, bed, rough2, tilt, stir, beside, gates, extra, cell
            )
            asked[p, 0] += 0.25 * mass
            asked[p, 1] += 0.25 * east
            asked[p, 2] += 0.25 * north
    for p in range(n):
        active[p] = children[p] == 4
        if coarse[p, 0] > 1e-6:
            coarse[p, 1] /= coarse[p, 0]
            coarse[p, 2] /= coarse[p, 0]
        else:
            coarse[p, 1] = 0.0
            coarse[p, 2] = 0.0


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def set_question(
    water: FloatArray,
    bed: FloatArray,
    rough2: FloatArray,
    tilt: Float32Array,
    stir: Float32Array,
    beside: IntArray,
    gates: FloatArray,
    nothing: FloatArray,
    cell: float,
    active: BoolArray,
    most: float,
    asked: FloatArray,
    pace: Float32Array,
) -> None:
    """Turn `asked` from I R(w) into R_c(I w) - I R(w), and set the pace of active and held cells.

    `nothing` (0, 3) stands for the extra terms that the coarse residual is taken without.
    """
    for p in range(water.shape[0]):
        if active[p]:
            mass, east, north = cell_residual(
                p, water, bed, rough2, tilt, stir, beside, gates, nothing, cell
            )
            asked[p, 0] = mass - asked[p, 0]
            asked[p, 1] = east - asked[p, 1]
            asked[p, 2] = north - asked[p, 2]
            pace[p] = most
        else:
            for k in range(3):
                asked[p, k] = 0.0
            pace[p] = HELD


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def give_back(
    coarse: FloatArray,
    before: FloatArray,
    active: BoolArray,
    coarse_beside: IntArray,
    parent: IntArray,
    row: IntArray,
    col: IntArray,
    usable: BoolArray,
    deep: float,
    pace: Float32Array,
    most: float,
    water: FloatArray,
) -> None:
    """Add the change of the coarse water, `coarse` less `before`, to the fine water, bilinearly.

    A cell whose steps were shortened because it swings to and fro takes its `pace` over `most` of
    the change: with the whole of it small eddies behind bars go on swinging for ever.
    """
    for i in range(water.shape[0]):
        p = parent[i]
        if p < 0 or not active[p] or not usable[i] or water[i, 0] <= deep:
            continue
        aside = coarse_beside[p, 1 if (col[i] - 1) % 2 == 1 else 0]
        ahead_side = 3 if (row[i] - 1) % 2 == 1 else 2
        ahead = coarse_beside[p, ahead_side]
        corner = coarse_beside[aside, ahead_side] if aside >= 0 else -1
        part = min(pace[i] / most, 1.0)
        for k in range(3):
            change = 0.5625 * (coarse[p, k] - before[p, k])
            if aside >= 0 and active[aside]:
                change += 0.1875 * (coarse[aside, k] - before[aside, k])
            if ahead >= 0 and active[ahead]:
                change += 0.1875 * (coarse[ahead, k] - before[ahead, k])
            if corner >= 0 and active[corner]:
                change += 0.0625 * (coarse[corner, k] - before[corner, k])
            change *= part
            if k == 0:
                water[i, 0] = max(water[i, 0] + change, 0.5 * water[i, 0])
            else:
                water[i, k] += change
