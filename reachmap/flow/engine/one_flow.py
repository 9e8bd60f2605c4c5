"""One flow from its 1-D profile down the grids to its answer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.errors import Fault
from reachmap.base.units import flow_label
from reachmap.flow.engine.answer import Solved, answer, blew_up, no_place, not_solved
from reachmap.flow.engine.basin import Basin, Demand
from reachmap.flow.engine.bend import cell_curvature, line_curvature
from reachmap.flow.engine.cells import SIDES, Cells, Frame, cells_of
from reachmap.flow.engine.coarse import helper_of
from reachmap.flow.engine.grids import (
    cells_near,
    coarser,
    hand_down,
    within_reach,
)
from reachmap.flow.engine.settings import EngineSettings
from reachmap.flow.engine.steady import Reached, to_steady
from reachmap.flow.profile import Profile

WIDENINGS = 3
"""How often the cells are widened where water reaches their edge."""
END_VERTICES = 3
"""The line's direction at its ends is taken over this many steps of it."""
LEAST_CELLS_ACROSS = 3.0
"""A coarse grid is used only where the river is at least this many of its cells wide. Our choice:
below it a channel can lose its way on the grid."""


@dataclass(frozen=True, slots=True)
class Reach:
    """What all flows share.

    Parameters
    ----------
    frame
        The raster, rows north.
    ways
        Unit vectors down the river at head and foot.
    line_station, line_width, line_curvature
        Along the river line [m], [m], [1/m].
    """

    frame: Frame
    ways: tuple[tuple[float, float], tuple[float, float]]
    line_station: FloatArray
    line_width: FloatArray
    line_curvature: FloatArray

    @classmethod
    def of(cls, ground: xr.Dataset, frame: Frame) -> Reach:
        """Return the reach of a ground Dataset and its frame."""
        line = Centreline.of(ground)
        x, y = line.x, line.y
        ways = []
        for a, b in ((0, min(END_VERTICES, x.size - 1)), (max(x.size - 1 - END_VERTICES, 0), -1)):
            size = float(np.hypot(x[b] - x[a], y[b] - y[a]))
            ways.append((float(x[b] - x[a]) / size, float(y[b] - y[a]) / size))
        station, curvature = line_curvature(ground, 0.5 * line.median_width)
        return cls(frame, (ways[0], ways[1]), station, line.widths, curvature)

    def curvature_at(self, cells: Cells) -> FloatArray:
        """Return the curvature of the line through each cell [1/m]."""
        return cell_curvature(cells, self.line_station, self.line_curvature)

    @property
    def narrowest(self) -> float:
        """Return the width that nine tenths of the river exceed [m]."""
        return float(np.percentile(self.line_width, 10))


def solve_flow(
    reach: Reach, profile: Profile, foot_level: float, settings: EngineSettings
) -> Solved | Fault:
    """Return one flow's answer, or why there is none.

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
    """
    label = flow_label(profile.flow, settings.units)
    margin = settings.margin_m
    for widening in range(WIDENINGS + 1):
        grids = grids_of(reach, profile, margin, settings)
        solved = down_the_grids(reach, grids, profile, foot_level, settings)
        if isinstance(solved, Fault):
            return solved
        basin, reached = solved
        if not np.isfinite(reached.section_error) or not np.isfinite(basin.water).all():
            return blew_up(label)
        if widening == WIDENINGS or not _short_of_cells(reach.frame, basin):
            break
        margin *= 2
    if reached.section_error > settings.section_error_most:
        return not_solved(label, reached)
    width = np.interp(basin.cells.station, reach.line_station, reach.line_width)
    bends = (reach.curvature_at(basin.cells), width)
    return answer(reach.frame, basin, reached, label, bends)


def grids_of(
    reach: Reach, profile: Profile, margin: float, settings: EngineSettings
) -> list[tuple[Frame, Cells]]:
    """Return frames without their rasters, and cells, the coarsest first."""
    levels = profile.level_at(profile.station)
    inside = within_reach(reach.frame, profile.station, levels, margin)
    frame = replace(reach.frame, inside=inside)
    grids = [(bare(frame), cells_of(frame, *reach.ways))]
    while len(grids) < settings.grids and reach.narrowest >= LEAST_CELLS_ACROSS * 2 * frame.cell:
        frame = coarser(frame)
        grids.insert(0, (bare(frame), cells_of(frame, *reach.ways)))
    return grids


def bare(frame: Frame) -> Frame:
    """Return a frame without its rasters, which weigh more than the cells made of them."""
    none = np.empty((0, 0))
    return replace(
        frame, bed=none, rough=none, station=none, offset=none, inside=np.empty((0, 0), np.bool_)
    )


def demand_of(
    frame: Frame, cells: Cells, profile: Profile, foot_level: float, settings: EngineSettings
) -> Demand | Fault:
    """Return what the boundaries of a grid hold."""
    sources = []
    for inflow in settings.inflows:
        near = cells_near(frame, cells, inflow.x, inflow.y, inflow.radius_m)
        if near.size == 0:
            return no_place(inflow.x, inflow.y)
        sources.append((near, profile.flow * inflow.share))
    return Demand(
        head=profile.flow * (1 - sum(inflow.share for inflow in settings.inflows)),
        level=foot_level,
        slope=float(profile.friction_slope[-1]),
        sources=sources,
    )


def down_the_grids(
    reach: Reach,
    grids: list[tuple[Frame, Cells]],
    profile: Profile,
    foot_level: float,
    settings: EngineSettings,
) -> tuple[Basin, Reached] | Fault:
    """Return the finest basin brought to steady flow, each grid started from the coarser one."""
    basins: list[Basin] = []
    for number, (frame, cells) in enumerate(grids):
        demand = demand_of(frame, cells, profile, foot_level, settings)
        if isinstance(demand, Fault):
            return demand
        curvature = reach.curvature_at(cells) if settings.bend_closure else None
        basin = Basin(cells, demand, settings, curvature=curvature)
        if number == 0:
            start(basin, profile)
        else:
            hand_down(basins[-1], basin)
        basins.append(basin)
        reached = to_steady(
            basin,
            loose=number < len(grids) - 1,
            helper=helper_of(basins, settings.coarse_sweeps),
            restart=partial(start, basin, profile),
        )
        if number < len(grids) - 1 and not np.isfinite(basin.water).all():
            start(basin, profile)
    return basins[-1], reached


def start(basin: Basin, profile: Profile) -> None:
    """Fill the basin from the 1-D profile, speed by Manning along the line."""
    cells = basin.cells
    depth = np.maximum(profile.level_at(cells.station) - cells.bed, 0.0)
    depth[depth <= basin.settings.thin_m] = 0.0
    slope = np.interp(cells.station, profile.station, profile.friction_slope)
    speed = depth ** (2 / 3) * np.sqrt(np.maximum(slope, 0.0) / cells.rough2)
    east, north = cells.down_river()
    basin.water[:, 0] = depth
    basin.water[:, 1] = speed * east
    basin.water[:, 2] = speed * north


def _short_of_cells(frame: Frame, basin: Basin) -> bool:
    """Return whether water stands beside lower ground that was left out as too high."""
    cells, water = basin.cells, basin.water[:, 0]
    wet = water > basin.settings.wet_m
    listed = np.zeros(cells.shape, np.bool_)
    listed[cells.row, cells.col] = True
    row, col, level = cells.row[wet], cells.col[wet], (water + cells.bed)[wet]
    for down, right in SIDES:
        beside = (row + down, col + right)
        left_out = frame.inside[beside] & ~listed[beside]
        if (left_out & (frame.bed[beside] < level)).any():
            return True
    return False
