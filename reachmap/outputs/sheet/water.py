"""Smooth areas of depth for the small maps: the edge as one line, few steps, unknown on its own."""

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
"""Standard deviation of the blur that takes the steps of the cells away; our choice, 0.6-1.5."""

DEEPER_M = 0.05
"""Water counts as this much deeper than mapped where a step of depth is drawn [m], so that the blur
never draws it shallower; the map's own rounding."""

DRY_M, THIN_M = -0.15, 0.02
"""Ground beside water counts as at least so far above it, and wet cells as so deep [m]: the edge
runs between them."""

UNKNOWN_SHARE = 0.25
"""Share of unknown cells about a place from which it is drawn as unknown, as on the map page."""

CRUMB_CELLS = 4
"""Pieces of water of fewer cells are left out: too small to see on a small map."""

BREAKS = {UnitSystem.US: (2.0, 4.0), UnitSystem.METRIC: (0.6, 1.2)}
"""Depths between the steps [ft or m]: about the knee, and deeper than one stands; our choice."""


@dataclass(frozen=True, slots=True)
class SmoothWater:
    """Water of one piece of ground at one flow, in the project's CRS [m].

    Parameters
    ----------
    edge
        Lines between wet and dry ground; none where the map ends in the river.
    steps
        Areas of depth, the shallowest first: below the first of `BREAKS`, between them, beyond.
    unknown
        Where nobody knows whether or how deep; it lies over the others.
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
    """Return the water within some bounds.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flow
        The flow stage's Dataset at one flow.
    bounds
        West, south, east and north [m].
    units
        Whose steps of depth are drawn.
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
    """Return depth, negative on dry ground, without steps; unknown takes its neighbour's."""
    field = np.where(known, np.maximum(np.nan_to_num(depth), THIN_M), DRY_M)
    if known.any() and unknown.any():
        _, near = ndimage.distance_transform_edt(~known, return_indices=True)
        field = np.where(unknown, field[tuple(near)], field)
    return np.asarray(ndimage.gaussian_filter(field, BLUR_CELLS), dtype=np.float64)


def _between(
    grid: Grid, field: FloatArray, low: float, high: float, *, crumbs: bool = False
) -> BaseGeometry:
    """Return where a field lies between two values [m]; pieces under four cells only on wish."""
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
    """Return the polygons of a shape; lines and points that mending leaves are dropped."""
    if isinstance(shape, Polygon):
        return [shape]
    return [one for part in getattr(shape, "geoms", ()) for one in _areas(part)]
