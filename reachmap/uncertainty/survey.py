"""The places where one note would sharpen the map most, as a layer."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import xarray as xr
from shapely import Point

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.grid import Grid
from reachmap.base.packed import values_at
from reachmap.base.schema import layer_frame
from reachmap.ground import GroundSettings
from reachmap.ground.scaling import form_of
from reachmap.ground.suggest import Ask, suggest, suggest_edges
from reachmap.markup.model import Markup

PLACES, EDGES_MOST = 10, 3
"""How many places are listed, and how many of them may ask for an edge (our choice)."""

STAFF_M = 2.0
"""Deepest low water in which a sounding is asked for [m]: a long staff, or a line from a boat, and
no swim (our choice, 1.2-4)."""


def asks_layer(
    ground: xr.Dataset,
    flowing: xr.Dataset,
    doubt: xr.Dataset | None,
    reach: Markup,
    settings: GroundSettings,
) -> gpd.GeoDataFrame:
    """Return at most ten places worth a note, the most helpful first; none without an ensemble.

    The water that matters is what may suit the season's fish, at any of the flows, by its chance in
    the ensemble; soundings are asked for only where the bed is a form that nobody saw, in water
    that is there at the lowest flow and shallow enough to reach the bed.

    Parameters
    ----------
    ground, flowing, doubt
        Results of the stages.
    reach
        The drawing; its soundings have been taken already.
    settings
        Of the ground stage.
    """
    if doubt is None:
        return layer_frame("asks", [], reach.crs)
    matters, spread = _over_flows(doubt)
    low = flowing["depth"].isel(flow=0).to_numpy()
    with np.errstate(invalid="ignore"):
        reachable = form_of(ground, settings)[0] & (low > 0) & (low <= STAFF_M)
    edges = suggest_edges(ground, settings, EDGES_MOST)
    soundings = suggest(
        ground,
        spread,
        matters,
        settings,
        PLACES - len(edges),
        reachable=reachable,
        sounded=_sounded(ground, reach),
    )
    rows = [_row(rank, ask) for rank, ask in enumerate([*soundings, *edges], start=1)]
    return layer_frame("asks", rows, reach.crs)


def _over_flows(doubt: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Return how much the water of each cell matters, and its depth's spread [m], shapes (y, x).

    The sum of its chances over the flows, and the root mean square of the spread over those that
    wet it. One flow at a time is looked at.
    """
    shape = doubt["depth_spread"].shape[1:]
    matters = np.zeros(shape, dtype=doubt["suits_chance"].dtype)
    total, count = np.zeros(shape), np.zeros(shape, dtype=np.int32)
    for index in range(doubt.sizes["flow"]):
        one = doubt.isel(flow=index)
        cells = _held(one)
        matters.ravel()[cells] += np.nan_to_num(values_at(one["suits_chance"], cells))
        squares = values_at(one["depth_spread"], cells).astype(np.float64) ** 2
        known = np.isfinite(squares)
        total.ravel()[cells[known]] += squares[known]
        count.ravel()[cells[known]] += 1
    spread = np.zeros(shape)
    cells = np.flatnonzero(count).astype(np.int32)
    spread.ravel()[cells] = np.sqrt(total.ravel()[cells] / count.ravel()[cells])
    return matters, spread


def _held(doubt: xr.Dataset) -> IntArray:
    """Return the cells of one flow of which anything is known, counted in the flattened raster."""
    known = np.isfinite(doubt["depth_spread"].to_numpy())
    known |= np.nan_to_num(doubt["suits_chance"].to_numpy()) != 0
    return np.flatnonzero(known).astype(np.int32)


def _sounded(ground: xr.Dataset, reach: Markup) -> np.ndarray:
    """Return the flat numbers of the cells in which soundings were taken."""
    grid = Grid.of(ground)
    places = np.array([(one.place.x, one.place.y) for one in reach.soundings]).reshape(-1, 2)
    row, col, inside = grid.index(*places.T)
    flat = np.ravel_multi_index((row[inside], col[inside]), grid.shape)
    return np.asarray(flat[np.isfinite(ground["bed"].to_numpy().ravel()[flat])])


def _row(rank: int, ask: Ask) -> dict[str, Any]:
    """Return one place as a row of the layer."""
    return {
        "code": f"A{rank}",
        "rank": rank,
        "kind": ask.kind,
        "station_m": ask.station,
        "offset_m": ask.offset,
        "spread_m": ask.spread_m,
        "gain": ask.gain,
        "geometry": Point(ask.x, ask.y),
    }
