"""Fluxes of the shallow-water equations through the faces of a square cell.

Equations, divided by the density (h depth, u east, v north, z bed, g gravity, n Manning's):

    h_t    + (hu)_x + (hv)_y                   = source
    (hu)_t + (hu^2 + g h^2/2)_x + (huv)_y      = -g h z_x - g n^2 |V| u / h^(1/3) + div(nu h grad u)
    (hv)_t + (huv)_x + (hv^2 + g h^2/2)_y      = -g h z_y - g n^2 |V| v / h^(1/3) + div(nu h grad v)

State `water` (cells, 3): h [m], u, v [m/s]. Half slopes `tilt` (cells, 8): the change from the
centre to the east face of h, level, u, v, then to the north face. `beside` (cells, 4): the
neighbour to the west, east, south, north; -1 a wall; -2 - k the open face k of `gates` (open
faces, 4): kind, value, and the east and north part of the direction of flow there. `extra` (cells
or none, 3): water let in from above [m/s], push east and north [m2/s2]. All kernels also run as
plain Python. Kernels of other files take these in when they are compiled: after a change here,
delete their files in `__pycache__` (*.nbi, *.nbc).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from reachmap.base.arrays import Float32Array, FloatArray, IntArray

GRAVITY = 9.80665
"""[m/s2]"""
WALL = -1
"""A face no water crosses."""
INFLOW = 0.0
"""Kind of an open face: discharge per unit width held [m2/s]."""
LEVEL = 1.0
"""Kind of an open face: water level held [m]."""
SMALL_LEVEL2, SMALL_SPEED2 = 0.002**2, 0.01**2
"""Squares of changes from cell to cell too small to need a limiter [m2], [m2/s2]. Our choice."""
VACUUM = 1e-10
"""Depth below which there is no water [m]."""

FAST = {"contract", "nsz", "arcp"}
"""Freedoms that keep NaN and infinity: fused multiply-add, sign of zero, division as product."""


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def eased_slope(before: float, after: float, small: float) -> float:
    """Return a mean of two differences that leans to the smaller one, about 0 where signs differ.

    The limiter of van Albada, van Leer and Roberts (1982), from memory; `small` is the square of a
    difference too small to matter: well below it the plain mean. Smooth everywhere: with a limiter
    that has a kink the steady solve ends in a small circle instead of a point.
    """
    before2 = before * before + small
    after2 = after * after + small
    return (before2 * after + after2 * before) / (before2 + after2)


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def tilt_cells(
    water: FloatArray,
    bed: FloatArray,
    beside: IntArray,
    thin: float,
    calm: Float32Array,
    keep: float,
    tilt: Float32Array,
) -> None:
    """Write the half slopes of depth, level and speeds; flat beside walls and in thin water.

    Beside an open face the slope is one-sided, eased with the next one inwards, so that the
    reconstruction is of second order up to the boundary. Towards thin water slopes fade, over a
    depth of ten times `thin`: switched off at once they would flicker. `calm` (cells,), 0 to 1, is
    the part of the slope a cell is allowed. `keep` is the part of the slopes already in `tilt`
    that stays: 0 makes them new, 0.5 halves the change, which lets the steady solver take longer
    steps. Arrays as in the module's head.
    """
    new = 1.0 - keep
    for i in range(water.shape[0]):
        for k in range(8):
            tilt[i, k] *= keep
        h = water[i, 0]
        if h <= thin:
            continue
        for axis in range(2):
            a = beside[i, 2 * axis]
            b = beside[i, 2 * axis + 1]
            if a >= 0 and b >= 0:
                mid = i
            elif a <= -2 and b >= 0:  # open face before: shift one cell inwards
                mid, a = b, i
                b = beside[b, 2 * axis + 1]
            elif b <= -2 and a >= 0:
                mid, b = a, i
                a = beside[a, 2 * axis]
            else:
                continue
            if a < 0 or b < 0:
                continue
            ha = water[a, 0]
            hm = water[mid, 0]
            hb = water[b, 0]
            fade = (min(ha, hb, hm) - thin) / (9.0 * thin)
            if fade <= 0.0:
                continue
            half = 0.5 * new * min(fade, 1.0) * calm[i]
            o = 4 * axis
            deep = half * eased_slope(hm - ha, hb - hm, SMALL_LEVEL2)
            tilt[i, o] += min(max(deep, -half * h), half * h)
            em = hm + bed[mid]
            tilt[i, o + 1] += half * eased_slope(em - ha - bed[a], hb + bed[b] - em, SMALL_LEVEL2)
            for k in range(1, 3):
                tilt[i, o + 1 + k] += half * eased_slope(
                    water[mid, k] - water[a, k], water[b, k] - water[mid, k], SMALL_SPEED2
                )


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def hllc(
    h_l: float, u_l: float, v_l: float, h_r: float, u_r: float, v_r: float
) -> tuple[float, float, float, float, float]:
    """Return mass, normal and transverse momentum flux and the slowest and fastest wave.

    Left and right depth [m], normal and transverse speed [m/s] of a Riemann problem over a flat
    bed. Toro, Spruce and Speares (1994) with the wave speeds of two rarefactions, dry sides as in
    Toro (2001), section 10; from memory.
    """
    if h_l <= VACUUM and h_r <= VACUUM:
        return 0.0, 0.0, 0.0, 0.0, 0.0
    c_l = np.sqrt(GRAVITY * h_l)
    c_r = np.sqrt(GRAVITY * h_r)
    if h_l <= VACUUM:
        slow = u_r - 2.0 * c_r
        fast = u_r + c_r
    elif h_r <= VACUUM:
        slow = u_l - c_l
        fast = u_l + 2.0 * c_l
    else:
        u_star = 0.5 * (u_l + u_r) + c_l - c_r
        c_star = max(0.5 * (c_l + c_r) + 0.25 * (u_l - u_r), 0.0)
        slow = min(u_l - c_l, u_star - c_star)
        fast = max(u_r + c_r, u_star + c_star)
    q_l = h_l * u_l
    q_r = h_r * u_r
    p_l = q_l * u_l + 0.5 * GRAVITY * h_l * h_l
    p_r = q_r * u_r + 0.5 * GRAVITY * h_r * h_r
    if slow >= 0.0:
        return q_l, p_l, q_l * v_l, slow, fast
    if fast <= 0.0:
        return q_r, p_r, q_r * v_r, slow, fast
    spread = 1.0 / (fast - slow)
    mass = (fast * q_l - slow * q_r + slow * fast * (h_r - h_l)) * spread
    push = (fast * p_l - slow * p_r + slow * fast * (q_r - q_l)) * spread
    return mass, push, mass * (v_l if mass > 0.0 else v_r), slow, fast


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def inner_face(
    i: int, j: int, axis: int, sign: float, water: FloatArray, bed: FloatArray, tilt: Float32Array
) -> tuple[float, float, float, float, float, float, float]:
    """Return the flux out of cell i into j, the waves, and the depths that meet at the face.

    `axis` 0 east-west, 1 north-south; `sign` +1 towards east or north. Fluxes: mass, momentum along
    the outward normal, momentum of the transverse speed. Hydrostatic reconstruction of Audusse,
    Bouchut, Bristeau, Klein and Perthame (2004), from memory: both sides stand on the higher bed of
    the two, and the pressure on the step goes back to the cell, so water at rest stays at rest.
    """
    o = 4 * axis
    h_i = water[i, 0] + sign * tilt[i, o]
    z_i = bed[i] + sign * (tilt[i, o + 1] - tilt[i, o])
    u_i = sign * (water[i, 1 + axis] + sign * tilt[i, o + 2 + axis])
    v_i = water[i, 2 - axis] + sign * tilt[i, o + 3 - axis]
    h_j = water[j, 0] - sign * tilt[j, o]
    z_j = bed[j] - sign * (tilt[j, o + 1] - tilt[j, o])
    u_j = sign * (water[j, 1 + axis] - sign * tilt[j, o + 2 + axis])
    v_j = water[j, 2 - axis] - sign * tilt[j, o + 3 - axis]
    sill = max(z_i, z_j)
    meet_i = max(h_i + z_i - sill, 0.0)
    meet_j = max(h_j + z_j - sill, 0.0)
    mass, push, side, slow, fast = hllc(meet_i, u_i, v_i, meet_j, u_j, v_j)
    push += 0.5 * GRAVITY * (h_i * h_i - meet_i * meet_i)
    return mass, push, side, slow, fast, meet_i, meet_j


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def wall_push(depth: float, speed: float) -> float:
    """Return the push of water on a wall: pressure and the stop of a speed towards it [m3/s2].

    The HLL flux between a state and its mirror image.
    """
    wave = np.sqrt(GRAVITY * depth) + abs(speed)
    still = 0.5 * GRAVITY * depth * depth
    return float(still + max(depth * speed * (speed + wave), -still))


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def open_face(
    i: int,
    gate: int,
    axis: int,
    sign: float,
    water: FloatArray,
    bed: FloatArray,
    tilt: Float32Array,
    gates: FloatArray,
) -> tuple[float, float, float, float, float, float, float, float]:
    """Return the flux out of cell i through open face `gate`, and how it follows the cell's state.

    Mass, normal and transverse momentum, wave speed, then d mass/dh, d mass/dq, d push/dh, d
    push/dq. Discharge held: it enters along the gate's direction, at critical depth at least.
    Level held: the outgoing Riemann invariant u + 2c gives the speed there; fast water leaves free
    of the level, water that would fall over the edge leaves at critical depth, and none comes back
    in.
    """
    o = 4 * axis
    h = max(water[i, 0] + sign * tilt[i, o], 0.0)
    if gates[gate, 0] == INFLOW:
        q = gates[gate, 1]
        if q <= 0.0:
            push = wall_push(h, sign * water[i, 1 + axis])
            return 0.0, push, 0.0, np.sqrt(GRAVITY * h), 0.0, 0.0, GRAVITY * h, np.sqrt(GRAVITY * h)
        into = max(-sign * gates[gate, 2 + axis], 0.05)
        whole = q / into
        deep = max(h, (whole * whole / GRAVITY) ** (1.0 / 3.0))
        push = q * q / deep + 0.5 * GRAVITY * deep * deep
        side = -q * whole / deep * gates[gate, 3 - axis]
        rise = GRAVITY * deep if deep == h else 0.0
        return -q, push, side, np.sqrt(GRAVITY * deep) + q / deep, 0.0, 0.0, rise, 0.0
    z = bed[i] + sign * (tilt[i, o + 1] - tilt[i, o])
    out = sign * (water[i, 1 + axis] + sign * tilt[i, o + 2 + axis])
    along = water[i, 2 - axis] + sign * tilt[i, o + 3 - axis]
    c = np.sqrt(GRAVITY * h)
    if out >= c and h > VACUUM:
        push = h * out * out + 0.5 * GRAVITY * h * h
        return h * out, push, h * out * along, out + c, 0.0, 1.0, c * c - out * out, 2.0 * out
    deep = max(gates[gate, 1] - z, 0.0)
    c_out = np.sqrt(GRAVITY * deep)
    speed = out + 2.0 * (c - c_out)
    if speed > c_out:
        c_out = (out + 2.0 * c) / 3.0
        deep = c_out * c_out / GRAVITY
        speed = c_out
    if speed <= 0.0:
        return 0.0, wall_push(h, out), 0.0, c + abs(out), 0.0, 0.0, GRAVITY * h, c + 2.0 * abs(out)
    mass = deep * speed
    push = mass * speed + 0.5 * GRAVITY * deep * deep
    side = mass * along
    base = max(h, 1e-3)
    by_depth = deep * (c - out) / base
    by_flow = deep / base
    return (
        mass,
        push,
        side,
        max(speed + c_out, abs(out) + c),
        by_depth,
        by_flow,
        2.0 * speed * by_depth,
        2.0 * speed * by_flow,
    )


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def stir_cells(
    water: FloatArray, rough2: FloatArray, share: float, thin: float, stir: Float32Array
) -> None:
    """Write eddy viscosity times depth, nu h with nu = share u* h [m3/s]; 0 in thin water.

    u* = sqrt(g) n |V| / h^(1/6) (Manning). `rough2` is n squared, `share` about 0.15 (Fischer et
    al. 1979 for straight channels, from memory).
    """
    for i in range(water.shape[0]):
        h = water[i, 0]
        if h > thin and share > 0.0:
            speed = np.sqrt(water[i, 1] * water[i, 1] + water[i, 2] * water[i, 2])
            stir[i] = share * np.sqrt(GRAVITY * rough2[i] / np.cbrt(h)) * speed * h * h
        else:
            stir[i] = 0.0


@njit(cache=True, error_model="numpy", nogil=True, fastmath=FAST)
def rough_bed_drag(rough2: float, depth: float) -> float:
    """Return g n^2 / h^(7/3): times |q| q it is friction [m2/s2], q = h V (Manning 1891)."""
    h = max(depth, 1e-3)
    return float(GRAVITY * rough2 / (h * h * np.cbrt(h)))
