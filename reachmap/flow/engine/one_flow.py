"""Solve one flow: from its 1-D profile through ever finer grids to the answer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.errors import Fault
from reachmap.base.packed import PackedRaster, packed_raster
from reachmap.flow.engine.answer import Solved, answer, diverged, no_place, not_solved
from reachmap.flow.engine.bend import cell_curvature, line_curvature, roughness2_at
from reachmap.flow.engine.cells import SIDES, Cells, Frame, cells_of
from reachmap.flow.engine.coarse import correction_of
from reachmap.flow.engine.grid_solver import BoundaryValues, GridSolver
from reachmap.flow.engine.grids import (
    coarser,
    edge_cells_near,
    interpolate_to_finer,
    within_reach,
)
from reachmap.flow.engine.settings import EngineSettings
from reachmap.flow.engine.steady import Reached, to_steady
from reachmap.flow.profile import Profile

WIDENINGS = 3
"""How often the active area is widened where water reaches its edge."""
END_VERTICES = 3
"""The line's direction at its ends is taken over this many steps of it."""
LEAST_CELLS_ACROSS = 3.0
"""A coarse grid is used only where the river is at least this many of its cells wide. Our choice:
below it a channel can lose its way on the grid."""


@dataclass(frozen=True, slots=True)
class Reach:
    """Raster and river line, the same for all flows.

    Parameters
    ----------
    frame
        The raster, rows north.
    directions
        Unit vectors down the river at head and foot.
    line_station, line_width, line_curvature
        Along the river line [m], [m], [1/m].
    """

    frame: Frame
    directions: tuple[tuple[float, float], tuple[float, float]]
    line_station: FloatArray
    line_width: FloatArray
    line_curvature: FloatArray

    @classmethod
    def of(cls, ground: xr.Dataset, frame: Frame) -> Reach:
        """Return the reach of a ground Dataset and its frame."""
        line = Centreline.of(ground)
        x, y = line.x, line.y
        directions = []
        for a, b in ((0, min(END_VERTICES, x.size - 1)), (max(x.size - 1 - END_VERTICES, 0), -1)):
            size = float(np.hypot(x[b] - x[a], y[b] - y[a]))
            directions.append((float(x[b] - x[a]) / size, float(y[b] - y[a]) / size))
        station, curvature = line_curvature(ground, 0.5 * line.median_width)
        return cls(frame, (directions[0], directions[1]), station, line.widths, curvature)

    def curvature_at(self, cells: Cells) -> FloatArray:
        """Return the curvature of the line through each cell [1/m]."""
        return cell_curvature(cells, self.line_station, self.line_curvature)

    @property
    def narrowest(self) -> float:
        """Return the width that nine tenths of the river exceed [m]."""
        return float(np.percentile(self.line_width, 10))


