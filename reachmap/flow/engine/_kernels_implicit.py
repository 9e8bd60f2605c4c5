"""The steady solver's sweep: each cell's three equations solved together, neighbours as they stand.

Nonlinear block symmetric Gauss-Seidel in pseudo-time, eqs. (13) to (19). In cell i, with R the
residual (fluxes out, bed slope, friction), A its derivative by the cell's own (h, hu, hv) with wave
speeds frozen, and a local time step in which a wave crosses `cfl` cells, A d = -R is solved and
added. All terms are multiplied by the side of the cell, so that R is a sum of fluxes per metre of
face. Cells are sorted down the river: a sweep down carries momentum the whole length, one up
carries levels. Slopes and eddy viscosity stay frozen in a sweep: refreshing them inside it diverges
(found by trial).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reachmap.base.arrays import Float32Array, FloatArray
from reachmap.base.physics import GRAVITY
from reachmap.flow.engine._kernels_flux import (
    INFLOW,
    VACUUM,
    friction_factor,
    inner_face,
    open_face,
    wall_thrust,
)
from reachmap.flow.engine.compiled import inlined_kernel, kernel
from reachmap.flow.engine.mesh import WALL, Mesh, State

LEAST_WAVE = 0.2
"""Slowest wave that sets the pseudo-time step [m/s]."""
FILM = 1e-4
"""Water no deeper than this has no speed [m]."""
LEAST_DEPTH = 1e-6
"""Depth that velocities' derivatives are divided by, at least [m]."""
CALM, SHORTER, LONGER, FLATTER = 1e-3, 0.7, 1.05, 0.8
"""Changes of speed below the first [m/s] are calm; factors of a cell's step and of its slopes. Our
choice by trial."""
RESTLESS = 0.02
"""An oscillation above this flattens the slopes in the last resort [m/s]. Our choice."""
COUNTED_DEPTH = 0.03
"""Thinner water does not count in the change a cycle makes [m]."""
FILM_RISE = 0.02
"""Most that a film gains in a sweep [m]."""
MOST_RISE, MOST_FALL = 0.25, 0.5
"""Largest changes of depth in a sweep over the depth. Our choice by trial."""
SPEED_CAP_FROUDE, SPEED_CAP = 2.5, 0.5
"""Speed stays below the first times the wave speed plus the second [m/s]: no river runs so fast for
long, and a thin cell that overshoots would spoil its neighbours. Our choice."""


class FaceTerms(NamedTuple):
    """Flux out of a face and its derivatives by the cell's own state, in the face's frame.

    `mass`, `normal`, `transverse`: the flux; `wave` the fastest wave [m/s]; `_h`, `_q`, `_t`:
    derivative by depth, by discharge along the outward normal, by discharge along the face.
    """

    mass: float
    normal: float
    transverse: float
    wave: float
    mass_h: float
    mass_q: float
    normal_h: float
    normal_q: float
    transverse_h: float
    transverse_q: float
    transverse_t: float


class CellSystem(NamedTuple):
    """A d = -R of one cell, d = (dh, d hu, d hv): residual, matrix by rows, pseudo-time term [m/s].

    `steady` stands in `a00` already, not yet in `a11` and `a22`.
    """

    r0: float
    r1: float
    r2: float
    a00: float
    a01: float
    a02: float
    a10: float
    a11: float
    a12: float
    a20: float
    a21: float
    a22: float
    steady: float


@kernel
def takes_part(i: int, mesh: Mesh, state: State) -> bool:
    """Return whether cell i has water, or gets some: from above, a higher neighbour, a face."""
    water, bed, boundary = state.water, mesh.bed, state.boundary
    if water[i, 0] > VACUUM or (state.sources.shape[0] > 0 and state.sources[i, 0] > 0.0):
        return True
    for side in range(4):
        j = mesh.neighbours[i, side]
        if j >= 0:
            if water[j, 0] > VACUUM and water[j, 0] + bed[j] > bed[i]:
                return True
        elif j <= -2:
            face = -2 - j
            if boundary.value[face] > (0.0 if boundary.kind[face] == INFLOW else bed[i]):
                return True
    return False


