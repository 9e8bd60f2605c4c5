"""A hand's breadth more water: which places, ways in and ways back it closes, at which flow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import geopandas as gpd
import numpy as np
import shapely
from scipy import ndimage

from reachmap.angler.stations import Ground, Stands
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Grid
from reachmap.base.listed import CellList
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import FOUR, cells_of, joined_to, nearest_cells, steps_in

NEAR_M = 12.0
"""Radius about a place over which its water level is taken [m]; our choice, 6-20."""


HAND = ("hand_m", "hand_flow_m3_s", "hand_shuts")
"""Columns of a place: how much more water is meant, the flow that is, whether it shuts it."""


def raised_view(view: View, rise_m: float) -> View:
    """Return the view with the water `rise_m` [m] higher everywhere.

    Notes
    -----
    Ground lower than the new level and joined to water is under water. Speed grows as depth to the
    2/3 at the same slope and roughness (Manning's formula), at most threefold; on ground newly
    under water it is that of the nearest water. Ground is land if dry ground still joins it to
    land at the end of the map.
    """
    if not view.wet.any():
        return view
    # Water takes its own level and speed, ground newly under water those of the nearest water.
    row, col = view.wet_cells
    new_row, new_col, near_row, near_col = _flooded(view, rise_m)
    at = np.r_[row, new_row], np.r_[col, new_col]
    by = np.r_[row, near_row], np.r_[col, near_col]
    depth, east, north = (np.full(view.wet.shape, np.nan) for _ in range(3))
    wet = np.zeros(view.wet.shape, dtype=bool)
    wet[at], level = True, view.level[by] + rise_m
    depth[at] = np.r_[view.depth[row, col] + rise_m, level[row.size :] - view.bed[new_row, new_col]]
    with np.errstate(invalid="ignore", divide="ignore"):
        quicker = np.minimum(((view.depth[by] + rise_m) / view.depth[by]) ** (2 / 3), 3.0)
    east[at], north[at] = view.east[by] * quicker, view.north[by] * quicker
    dry = view.dry & ~wet
    land = joined_to(view.land & view.rim & dry, dry) & view.land
    return replace(
        view,
        wet=wet,
        dry=dry,
        level=_listed(view.wet.shape, at, level),
        depth=depth,
        east=east,
        north=north,
        land=land,
        side=np.where(land, view.side, 0).astype(np.int32),
    )


def _listed(
    shape: tuple[int, ...], at: tuple[IntArray, IntArray], values: FloatArray
) -> PackedRaster:
    """Return values of cells given by row and column as a raster, NaN elsewhere."""
    cells = np.ravel_multi_index(at, shape).astype(np.int32)
    order = np.argsort(cells)
    rows, cols = shape
    return PackedRaster.of_list((rows, cols), np.nan, cells[order], values[order])


def _flooded(view: View, rise_m: float) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Return the dry cells that water `rise_m` [m] higher covers, and the wet cell nearest to each.

    Rows and columns, and rows and columns of the nearest, shape (n,). The water spreads side by
    side, a ring of cells at a time.
    """
    visited = ~view.dry
    ring = cells_of(ndimage.binary_dilation(view.wet, FOUR) & view.dry)
    found: list[tuple[IntArray, IntArray, IntArray, IntArray]] = []
    while ring[0].size:
        visited[ring] = True
        _, near_row, near_col = nearest_cells(view.wet, *ring)
        with np.errstate(invalid="ignore"):
            low = view.bed[ring] < view.level[near_row, near_col] + rise_m
        row, col = ring[0][low], ring[1][low]
        found.append((row, col, near_row[low], near_col[low]))
        ring = _unvisited_neighbours(row, col, visited)
    none = np.zeros(0, dtype=np.int32)
    row, col, near_row, near_col = (
        np.concatenate(parts) for parts in zip((none, none, none, none), *found, strict=True)
    )
    return row, col, near_row, near_col


def _unvisited_neighbours(
    row: IntArray, col: IntArray, visited: BoolArray
) -> tuple[IntArray, IntArray]:
    """Return the cells of the raster side by side with given ones that were not visited yet."""
    d_row, d_col = steps_in(FOUR)
    rows, cols = (row[:, None] + d_row).ravel(), (col[:, None] + d_col).ravel()
    inside = (rows >= 0) & (cols >= 0) & (rows < visited.shape[0]) & (cols < visited.shape[1])
    rows, cols = rows[inside], cols[inside]
    flat = np.unique((rows * visited.shape[1] + cols)[~visited[rows, cols]])
    return flat // visited.shape[1], flat % visited.shape[1]


def closed_by_rise(higher: View, more: Ground, stands: Stands, back_m: float) -> BoolArray:
    """Return which places more water shuts: the place, the way in to it, or the way back.

    Parameters
    ----------
    higher, more
        The raised view, and what is reachable on foot then.
    stands
        Places at the flow itself, n of them.
    back_m
        How far one steps back on dry ground as the water comes up [m].

    Notes
    -----
    A place in the water stays open if that very cell stays within the limits and one still gets
    there on foot; one on dry ground if dry ground that is still reached lies within `back_m`. To
    where a way led on foot from a drawn access, one must lead from there still.
    """
    row, col, _ = higher.grid.index(*stands.point.T)
    stays = np.zeros(len(stands), dtype=bool)
    for entered, open_ in ((True, more.entered), (False, more.reach)):
        away, _, _ = nearest_cells(higher.dry & open_, row, col, int(np.ceil(back_m / higher.cell)))
        fine = np.where(stands.wade > 0, open_[row, col], away * higher.cell <= back_m)
        stays |= (stands.entered == entered) & fine.astype(bool)
    return np.asarray(~stays)


@dataclass(frozen=True, slots=True)
class Surface:
    """The water at one flow [m3/s]: where it is wet and how high it stands [m].

    Both of shape (n,), of the cells in `river`, the same at every flow.
    """

    grid: Grid
    river: CellList
    flow: float
    label: str
    wet: BoolArray
    level: FloatArray


def with_more_water(
    stations: gpd.GeoDataFrame,
    surfaces: Sequence[Surface],
    rise_m: float,
    *,
    only: str | None = None,
) -> gpd.GeoDataFrame:
    """Return the stations with the flow at which the water stands `rise_m` higher filled in.

    Parameters
    ----------
    stations
        The `stations` layer over all these flows; `hand_shuts` as `assess` found it.
    surfaces
        The water at the mapped flows, rising.
    rise_m
        How much higher [m].
    only
        Name of the one flow whose rows are filled in, where the others are already; None for all.

    Notes
    -----
    A place whose way back a mapped flow no higher than that cuts off is shut too, and so is one of
    which nothing was worked out.
    """
    points = shapely.get_coordinates(stations.geometry.to_numpy())
    labels = stations["flow_label"].to_numpy()
    flows = stations["hand_flow_m3_s"].to_numpy(dtype=np.float64, copy=True)
    for here, surface in enumerate(surfaces):
        if only not in (None, surface.label):
            continue
        mine = labels == surface.label
        flows[mine] = flows_of_rise(surfaces[here:], points[mine], rise_m)
    with np.errstate(invalid="ignore"):
        closed = stations["cut_off_m3_s"].to_numpy() <= flows
    return stations.assign(
        hand_m=rise_m, hand_flow_m3_s=flows, hand_shuts=stations["hand_shuts"] | closed
    )


def flows_of_rise(surfaces: Sequence[Surface], points: FloatArray, rise_m: float) -> FloatArray:
    """Return the discharge at which the water at places stands `rise_m` higher [m3/s], shape (n,).

    Parameters
    ----------
    surfaces
        The water at the flow it rises from and at the mapped flows above it, rising.
    points
        The places [m], shape (n, 2).
    rise_m
        How much higher [m], > 0.

    Returns
    -------
    FloatArray
        NaN where no mapped flow stands that high there, or a level is not known.

    Notes
    -----
    Level over the logarithm of discharge, straight between mapped flows.
    """
    found: FloatArray = np.full(len(points), np.nan)
    grid, left = surfaces[0].grid, np.arange(len(points))
    cells = surfaces[0].river.places(cells_about(grid, points, math.ceil(NEAR_M / grid.cell)))
    low, here = np.zeros(len(points)), surfaces[0]
    for before, there in pairwise(surfaces):
        rise = _rises(here, there, cells)
        with np.errstate(invalid="ignore"):
            reached = rise >= rise_m
        share = (rise_m - low[reached]) / np.maximum(rise[reached] - low[reached], 1e-9)
        logs = math.log(before.flow), math.log(there.flow)
        found[left[reached]] = [math.exp(logs[0] + one * (logs[1] - logs[0])) for one in share]
        going = ~reached & np.isfinite(rise)
        left, cells, low = left[going], cells[going], np.maximum(rise[going], 0.0)
    return found


def _rises(here: Surface, there: Surface, cells: IntArray) -> FloatArray:
    """Return how much higher the water stands about n places at another flow [m], shape (n,).

    The median over `cells`, places in the list of shape (n, m), -1 for none, that are wet at both
    flows; NaN where there is none.
    """
    if not here.wet.size:
        return np.full(len(cells), np.nan)
    wet = (cells >= 0) & here.wet[cells] & there.wet[cells]
    rise = there.level[cells] - here.level[cells]
    rise = np.sort(np.where(wet, rise, np.inf), axis=1)
    every, count = np.arange(len(cells)), wet.sum(axis=1)
    lower, upper = rise[every, (count - 1) // 2], rise[every, count // 2]
    found = (count > 0) & ~np.isnan(rise[:, -1])
    return np.where(found, (lower + upper) / 2.0, np.nan)


def cells_about(grid: Grid, points: FloatArray, margin: int) -> IntArray:
    """Return the cells within `margin` rows and columns of n points [m], shape (n, m).

    They are counted in the flattened raster; -1 where there is none.
    """
    rows, cols, _ = grid.index(*points.T)
    near = np.arange(-margin, margin + 1)
    row = rows[:, None, None] + near[:, None]
    col = cols[:, None, None] + near
    inside = (row >= 0) & (row < grid.shape[0]) & (col >= 0) & (col < grid.shape[1])
    return np.where(inside, row * grid.shape[1] + col, -1).reshape(len(points), near.size**2)
