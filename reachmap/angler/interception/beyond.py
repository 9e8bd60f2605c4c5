"""Swing water that casts get to from one bank alone, or from none: there one wants a boat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from scipy.spatial import KDTree

from reachmap.angler.stations import Piece
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.patches import cells_of
from reachmap.base.words import Side
from reachmap.base.words_runs import OnlyFrom
from reachmap.water.zones import outline, pieces

BEYOND_CELLS = 10
"""Patches of fewer cells are not outlined, as with the water that casts cover (our choice)."""


def beyond_rows(
    view: View, water: Sequence[Piece], stations: Sequence[Mapping[str, Any]], cast_m: float
) -> list[dict[str, Any]]:
    """Return the rows of the layer `beyond`: swing water out of reach of a bank, or of both.

    Parameters
    ----------
    view
        The flow.
    water
        The pieces of swing water.
    stations
        Rows of the layer `stations`: `geometry`, `side`, `cast`.
    cast_m
        The longest cast, from angler to fly [m].

    Notes
    -----
    A bank gets to a cell that lies within the longest cast of one of its places with room for a
    cast, whatever way leads there, as with the water that casts cover; an island's places count for
    both banks. It says where a fly could be sent, not that it would swim rightly: a cast's angles
    and its strip are left out.
    """
    swum = np.zeros(view.wet.shape, dtype=bool)
    for piece in water:
        swum[piece.window] |= piece.cells
    swum &= view.wet
    cells = cells_of(swum)
    spots = view.grid.points(*cells)
    left, right = (_reached(spots, stations, side, cast_m) for side in (Side.LEFT, Side.RIGHT))
    rows = []
    alone = {
        OnlyFrom.BOAT: ~left & ~right,
        OnlyFrom.LEFT: left & ~right,
        OnlyFrom.RIGHT: right & ~left,
    }
    for only, mine in alone.items():
        mask = np.zeros_like(swum)
        mask[cells[0][mine], cells[1][mine]] = True
        for place, patch in pieces(mask, BEYOND_CELLS):
            shape = outline(patch, place, view.grid)
            if shape is not None:
                row = {"area_m2": shape.area, "only_from": only, "geometry": shape}
                rows.append({"flow": view.flow, "flow_label": view.label} | row)
    return rows


def _reached(
    spots: FloatArray, stations: Sequence[Mapping[str, Any]], side: Side, cast_m: float
) -> BoolArray:
    """Return which spots, (n, 2) [m], lie within a cast of a place of a bank or of an island."""
    places = [
        (row["geometry"].x, row["geometry"].y)
        for row in stations
        if row["cast"] is not None and row["side"] in (side, Side.ISLAND)
    ]
    if not places or not len(spots):
        return np.zeros(len(spots), dtype=bool)
    away, _ = KDTree(np.array(places)).query(spots, distance_upper_bound=cast_m)
    return np.isfinite(away)
