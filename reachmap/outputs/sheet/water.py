"""Smoothed depth classes for the small maps: edge lines, few classes, unknown water separately."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
import xarray as xr
from contourpy import FillType, contour_generator
from scipy import ndimage
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.grid import Grid
from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem, Wet

BLUR_CELLS = 0.9
"""Standard deviation of the blur that smooths the cells' edges [cells]; our choice, 0.6-1.5."""

DEEPER_M = 0.05
"""Added to the mapped depth before classes are drawn [m], so that the blur never makes the water
shallower; the map's own rounding."""

DRY_M, THIN_M = -0.15, 0.02
"""Least height above water of dry cells next to it, and least depth of wet cells [m]: the edge
lies between them."""

UNKNOWN_SHARE = 0.25
"""Share of unknown cells around a place from which it is drawn as unknown, as on the map page."""

CRUMB_CELLS = 4
"""Least size of a piece of water [cells]; smaller ones are invisible on a small map."""

BREAKS = {UnitSystem.US: (2.0, 4.0), UnitSystem.METRIC: (0.6, 1.2)}
"""Bounds of the depth classes [ft or m]: about the knee, and beyond wading; our choice."""


@dataclass(frozen=True, slots=True)
class SmoothWater:
    """Water of one piece of ground at one flow, in the project's CRS [m].

    Parameters
    ----------
    edge
        Lines between wet and dry ground; none where the map ends in the river.
    steps
        Areas by depth class, shallowest first: below the first of `BREAKS`, between them, above.
    unknown
        Where wetness or depth is unknown; drawn over the others.
    """

    edge: BaseGeometry
    steps: tuple[BaseGeometry, ...]
    unknown: BaseGeometry


def smooth_water(
    ground: xr.Dataset,
    flow: xr.Dataset,
    bounds: tuple[float, float, float, float],
    units: UnitSystem,
) -> SmoothWater:
    """Return the water within bounds.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flow
        The flow stage's Dataset at one flow.
    bounds
        West, south, east and north [m].
    units
        Units of the depth classes.
    """
    whole = Grid.of(ground)
    window = whole.window_over(bounds, margin=3)
    grid = whole.part(window)
    if grid.shape[0] < 2 or grid.shape[1] < 2:
        return SmoothWater(LineString(), (Polygon(),) * (len(BREAKS[units]) + 1), Polygon())
    wet = flow["wet"].to_numpy()[window]
    depth = flow["depth"].to_numpy()[window]
    known = (wet == Wet.YES) & np.isfinite(depth)
    unknown = (wet == Wet.UNKNOWN) | ((wet == Wet.YES) & ~known)
    off = ~np.isfinite(ground["bed"].to_numpy()[window]) & ~known & ~unknown
    field = _signed(depth, known, unknown | off)
    mapped = _between(grid, ndimage.gaussian_filter(1.0 - off, BLUR_CELLS), 0.5, np.inf)
    breaks = [to_si(one, "ft" if units is UnitSystem.US else "m") for one in BREAKS[units]]
    bounds_of = [0.0, *(one - DEEPER_M for one in breaks), np.inf]
    steps = tuple(
        _between(grid, field, low, high).intersection(mapped) for low, high in pairwise(bounds_of)
    )
    blurred = ndimage.gaussian_filter(unknown.astype(np.float64), BLUR_CELLS)
    share = np.maximum(blurred, np.where(unknown, 2 * UNKNOWN_SHARE, 0.0))  # none is blurred away
    lost = _between(grid, share, UNKNOWN_SHARE, np.inf, crumbs=True)
    edge = _between(grid, field, 0.0, np.inf).boundary.intersection(mapped.buffer(-grid.cell / 4))
    return SmoothWater(edge, steps, lost)


def _signed(depth: FloatArray, known: BoolArray, unknown: BoolArray) -> FloatArray:
    """Return blurred depth, negative on dry ground; unknown cells take their neighbour's."""
    field = np.where(known, np.maximum(np.nan_to_num(depth), THIN_M), DRY_M)
    if known.any() and unknown.any():
        _, near = ndimage.distance_transform_edt(~known, return_indices=True)
        field = np.where(unknown, field[tuple(near)], field)
    return np.asarray(ndimage.gaussian_filter(field, BLUR_CELLS), dtype=np.float64)


def _between(
    grid: Grid, field: FloatArray, low: float, high: float, *, crumbs: bool = False
) -> BaseGeometry:
    """Return the area where a field lies between two values [m]; `crumbs` keeps tiny pieces."""
    lines = contour_generator(grid.x, grid.y, field, fill_type=FillType.OuterOffset)
    found: Any = lines.filled(low, high)
    parts = []
    for corners, ends in zip(*found, strict=True):
        rings = [corners[a:b] for a, b in pairwise(ends)]
        parts.append(Polygon(rings[0], [ring for ring in rings[1:] if len(ring) > 3]))
    shape = shapely.make_valid(MultiPolygon(parts)) if parts else Polygon()
    least = 0.0 if crumbs else CRUMB_CELLS * grid.cell**2
    kept = [one for one in _areas(shape) if one.area > least]
    return shapely.union_all(kept) if kept else Polygon()


def _areas(shape: BaseGeometry) -> list[Polygon]:
    """Return the polygons of a shape; lines and points left by make_valid are dropped."""
    if isinstance(shape, Polygon):
        return [shape]
    return [one for part in getattr(shape, "geoms", ()) for one in _areas(part)]
