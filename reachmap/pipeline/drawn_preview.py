"""Preview of a drawing while it is drawn: its ground on large cells and the 1-D flow over it.

Nothing is written. Neither the engine nor the water stage is imported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import xarray as xr
from shapely import Polygon

from reachmap.base.arrays import BoolArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.grid import Grid
from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, solve
from reachmap.flow.wet_edge import wet_polygons
from reachmap.ground import GroundSettings
from reachmap.ground.cell_size import drawn_cell
from reachmap.markup.model import Markup, SeasonLimits
from reachmap.pipeline.foot import rating_at_foot
from reachmap.pipeline.noted import noted_reach
from reachmap.pipeline.stage_ground import StageGround
from reachmap.pipeline.terrain import make_terrain

CELLS_M = (4.0, 2.0, 1.0)
"""Cells to choose from [m], the largest first."""

LEAST_ACROSS = 12.0
"""Fewest cells across the river's usual width. Our choice, 8-15: half of a build's."""

MOST_CELLS = 15_000
"""Most cells of water for which a finer size is taken; our choice, 10,000-30,000: under a second
on a laptop."""

MOST_LINE_M = 6000.0
"""Longest line that is previewed [m]; our choice, 4000-10,000: a longer one takes seconds."""


@dataclass(frozen=True, slots=True)
class DrawnGround:
    """A drawing and the ground made of it."""

    reach: Markup
    ground: xr.Dataset


@dataclass(frozen=True, slots=True)
class DrawnWater:
    """The water of a preview at one flow.

    Parameters
    ----------
    flow
        Discharge [m3/s].
    wet, soft, unknown
        Outlines of the water, of water with the season's depth and speed, and of ground and water
        that nothing tells of [m, project CRS].
    width_m
        Mean width of the water [m]: its area over the length of the river line.
    wet_m2, soft_m2
        Their areas [m2].
    unknown_m2
        Area of drawn bank that is not known to be dry or wet [m2].
    state
        What each cell is, shape (y, x): 0 dry, 1 wet, 2 soft, 3 unknown.
    """

    flow: float
    wet: Sequence[Polygon]
    soft: Sequence[Polygon]
    unknown: Sequence[Polygon]
    width_m: float
    wet_m2: float
    soft_m2: float
    unknown_m2: float
    state: np.ndarray[tuple[int, ...], np.dtype[np.int8]]


DRY, WET, SOFT, UNKNOWN = range(4)
"""Codes of `DrawnWater.state`."""


def preview_cell(reach: Markup) -> float:
    """Return the side of the preview's cells [m]."""
    drawn = drawn_cell(reach)
    for cell in CELLS_M:
        if drawn.width_m >= LEAST_ACROSS * cell or drawn.count(cell / 2) > MOST_CELLS:
            return cell
    return CELLS_M[-1]


def drawn_ground(reach: Markup) -> DrawnGround:
    """Return the ground of a drawing with its log's evidence; a fit is not applied.

    Raises
    ------
    BuildError
        If the line is too long, or no honest ground can be made: a build would fail alike.
    """
    long = reach.main.line.length
    if long > MOST_LINE_M:
        found = f"it is {long:,.0f} m long; a preview while drawing goes to {MOST_LINE_M:,.0f} m"
        raise BuildError([Fault("river", found, "Build with --quick to see it")])
    settings = GroundSettings(cell=preview_cell(reach))
    return DrawnGround(reach, make_terrain(noted_reach(reach), settings, None))


def water_at(drawn: DrawnGround, flow: float) -> DrawnWater:
    """Return the preview's water at a flow [m3/s].

    Raises
    ------
    BuildError
        If the ground cannot hold it.
    """
    reach, ground = drawn.reach, drawn.ground
    rating = None if reach.gauge is None else rating_at_foot(reach.gauge)
    settings = FlowSettings(method="profile", foot_rating=rating)
    solved = solve(StageGround.of("flow", ground).ground, [flow], settings).isel(flow=0)
    grid, state = Grid.of(ground), _states(solved, reach.plan.season)
    cell = float(grid.cell) ** 2
    soft, unknown = (_outlines(grid, state == code) for code in (SOFT, UNKNOWN))
    wet = wet_polygons(solved, ground)
    area = float(np.isin(state, (WET, SOFT)).sum()) * cell
    length = float(ground["line_station"].to_numpy()[-1])
    return DrawnWater(
        flow,
        wet,
        soft,
        unknown,
        area / length,
        area,
        float((state == SOFT).sum()) * cell,
        float(((state == UNKNOWN) & (ground["cover"].to_numpy() > 0)).sum()) * cell,
        state,
    )


def _states(
    solved: xr.Dataset, limits: SeasonLimits
) -> np.ndarray[tuple[int, ...], np.dtype[np.int8]]:
    """Return what each cell is: wet water of unknown depth or speed is never soft."""
    wet = solved["wet"].to_numpy()
    depth = solved["depth"].to_numpy()
    speed = np.hypot(solved["east_speed"].to_numpy(), solved["north_speed"].to_numpy())
    with np.errstate(invalid="ignore"):
        suits = (depth >= limits.depth_low_m) & (depth <= limits.depth_high_m)
        suits &= (speed >= limits.speed_low_m_s) & (speed <= limits.speed_high_m_s)
    state = np.full(wet.shape, DRY, dtype=np.int8)
    state[wet == Wet.YES] = WET
    state[(wet == Wet.YES) & suits] = SOFT
    state[wet == Wet.UNKNOWN] = UNKNOWN
    return state


def _outlines(grid: Grid, mask: BoolArray) -> list[Polygon]:
    """Return the outlines of a mask's patches, their steps smoothed by half a cell."""
    pieces = [outline for outline, _ in grid.polygons(mask.astype(np.int32))]
    smooth = shapely.simplify(pieces, grid.cell / 2)
    return [one for one in smooth if isinstance(one, Polygon) and not one.is_empty]
