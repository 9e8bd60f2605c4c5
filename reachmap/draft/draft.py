"""Draft of a river from terrain, as features of the drawing's layers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.grid import Grid
from reachmap.base.words import Part
from reachmap.draft.banks import banks
from reachmap.draft.channels import side_channels
from reachmap.draft.crests import crests
from reachmap.draft.route import route_of
from reachmap.draft.settings import DraftSettings
from reachmap.draft.water import Water, water_along

Terrain = Callable[[Grid], FloatArray]
"""Reads the terrain onto a raster [m], NaN where there is no data."""

Canopy = Callable[[Grid, FloatArray], FloatArray | None]
"""Reads the canopy height onto a raster [m above terrain]; None without any data."""

LEAST_M = 100.0
"""Shortest river drafted [m] (the limit of `reachmap check`)."""


@dataclass(frozen=True, slots=True)
class Drafted:
    """One drafted feature.

    Parameters
    ----------
    layer
        Of the drawing.
    shape
        In the project's CRS.
    values
        Fields of the layer, numbers in SI; a field left out is empty.
    """

    layer: str
    shape: BaseGeometry
    values: dict[str, str | float]


@dataclass(frozen=True, slots=True)
class Draft:
    """A drafted river.

    Parameters
    ----------
    crs
        Of its shapes.
    features
        The river line first, then side channels, banks, edges and levels, each down the river.
    seen
        Whether the terrain shows a flat water surface; else its edges are a guess.
    canopy
        Whether there are data on the canopy of the banks.
    width
        Typical width of the water [m].
    fall
        Of the water over the line [m].
    cell
        Of the raster it was drawn on [m].
    """

    crs: str
    features: tuple[Drafted, ...]
    seen: bool
    canopy: bool
    width: float
    fall: float
    cell: float


@dataclass(frozen=True, slots=True)
class Place:
    """Where to draft: the CRS, the terrain's bounds and native cell [m], and what is known.

    Parameters
    ----------
    crs
        Metric.
    bounds
        Of the terrain: west, south, east, north [m].
    cell
        Native cell of the terrain [m].
    near
        A place on the river; None for the largest river.
    line
        A river line drawn already, downstream: it is followed, and none is drafted.
    flow
        Discharge on the day of the flight [m3/s]; NaN if not given.
    """

    crs: str
    bounds: tuple[float, float, float, float]
    cell: float
    near: tuple[float, float] | None = None
    line: LineString | None = None
    flow: float = float("nan")


def draft_river(place: Place, terrain: Terrain, canopy: Canopy, settings: DraftSettings) -> Draft:
    """Return a river drafted from its terrain.

    Raises
    ------
    BuildError
        If the terrain shows no river.
    """
    line = place.line
    brims: FloatArray | None = None
    if line is None:
        coarse = _grid(place.bounds, place, settings.route.most_cells)
        heights = terrain(coarse)
        route = route_of(heights, coarse, place.near, settings.route)
        brims = route.filled
        line = LineString(coarse.points(route.rows, route.cols)) if route.rows.size > 1 else None
    if line is None or line.length < LEAST_M:
        found = "no river of 100 m or more shows in it"
        fix = "Bring more of the valley, or say where the river is"
        raise BuildError([Fault("terrain", found, fix)])
    grid = _grid(_around(line, place, settings), place, settings.route.fine_cells)
    height = terrain(grid)
    cells = _cells_on(line, grid)
    if not np.isfinite(height[cells]).any():
        fault = Fault("terrain", "it knows no ground along the river line", "Bring its tiles")
        raise BuildError([fault])
    if brims is None or brims.shape != height.shape:
        brims = route_of(height, grid, None, settings.route).filled
    water = water_along(height, brims, grid, cells, settings.surface)
    grown = canopy(grid, height)
    features = [
        *_rivers(water, grid, place),
        *_banks(height, grown, water, grid, settings),
        *_edges(water, grid, place),
        *_levels(water, place, settings),
    ]
    fall = float(water.level[0] - water.level[-1])
    return Draft(
        place.crs, tuple(features), water.seen, grown is not None, water.width, fall, grid.cell
    )


def _grid(bounds: tuple[float, float, float, float], place: Place, most: int) -> Grid:
    """Return the finest raster over bounds of at most so many cells, of the terrain's cell or more.

    Cells are at least a metre: finer ones draw the same banks more slowly.
    """
    west, south, east, north = bounds
    cell = max(round(place.cell, 2), 1.0)
    while (east - west) * (north - south) / cell**2 > most:
        cell *= 2
    return Grid.around(bounds, cell, place.crs)


def _around(
    line: LineString, place: Place, settings: DraftSettings
) -> tuple[float, float, float, float]:
    """Return the bounds of a corridor around a line, clipped to the terrain's bounds."""
    far = settings.route.corridor_m
    west, south, east, north = line.bounds
    low, high = place.bounds[:2], place.bounds[2:]
    return (
        max(west - far, low[0]), max(south - far, low[1]),
        min(east + far, high[0]), min(north + far, high[1]),
    )  # fmt: skip


