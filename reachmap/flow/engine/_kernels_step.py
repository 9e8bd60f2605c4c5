"""The explicit scheme: kept as the reference that the steady solver is compared with.

Heun's method (second-order Runge-Kutta, total variation diminishing; Shu and Osher 1988, from
memory) with friction taken implicitly. Arrays as in `_kernels_flux`.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import Float32Array, FloatArray, IntArray
from reachmap.flow.engine._kernels_flux import (
    FAST,
    GRAVITY,
    VACUUM,
    WALL,
    inner_face,
    open_face,
    rough_bed_drag,
    wall_push,
)


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def cell_loss(
    i: int,
    water: FloatArray,
    bed: FloatArray,
    tilt: Float32Array,
    stir: Float32Array,
    beside: IntArray,
    gates: FloatArray,
    extra: FloatArray,
    cell: float,
) -> tuple[float, float, float, float]:
    """Return what leaves cell i less what the bed gives it, and its fastest wave.

    Mass [m2/s], east and north momentum [m3/s2] out of the cell, times the cell over its area;
    the wave in m/s. Friction and the pushes of `extra` are not in it.
    """
    h = water[i, 0]
    mass = -extra[i, 0] * cell if extra.shape[0] > 0 else 0.0
    east = 0.0
    north = 0.0
    wave = 0.0
    for side_no in range(4):
        axis = side_no // 2
        sign = 1.0 if side_no % 2 == 1 else -1.0
        j = beside[i, side_no]
        if j >= 0:
            if h <= VACUUM and water[j, 0] <= VACUUM:
                continue
            flow, push, side, slow, fast, meet_i, meet_j = inner_face(
                i, j, axis, sign, water, bed, tilt
            )
            speed = max(abs(slow), abs(fast))
            mix = min(stir[i], stir[j]) / cell
            if mix > 0.0 and meet_i > 0.0 and meet_j > 0.0:
                push += sign * mix * (water[i, 1 + axis] - water[j, 1 + axis])
                side += mix * (water[i, 2 - axis] - water[j, 2 - axis])
        elif j == WALL:
            flow, side, speed = 0.0, 0.0, np.sqrt(GRAVITY * h)
            push = wall_push(h, sign * water[i, 1 + axis])
        else:
            flow, push, side, speed, _, _, _, _ = open_face(
                i, -2 - j, axis, sign, water, bed, tilt, gates
            )
        mass += flow
        wave = max(wave, speed)
        if axis == 0:
            east += sign * push
            north += side
        else:
            north += sign * push
            east += side
    # The bed's slope within the cell (Audusse et al. 2004, centred term).
    east += 2.0 * GRAVITY * h * (tilt[i, 1] - tilt[i, 0])
    north += 2.0 * GRAVITY * h * (tilt[i, 5] - tilt[i, 4])
    return mass, east, north, wave


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def sum_fluxes(
    water: FloatArray,
    bed: FloatArray,
    tilt: Float32Array,
    stir: Float32Array,
    beside: IntArray,
    gates: FloatArray,
    extra: FloatArray,
    cell: float,
    total: FloatArray,
) -> None:
    """Write what `cell_loss` returns for each cell into `total` (cells, 4)."""
    for i in range(water.shape[0]):
        mass, east, north, wave = cell_loss(i, water, bed, tilt, stir, beside, gates, extra, cell)
        total[i, 0] = mass
        total[i, 1] = east
        total[i, 2] = north
        total[i, 3] = wave


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def take_step(
    water: FloatArray,
    start: FloatArray,
    total: FloatArray,
    rough2: FloatArray,
    extra: FloatArray,
    cell: float,
    thin: float,
    pace: float,
    courant: float,
    blend: float,
) -> None:
    """Move the water on by one stage of Heun's method: start (1 - blend) + blend (water + change).

    `pace` is the time step [s]; 0 or less: each cell its own, courant cell / wave (for steady
    flow). Depth never falls below 0; thin water has no speed.
    """
    for i in range(water.shape[0]):
        step = pace if pace > 0.0 else courant * cell / max(total[i, 3], 0.1)
        share = step / cell
        h_old = water[i, 0]
        force_x = extra[i, 1] if extra.shape[0] > 0 else 0.0
        force_y = extra[i, 2] if extra.shape[0] > 0 else 0.0
        h = max(h_old - share * total[i, 0], 0.0)
        east = h_old * water[i, 1] - share * total[i, 1] + step * force_x
        north = h_old * water[i, 2] - share * total[i, 2] + step * force_y
        if h > thin:
            # u = rhs / (1 + step g n^2 |V| / h^(4/3)) with |V| from u itself: a quadratic's root
            drag = step * rough_bed_drag(rough2[i], h)
            size = np.sqrt(east * east + north * north)
            slowed = 2.0 / (1.0 + np.sqrt(1.0 + 4.0 * drag * size))
            east *= slowed
            north *= slowed
        else:
            east = 0.0
            north = 0.0
        if blend < 1.0:
            h_start = start[i, 0]
            h = (1.0 - blend) * h_start + blend * h
            east = (1.0 - blend) * h_start * start[i, 1] + blend * east
            north = (1.0 - blend) * h_start * start[i, 2] + blend * north
        water[i, 0] = h
        water[i, 1] = east / h if h > thin else 0.0
        water[i, 2] = north / h if h > thin else 0.0


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def fastest_wave(total: FloatArray) -> float:
    """Return the fastest wave anywhere [m/s]."""
    most = 0.0
    for i in range(total.shape[0]):
        most = max(most, total[i, 3])
    return most