@inlined_kernel
def inner_terms(i: int, j: int, axis: int, sign: float, mesh: Mesh, state: State) -> FaceTerms:
    """Return flux and derivatives of the face between cell i and its neighbour j, eq. (15)."""
    water = state.water
    flux = inner_face(i, j, axis, sign, mesh, state)
    h = water[i, 0]
    deep = max(h, LEAST_DEPTH)
    un = sign * water[i, 1 + axis]
    ut = water[i, 2 - axis]
    slow, fast, own = flux.slow, flux.fast, flux.depth_own
    # Derivatives of the HLL flux with its waves frozen, own state on the left. g (h - own) is that
    # of the pressure on the step, g (h^2 - own^2) / 2, as own moves with h.
    if own <= VACUUM:  # the sill stands above the water: pressure alone
        m_h, m_q, n_h, n_q = 0.0, 0.0, GRAVITY * h, 0.0
    elif slow >= 0.0:  # supercritical outwards: the flux is the own state's
        m_h, m_q, n_h, n_q = 0.0, 1.0, GRAVITY * h - un * un, 2.0 * un
    elif fast <= 0.0:  # supercritical inwards: the flux is the neighbour's
        m_h, m_q, n_h, n_q = 0.0, 0.0, GRAVITY * (h - own), 0.0
    else:
        m_q = fast / (fast - slow)
        m_h = -slow * m_q
        n_h = m_q * (GRAVITY * own - un * un) + GRAVITY * (h - own)
        n_q = m_q * 2.0 * un + m_h
    # The transverse flux is mass times velocity from upwind: t/h of the cell where water leaves.
    if flux.mass > 0.0:
        t_h, t_q, t_t = ut * (m_h - flux.mass / deep), ut * m_q, flux.mass / deep
    else:
        t_h, t_q, t_t = water[j, 2 - axis] * m_h, water[j, 2 - axis] * m_q, 0.0
    normal, transverse = flux.normal, flux.transverse
    # Eddy stress, eq. (12): the thinner side's nu h times the difference over a cell.
    mix = min(state.eddy_viscosity[i], state.eddy_viscosity[j]) / mesh.cell
    if mix > 0.0 and own > VACUUM and flux.depth_next > VACUUM:
        normal += sign * mix * (water[i, 1 + axis] - water[j, 1 + axis])
        transverse += mix * (water[i, 2 - axis] - water[j, 2 - axis])
        n_q += mix / deep
        t_t += mix / deep
    wave = max(abs(slow), abs(fast))
    return FaceTerms(flux.mass, normal, transverse, wave, m_h, m_q, n_h, n_q, t_h, t_q, t_t)


@kernel
def wall_terms(i: int, axis: int, sign: float, state: State) -> FaceTerms:
    """Return flux and derivatives of a wall: thrust alone, eq. (9)."""
    h = state.water[i, 0]
    un = sign * state.water[i, 1 + axis]
    c = np.sqrt(GRAVITY * h)
    n_q = c + 2.0 * abs(un)
    thrust = wall_thrust(h, un)
    return FaceTerms(0.0, thrust, 0.0, c, 0.0, 0.0, GRAVITY * h, n_q, 0.0, 0.0, 0.0)


@kernel
def open_terms(i: int, face: int, axis: int, sign: float, mesh: Mesh, state: State) -> FaceTerms:
    """Return flux and derivatives of open face number `face`, eqs. (10), (11)."""
    flux = open_face(i, face, axis, sign, mesh, state)
    t_h, t_q, t_t = 0.0, 0.0, 0.0
    if flux.mass > 0.0:
        ut, deep = state.water[i, 2 - axis], max(state.water[i, 0], LEAST_DEPTH)
        t_h = ut * (flux.mass_h - flux.mass / deep)
        t_q = ut * flux.mass_q
        t_t = flux.mass / deep
    return FaceTerms(
        flux.mass, flux.normal, flux.transverse, flux.wave,
        flux.mass_h, flux.mass_q, flux.normal_h, flux.normal_q, t_h, t_q, t_t,
    )  # fmt: skip


