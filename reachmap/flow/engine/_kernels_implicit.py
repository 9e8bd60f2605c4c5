"""The steady solver's sweep: each cell's three equations solved together, neighbours as they stand.

Nonlinear block symmetric Gauss-Seidel in pseudo-time, eqs. (13) to (19). In cell i, with R the
residual (fluxes out, bed slope, friction), A its derivative by the cell's own (h, hu, hv) with wave
speeds frozen, and a local time step in which a wave crosses `cfl` cells, A d = -R is solved and
added. Cells are sorted down the river: a sweep down carries momentum the whole length, one up
carries levels. Slopes and eddy viscosity stay frozen in a sweep: refreshing them inside it diverges
(found by trial).
"""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import Float32Array, FloatArray, IntArray
from reachmap.base.physics import GRAVITY
from reachmap.flow.engine._kernels_flux import INFLOW, VACUUM
from reachmap.flow.engine._kernels_friction import friction_factor, friction_power
from reachmap.flow.engine._kernels_system import CellSystem, cell_system
from reachmap.flow.engine.compiled import kernel
from reachmap.flow.engine.mesh import Mesh, State

FILM = 1e-4
"""Water no deeper than this has no speed [m]."""
CALM, SHORTER, LONGER, FLATTER = 1e-3, 0.7, 1.05, 0.8
"""Changes of speed below the first [m/s] are calm; factors of a cell's step and of its slopes. Our
choice by trial."""
RESTLESS = 0.02
"""An oscillation above this flattens the slopes in the last resort [m/s]. Our choice."""
CLOSE, MOST_TURNS = 0.3, 4
"""A cell whose velocity changes by more than the first times its wave speed is solved again from
where it came to, up to the second times. Our choice by trial, 0.1-0.6 and 2-6: the answers do not
depend on it."""
COUNTED_DEPTH = 0.03
"""Thinner water does not count in the change a cycle makes [m]."""
FILM_RISE = 0.02
"""Most that a film gains in a sweep [m]."""
MOST_RISE, MOST_FALL = 0.25, 0.5
"""Largest changes of depth in a sweep over the depth. Our choice by trial."""
SPEED_CAP_FROUDE, SPEED_CAP = 2.5, 0.5
"""Speed stays below the first times the wave speed plus the second [m/s]: no river runs so fast for
long, and a thin cell that overshoots would spoil its neighbours. Our choice."""


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


@kernel
def cell_change(
    system: CellSystem,
    h: float,
    qx: float,
    qy: float,
    drag: float,
    power: float,
    gone: tuple[float, float, float],
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
    power
        Of 1/h that `drag` goes with: 7/3 where n is the same at every depth.
    gone
        How far h, hu and hv have already come from where the pseudo-time step began.
    """
    q = np.sqrt(qx * qx + qy * qy) + 1e-12
    # Implicit Manning friction, eq. (16): drag |q| q and its derivatives by hu, hv and h.
    r0 = system.r0 + system.steady * gone[0]
    r1 = system.r1 + drag * q * qx + system.steady * gone[1]
    r2 = system.r2 + drag * q * qy + system.steady * gone[2]
    a11 = system.a11 + (system.steady + drag * (q + qx * qx / q))
    a22 = system.a22 + (system.steady + drag * (q + qy * qy / q))
    a12 = system.a12 + drag * qx * qy / q
    a21 = system.a21 + drag * qx * qy / q
    a10 = system.a10 - power * drag * q * qx / h
    a20 = system.a20 - power * drag * q * qy / h
    # Eq. (18): dh eliminated from the momentum rows, the 2 by 2 rest by Cramer's rule. Mass comes
    # first, as a00 is the wave speed's size and never small; no pivoting is needed.
    f = a10 / system.a00
    a11 -= f * system.a01
    a12 -= f * system.a02
    b1 = -r1 + f * r0
    f = a20 / system.a00
    a21 -= f * system.a01
    a22 -= f * system.a02
    b2 = -r2 + f * r0
    det = a11 * a22 - a12 * a21
    d1 = (b1 * a22 - b2 * a12) / det
    d2 = (b2 * a11 - b1 * a21) / det
    d0 = (-r0 - system.a01 * d1 - system.a02 * d2) / system.a00
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
def sweep(mesh: Mesh, state: State, cfl: Float32Array, down: bool, which: IntArray) -> None:
    """Sweep cells once, down the river or up, and change `state.water` in place, eq. (13).

    Parameters
    ----------
    mesh, state
        The grid.
    cfl
        Cells a wave may cross in a pseudo-time step, shape (cells,).
    down
        Whether down the river.
    which
        Numbers of the cells, rising; the others hold still.
    """
    water = state.water
    n = which.shape[0]
    for turn in range(n):
        i = which[turn if down else n - 1 - turn]
        if not takes_part(i, mesh, state):
            set_water(i, 0.0, 0.0, 0.0, water)
            continue
        h0 = water[i, 0]
        qx0 = h0 * water[i, 1]
        qy0 = h0 * water[i, 2]
        for _ in range(MOST_TURNS):
            h = water[i, 0]
            u = water[i, 1]
            v = water[i, 2]
            system = cell_system(i, mesh, state, cfl[i])
            if h <= FILM:  # a film: depth alone moves
                rise = min(-system.r0 / system.a00, FILM_RISE)
                set_water(i, bounded_depth(h, h + rise), 0.0, 0.0, water)
                break
            drag = friction_factor(mesh.roughness2[i], mesh.stone_term[i], h) * mesh.cell
            power = friction_power(mesh.stone_term[i], h)
            gone = (h - h0, h * u - qx0, h * v - qy0)
            d0, d1, d2 = cell_change(system, h, h * u, h * v, drag, power, gone)
            set_water(i, bounded_depth(h, h + d0), h * u + d1, h * v + d2, water)
            # Far from where it was linearised a step overshoots, and the next cell in the sweep
            # overshoots further: solve such a cell again from where it came to.
            if abs(water[i, 1] - u) + abs(water[i, 2] - v) < CLOSE * np.sqrt(GRAVITY * h):
                break


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
