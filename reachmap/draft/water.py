"""The water on the day of the flight: level along the river, wet cells and centreline."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import (
    distance_transform_edt,
    median_filter,
    minimum_filter,
)
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.patches import EIGHT, Patches, cells_of, joined_to, on_border, widened
from reachmap.draft.settings import SurfaceSettings
from reachmap.ground.profiles import falling, smoothed_along
from reachmap.water.skeleton import filled

FLOODED_M = np.arange(0.1, 3.01, 0.1)
"""Trial depths over the riffles where the terrain shows no water surface [m]."""

BEYOND_M = 150.0
"""How far the slope is extrapolated beyond the ends of a path [m] (our choice, 100-300)."""

TURNS = 2
"""Iterations of moving the line into the middle of the water found (our choice)."""


@dataclass(frozen=True, slots=True)
class Water:
    """The water on the day of the flight.

    Parameters
    ----------
    wet
        Cells, shape (y, x).
    line
        Centreline of the main channel, downstream.
    level
        At the line's vertices [m], never rising downstream.
    station
        Of the nearest vertex, at each cell [m].
    level_at
        Level of the water at that station [m], shape (y, x).
    width
        Typical width of the water, islands in it [m].
    noise
        Tolerance above the level within which a cell counts as water [m].
    seen
        Whether the terrain shows a water surface; else the level is a guess over the riffles of a
        known bed.
    """

    wet: BoolArray
    line: Centreline
    level: FloatArray
    station: FloatArray
    level_at: FloatArray
    width: float
    noise: float
    seen: bool


@dataclass(frozen=True, slots=True)
class _Along:
    """Nearest cell of a path, at each cell: its number, and the distance to it [m]."""

    number: IntArray
    away: FloatArray

    @classmethod
    def of(cls, rows: IntArray, cols: IntArray, grid: Grid) -> _Along:
        """Return the nearest path cell of every cell of the grid."""
        numbers = np.full(grid.shape, -1, dtype=np.int32)
        numbers[rows[::-1], cols[::-1]] = np.arange(rows.size, dtype=np.int32)[::-1]
        away, (row, col) = distance_transform_edt(numbers < 0, return_indices=True)
        return cls(numbers[row, col], np.asarray(away * grid.cell))


def water_along(
    height: FloatArray,
    brims: FloatArray,
    grid: Grid,
    cells: tuple[IntArray, IntArray],
    settings: SurfaceSettings,
) -> Water:
    """Return the water along a path.

    Its level is the profile closest to the heights along the path that never rises downstream. A
    water surface fits it within noise. A bed with pools does not: then the level is set above the
    filled terrain at the depth where the feet of the banks show (see `_over_bed`).

    Parameters
    ----------
    height
        Terrain [m], NaN where unknown.
    brims
        The same with its depressions filled.
    grid
        Its raster.
    cells
        Rows and columns of the path, downstream, next to each other.
    settings
        Of the water surface.
    """
    along, rim = _Along.of(*cells, grid), outer_rim(np.isfinite(height))
    low = minimum_filter(np.where(np.isfinite(height), height, np.inf), size=3)[cells]
    low = _bridged(low)
    level = falling(median_filter(low, size=9, mode="nearest"), np.ones(low.size))
    spread = float(np.median(np.abs(low - level)))
    seen = spread <= settings.spread_m
    if seen:
        water = _at(height, grid, cells, along, level, settings.most_noise_m / 2, settings)
    else:
        water = _over_bed(height, brims, grid, cells, along, settings)
    for _ in range(TURNS):
        cells = middle_cells(water.wet, rim, cells)
        along = _Along.of(*cells, grid)
        if seen:
            level, sigma, flat = _read_level(height, water, along, cells, grid, settings)
            if flat > settings.spread_m:
                seen = False
                water = _over_bed(height, brims, grid, cells, along, settings)
                continue
            noise = float(np.clip(3 * sigma, settings.least_noise_m, settings.most_noise_m))
            water = _at(height, grid, cells, along, level, noise, settings)
        else:
            water = _over_bed(height, brims, grid, cells, along, settings)
    return water


def _bridged(values: FloatArray) -> FloatArray:
    """Return values along a path, the unknown ones interpolated linearly."""
    good = np.flatnonzero(np.isfinite(values))
    return np.asarray(np.interp(np.arange(values.size), good, values[good]))


def _at(
    height: FloatArray,
    grid: Grid,
    cells: tuple[IntArray, IntArray],
    along: _Along,
    level: FloatArray,
    noise: float,
    settings: SurfaceSettings,
) -> Water:
    """Return the water at a given level along a path [m]."""
    slope = max(float(level[0] - level[-1]) / max(level.size * grid.cell, 1.0), 0.0)
    beyond = (along.number == 0) * 1.0 - (along.number == level.size - 1) * 1.0
    # +1 upstream of the path, -1 downstream of it: the slope is extrapolated past both ends
    level_at = level[along.number] + beyond * slope * np.minimum(along.away, BEYOND_M)
    voids = Patches.of(np.isnan(height))
    inner = ~voids.holding(on_border(height.shape))
    inner[0] = False
    low = (height <= level_at + noise) | inner[voids.labels]
    start = np.zeros(grid.shape, dtype=bool)
    start[cells] = True
    wet = joined_to(start & low, low)
    length = max(float(np.hypot(np.diff(cells[0]), np.diff(cells[1])).sum()) * grid.cell, grid.cell)
    near = wet & (along.away <= 40 * grid.cell + 10)
    width = max(float(wet.sum()) * grid.cell**2 / length, grid.cell)
    width = min(width, 2 * float(np.percentile(along.away[near], 95)) + grid.cell)
    wet &= along.away <= settings.widest * width
    wet = joined_to(start & wet, wet)
    least = max(settings.island_m2, (settings.speck * width) ** 2)
    wet = filled(wet, least / grid.cell**2)
    width = max(float(wet.sum()) * grid.cell**2 / length, grid.cell)
    line = _line(cells, grid, width)
    station = line.station[line.vertex(line.to_station_offset(*_xy(cells, grid))[0])]
    order = np.maximum.accumulate(station)
    at_vertex = np.interp(line.station, order + np.arange(order.size) * 1e-6, level)
    return Water(wet, line, at_vertex, station[along.number], level_at, width, noise, seen=True)


def _xy(cells: tuple[IntArray, IntArray], grid: Grid) -> tuple[FloatArray, FloatArray]:
    """Return the centres of cells, east and north [m]."""
    points = grid.points(*cells)
    return points[:, 0], points[:, 1]


def _line(cells: tuple[IntArray, IntArray], grid: Grid, width: float) -> Centreline:
    """Return a smooth line along a path of cells."""
    x, y = _xy(cells, grid)
    sigma = max(width / 2.5 / grid.cell, 2.0)
    step = max(2.0, grid.cell)
    return Centreline.through(smoothed_along(x, sigma), smoothed_along(y, sigma), step)


def _read_level(
    height: FloatArray,
    water: Water,
    along: _Along,
    cells: tuple[IntArray, IntArray],
    grid: Grid,
    settings: SurfaceSettings,
) -> tuple[FloatArray, float, float]:
    """Return the level along a path from the water cells near it, its noise, and its misfit [m].

    Each stretch of an eighth of a width counts with the median of its cells.
    """
    near = water.wet & np.isfinite(height) & (along.away <= water.width / 3)
    near &= np.abs(height - water.level_at) <= settings.within_m
    number, heights = along.number[near], height[near]
    count = cells[0].size
    size = max(int(water.width / 8 / grid.cell), 2)
    which = number // size
    order = np.lexsort((heights, which))
    which, heights = which[order], heights[order]
    firsts, first, many = np.unique(which, return_index=True, return_counts=True)
    middle = heights[first + many // 2]
    at = (firsts + 0.5) * size
    rows = np.interp(np.arange(count), at, middle)
    share = np.interp(np.arange(count), at, many.astype(np.float64))
    level = falling(median_filter(rows, size=2 * size + 1, mode="nearest"), share + 1e-3)
    if count > 8:
        level = smoothed_along(level, max(water.width / 8 / grid.cell, 1.0))
        level = np.minimum.accumulate(level)
    off = np.abs(heights - level[np.minimum((which * size + size // 2), count - 1)])
    sigma = 1.48 * float(np.median(off)) if off.size else settings.most_noise_m / 3
    flat = float(np.median(np.abs(middle - np.interp(at, np.arange(count), level))))
    return level, sigma, flat


def _over_bed(
    height: FloatArray,
    brims: FloatArray,
    grid: Grid,
    cells: tuple[IntArray, IntArray],
    along: _Along,
    settings: SurfaceSettings,
) -> Water:
    """Return water where the terrain shows no surface: a known bed, or a stream of few cells.

    The level lies one depth above the filled terrain along the path. The depth is that at which
    the width has grown most beyond its even growth up to the least ratio of width to depth, which
    is bankfull (Wolman 1955, from memory): the feet of the banks. Our choice; a guess.
    """
    base = _bridged(brims[cells])
    base = falling(base, np.ones(base.size))
    above = height - base[along.number]
    near = along.away <= 120.0
    start = np.zeros(grid.shape, dtype=bool)
    start[cells] = True
    wide, deep = [], []
    for depth in FLOODED_M:
        low = near & (above <= depth)
        wet = joined_to(start & low, low, EIGHT)
        length = max(cells[0].size * grid.cell, grid.cell)
        wide.append(float(wet.sum()) * grid.cell**2 / length)
        deep.append(float((depth - above[wet]).sum()) / max(float(wet.sum()), 1.0))
    ratio = np.array(wide) / np.maximum(np.array(deep), 1e-3)
    full = int(np.argmin(ratio[1:])) + 1
    gain = np.array(wide[: full + 1]) / wide[full] - FLOODED_M[: full + 1] / FLOODED_M[full]
    depth = float(FLOODED_M[int(np.argmax(gain))])
    water = _at(height, grid, cells, along, base + depth, 0.0, settings)
    return replace(water, seen=False)


def outer_rim(known: BoolArray) -> BoolArray:
    """Return the known cells where the terrain ends: at the raster's edge or next to an outer void.

    A void enclosed by ground, like water without returns, is no end of the terrain.
    """
    voids = Patches.of(~known)
    border = on_border(known.shape)
    outer = voids.holding(border)
    outer[0] = False
    return np.asarray(known & (border | widened(outer[voids.labels])))


def middle_cells(
    wet: BoolArray, rim: BoolArray, cells: tuple[IntArray, IntArray]
) -> tuple[IntArray, IntArray]:
    """Return the path along the middle of the water, from end to end of a path.

    The path with the least sum of step / (distance to the bank)^2: it keeps off the banks and takes
    the wider of two branches. Where ledges divide the water it follows the given path across. At
    the ends it goes to the middle of the water on the `rim`.
    """
    ground = np.zeros(wet.shape, dtype=bool)
    ground[cells] = True
    wet = wet | ground
    rows, cols = cells_of(wet)
    number = np.full(wet.shape, -1, dtype=np.int32)
    number[rows, cols] = np.arange(rows.size, dtype=np.int32)
    on = number[cells]
    if on.size < 2:
        return cells
    room = distance_transform_edt(np.pad(wet, 1))[1:-1, 1:-1][rows, cols]
    head, foot = (_end(rim[rows, cols], room, rows, cols, end) for end in (on, on[::-1]))
    sources, targets, costs = [], [], []
    for d_row, d_col in ((0, 1), (1, 0), (1, 1), (1, -1)):
        r, c = rows + d_row, cols + d_col
        inside = (r < wet.shape[0]) & (c >= 0) & (c < wet.shape[1])
        other = np.where(
            inside, number[r.clip(max=wet.shape[0] - 1), c.clip(0, wet.shape[1] - 1)], -1
        )
        here = np.flatnonzero(other >= 0)
        there = other[here]
        sources.append(here)
        targets.append(there)
        costs.append(np.hypot(d_row, d_col) * 2 / (room[here] ** 2 + room[there] ** 2))
    a, b, cost = (np.concatenate(part) for part in (sources, targets, costs))
    graph = coo_array((cost, (a, b)), shape=(rows.size, rows.size)).tocsr()
    _, before = dijkstra(graph, directed=False, indices=np.array([head]), return_predecessors=True)
    before = before[0]
    path = [foot]
    while path[-1] != head and before[path[-1]] >= 0:
        path.append(int(before[path[-1]]))
    if path[-1] != head:
        return cells
    way = np.array(path[::-1])
    return rows[way].astype(np.int32), cols[way].astype(np.int32)


def _end(rim: BoolArray, room: FloatArray, rows: IntArray, cols: IntArray, on: IntArray) -> int:
    """Return the cell at which the middle line begins: where the water leaves the terrain, if near.

    `on` are the path's cells in order from that end. Of the water on the rim within four widths
    the middle cell is taken, else the path's own first one.
    """
    first = int(on[0])
    reach = max(8 * float(np.median(room[on])), 8.0)
    near = np.flatnonzero(rim & (np.hypot(rows - rows[first], cols - cols[first]) <= reach))
    if near.size < 2:
        return first
    middle = rows[near].mean(), cols[near].mean()
    return int(near[np.argmin(np.hypot(rows[near] - middle[0], cols[near] - middle[1]))])
