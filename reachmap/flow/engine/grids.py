"""The engine's grids, from the ground raster to the coarsest, and interpolation between them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.packed import known_cells
from reachmap.base.patches import joined_to
from reachmap.base.resistance import Stones
from reachmap.flow.engine._kernels_grid import extrapolate_once, refine
from reachmap.flow.engine.cells import SIDES, Cells, Frame
from reachmap.flow.engine.grid_solver import GridSolver

SPREAD_CELLS = 2
"""Water is extrapolated this many coarse cells beyond its edge first. Our choice."""
WET_ENOUGH = 0.03
"""A coarse cell with less water is not interpolated to the next grid [m]. Our choice."""


def ground_frame(ground: xr.Dataset) -> Frame:
    """Return the ground as a frame: its rows turned to run north, a margin of one cell about it.

    Parameters
    ----------
    ground
        The ground stage's Dataset; `line_station` gives head and foot.
    """
    line, grid = Centreline.of(ground), Grid.of(ground)
    height, width = grid.shape
    arrays = {}
    for name in ("bed", "roughness", "station", "offset"):
        cells, values = known_cells(ground[name])
        row, col = np.divmod(cells, width)
        arrays[name] = np.full((height + 2, width + 2), np.nan)
        arrays[name][height - row, col + 1] = values
    station = arrays["station"]
    stones, stone_term = Stones.of(ground), None
    if stones.size_m > 0:
        cover = np.zeros((height + 2, width + 2), np.uint8)
        cover[1:-1, 1:-1] = ground["cover"].to_numpy()[::-1]
        arrays["roughness"], stone_term = stones.of_cells(arrays["roughness"], cover)
    here = np.flatnonzero(arrays["roughness"] > 0)
    along = station.ravel()[here]
    here = here[
        np.isfinite(arrays["bed"].ravel()[here]) & (along > line.head) & (along < line.foot)
    ]
    inside = np.zeros(station.shape, np.bool_)
    inside.ravel()[here] = True
    return Frame(
        bed=arrays["bed"],
        rough=arrays["roughness"],
        station=station,
        offset=arrays["offset"],
        inside=inside,
        head=line.head,
        foot=line.foot,
        cell=grid.cell,
        x=float(grid.x[0]) - grid.cell,
        y=float(grid.y[-1]) - grid.cell,
        stone_term=stone_term,
    )


def coarser(frame: Frame) -> Frame:
    """Return the frame on cells twice as large: means over the inside cells of each four.

    A coarse cell is inside where at least two of its four are. The station's mean is over all known
    cells, so that ends stay where they are.
    """
    shape = tuple((size - 2 + 1) // 2 + 2 for size in frame.bed.shape)
    rows, cols = shape

    def parents(cells: IntArray) -> IntArray:
        row, col = np.divmod(cells, frame.bed.shape[1])
        return np.asarray(((row - 1) // 2 + 1) * cols + (col - 1) // 2 + 1, np.int32)

    def count(mine: IntArray) -> IntArray:
        return np.bincount(mine, minlength=rows * cols).reshape(shape)

    def mean(array: FloatArray, cells: IntArray, mine: IntArray) -> FloatArray:
        total = np.bincount(mine, array.ravel()[cells], rows * cols).reshape(shape)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(total / count(mine))

    use, known = (
        np.flatnonzero(mask).astype(np.int32) for mask in (frame.inside, np.isfinite(frame.station))
    )
    of_use, of_known = parents(use), parents(known)
    station = mean(frame.station, known, of_known)
    with np.errstate(invalid="ignore"):
        inside = (count(of_use) >= 2) & (station > frame.head) & (station < frame.foot)
    return replace(
        frame,
        bed=mean(frame.bed, use, of_use),
        rough=mean(frame.rough, use, of_use),
        station=station,
        offset=mean(frame.offset, known, of_known),
        inside=inside,
        cell=2 * frame.cell,
        x=frame.x - 0.5 * frame.cell,
        y=frame.y - 0.5 * frame.cell,
        stone_term=None if frame.stone_term is None else mean(frame.stone_term, use, of_use),
    )


def within_reach(
    frame: Frame, stations: FloatArray, levels: FloatArray, margin: float
) -> BoolArray:
    """Return the inside cells that may get wet: low, and joined to the river over such cells.

    Parameters
    ----------
    frame
        The raster.
    stations, levels
        The river's level along the line [m], [m].
    margin
        How far above it ground may still get wet [m].
    """
    here = np.flatnonzero(frame.inside)
    level = np.interp(frame.station.ravel()[here], stations, levels)
    low = np.zeros_like(frame.inside)
    low.ravel()[here[frame.bed.ravel()[here] < level + margin]] = True
    return low & largest_along(frame, low)


def largest_along(frame: Frame, mask: BoolArray) -> BoolArray:
    """Return the pieces of `mask` that hold the lowest cell of some stretch of the line."""
    flat = np.flatnonzero(mask)
    bins = (frame.station.ravel()[flat] / (4 * frame.cell)).astype(np.int64)
    near = np.abs(frame.offset.ravel()[flat])
    with np.errstate(invalid="ignore"):
        usable = near <= np.nanpercentile(near, 50)
    flat, bins = flat[usable], bins[usable]
    order = np.lexsort((frame.bed.ravel()[flat], bins))
    _, first = np.unique(bins[order], return_index=True)
    lowest = np.zeros(mask.shape, np.bool_)
    lowest.ravel()[flat[order[first]]] = True
    return joined_to(lowest, mask)


def interpolate_to_finer(coarse: GridSolver, fine: GridSolver) -> None:
    """Interpolate the coarser grid's water to the finer one: level and velocity, bilinearly.

    Beyond the coarse water's edge the mean of the nearest values holds for `SPREAD_CELLS` cells.
    """
    cells, target = coarse.cells, fine.cells
    flow = coarse.water.copy()
    known = flow[:, 0] > WET_ENOUGH
    flow[:, 0] += cells.bed
    for _ in range(SPREAD_CELLS):
        extrapolate_once(flow, known, cells.mesh.neighbours)
    refinement = target.refinement_of(cells)
    refinement = refinement._replace(parent=filled_parents(refinement.parent, target))
    refine(flow, known, refinement, target.bed, fine.settings.thin_m, fine.water)


def filled_parents(parent: IntArray, cells: Cells) -> IntArray:
    """Return the coarse cell of each fine one, that of a neighbour where it has none of its own.

    At the river's ends and edges a coarse cell may lie outside though some of its fine ones do not.
    """
    parent = parent.copy()
    for _ in range(SPREAD_CELLS):
        alone = np.flatnonzero(parent < 0)
        known = parent.copy()
        for side in range(len(SIDES)):
            neighbour = cells.mesh.neighbours[alone, side]
            found = np.where(neighbour >= 0, known[neighbour], -1)
            parent[alone] = np.where(parent[alone] < 0, found, parent[alone])
    return parent


def edge_cells_near(
    frame: Frame, cells: Cells, wet: BoolArray, place: tuple[float, float], radius: float
) -> IntArray:
    """Return the cells of the water's edge about a place.

    Wet cells next to one that is not, no more than `radius` [m] farther from the place than the
    nearest of them: so water let in at a bank enters along its edge, however far that lies from the
    bank at this flow, and does not run down a dry bar. All cells within `radius` where none is wet;
    none where no cell at all lies within four cells and the radius.
    """
    away = np.hypot(
        frame.x + cells.col * cells.cell - place[0], frame.y + cells.row * cells.cell - place[1]
    )
    if away.min() > radius + 4 * cells.cell:
        return np.empty(0, np.int32)
    if wet.any():
        neighbours = cells.mesh.neighbours
        dry_side = (neighbours < 0) | ~wet[np.maximum(neighbours, 0)]
        away = np.where(wet & dry_side.any(axis=1), away, np.inf)
    return np.flatnonzero(away <= away.min() + radius).astype(np.int32)


def joined_to_river(solver: GridSolver, wet: BoolArray) -> BoolArray:
    """Return the wet cells connected, through wet cells, to the river from head to foot."""
    component = solver.cells.connected(wet)
    return np.asarray(np.isin(component, np.unique(component[solver.river & wet])) & wet)
