"""A cell's fluxes and their derivatives by its own state: the block system of the steady solver.

All terms are multiplied by the side of the cell, so that the residual is a sum of fluxes per metre
of face. Wave speeds are frozen in the derivatives.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reachmap.base.physics import GRAVITY
from reachmap.flow.engine._kernels_flux import VACUUM, inner_face, open_face, wall_thrust
from reachmap.flow.engine.compiled import inlined_kernel, kernel
from reachmap.flow.engine.mesh import WALL, Mesh, State

LEAST_WAVE = 0.2
"""Slowest wave that sets the pseudo-time step [m/s]."""
LEAST_DEPTH = 1e-6
"""Depth that velocities' derivatives are divided by, at least [m]."""


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