@inlined_kernel
def cell_system(  # noqa: PLR0915  (the twelve sums, once for each direction of a face)
    i: int, mesh: Mesh, state: State, cfl: float
) -> CellSystem:
    """Return fluxes, bed slope and sources of cell i and their derivatives, eq. (14).

    Without friction, which only water deeper than a film needs. In the pseudo-time step a wave
    crosses `cfl` cells.
    """
    water, slopes, sources = state.water, state.half_slopes, state.sources
    h = water[i, 0]
    driven = sources.shape[0] > 0
    r0 = -sources[i, 0] * mesh.cell if driven else 0.0
    r1 = -sources[i, 1] * mesh.cell if driven else 0.0
    r2 = -sources[i, 2] * mesh.cell if driven else 0.0
    a00, a01, a02 = 0.0, 0.0, 0.0
    a10, a11, a12 = 0.0, 0.0, 0.0
    a20, a21, a22 = 0.0, 0.0, 0.0
    wave = LEAST_WAVE
    for side in range(4):
        axis = side // 2
        sign = 1.0 if side % 2 == 1 else -1.0
        j = mesh.neighbours[i, side]
        if j >= 0:
            if h <= VACUUM and water[j, 0] <= VACUUM:
                continue
            face = inner_terms(i, j, axis, sign, mesh, state)
        elif j == WALL:
            face = wall_terms(i, axis, sign, state)
        else:
            face = open_terms(i, -2 - j, axis, sign, mesh, state)
        wave = max(wave, face.wave)
        r0 += face.mass
        a00 += face.mass_h
        # Out of the face's frame: the normal component and the discharge along the normal turn with
        # `sign`, the transverse ones do not; where both meet (n_q) the two turns cancel.
        if axis == 0:
            r1 += sign * face.normal
            r2 += face.transverse
            a01 += sign * face.mass_q
            a10 += sign * face.normal_h
            a11 += face.normal_q
            a20 += face.transverse_h
            a21 += sign * face.transverse_q
            a22 += face.transverse_t
        else:
            r2 += sign * face.normal
            r1 += face.transverse
            a02 += sign * face.mass_q
            a20 += sign * face.normal_h
            a22 += face.normal_q
            a10 += face.transverse_h
            a12 += sign * face.transverse_q
            a11 += face.transverse_t
    # Bed slope within the cell, the centred term of eq. (4): g h times the rise from face to face,
    # twice the half slope of level less depth.
    r1 += 2.0 * GRAVITY * h * (slopes[i, 1] - slopes[i, 0])
    r2 += 2.0 * GRAVITY * h * (slopes[i, 5] - slopes[i, 4])
    steady = wave / cfl  # eq. (17): the cell over its time step
    return CellSystem(r0, r1, r2, a00 + steady, a01, a02, a10, a11, a12, a20, a21, a22, steady)


@kernel
def cell_change(
    system: CellSystem, h: float, qx: float, qy: float, drag: float
) -> tuple[float, float, float]:
    """Return the change of h, hu, hv that solves a cell's system with friction and pseudo-time.

    Parameters
    ----------
    system
        Fluxes, bed slope and sources, from `cell_system`.
    h, qx, qy
        The cell's depth [m] and discharge per unit width, east and north [m2/s].
    drag
        g n^2 / h^(7/3) times the side of the cell.
    """
    q = np.sqrt(qx * qx + qy * qy) + 1e-12
    # Implicit Manning friction, eq. (16): drag |q| q and its derivatives by hu, hv and h.
    r1 = system.r1 + drag * q * qx
    r2 = system.r2 + drag * q * qy
    a11 = system.a11 + (system.steady + drag * (q + qx * qx / q))
    a22 = system.a22 + (system.steady + drag * (q + qy * qy / q))
    a12 = system.a12 + drag * qx * qy / q
    a21 = system.a21 + drag * qx * qy / q
    a10 = system.a10 - 7.0 / 3.0 * drag * q * qx / h
    a20 = system.a20 - 7.0 / 3.0 * drag * q * qy / h
    # Eq. (18): dh eliminated from the momentum rows, the 2 by 2 rest by Cramer's rule. Mass comes
    # first, as a00 is the wave speed's size and never small; no pivoting is needed.
    f = a10 / system.a00
    a11 -= f * system.a01
    a12 -= f * system.a02
    b1 = -r1 + f * system.r0
    f = a20 / system.a00
    a21 -= f * system.a01
    a22 -= f * system.a02
    b2 = -r2 + f * system.r0
    det = a11 * a22 - a12 * a21
    d1 = (b1 * a22 - b2 * a12) / det
    d2 = (b2 * a11 - b1 * a21) / det
    d0 = (-system.r0 - system.a01 * d1 - system.a02 * d2) / system.a00
    # Eq. (19): a step that would empty or flood the cell is taken shorter as a whole, so that its
    # direction stays.
    limit = max(MOST_RISE * h, FILM_RISE) if d0 > 0.0 else MOST_FALL * h
    if abs(d0) > limit:
        scale = limit / abs(d0)
        return d0 * scale, d1 * scale, d2 * scale
    return d0, d1, d2


