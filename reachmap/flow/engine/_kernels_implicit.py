"""The steady solver's sweep: each cell's three equations solved together, neighbours as they stand.

Nonlinear block symmetric Gauss-Seidel in pseudo-time. In cell i, with R the residual (fluxes out,
bed slope, friction), A its derivative by the cell's own (h, hu, hv) with wave speeds frozen, and a
local time step of `pace` cells a wave, A d = -R is solved and added. Cells are sorted down the
river, so a sweep down carries momentum the whole length and a sweep up carries levels. Slopes stay
frozen in a sweep: refreshing them inside it diverges (found by trial). Arrays as in
`_kernels_flux`.
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

LEAST_WAVE = 0.2
"""Slowest wave that sets the pseudo-time step [m/s]."""
FILM = 1e-4
"""Water no deeper than this has no speed [m]."""
CALM, SHORTER, LONGER, FLATTER = 1e-3, 0.7, 1.05, 0.8
"""Changes of speed below the first [m/s] are calm; factors of a cell's step and of its slopes. Our
choice by trial."""
RESTLESS = 0.02
"""A swing above this flattens the slopes, where asked for [m/s]. Our choice."""
COUNTED_DEPTH = 0.03
"""Thinner water does not count in the change a cycle makes [m]."""
FILM_RISE = 0.02
"""Most that a film gains in a sweep [m]."""


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def takes_part(
    i: int, water: FloatArray, bed: FloatArray, beside: IntArray, gates: FloatArray, fed: float
) -> bool:
    """Return whether cell i has water, or water at its side that stands higher than it."""
    if water[i, 0] > VACUUM or fed > 0.0:
        return True
    for side_no in range(4):
        j = beside[i, side_no]
        if j >= 0:
            if water[j, 0] > VACUUM and water[j, 0] + bed[j] > bed[i]:
                return True
        elif j <= -2 and gates[-2 - j, 1] > (0.0 if gates[-2 - j, 0] == 0.0 else bed[i]):
            return True
    return False


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def sweep(
    water: FloatArray,
    bed: FloatArray,
    rough2: FloatArray,
    tilt: Float32Array,
    stir: Float32Array,
    beside: IntArray,
    gates: FloatArray,
    extra: FloatArray,
    cell: float,
    pace: Float32Array,
    down: bool,
) -> None:
    """Sweep all cells once, down the river or up, and change `water` in place."""
    n = water.shape[0]
    for turn in range(n):
        i = turn if down else n - 1 - turn
        fed = extra[i, 0] if extra.shape[0] > 0 else 0.0
        if not takes_part(i, water, bed, beside, gates, fed):
            water[i, 0] = 0.0
            water[i, 1] = 0.0
            water[i, 2] = 0.0
            continue
        h = water[i, 0]
        h_in = max(h, 1e-6)
        r0 = -fed * cell
        r1 = -extra[i, 1] * cell if extra.shape[0] > 0 else 0.0
        r2 = -extra[i, 2] * cell if extra.shape[0] > 0 else 0.0
        wave = LEAST_WAVE
        a00 = 0.0
        a01 = 0.0
        a02 = 0.0
        a10 = 0.0
        a11 = 0.0
        a12 = 0.0
        a20 = 0.0
        a21 = 0.0
        a22 = 0.0
        for side_no in range(4):
            axis = side_no // 2
            sign = 1.0 if side_no % 2 == 1 else -1.0
            j = beside[i, side_no]
            un = sign * water[i, 1 + axis]
            ut = water[i, 2 - axis]
            # d mass, d push by own depth and own normal discharge; d side by own transverse one
            if j >= 0:
                if h <= VACUUM and water[j, 0] <= VACUUM:
                    continue
                mass, thrust, side, slow, fast, meet_i, meet_j = inner_face(
                    i, j, axis, sign, water, bed, tilt
                )
                wave = max(wave, abs(slow), abs(fast))
                if meet_i <= VACUUM:
                    m0, m1, n0, n1 = 0.0, 0.0, GRAVITY * h, 0.0
                elif slow >= 0.0:
                    m0, m1, n0, n1 = 0.0, 1.0, GRAVITY * h - un * un, 2.0 * un
                elif fast <= 0.0:
                    m0, m1, n0, n1 = 0.0, 0.0, GRAVITY * (h - meet_i), 0.0
                else:
                    m1 = fast / (fast - slow)
                    m0 = -slow * m1
                    n0 = m1 * (GRAVITY * meet_i - un * un) + GRAVITY * (h - meet_i)
                    n1 = m1 * 2.0 * un + m0
                if mass > 0.0:
                    t0, t1, t2 = ut * (m0 - mass / h_in), ut * m1, mass / h_in
                else:
                    t0, t1, t2 = water[j, 2 - axis] * m0, water[j, 2 - axis] * m1, 0.0
                mix = min(stir[i], stir[j]) / cell
                if mix > 0.0 and meet_i > VACUUM and meet_j > VACUUM:
                    thrust += sign * mix * (water[i, 1 + axis] - water[j, 1 + axis])
                    side += mix * (water[i, 2 - axis] - water[j, 2 - axis])
                    n1 += mix / h_in
                    t2 += mix / h_in
            elif j == WALL:
                mass, side = 0.0, 0.0
                thrust = wall_push(h, un)
                c = np.sqrt(GRAVITY * h)
                wave = max(wave, c)
                m0, m1, n0, n1 = 0.0, 0.0, GRAVITY * h, c + 2.0 * abs(un)
                t0, t1, t2 = 0.0, 0.0, 0.0
            else:
                mass, thrust, side, speed, m0, m1, n0, n1 = open_face(
                    i, -2 - j, axis, sign, water, bed, tilt, gates
                )
                wave = max(wave, speed)
                if mass > 0.0:
                    t0, t1, t2 = ut * (m0 - mass / h_in), ut * m1, mass / h_in
                else:
                    t0, t1, t2 = 0.0, 0.0, 0.0
            r0 += mass
            a00 += m0
            if axis == 0:
                r1 += sign * thrust
                r2 += side
                a01 += sign * m1
                a10 += sign * n0
                a11 += n1
                a20 += t0
                a21 += sign * t1
                a22 += t2
            else:
                r2 += sign * thrust
                r1 += side
                a02 += sign * m1
                a20 += sign * n0
                a22 += n1
                a10 += t0
                a12 += sign * t1
                a11 += t2
        r1 += 2.0 * GRAVITY * h * (tilt[i, 1] - tilt[i, 0])
        r2 += 2.0 * GRAVITY * h * (tilt[i, 5] - tilt[i, 4])
        steady = wave / pace[i]
        a00 += steady
        if h <= FILM:  # a film: depth alone moves
            water[i, 0] = bounded_depth(h, h + min(-r0 / a00, FILM_RISE))
            water[i, 1] = 0.0
            water[i, 2] = 0.0
            continue
        qx = h * water[i, 1]
        qy = h * water[i, 2]
        q = np.sqrt(qx * qx + qy * qy) + 1e-12
        drag = rough_bed_drag(rough2[i], h) * cell
        r1 += drag * q * qx
        r2 += drag * q * qy
        a11 += steady + drag * (q + qx * qx / q)
        a22 += steady + drag * (q + qy * qy / q)
        a12 += drag * qx * qy / q
        a21 += drag * qx * qy / q
        a10 -= 7.0 / 3.0 * drag * q * qx / h
        a20 -= 7.0 / 3.0 * drag * q * qy / h
        # 3 by 3 elimination
        f = a10 / a00
        a11 -= f * a01
        a12 -= f * a02
        b1 = -r1 + f * r0
        f = a20 / a00
        a21 -= f * a01
        a22 -= f * a02
        b2 = -r2 + f * r0
        det = a11 * a22 - a12 * a21
        d1 = (b1 * a22 - b2 * a12) / det
        d2 = (b2 * a11 - b1 * a21) / det
        d0 = (-r0 - a01 * d1 - a02 * d2) / a00
        limit = max(0.25 * h, FILM_RISE) if d0 > 0.0 else 0.5 * h
        if abs(d0) > limit:
            scale = limit / abs(d0)
            d0 *= scale
            d1 *= scale
            d2 *= scale
        depth = bounded_depth(h, h + d0)
        water[i, 0] = depth
        if depth <= FILM:
            water[i, 1] = 0.0
            water[i, 2] = 0.0
            continue
        east = (qx + d1) / depth
        north = (qy + d2) / depth
        speed = np.sqrt(east * east + north * north)
        most = 2.5 * np.sqrt(GRAVITY * depth) + 0.5
        if speed > most:
            east *= most / speed
            north *= most / speed
        water[i, 1] = east
        water[i, 2] = north


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def bounded_depth(old: float, new: float) -> float:
    """Return the new depth, half the old one where it would fall below 0, 0 where next to none."""
    if new < 0.0:
        new = 0.5 * old
    return new if new > 2.0 * VACUUM else 0.0


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def ease_pace(
    water: FloatArray,
    before: Float32Array,
    moved: Float32Array,
    most: float,
    soothe: bool,
    pace: Float32Array,
    calm: Float32Array,
) -> tuple[float, float, int]:
    """Shorten the step of cells whose speed swings to and fro, lengthen the others', up to `most`.

    With `soothe` their slopes are flattened too, for good: `calm` falls.

    `before` (cells, 3) is the water a cycle ago and is overwritten with the water now; `moved`
    (cells, 2) the change of speed in the cycle before it, overwritten with this one's. Returns the
    sums of squares of the changes of depth and speed and the number of cells they are over.
    """
    depth2 = 0.0
    speed2 = 0.0
    number = 0
    for i in range(water.shape[0]):
        rise = water[i, 0] - before[i, 0]
        east = water[i, 1] - before[i, 1]
        north = water[i, 2] - before[i, 2]
        if max(water[i, 0], before[i, 0]) > COUNTED_DEPTH:
            depth2 += rise * rise
            speed2 += east * east + north * north
            number += 1
        if abs(east) + abs(north) > CALM and east * moved[i, 0] + north * moved[i, 1] < 0.0:
            pace[i] = max(pace[i] * SHORTER, 1.0)
            if soothe and abs(east) + abs(north) > RESTLESS:
                calm[i] *= FLATTER
        else:
            pace[i] = pace[i] * LONGER
        pace[i] = min(pace[i], most)
        moved[i, 0] = east
        moved[i, 1] = north
        for k in range(3):
            before[i, k] = water[i, k]
    return depth2, speed2, number
