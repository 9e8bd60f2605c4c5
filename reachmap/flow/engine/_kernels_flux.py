"""Fluxes of the shallow-water equations through the faces of a square cell.

Sign conventions. A cell's faces are numbered 0 west, 1 east, 2 south, 3 north: `axis` = side // 2
is 0 for east-west and 1 for north-south, `sign` is +1 towards east and north. At a face velocities
are turned into its own frame: `normal` along the outward normal, `transverse` along the raster axis
parallel to the face (never turned). Every flux is positive out of the cell and per metre of face.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reachmap.base.arrays import Float32Array, IntArray
from reachmap.base.physics import GRAVITY
from reachmap.flow.engine.compiled import kernel
from reachmap.flow.engine.mesh import Mesh, State

INFLOW = 0
"""Kind of an open face: discharge per unit width held [m2/s]."""
LEVEL = 1
"""Kind of an open face: water level held [m]."""
SMALL_LEVEL2, SMALL_SPEED2 = 0.002**2, 0.01**2
"""Squares of changes from cell to cell too small to need a limiter [m2], [m2/s2]. Our choice."""
VACUUM = 1e-10
"""Depth below which there is no water [m]."""


class RiemannFlux(NamedTuple):
    """Flux through a face over a flat bed, with the slowest and fastest wave [m/s].

    Mass [m2/s], momentum along the normal and along the face [m3/s2].
    """

    mass: float
    normal: float
    transverse: float
    slow: float
    fast: float


class FaceFlux(NamedTuple):
    """Flux out of a cell into its neighbour; `depth_own`, `depth_next` meet above the sill [m]."""

    mass: float
    normal: float
    transverse: float
    slow: float
    fast: float
    depth_own: float
    depth_next: float


class OpenFlux(NamedTuple):
    """Flux out of a cell through an open face, its fastest wave, and how it follows the cell.

    `mass_h`, `mass_q`, `normal_h`, `normal_q`: derivatives of the mass and normal momentum flux by
    the cell's depth h and its normal discharge q.
    """

    mass: float
    normal: float
    transverse: float
    wave: float
    mass_h: float
    mass_q: float
    normal_h: float
    normal_q: float


@kernel
def limited_difference(before: float, after: float, small: float) -> float:
    """Return a mean of two differences that leans to the smaller one, about 0 where signs differ.

    Eq. (5), the limiter of van Albada, van Leer and Roberts (1982), from memory; `small` is the
    square of a difference too small to matter: well below it the plain mean. Smooth everywhere:
    with a limiter that has a kink the steady solve ends in a small circle instead of a point.
    """
    before2 = before * before + small
    after2 = after * after + small
    return (before2 * after + after2 * before) / (before2 + after2)


@kernel
def slope_cells(i: int, axis: int, mesh: Mesh) -> tuple[int, int, int]:
    """Return the three cells in a row that give cell i its slope; the first or last < 0: none do.

    Next to an open face they lie a cell further in, so that the slope is one-sided and the
    reconstruction of second order up to the boundary.
    """
    a = mesh.neighbours[i, 2 * axis]
    b = mesh.neighbours[i, 2 * axis + 1]
    if a <= -2 and b >= 0:
        return i, b, mesh.neighbours[b, 2 * axis + 1]
    if b <= -2 and a >= 0:
        return mesh.neighbours[a, 2 * axis], a, i
    return a, i, b


@kernel
def update_half_slopes(
    mesh: Mesh,
    state: State,
    thin: float,
    kept: float,
    slope_factor: Float32Array,
    which: IntArray,
) -> None:
    """Write half slopes of depth, level, velocity in cells `which`; flat by walls, in thin water.

    Parameters
    ----------
    mesh, state
        The grid; `state.half_slopes` is changed in place.
    thin
        Towards water of this depth slopes fade, over ten times of it: switched off at once they
        would flicker [m].
    kept
        Part of the old slopes that stays: 0 makes them new, 0.5 halves the change, which lets the
        steady solver take longer steps.
    slope_factor
        Part of the slope a cell may have, 0 to 1, shape (cells,).
    """
    water, bed, slopes = state.water, mesh.bed, state.half_slopes
    new = 1.0 - kept
    for i in which:
        for k in range(8):
            slopes[i, k] *= kept
        h = water[i, 0]
        if h <= thin:
            continue
        for axis in range(2):
            a, mid, b = slope_cells(i, axis, mesh)
            if a < 0 or b < 0:
                continue
            ha = water[a, 0]
            hm = water[mid, 0]
            hb = water[b, 0]
            fade = (min(ha, hb, hm) - thin) / (9.0 * thin)
            if fade <= 0.0:
                continue
            half = 0.5 * new * min(fade, 1.0) * slope_factor[i]
            o = 4 * axis
            # Depth keeps half its centre value at either face: it stays positive.
            depth = half * limited_difference(hm - ha, hb - hm, SMALL_LEVEL2)
            slopes[i, o] += min(max(depth, -half * h), half * h)
            # Level and depth are reconstructed, the bed is their difference: a level surface over
            # an uneven bed keeps a level slope of exactly 0, and so a lake stays at rest.
            em = hm + bed[mid]
            slopes[i, o + 1] += half * limited_difference(
                em - ha - bed[a], hb + bed[b] - em, SMALL_LEVEL2
            )
            for k in range(1, 3):
                slopes[i, o + 1 + k] += half * limited_difference(
                    water[mid, k] - water[a, k], water[b, k] - water[mid, k], SMALL_SPEED2
                )


@kernel
def hllc(h_l: float, u_l: float, v_l: float, h_r: float, u_r: float, v_r: float) -> RiemannFlux:
    """Return the flux of a Riemann problem over a flat bed, eq. (7) with wave speeds (8).

    Left and right depth [m], normal and transverse velocity [m/s]. Toro, Spruce and Speares (1994)
    with the wave speeds of two rarefactions, dry sides as in Toro (2001), section 10; from memory.
    """
    if h_l <= VACUUM and h_r <= VACUUM:
        return RiemannFlux(0.0, 0.0, 0.0, 0.0, 0.0)
    c_l = np.sqrt(GRAVITY * h_l)
    c_r = np.sqrt(GRAVITY * h_r)
    # Eq. (8). A dry side has no wave of its own: the wet side's front runs at u +- 2 c.
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
        return RiemannFlux(q_l, p_l, q_l * v_l, slow, fast)
    if fast <= 0.0:
        return RiemannFlux(q_r, p_r, q_r * v_r, slow, fast)
    # Eq. (7). The contact wave carries transverse velocity: it comes from the side mass comes from.
    spread = 1.0 / (fast - slow)
    mass = (fast * q_l - slow * q_r + slow * fast * (h_r - h_l)) * spread
    normal = (fast * p_l - slow * p_r + slow * fast * (q_r - q_l)) * spread
    return RiemannFlux(mass, normal, mass * (v_l if mass > 0.0 else v_r), slow, fast)


@kernel
def inner_face(i: int, j: int, axis: int, sign: float, mesh: Mesh, state: State) -> FaceFlux:
    """Return the flux out of cell i into its neighbour j.

    Hydrostatic reconstruction, eq. (6), of Audusse, Bouchut, Bristeau, Klein and Perthame (2004),
    from memory: both sides stand on the higher bed of the two, and the pressure on the step goes
    back to the cell, so water at rest stays at rest.
    """
    water, bed, slopes = state.water, mesh.bed, state.half_slopes
    o = 4 * axis
    # Values at the face from each side. The half slopes point east and north: the cell's own add
    # with `sign`, the neighbour's are taken off. Bed = level less depth, both reconstructed.
    h_i = water[i, 0] + sign * slopes[i, o]
    z_i = bed[i] + sign * (slopes[i, o + 1] - slopes[i, o])
    u_i = sign * (water[i, 1 + axis] + sign * slopes[i, o + 2 + axis])
    v_i = water[i, 2 - axis] + sign * slopes[i, o + 3 - axis]
    h_j = water[j, 0] - sign * slopes[j, o]
    z_j = bed[j] - sign * (slopes[j, o + 1] - slopes[j, o])
    u_j = sign * (water[j, 1 + axis] - sign * slopes[j, o + 2 + axis])
    v_j = water[j, 2 - axis] - sign * slopes[j, o + 3 - axis]
    sill = max(z_i, z_j)
    own = max(h_i + z_i - sill, 0.0)
    other = max(h_j + z_j - sill, 0.0)
    flux = hllc(own, u_i, v_i, other, u_j, v_j)
    # Pressure on the step between the cell's own bed and the sill, last term of eq. (6).
    step = 0.5 * GRAVITY * (h_i * h_i - own * own)
    return FaceFlux(
        flux.mass, flux.normal + step, flux.transverse, flux.slow, flux.fast, own, other
    )


@kernel
def wall_thrust(depth: float, speed: float) -> float:
    """Return the thrust on a wall, eq. (9) [m3/s2]: pressure, and the stop of a speed towards it.

    The HLL flux between a state and its mirror image; `speed` is positive towards the wall. Never
    below 0: a wall does not pull.
    """
    wave = np.sqrt(GRAVITY * depth) + abs(speed)
    still = 0.5 * GRAVITY * depth * depth
    return float(still + max(depth * speed * (speed + wave), -still))


@kernel
def open_face(i: int, face: int, axis: int, sign: float, mesh: Mesh, state: State) -> OpenFlux:
    """Return the flux out of cell i through open face number `face`."""
    if state.boundary.kind[face] == INFLOW:
        return inflow_face(i, face, axis, sign, state)
    return level_face(i, face, axis, sign, mesh, state)


@kernel
def inflow_face(i: int, face: int, axis: int, sign: float, state: State) -> OpenFlux:
    """Return the flux through a face whose discharge is held, eq. (10).

    Water enters along the river's direction, at critical depth at least: a head that has run dry
    would otherwise take it in at any speed.
    """
    h = max(state.water[i, 0] + sign * state.half_slopes[i, 4 * axis], 0.0)
    q = state.boundary.value[face]
    c = np.sqrt(GRAVITY * h)
    if q <= 0.0:
        thrust = wall_thrust(h, sign * state.water[i, 1 + axis])
        return OpenFlux(0.0, thrust, 0.0, c, 0.0, 0.0, GRAVITY * h, c)
    # q crosses the face; what runs along the river is larger, as the face stands askew.
    into = max(-sign * state.boundary.direction[face, axis], 0.05)
    whole = q / into
    depth = max(h, (whole * whole / GRAVITY) ** (1.0 / 3.0))
    normal = q * q / depth + 0.5 * GRAVITY * depth * depth
    transverse = -q * whole / depth * state.boundary.direction[face, 1 - axis]
    normal_h = GRAVITY * depth if depth == h else 0.0
    wave = np.sqrt(GRAVITY * depth) + q / depth
    return OpenFlux(-q, normal, transverse, wave, 0.0, 0.0, normal_h, 0.0)


@kernel
def level_face(i: int, face: int, axis: int, sign: float, mesh: Mesh, state: State) -> OpenFlux:
    """Return the flux through a face whose level is held, eq. (11).

    The outgoing Riemann invariant u + 2c gives the speed there; fast water leaves free of the
    level, water that would fall over the edge leaves at critical depth, and none comes back in.
    """
    water, slopes = state.water, state.half_slopes
    o = 4 * axis
    h = max(water[i, 0] + sign * slopes[i, o], 0.0)
    z = mesh.bed[i] + sign * (slopes[i, o + 1] - slopes[i, o])
    out = sign * (water[i, 1 + axis] + sign * slopes[i, o + 2 + axis])
    along = water[i, 2 - axis] + sign * slopes[i, o + 3 - axis]
    c = np.sqrt(GRAVITY * h)
    if out >= c and h > VACUUM:  # supercritical: nothing outside is felt
        normal = h * out * out + 0.5 * GRAVITY * h * h
        return OpenFlux(
            h * out, normal, h * out * along, out + c, 0.0, 1.0, c * c - out * out, 2.0 * out
        )
    depth = max(state.boundary.value[face] - z, 0.0)
    c_out = np.sqrt(GRAVITY * depth)
    speed = out + 2.0 * (c - c_out)
    if speed > c_out:  # a free overfall: critical, so that 3 c_out = out + 2 c
        c_out = (out + 2.0 * c) / 3.0
        depth = c_out * c_out / GRAVITY
        speed = c_out
    if speed <= 0.0:  # it would run back in: a wall
        return OpenFlux(
            0.0, wall_thrust(h, out), 0.0, c + abs(out), 0.0, 0.0, GRAVITY * h,
            c + 2.0 * abs(out),
        )  # fmt: skip
    mass = depth * speed
    normal = mass * speed + 0.5 * GRAVITY * depth * depth
    # With the outside depth held d speed = d(out + 2 c); out = q/h and dc = g dh / (2 c).
    base = max(h, 1e-3)
    mass_h = depth * (c - out) / base
    mass_q = depth / base
    return OpenFlux(
        mass,
        normal,
        mass * along,
        max(speed + c_out, abs(out) + c),
        mass_h,
        mass_q,
        2.0 * speed * mass_h,
        2.0 * speed * mass_q,
    )
