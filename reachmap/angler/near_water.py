"""Rows of the layer `hazards_near`: drawn hazards near each piece of swing water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely import Point

from reachmap.angler.follow import follow_current, route_back
from reachmap.angler.near import TOWARD, WAYS, Look, Near
from reachmap.angler.stations import Piece, Stands
from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.schema import layer_frame
from reachmap.base.words import HazardWay, Toward

HERE, CURRENT, WALK, STRAIGHT = range(4)
"""Rows of the tables of distances here, in the order of `WAYS`."""


@dataclass(frozen=True, slots=True)
class StandsNearby:
    """Places to stand and the hazards near them: those kept and those left out for a hazard."""

    stands: Stands
    near: Near
    left_out: Stands


def near_water(
    look: Look, found: StandsNearby, pieces: list[Piece], water: gpd.GeoDataFrame
) -> tuple[gpd.GeoDataFrame, BoolArray]:
    """Return the layer `hazards_near` at one flow, and which pieces could be followed wholly.

    Parameters
    ----------
    look
        Masks and distances from `look_of`.
    found
        Places to stand on all pieces.
    pieces, water
        The pieces on the raster, and the rows of the layer they are of.

    Returns
    -------
    layer, whole
        One row for each hazard near each piece; whole has shape (len(water),): the current below
        every part of the piece is known as far as the look.

    Notes
    -----
    The distance is the least of those from the water itself, from the places to stand on it, and
    from the end of the way in that leads past the hazard.
    """
    whole = np.zeros(len(water), dtype=bool)
    rows: list[dict[str, Any]] = []
    for piece in pieces:
        far, side = _from_water(look, piece, water)
        whole[piece.number] = _drift(look, piece, far)
        mine = np.flatnonzero(found.stands.water == piece.number).astype(np.int32)
        _from_stands(found.near.take(mine), far, side)
        _on_the_way_in(look, found.stands.take(mine), far)
        out = found.left_out.barred[found.left_out.water == piece.number]
        for number in range(len(look.hazards)):
            count = int((out == number).sum())
            if count or np.isfinite(far[:, number]).any():
                code = str(water["code"].iloc[piece.number])
                rows.append(_row(look, code, number, far[:, number], int(side[number]), count))
    return layer_frame("hazards_near", rows, look.view.grid.crs), whole


def _from_water(look: Look, piece: Piece, water: gpd.GeoDataFrame) -> tuple[FloatArray, FloatArray]:
    """Return the table of distances (ways, hazards) from the water itself [m], and the sides."""
    outline, view = water.geometry.iloc[piece.number], look.view
    far = np.full((len(WAYS), len(look.hazards)), np.nan)
    side = np.full(len(look.hazards), TOWARD.index(Toward.ACROSS))
    station = view.station[piece.window][piece.cells]
    low, high = float(np.nanmin(station)), float(np.nanmax(station))
    shapes = np.array([hazard.shape for hazard in look.hazards], dtype=object)
    drawn = np.flatnonzero(~shapely.is_empty(shapes))
    away = shapely.distance(outline, shapes[drawn])
    far[HERE, drawn] = np.where(away <= look.settings.drift_width_m, away, np.nan)
    far[STRAIGHT, drawn] = np.where(away <= look.look_m, away, np.nan)
    ends = shapely.get_coordinates(shapely.shortest_line(outline, shapes[drawn]))[1::2]
    at = view.at(view.station, ends)
    side[drawn[at < low]] = TOWARD.index(Toward.UP)
    side[drawn[at > high]] = TOWARD.index(Toward.DOWN)
    return far, side


def _drift(look: Look, piece: Piece, far: FloatArray) -> bool:
    """Put the drifts from the piece's cells into the table; return whether all are known."""
    row, col = np.nonzero(piece.cells)
    every = look.settings.every_cells
    some = (row % every == 0) & (col % every == 0)
    if some.any():
        row, col = row[some], col[some]
    row, col = row + piece.window[0].start, col + piece.window[1].start
    drifts = follow_current(look.view, row.astype(np.int32), col.astype(np.int32), look.look_m)
    for number, mask in enumerate(look.masks):
        met = drifts.first(mask)
        if np.isfinite(met).any():
            far[CURRENT, number] = np.nanmin(met)
    return bool(drifts.whole.all())


def _from_stands(near: Near, far: FloatArray, side: FloatArray) -> None:
    """Put the distances from places to stand into the table, and the sides seen from them."""
    for way, table in enumerate((near.here, near.current, near.walk, near.straight)):
        for number in range(table.shape[1]):
            known = table[:, number]
            if not np.isfinite(known).any():
                continue
            nearest = int(np.nanargmin(known))
            if not far[way, number] <= known[nearest]:
                far[way, number] = known[nearest]
            if way == WALK:
                side[number] = near.toward[nearest, number]
            if way == STRAIGHT and np.isfinite(far[HERE, number]):
                far[HERE, number] = known[nearest]


def _on_the_way_in(look: Look, stands: Stands, far: FloatArray) -> None:
    """Put hazards that the shortest way in passes into the table, metres before the place."""
    row, col, _ = look.view.grid.index(*stands.point.T)
    cost = look.cost[row, col] if len(stands) else np.zeros(0)
    for side in np.unique(stands.side[np.isfinite(cost)]):
        mine = np.flatnonzero((stands.side == side) & np.isfinite(cost))
        first = mine[np.argmin(cost[mine])]
        rows, cols, along = route_back(look.cost, int(row[first]), int(col[first]), look.view.cell)
        for number, mask in enumerate(look.near_walk):
            passed = np.flatnonzero(mask.at(rows, cols, False))
            if passed.size and not far[WALK, number] <= along[passed[0]]:
                far[WALK, number] = along[passed[0]]


def _row(
    look: Look, code: str, number: int, far: FloatArray, side: int, left_out: int
) -> dict[str, Any]:
    """Return one row of the layer."""
    hazard = look.hazards[number]
    known = np.isfinite(far)
    way = int(known.argmax()) if known.any() else STRAIGHT
    toward = Toward.DOWN if way == CURRENT else TOWARD[side]
    place = Point(shapely.get_coordinates(hazard.shape.representative_point())[0])
    return {
        "flow": look.view.flow,
        "flow_label": look.view.label,
        "water": code,
        "number": number + 1,
        "kind": hazard.kind.value,
        "note": hazard.note,
        "way": WAYS[way].value if known.any() else HazardWay.STRAIGHT.value,
        "distance_m": float(far[way]) if known.any() else 0.0,
        "toward": toward.value,
        "left_out": left_out,
        "geometry": place,
    }
