"""The explicit scheme: kept as the reference that the steady solver is compared with.

Heun's method (second-order Runge-Kutta, total variation diminishing; Shu and Osher 1988, from
memory), eq. (25), with friction taken implicitly, eq. (26).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.physics import GRAVITY
from reachmap.flow.engine._kernels_flux import (
    VACUUM,
    inner_face,
    open_face,
    wall_thrust,
)
from reachmap.flow.engine._kernels_friction import friction_factor
from reachmap.flow.engine.compiled import kernel
from reachmap.flow.engine.mesh import WALL, Mesh, State


class CellLoss(NamedTuple):
    """What leaves a cell less what the bed gives it, times the cell over its area; fastest wave.

    Mass [m2/s], east and north momentum [m3/s2], wave [m/s].
    """

    mass: float
    east: float
    north: float
    wave: float


@kernel
def cell_loss(i: int, mesh: Mesh, state: State) -> CellLoss:
    """Return the fluxes out of cell i and its bed slope, eq. (4).

    Friction and the forces in `state.sources` are not in it.
    """
    water, slopes = state.water, state.half_slopes
    h = water[i, 0]
    mass = -state.sources[i, 0] * mesh.cell if state.sources.shape[0] > 0 else 0.0
    east = 0.0
    north = 0.0
    wave = 0.0
    for side in range(4):
        axis = side // 2
        sign = 1.0 if side % 2 == 1 else -1.0
        j = mesh.neighbours[i, side]
        if j >= 0:
            if h <= VACUUM and water[j, 0] <= VACUUM:
                continue
            inner = inner_face(i, j, axis, sign, mesh, state)
            flow, normal, transverse = inner.mass, inner.normal, inner.transverse
            speed = max(abs(inner.slow), abs(inner.fast))
            mix = min(state.eddy_viscosity[i], state.eddy_viscosity[j]) / mesh.cell
            if mix > 0.0 and inner.depth_own > 0.0 and inner.depth_next > 0.0:  # eq. (12)
                normal += sign * mix * (water[i, 1 + axis] - water[j, 1 + axis])
                transverse += mix * (water[i, 2 - axis] - water[j, 2 - axis])
        elif j == WALL:
            flow, transverse, speed = 0.0, 0.0, np.sqrt(GRAVITY * h)
            normal = wall_thrust(h, sign * water[i, 1 + axis])
        else:
            outer = open_face(i, -2 - j, axis, sign, mesh, state)
            flow, normal, transverse, speed = outer.mass, outer.normal, outer.transverse, outer.wave
        mass += flow
        wave = max(wave, speed)
        if axis == 0:  # the normal turns with `sign`, the transverse direction does not
            east += sign * normal
            north += transverse
        else:
            north += sign * normal
            east += transverse
    # Bed slope within the cell (Audusse et al. 2004, centred term), last of eq. (4).
    east += 2.0 * GRAVITY * h * (slopes[i, 1] - slopes[i, 0])
    north += 2.0 * GRAVITY * h * (slopes[i, 5] - slopes[i, 4])
    return CellLoss(mass, east, north, wave)


@kernel
def sum_fluxes(mesh: Mesh, state: State, total: FloatArray) -> None:
    """Write what `cell_loss` returns for each cell into `total`, shape (cells, 4)."""
    for i in range(state.water.shape[0]):
        loss = cell_loss(i, mesh, state)
        total[i, 0] = loss.mass
        total[i, 1] = loss.east
        total[i, 2] = loss.north
        total[i, 3] = loss.wave


@kernel
def take_step(
    mesh: Mesh,
    state: State,
    start: FloatArray,
    total: FloatArray,
    time_step: FloatArray,
    thin: float,
    blend: float,
) -> None:
    """Move the water on by one stage of Heun's method: start (1 - blend) + blend (water + change).

    Parameters
    ----------
    mesh, state
        The grid; `state.water` is changed in place.
    start
        The water at the start of the step, shape (cells, 3).
    total
        From `sum_fluxes`.
    time_step
        Of each cell, shape (cells,) [s].
    thin
        Water no deeper has no velocity [m]; depth never falls below 0.
    blend
        1 in the first stage, 1/2 in the second.
    """
    water, sources = state.water, state.sources
    for i in range(water.shape[0]):
        step = time_step[i]
        share = step / mesh.cell
        h_old = water[i, 0]
        force_x = sources[i, 1] if sources.shape[0] > 0 else 0.0
        force_y = sources[i, 2] if sources.shape[0] > 0 else 0.0
        h = max(h_old - share * total[i, 0], 0.0)
        east = h_old * water[i, 1] - share * total[i, 1] + step * force_x
        north = h_old * water[i, 2] - share * total[i, 2] + step * force_y
        if h > thin:
            # Eq. (26): q (1 + step g n^2 |q| / h^(7/3)) = rhs with |q| from q itself, a quadratic.
            # The root in this form loses no digits where friction is weak.
            drag = step * friction_factor(mesh.roughness2[i], mesh.stone_term[i], h)
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
