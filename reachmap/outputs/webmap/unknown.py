"""Outlines of what nobody knows, from the rasters: they are drawn, never left blank."""

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
"""Confidence of the bed from which it counts as fair and as good (our choice: thirds)."""

NEAR_WATER_M = 25.0
"""How far from water ground that nobody described is still drawn as unknown [m] (our choice)."""

EDGE_CHANCES = (0.1, 0.9)
"""Shares of the ensemble that is wet between which the edge may lie (our choice)."""

SMALLEST_BAND_M2 = 60.0
"""Pieces of the edge's band smaller than this are not outlined (our choice)."""

SMALLEST_GUESS_M2 = 150.0
"""Patches of little-known bed smaller than this are not outlined (our choice); taps still tell."""


def off_map(flows: xr.Dataset) -> BoolArray:
    """Return cells so far from any water that they are no part of the map, shape (y, x).

    Ground that nobody described and that lies well away from the river is left as blank paper. The
    page still says of it that nothing is known.
    """
    wet = flows["wet"].to_numpy()
    dry_always = ~(wet == Wet.YES).any(axis=0)
    if dry_always.all():
        return np.zeros(dry_always.shape, dtype=bool)
    cell = Grid.of(flows).cell
    far = ndimage.distance_transform_cdt(dry_always, "chessboard") * cell > NEAR_WATER_M
    return np.asarray(far & (wet == Wet.UNKNOWN).all(axis=0))


def unknown_water(flows: xr.Dataset, index: int, beyond: BoolArray) -> list[Polygon]:
    """Return outlines of where it is not known whether, or how deep, there is water at a flow.

    Parameters
    ----------
    flows
        The flow stage's Dataset.
    index
        Position of the flow.
    beyond
        Cells that are no part of the map, as `off_map` gives them.
    """
    here = flows.isel(flow=index)
    wet = here["wet"].to_numpy()
    mask = (wet == Wet.UNKNOWN) | ((wet == Wet.YES) & np.isnan(here["depth"].to_numpy()))
    return outlines(mask & ~beyond, Grid.of(flows))


def guessed_ground(ground: xr.Dataset, flows: xr.Dataset) -> list[Polygon]:
    """Return outlines of bed that is little known and under water at some flow, smoothed."""
    low = ~(ground["confidence"].to_numpy() >= SURE_BOUNDS[0])
    ever = (flows["wet"].to_numpy() == Wet.YES).any(axis=0)
    smooth = ndimage.binary_opening(low & ever, iterations=2)
    return outlines(smooth, Grid.of(flows), least_m2=SMALLEST_GUESS_M2)


def guessed_water(doubt: xr.Dataset, index: int) -> list[Polygon]:
    """Return outlines of water whose depth and speed are little sure at a flow, smoothed.

    Parameters
    ----------
    doubt
        The doubt stage's Dataset.
    index
        Position of the flow.
    """
    low = doubt["agreement"].isel(flow=index).to_numpy() < SURE_BOUNDS[0]
    smooth = ndimage.binary_opening(low, iterations=2)
    return outlines(smooth, Grid.of(doubt), least_m2=SMALLEST_GUESS_M2)


def edge_band(doubt: xr.Dataset, index: int) -> list[Polygon]:
    """Return outlines of the band in which the water's edge lies at a flow.

    There some grounds that the evidence allows are wet and others dry.
    """
    chance = doubt["wet_chance"].isel(flow=index).to_numpy()
    band = ndimage.binary_opening((chance > EDGE_CHANCES[0]) & (chance < EDGE_CHANCES[1]))
    return outlines(band, Grid.of(doubt), least_m2=SMALLEST_BAND_M2)


def outlines(mask: BoolArray, grid: Grid, *, least_m2: float = 0.0) -> list[Polygon]:
    """Return the outlines of a mask on a raster, holes as rings, corners of cells cut off.

    Parameters
    ----------
    mask
        Shape (y, x).
    grid
        The mask's.
    least_m2
        Smallest area that is outlined [m2].
    """
    if not mask.any():
        return []
    found = grid.polygons(mask.astype(np.int32))
    every = (straightened(outline, grid.cell) for outline, _ in found)
    return [one for one in every if one.area >= least_m2]
