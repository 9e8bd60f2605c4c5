"""Water edges at sub-cell resolution: where the level cuts the ground between cell centres."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import xarray as xr
from contourpy import FillType, contour_generator
from shapely import LineString, MultiPolygon, Polygon, make_valid
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.patches import cells_of, nearest_cells, on_border, widened
from reachmap.base.words import Wet

SMALLEST_CELLS = 2.0
"""Pools and islands smaller than this many cells are left out. Our choice, range 0.5-10."""
END_CELLS = 2.0
"""The shore within this many cells of an end of the reach is not an edge but the cut."""


def wet_polygons(flows_one: xr.Dataset, ground: xr.Dataset) -> list[Polygon]:
    """Return the wet area at one flow, largest first; rings are islands and bars.

    Parameters
    ----------
    flows_one
        The flow stage's Dataset at one flow (dims y, x).
    ground
        The ground stage's Dataset on the same raster.

    Notes
    -----
    The line where level minus bed is zero, straight between cell centres, the level carried on
    from the nearest wet cell: so an edge moves smoothly with the stage. Towards ground of unknown
    height, and at the raster's rim, the edge lies halfway to the next centre.
    """
    above, x, y = _above_ground(flows_one, ground)
    cell = float(ground.attrs["cell"])
    smallest = SMALLEST_CELLS * cell**2
    generator = contour_generator(x, y, above, fill_type=FillType.OuterOffset, quad_as_tri=False)
    filled: Any = generator.filled(0.0, np.inf)
    points, offsets = filled
    polygons: list[Polygon] = []
    for coords, ends in zip(points, offsets, strict=True):
        rings = [coords[a:b] for a, b in pairwise(ends)]
        holes = [ring for ring in rings[1:] if len(ring) > 3 and Polygon(ring).area >= smallest]
        if len(rings[0]) > 3:
            polygons += _parts(Polygon(rings[0], holes))
    kept = [polygon for polygon in polygons if polygon.area >= smallest]
    return sorted(kept, key=lambda polygon: -polygon.area)


def edge_lines(
    flows_one: xr.Dataset, ground: xr.Dataset, *, polygons: list[Polygon] | None = None
) -> tuple[list[LineString], list[LineString]]:
    """Return the edges of the water on river left and on river right, each drawn downstream.

    Parameters
    ----------
    flows_one
        The flow stage's Dataset at one flow (dims y, x).
    ground
        The ground stage's Dataset on the same raster.
    polygons
        What `wet_polygons` returned for them, if it is at hand.

    Notes
    -----
    Outer shores only: those of islands are the rings of `wet_polygons`. A shore walked with the
    water to its left runs downstream on river right; where the reach is cut off at its ends, and at
    the tips of pools, it changes side.
    """
    left: list[LineString] = []
    right: list[LineString] = []
    for polygon in wet_polygons(flows_one, ground) if polygons is None else polygons:
        ring = np.asarray(polygon.exterior.coords)[:-1]
        if not polygon.exterior.is_ccw:
            ring = ring[::-1]
        station = _station_at(ring, ground)
        for piece, stations in _shores(ring, station, ground):
            if stations[-1] >= stations[0]:
                right.append(LineString(piece))
            else:
                left.append(LineString(piece[::-1]))
    return left, right


def _above_ground(
    flows_one: xr.Dataset, ground: xr.Dataset
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return level minus bed with a dry rim about it, and its x and y [m]."""
    wet = flows_one["wet"].to_numpy()
    yes: BoolArray = np.asarray(wet == Wet.YES)
    grid = Grid.of(ground)
    x = np.r_[grid.x[0] - grid.cell, grid.x, grid.x[-1] + grid.cell]
    y = np.r_[grid.y[0] + grid.cell, grid.y, grid.y[-1] - grid.cell]
    if not yes.any():
        return np.full((y.size, x.size), -1.0), x, y
    # Ground that touches no water at all is given any height above the level: no edge crosses it.
    above = np.where(yes, flows_one["depth"].to_numpy(), -1.0)
    rim = cells_of(widened(widened(yes)) & ~yes)
    _, *near = nearest_cells(yes, *rim)
    level, depth = (flows_one[name].to_numpy()[tuple(near)] for name in ("level", "depth"))
    with np.errstate(invalid="ignore"):
        here = np.minimum(level - ground["bed"].to_numpy()[rim], -1e-6)
    blind = (wet[rim] == Wet.UNKNOWN) | ~np.isfinite(here)
    above[rim] = np.where(blind, -depth, here)
    framed = np.pad(above, 1, mode="edge")
    frame = on_border(framed.shape)
    framed[frame] = -np.abs(framed[frame])
    return framed, x, y


def _parts(polygon: Polygon) -> list[Polygon]:
    """Return a polygon as valid ones."""
    if polygon.is_valid:
        return [polygon]
    mended: BaseGeometry = make_valid(polygon)
    if isinstance(mended, Polygon):
        return [mended]
    pieces = mended.geoms if isinstance(mended, MultiPolygon) else getattr(mended, "geoms", [])
    return [piece for piece in pieces if isinstance(piece, Polygon)]


def _station_at(places: FloatArray, ground: xr.Dataset) -> FloatArray:
    """Return the station of the cell nearest to each place [m]; NaN where it has none."""
    row, col, _ = Grid.of(ground).index(*places.T)
    found: FloatArray = np.asarray(ground["station"].to_numpy()[row, col])
    return found


def _shores(
    ring: FloatArray, station: FloatArray, ground: xr.Dataset
) -> list[tuple[FloatArray, FloatArray]]:
    """Return the ring cut where it changes side, as pieces with their stations."""
    line = Centreline.of(ground)
    middle = (line.head + line.foot) / 2
    band = END_CELLS * float(ground.attrs["cell"])
    known = np.isfinite(station)
    ends = ~known | (station < line.head + band) | (station > line.foot - band)
    if not known.any():
        return []
    cuts = ends.copy()
    if not (ends & (station < middle)).any():
        cuts[np.nanargmin(station)] = True
    if not (ends & (station > middle)).any():
        cuts[np.nanargmax(station)] = True
    start = int(np.argmax(cuts))
    ring, station = np.roll(ring, -start, axis=0), np.roll(station, -start)
    breaks = np.flatnonzero(np.r_[np.roll(cuts, -start), True])
    pieces = []
    for a, b in pairwise(breaks):
        if b - a > 2:
            pieces.append((ring[a + 1 : b], station[a + 1 : b]))
    return pieces
