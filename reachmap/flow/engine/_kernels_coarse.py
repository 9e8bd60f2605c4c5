"""Correction from the next coarser grid: the forcing it gets, and how its change comes back.

Full approximation scheme (Brandt 1977, from memory), eqs. (20), (21). With R the residual of a grid
per unit area, w the fine water and I the mean over the four fine cells of a coarse one, the coarse
grid solves R_c(w_c) = R_c(I w) - I R(w), and w_c - I w is added to the fine water, bilinearly.
Where the fine water is steady the right side is R_c(I w), so nothing changes: the coarse grid
speeds the way, it does not change the goal. Only coarse cells whose four are all deep take part;
others hold still, as do edges, which the fine grid sees to by itself.
"""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import BoolArray, Float32Array, FloatArray, IntArray
from reachmap.base.physics import GRAVITY
from reachmap.flow.engine._kernels_friction import friction_factor
from reachmap.flow.engine._kernels_grid import NEXT, OPPOSITE, OWN, coarse_cells
from reachmap.flow.engine._kernels_step import cell_loss
from reachmap.flow.engine.compiled import allocating_kernel, kernel
from reachmap.flow.engine.mesh import CoarseProblem, Mesh, Refinement, State

CALM_FROUDE2 = 0.9**2
"""Square of the Froude number above which fine water is left to the fine grid. Our choice."""
HELD = 1e-9
"""`cfl` of a coarse cell that holds still."""


@kernel
def cell_residual(i: int, mesh: Mesh, state: State) -> tuple[float, float, float]:
    """Return the residual of cell i: mass [m/s], east and north momentum [m2/s2]; 0: steady."""
    loss = cell_loss(i, mesh, state)
    h = state.water[i, 0]
    u = state.water[i, 1]
    v = state.water[i, 2]
    drag = (
        friction_factor(mesh.roughness2[i], mesh.stone_term[i], h) * h * h * np.sqrt(u * u + v * v)
    )
    driven = state.sources.shape[0] > 0
    force_east = state.sources[i, 1] if driven else 0.0
    force_north = state.sources[i, 2] if driven else 0.0
    return (
        loss.mass / mesh.cell,
        loss.east / mesh.cell + drag * u - force_east,
        loss.north / mesh.cell + drag * v - force_north,
    )


@allocating_kernel
def restrict(
    mesh: Mesh, state: State, parent: IntArray, trusted: BoolArray, coarse: CoarseProblem
) -> None:
    """Write the coarse water I w, the mean residual I R(w) and which coarse cells take part.

    Parameters
    ----------
    mesh, state
        The fine grid.
    parent
        Coarse cell of each fine one, -1 for none, shape (fine cells,).
    trusted
        Fine cells deep enough, all four of which a coarse cell needs, shape (fine cells,).
    coarse
        Overwritten; `water` starts from I w.
    """
    water, restricted, forcing = state.water, coarse.restricted, coarse.forcing
    n = restricted.shape[0]
    children = np.zeros(n, np.int8)
    restricted[:, :] = 0.0
    forcing[:, :] = 0.0
    for i in range(water.shape[0]):
        p = parent[i]
        if p < 0:
            continue
        h = water[i, 0]
        # Momentum is what is averaged, so that the coarse grid carries the same discharge.
        restricted[p, 0] += 0.25 * h
        restricted[p, 1] += 0.25 * h * water[i, 1]
        restricted[p, 2] += 0.25 * h * water[i, 2]
        speed2 = water[i, 1] * water[i, 1] + water[i, 2] * water[i, 2]
        if trusted[i] and speed2 < CALM_FROUDE2 * GRAVITY * h:
            children[p] += 1
            mass, east, north = cell_residual(i, mesh, state)
            forcing[p, 0] += 0.25 * mass
            forcing[p, 1] += 0.25 * east
            forcing[p, 2] += 0.25 * north
    for p in range(n):
        coarse.active[p] = children[p] == 4
        if restricted[p, 0] > 1e-6:
            restricted[p, 1] /= restricted[p, 0]
            restricted[p, 2] /= restricted[p, 0]
        else:
            restricted[p, 1] = 0.0
            restricted[p, 2] = 0.0
        for k in range(3):
            coarse.water[p, k] = restricted[p, k]


@kernel
def set_forcing(
    mesh: Mesh, state: State, coarse: CoarseProblem, most: float, cfl: Float32Array
) -> None:
    """Turn the forcing from I R(w) into R_c(I w) - I R(w), eq. (20), and set `cfl` of all cells.

    `state` is the coarse grid's, without sources; `most` is the `cfl` of active cells.
    """
    forcing = coarse.forcing
    for p in range(forcing.shape[0]):
        if coarse.active[p]:
            mass, east, north = cell_residual(p, mesh, state)
            forcing[p, 0] = mass - forcing[p, 0]
            forcing[p, 1] = east - forcing[p, 1]
            forcing[p, 2] = north - forcing[p, 2]
            cfl[p] = most
        else:
            for k in range(3):
                forcing[p, k] = 0.0
            cfl[p] = HELD


@kernel
def add_coarse_change(
    refinement: Refinement,
    coarse: CoarseProblem,
    trusted: BoolArray,
    cfl: Float32Array,
    most: float,
    water: FloatArray,
) -> None:
    """Add w_c - I w to the fine water, bilinearly between coarse centres, eq. (21).

    A cell whose steps were shortened because it oscillates takes `cfl` over `most` of the change:
    with the whole of it small eddies behind bars go on oscillating for ever.
    """
    solved, active = coarse.water, coarse.active
    before = coarse.restricted
    for i in range(water.shape[0]):
        p = refinement.parent[i]
        if p < 0 or not active[p] or not trusted[i]:
            continue
        in_row, in_column, corner = coarse_cells(i, refinement)
        part = min(cfl[i] / most, 1.0)
        for k in range(3):
            change = OWN * (solved[p, k] - before[p, k])
            if in_row >= 0 and active[in_row]:
                change += NEXT * (solved[in_row, k] - before[in_row, k])
            if in_column >= 0 and active[in_column]:
                change += NEXT * (solved[in_column, k] - before[in_column, k])
            if corner >= 0 and active[corner]:
                change += OPPOSITE * (solved[corner, k] - before[corner, k])
            change *= part
            if k == 0:
                water[i, 0] = max(water[i, 0] + change, 0.5 * water[i, 0])
            else:
                water[i, k] += change
