"""Outlines of unknown areas, from the rasters: they are drawn, never left blank."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy import ndimage
from shapely.geometry import Polygon

from reachmap.base.arrays import BoolArray
from reachmap.base.grid import Grid
from reachmap.base.words import Wet
from reachmap.outputs.webmap.feature import straightened

SURE_BOUNDS = (0.34, 0.67)
"""Lower bounds of fair and good confidence in the bed (our choice: thirds)."""

NEAR_WATER_M = 25.0
"""Distance from water within which undescribed ground is drawn as unknown [m] (our choice)."""

EDGE_CHANCES = (0.1, 0.9)
"""Shares of wet ensemble members between which the edge may lie (our choice)."""

SMALLEST_BAND_M2 = 60.0
"""Least area of a piece of the edge's band that is outlined [m2] (our choice)."""

SMALLEST_GUESS_M2 = 150.0
"""Least area of a patch of low-confidence bed that is outlined [m2] (our choice); smaller ones
are still reported when tapped."""


def off_map(flows: xr.Dataset) -> BoolArray:
    """Return a mask of cells too far from any water to be part of the map, shape (y, x).

    Undescribed ground well away from the river is left blank. When tapped, the page still reports
    it as unknown.
    """
    wet = flows["wet"].to_numpy()
    dry_always = ~(wet == Wet.YES).any(axis=0)
    if dry_always.all():
        return np.zeros(dry_always.shape, dtype=bool)
    cell = Grid.of(flows).cell
    far = ndimage.distance_transform_cdt(dry_always, "chessboard") * cell > NEAR_WATER_M
    return np.asarray(far & (wet == Wet.UNKNOWN).all(axis=0))


def unknown_water(flows: xr.Dataset, index: int, beyond: BoolArray) -> list[Polygon]:
    """Return outlines of the areas whose wetness or depth at a flow is unknown.

    Parameters
    ----------
    flows
        The flow stage's Dataset.
    index
        Index of the flow.
    beyond
        Cells that are no part of the map, as `off_map` gives them.
    """
    here = flows.isel(flow=index)
    wet = here["wet"].to_numpy()
    mask = (wet == Wet.UNKNOWN) | ((wet == Wet.YES) & np.isnan(here["depth"].to_numpy()))
    return outlines(mask & ~beyond, Grid.of(flows))


def guessed_ground(ground: xr.Dataset, flows: xr.Dataset) -> list[Polygon]:
    """Return smoothed outlines of low-confidence bed that is under water at some flow."""
    low = ~(ground["confidence"].to_numpy() >= SURE_BOUNDS[0])
    ever = (flows["wet"].to_numpy() == Wet.YES).any(axis=0)
    smooth = ndimage.binary_opening(low & ever, iterations=2)
    return outlines(smooth, Grid.of(flows), least_m2=SMALLEST_GUESS_M2)


def guessed_water(doubt: xr.Dataset, index: int) -> list[Polygon]:
    """Return smoothed outlines of water with low confidence in depth and speed at a flow.

    Parameters
    ----------
    doubt
        The uncertainty stage's Dataset.
    index
        Index of the flow.
    """
    low = doubt["agreement"].isel(flow=index).to_numpy() < SURE_BOUNDS[0]
    smooth = ndimage.binary_opening(low, iterations=2)
    return outlines(smooth, Grid.of(doubt), least_m2=SMALLEST_GUESS_M2)


def edge_band(doubt: xr.Dataset, index: int) -> list[Polygon]:
    """Return outlines of the band in which the water's edge lies at a flow.

    There some members of the ensemble are wet and others dry.
    """
    chance = doubt["wet_chance"].isel(flow=index).to_numpy()
    band = ndimage.binary_opening((chance > EDGE_CHANCES[0]) & (chance < EDGE_CHANCES[1]))
    return outlines(band, Grid.of(doubt), least_m2=SMALLEST_BAND_M2)


def outlines(mask: BoolArray, grid: Grid, *, least_m2: float = 0.0) -> list[Polygon]:
    """Return the outlines of a mask on a raster, holes as rings, smoothed by corner cutting.

    Parameters
    ----------
    mask
        Shape (y, x).
    grid
        Grid of the mask.
    least_m2
        Least area that is outlined [m2].
    """
    if not mask.any():
        return []
    found = grid.polygons(mask.astype(np.int32))
    every = (straightened(outline, grid.cell) for outline, _ in found)
    return [one for one in every if one.area >= least_m2]