@kernel
def bounded_depth(old: float, new: float) -> float:
    """Return the new depth, half the old one where it would fall below 0, 0 where next to none."""
    if new < 0.0:
        new = 0.5 * old
    return new if new > 2.0 * VACUUM else 0.0


@kernel
def set_water(i: int, depth: float, qx: float, qy: float, water: FloatArray) -> None:
    """Write depth and velocity of cell i: none in a film, capped elsewhere."""
    water[i, 0] = depth
    if depth <= FILM:
        water[i, 1] = 0.0
        water[i, 2] = 0.0
        return
    east = qx / depth
    north = qy / depth
    speed = np.sqrt(east * east + north * north)
    most = SPEED_CAP_FROUDE * np.sqrt(GRAVITY * depth) + SPEED_CAP
    if speed > most:
        east *= most / speed
        north *= most / speed
    water[i, 1] = east
    water[i, 2] = north


@kernel
def sweep(mesh: Mesh, state: State, cfl: Float32Array, down: bool) -> None:
    """Sweep all cells once, down the river or up, and change `state.water` in place, eq. (13).

    `cfl`: cells a wave may cross in a pseudo-time step, shape (cells,).
    """
    water = state.water
    n = water.shape[0]
    for turn in range(n):
        i = turn if down else n - 1 - turn
        if not takes_part(i, mesh, state):
            set_water(i, 0.0, 0.0, 0.0, water)
            continue
        h = water[i, 0]
        system = cell_system(i, mesh, state, cfl[i])
        if h <= FILM:  # a film: depth alone moves
            rise = min(-system.r0 / system.a00, FILM_RISE)
            set_water(i, bounded_depth(h, h + rise), 0.0, 0.0, water)
            continue
        qx = h * water[i, 1]
        qy = h * water[i, 2]
        drag = friction_factor(mesh.roughness2[i], h) * mesh.cell
        d0, d1, d2 = cell_change(system, h, qx, qy, drag)
        set_water(i, bounded_depth(h, h + d0), qx + d1, qy + d2, water)


@kernel
def adapt_steps(
    water: FloatArray,
    before: Float32Array,
    moved: Float32Array,
    most: float,
    flatten: bool,
    cfl: Float32Array,
    slope_factor: Float32Array,
) -> tuple[float, float, int]:
    """Shorten the step of cells whose velocity oscillates, lengthen the others', up to `most`.

    Parameters
    ----------
    water
        The water now, shape (cells, 3).
    before
        The water a cycle ago, shape (cells, 3); overwritten with the water now.
    moved
        Change of velocity in the cycle before, shape (cells, 2); overwritten with this one's.
    most
        Largest `cfl`.
    flatten
        Whether slopes of oscillating cells are flattened too, for good: `slope_factor` falls.
    cfl, slope_factor
        Cells a wave may cross in a step, and part of the slope it may have, shape (cells,).

    Returns
    -------
    tuple[float, float, int]
        Sums of squares of the changes of depth [m2] and velocity [m2/s2], and the number of cells
        they are over.
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
        # A change against the last one is an oscillation; one along it is still on its way.
        if abs(east) + abs(north) > CALM and east * moved[i, 0] + north * moved[i, 1] < 0.0:
            cfl[i] = max(cfl[i] * SHORTER, 1.0)
            if flatten and abs(east) + abs(north) > RESTLESS:
                slope_factor[i] *= FLATTER
        else:
            cfl[i] = cfl[i] * LONGER
        cfl[i] = min(cfl[i], most)
        moved[i, 0] = east
        moved[i, 1] = north
        for k in range(3):
            before[i, k] = water[i, k]
    return depth2, speed2, number