@dataclass(frozen=True, slots=True)
class Guess:
    """Water near the answer, to start from.

    Parameters
    ----------
    level
        Level of the water [m], NaN where not wet.
    east, north
        Its velocity [m/s].
    """

    level: PackedRaster
    east: PackedRaster
    north: PackedRaster

    @classmethod
    def of(cls, flowing: xr.Dataset) -> Guess:
        """Return the water of a flow stage's Dataset of one flow."""
        level, east, north = (
            packed_raster(flowing[name][0]) for name in ("level", "east_speed", "north_speed")
        )
        return cls(level, east, north)

    def at(self, cells: Cells) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return level and velocity at cells of the frame, NaN where not wet."""
        height, width = self.level.shape
        flat = (height - cells.row) * width + cells.col - 1  # the frame's rows run north
        level, east, north = (one.at(flat) for one in (self.level, self.east, self.north))
        return level, east, north


def solve_flow(
    reach: Reach,
    profile: Profile,
    foot_level: float,
    settings: EngineSettings,
    guess: Guess | None = None,
) -> Solved | Fault:
    """Return one flow's answer, or the fault that prevents it.

    Parameters
    ----------
    reach
        Raster and river line.
    profile
        The 1-D profile at the flow: the start, and which cells may get wet.
    foot_level
        Level at the foot [m].
    settings
        Numbers of the scheme.
    guess
        Water to start from instead of the profile's: the answer differs by less than the
        tolerances.
    """
    margin = settings.margin_m
    for widening in range(WIDENINGS + 1):
        grids = grids_of(reach, profile, margin, settings)
        solved = solve_on_grids(reach, grids, profile, foot_level, settings, guess)
        if isinstance(solved, Fault):
            return solved
        solver, reached = solved
        if not np.isfinite(reached.section_error) or not np.isfinite(solver.water).all():
            return diverged(profile.flow)
        if widening == WIDENINGS or not _short_of_cells(reach.frame, solver):
            break
        margin *= 2
    if reached.section_error > settings.section_error_most:
        return not_solved(profile.flow, reached)
    width = np.interp(solver.cells.station, reach.line_station, reach.line_width)
    curvature = reach.curvature_at(solver.cells)
    return answer(reach.frame, solver, reached, profile.flow, curvature, width)


def grids_of(
    reach: Reach, profile: Profile, margin: float, settings: EngineSettings
) -> list[tuple[Frame, Cells]]:
    """Return frames without their rasters, and cells, the coarsest first."""
    levels = profile.level_at(profile.station)
    inside = within_reach(reach.frame, profile.station, levels, margin)
    frame = replace(reach.frame, inside=inside)
    grids = [(without_rasters(frame), cells_of(frame, *reach.directions))]
    while len(grids) < settings.grids and reach.narrowest >= LEAST_CELLS_ACROSS * 2 * frame.cell:
        frame = coarser(frame)
        grids.insert(0, (without_rasters(frame), cells_of(frame, *reach.directions)))
    return grids


def without_rasters(frame: Frame) -> Frame:
    """Return a frame without its rasters, which weigh more than the cells made of them."""
    none = np.empty((0, 0))
    return replace(
        frame, bed=none, rough=none, station=none, offset=none,
        inside=np.empty((0, 0), np.bool_), stone_term=None,
    )  # fmt: skip


def boundary_values_of(
    frame: Frame, cells: Cells, profile: Profile, foot_level: float, settings: EngineSettings
) -> BoundaryValues | Fault:
    """Return what the boundaries of a grid hold."""
    tributaries = []
    for inflow in settings.inflows:
        wet = profile.level_at(cells.station) > cells.bed
        near = edge_cells_near(frame, cells, wet, (inflow.x, inflow.y), inflow.radius_m)
        if near.size == 0:
            return no_place(inflow.x, inflow.y)
        tributaries.append((near, profile.flow * inflow.share))
    return BoundaryValues(
        inflow=profile.flow * (1 - sum(inflow.share for inflow in settings.inflows)),
        foot_level=foot_level,
        slope=float(profile.friction_slope[-1]),
        tributaries=tributaries,
    )


def solve_on_grids(
    reach: Reach,
    grids: list[tuple[Frame, Cells]],
    profile: Profile,
    foot_level: float,
    settings: EngineSettings,
    guess: Guess | None = None,
) -> tuple[GridSolver, Reached] | Fault:
    """Return the finest solver brought to steady flow, each grid started from the coarser one.

    With a guess the finest starts from it, and the coarser grids serve its correction alone.
    """
    solvers: list[GridSolver] = []
    for number, (frame, cells) in enumerate(grids):
        values = boundary_values_of(frame, cells, profile, foot_level, settings)
        if isinstance(values, Fault):
            return values
        curvature = reach.curvature_at(cells) if settings.bend_closure else None
        solver = GridSolver(cells, values, settings, curvature=curvature)
        solvers.append(solver)
        if guess is not None and number < len(grids) - 1:
            continue
        if guess is not None:
            start_near(solver, guess)
        elif number == 0:
            start(solver, profile)
        else:
            interpolate_to_finer(solvers[-2], solver)
        reached = to_steady(
            solver,
            loose=number < len(grids) - 1,
            correction=correction_of(solvers, settings.coarse_sweeps),
            restart=partial(start, solver, profile),
        )
        if number < len(grids) - 1 and not np.isfinite(solver.water).all():
            start(solver, profile)
    return solvers[-1], reached


def start(solver: GridSolver, profile: Profile) -> None:
    """Initialise the water from the 1-D profile, speed by Manning along the line."""
    cells = solver.cells
    depth = np.maximum(profile.level_at(cells.station) - cells.bed, 0.0)
    depth[depth <= solver.settings.thin_m] = 0.0
    slope = np.interp(cells.station, profile.station, profile.friction_slope)
    rough2 = roughness2_at(cells.mesh, depth)
    speed = depth ** (2 / 3) * np.sqrt(np.maximum(slope, 0.0) / rough2)
    east, north = cells.down_river()
    solver.water[:, 0] = depth
    solver.water[:, 1] = speed * east
    solver.water[:, 2] = speed * north


def start_near(solver: GridSolver, guess: Guess) -> None:
    """Initialise the finest grid's water from a guess; dry where that is dry or below the bed."""
    cells = solver.cells
    level, east, north = guess.at(cells)
    depth = np.nan_to_num(level - cells.bed)
    depth[depth <= solver.settings.thin_m] = 0.0
    solver.water[:, 0] = depth
    solver.water[:, 1] = np.where(depth > 0, np.nan_to_num(east), 0.0)
    solver.water[:, 2] = np.where(depth > 0, np.nan_to_num(north), 0.0)


def _short_of_cells(frame: Frame, solver: GridSolver) -> bool:
    """Return whether water stands next to lower ground that was left out as too high."""
    cells, water = solver.cells, solver.water[:, 0]
    wet = water > solver.settings.wet_m
    listed = np.zeros(cells.shape, np.bool_)
    listed[cells.row, cells.col] = True
    row, col, level = cells.row[wet], cells.col[wet], (water + cells.bed)[wet]
    for down, right in SIDES:
        neighbour = (row + down, col + right)
        left_out = frame.inside[neighbour] & ~listed[neighbour]
        if (left_out & (frame.bed[neighbour] < level)).any():
            return True
    return False
