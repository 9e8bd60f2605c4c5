"""A hand's breadth more water: which places, ways in and ways back it shuts, and at which flow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import geopandas as gpd
import numpy as np
from scipy import ndimage

from reachmap.angler.stations import Ground, Stands
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.patches import FOUR, cells_of, joined_to, nearest_cells, steps_in

NEAR_M = 12.0
"""How far round a place its water level is looked at [m]; our choice, 6-20."""


def raised(view: View, rise_m: float) -> View:
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
    level, depth, east, north = (np.full(view.wet.shape, np.nan) for _ in range(4))
    wet = np.zeros(view.wet.shape, dtype=bool)
    wet[at], level[at] = True, view.level[by] + rise_m
    depth[at] = np.r_[
        view.depth[row, col] + rise_m, level[new_row, new_col] - view.bed[new_row, new_col]
    ]
    with np.errstate(invalid="ignore", divide="ignore"):
        quicker = np.minimum(((view.depth[by] + rise_m) / view.depth[by]) ** (2 / 3), 3.0)
    east[at], north[at] = view.east[by] * quicker, view.north[by] * quicker
    dry = view.dry & ~wet
    land = joined_to(view.land & view.rim & dry, dry) & view.land
    return replace(
        view,
        wet=wet,
        dry=dry,
        level=level,
        depth=depth,
        east=east,
        north=north,
        land=land,
        side=np.where(land, view.side, 0).astype(np.int32),
    )


def _flooded(view: View, rise_m: float) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Return the dry cells that water `rise_m` [m] higher covers, and the wet cell nearest to each.

    Rows and columns, and rows and columns of the nearest, shape (n,). The water spreads side by
    side, a ring of cells at a time.
    """
    asked = ~view.dry
    ring = cells_of(ndimage.binary_dilation(view.wet, FOUR) & view.dry)
    found: list[tuple[IntArray, IntArray, IntArray, IntArray]] = []
    while ring[0].size:
        asked[ring] = True
        _, near_row, near_col = nearest_cells(view.wet, *ring)
        with np.errstate(invalid="ignore"):
            low = view.bed[ring] < view.level[near_row, near_col] + rise_m
        row, col = ring[0][low], ring[1][low]
        found.append((row, col, near_row[low], near_col[low]))
        ring = _beside(row, col, asked)
    none = np.zeros(0, dtype=np.int32)
    row, col, near_row, near_col = (
        np.concatenate(parts) for parts in zip((none, none, none, none), *found, strict=True)
    )
    return row, col, near_row, near_col


def _beside(row: IntArray, col: IntArray, asked: BoolArray) -> tuple[IntArray, IntArray]:
    """Return the cells of the raster side by side with some that were not asked for yet."""
    d_row, d_col = steps_in(FOUR)
    rows, cols = (row[:, None] + d_row).ravel(), (col[:, None] + d_col).ravel()
    inside = (rows >= 0) & (cols >= 0) & (rows < asked.shape[0]) & (cols < asked.shape[1])
    rows, cols = rows[inside], cols[inside]
    flat = np.unique((rows * asked.shape[1] + cols)[~asked[rows, cols]])
    return flat // asked.shape[1], flat % asked.shape[1]


def shut_by(higher: View, more: Ground, stands: Stands, back_m: float) -> BoolArray:
    """Return which places more water shuts: the place, the way in to it, or the way back.

    Parameters
    ----------
    higher, more
        The raised view, and what one gets to on foot then.
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


def with_more_water(
    stations: gpd.GeoDataFrame, views: Sequence[View], rise_m: float
) -> gpd.GeoDataFrame:
    """Return the stations with the flow at which the water stands `rise_m` higher filled in.

    Parameters
    ----------
    stations
        The `stations` layer over all these flows; `hand_shuts` as `assess` found it.
    views
        The mapped flows over the ground, flows rising.
    rise_m
        How much higher [m].

    Notes
    -----
    A place whose way back a mapped flow no higher than that cuts off is shut too, and so is one of
    which nothing was worked out.
    """
    labels = [view.label for view in views]
    flows: FloatArray = np.full(len(stations), np.nan)
    for number, row in enumerate(stations.itertuples(index=False)):
        point = np.array([row.geometry.x, row.geometry.y])
        flows[number] = flow_of_rise(views, labels.index(row.flow_label), point, rise_m)
    with np.errstate(invalid="ignore"):
        closed = stations["cut_off_m3_s"].to_numpy() <= flows
    return stations.assign(
        hand_m=rise_m, hand_flow_m3_s=flows, hand_shuts=stations["hand_shuts"] | closed
    )


def flow_of_rise(views: Sequence[View], here: int, point: FloatArray, rise_m: float) -> float:
    """Return the discharge at which the water at a place stands `rise_m` higher [m3/s].

    Parameters
    ----------
    views
        The mapped flows over the ground, flows rising.
    here
        Number of the flow it rises from.
    point
        The place [m], shape (2,).
    rise_m
        How much higher [m], > 0.

    Returns
    -------
    float
        NaN where no mapped flow stands that high there, or a level is not known.

    Notes
    -----
    Level over the logarithm of discharge, straight between mapped flows.
    """
    window = _window(views[here], point)
    low, before = 0.0, views[here].flow
    for view in views[here + 1 :]:
        wet = views[here].wet[window] & view.wet[window]
        if not wet.any():
            return math.nan
        rise = float(np.median(view.level[window][wet] - views[here].level[window][wet]))
        if rise >= rise_m:
            share = (rise_m - low) / max(rise - low, 1e-9)
            return math.exp(math.log(before) + share * (math.log(view.flow) - math.log(before)))
        low, before = max(rise, 0.0), view.flow
    return math.nan


def _window(view: View, point: FloatArray) -> tuple[slice, slice]:
    """Return the cells about a place as slices."""
    row, col, _ = view.grid.index(*np.asarray(point, dtype=np.float64)[:, None])
    margin = int(np.ceil(NEAR_M / view.cell))
    return (
        slice(max(int(row[0]) - margin, 0), int(row[0]) + margin + 1),
        slice(max(int(col[0]) - margin, 0), int(col[0]) + margin + 1),
    )