def _cells_on(line: LineString, grid: Grid) -> tuple[IntArray, IntArray]:
    """Return the cells under a line, in its order."""
    at = np.arange(0.0, line.length + grid.cell / 2, grid.cell / 2)
    points = np.array([line.interpolate(one).coords[0] for one in at])
    row, col, inside = grid.index(points[:, 0], points[:, 1])
    row, col = row[inside], col[inside]
    new = np.r_[True, (np.diff(row) != 0) | (np.diff(col) != 0)]
    return row[new], col[new]


def _rivers(water: Water, grid: Grid, place: Place) -> list[Drafted]:
    """Return the river line, where none is drawn, and side channels."""
    found = []
    if place.line is None:
        line = water.line.line().simplify(max(0.5, grid.cell / 2))
        found.append(Drafted("river", line, {"part": Part.MAIN.value}))
    side: dict[str, str | float] = {"part": Part.SIDE.value}
    return found + [Drafted("river", one.line, side) for one in side_channels(water, grid)]


def _banks(
    height: FloatArray,
    canopy: FloatArray | None,
    water: Water,
    grid: Grid,
    settings: DraftSettings,
) -> list[Drafted]:
    """Return the banks and islands."""
    found = []
    # a stream of a cell or two: its simplified banks may not lie over the line
    free = water.line.line().simplify(max(0.5, grid.cell / 2)).buffer(max(0.6 * grid.cell, 1.0))
    for one in banks(height, canopy, water, grid, settings.banks):
        outline = _off(one.outline, free)
        if outline is None:
            continue
        values: dict[str, str | float] = {"side": one.side.value, "rise": one.rise}
        if one.cover is not None:
            values["cover"] = one.cover.value
        if np.isfinite(one.cover_height):
            values["cover_height"] = one.cover_height
        found.append(Drafted("banks", outline, values))
    return found


def _off(outline: Polygon, free: BaseGeometry) -> Polygon | None:
    """Return an outline minus the area to keep free; its largest piece, None for none."""
    if not outline.intersects(free):
        return outline
    left = outline.difference(free)
    pieces = [one for one in getattr(left, "geoms", [left]) if one.geom_type == "Polygon"]
    largest = max(pieces, key=lambda one: one.area, default=None)
    return None if largest is None or largest.is_empty else largest


def _edges(water: Water, grid: Grid, place: Place) -> list[Drafted]:
    """Return the water's edge as outlines, where the flow of the flight is known."""
    if not (np.isfinite(place.flow) and water.seen):
        return []
    outlines = [one for one, _ in grid.polygons(water.wet.astype(np.int32))]
    whole = max(outlines, key=lambda one: one.area).simplify(max(0.7, grid.cell / 2))
    return [Drafted("edges", whole, {"flow": place.flow})]


def _levels(water: Water, place: Place, settings: DraftSettings) -> list[Drafted]:
    """Return the height of the water at likely heads of riffles."""
    found = []
    for station in crests(water, settings.crests):
        x, y = water.line.from_station_offset(np.array([station]), np.zeros(1))
        level = float(np.interp(station, water.line.station, water.level))
        values: dict[str, str | float] = {"level": round(level, 3)}
        if np.isfinite(place.flow):
            values["flow"] = place.flow
        found.append(Drafted("levels", Point(float(x[0]), float(y[0])), values))
    return found
