"""The places where one note would sharpen the map most, as a layer."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import xarray as xr
from shapely import Point

from reachmap.base.arrays import FloatArray
from reachmap.base.grid import Grid
from reachmap.base.schema import layer_frame
from reachmap.ground import GroundSettings
from reachmap.ground.fit import form_of
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
    matters = np.nan_to_num(doubt["suits_chance"].to_numpy()).sum(axis=0)
    spread = _spread(doubt)
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


def _spread(doubt: xr.Dataset) -> FloatArray:
    """Return the root mean square of the depth's spread over the flows that wet a cell [m]."""
    squares = doubt["depth_spread"].to_numpy().astype(np.float64) ** 2
    known = np.isfinite(squares)
    total = np.where(known, squares, 0.0).sum(axis=0)
    return np.asarray(np.sqrt(total / np.maximum(known.sum(axis=0), 1)))


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
