"""Codes of pieces of water that stay the same over the flows at which it is the same piece."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry.base import BaseGeometry

from reachmap.base.grouped import rows_of
from reachmap.base.words import WaterKind
from reachmap.water.gather import PIECE, Span, one_side, overlap, side_of_piece
from reachmap.water.settings import RunSettings

LETTERS: Mapping[str, str] = {
    WaterKind.INSIDE_BEND: "B",
    WaterKind.SEAM: "S",
    WaterKind.TAILOUT: "T",
    WaterKind.SOFT_EDGE: "E",
    WaterKind.EVEN_RUN: "G",
}
"""First sign of a code."""


@dataclass(slots=True)
class _Track:
    """One piece of water followed upwards through the flows, as it was last seen.

    `rows` are its rows in the layer, `first` its stretch of the river where it was first seen.
    """

    side: str
    span: Span
    shape: BaseGeometry
    rows: list[int]
    first: Span


def lasting_codes(
    layers: Mapping[str, gpd.GeoDataFrame], width: float, rules: RunSettings
) -> dict[str, gpd.GeoDataFrame]:
    """Return layers over all flows in which a piece of water keeps its code from flow to flow.

    Parameters
    ----------
    layers
        `water`, and those that name its codes: `stations`, `swings`, `hazards_near`
        and `tip_ladder`, as far as they are there; coded flow by flow.
    width
        The river's usual width [m].
    rules
        How near and how much alike two pieces of one run are.

    Notes
    -----
    A piece is the same as one of its kind at a lower flow if both lie on one bank, no farther apart
    than two pieces of one run may, and share half of the shorter one's length along the river; of
    several the one that shares most. It must share as much with the stretch where it was first
    seen: from one step of the flow to the next a piece may move a little, over many it would become
    another place under the same code. Pieces are numbered by kind, downstream.
    """
    water = layers["water"].reset_index(drop=True)
    codes = _codes(water, rules.apart_widths * width, rules.overlap_low)
    keys = zip(water["flow_label"].astype(str), water["code"].astype(str), strict=True)
    new = dict(zip(keys, codes, strict=True))
    changed = {**layers, "water": water.assign(code=pd.Series(codes, dtype="str"))}
    for name in ("stations", "swings", "hazards_near", "tip_ladder"):
        if name in layers:
            changed[name] = _renamed(layers[name], new)
    return changed


def _renamed(frame: gpd.GeoDataFrame, new: Mapping[tuple[str, str], str]) -> gpd.GeoDataFrame:
    """Return a layer with the codes of its water, and its own that begin with them, changed."""
    old = list(zip(frame["flow_label"].astype(str), frame["water"].astype(str), strict=True))
    columns = {"water": pd.Series([new[key] for key in old], index=frame.index, dtype="str")}
    if "code" in frame:
        own = [
            new[key] + str(code).removeprefix(key[1])
            for key, code in zip(old, frame["code"], strict=True)
        ]
        columns["code"] = pd.Series(own, index=frame.index, dtype="str")
    return frame.assign(**columns)


def _codes(water: gpd.GeoDataFrame, near: float, overlap_low: float) -> list[str]:
    """Return the code of each row."""
    codes, rows = [""] * len(water), rows_of(water, PIECE)
    for kind, letter in LETTERS.items():
        tracks: list[_Track] = []
        mine = np.flatnonzero(rows["kind"] == kind)
        for flow in np.unique(rows["flow"][mine]):
            there = mine[rows["flow"][mine] == flow]
            _follow(tracks, {int(number): rows[number] for number in there}, near, overlap_low)
        tracks.sort(key=lambda track: (track.first, track.rows[0]))
        for number, track in enumerate(tracks, start=1):
            for row in track.rows:
                codes[row] = f"{letter}{number}"
    return codes


def _follow(
    tracks: list[_Track], pieces: Mapping[int, np.void], near: float, overlap_low: float
) -> None:
    """Add the pieces of one flow, by row, to the tracks they continue; the others begin one."""
    fits = []
    for number, piece in pieces.items():
        span, side = _span(piece), side_of_piece(piece)
        for place, track in enumerate(tracks):
            shared = min(overlap(span, track.span), overlap(span, track.first))
            if shared < overlap_low or not one_side(side, track.side):
                continue
            apart = float(piece["geometry"].distance(track.shape))
            if apart <= near:
                common = min(span[1], track.span[1]) - max(span[0], track.span[0])
                fits.append((-shared * (1.0 - 0.5 * apart / near), -common, place, number))
    taken: set[int] = set()
    given: set[int] = set()
    for _, _, place, number in sorted(fits):
        if place in taken or number in given:
            continue
        taken.add(place)
        given.add(number)
        track, piece = tracks[place], pieces[number]
        track.span, track.shape = _span(piece), piece["geometry"]
        track.side = track.side or side_of_piece(piece)
        track.rows.append(number)
    for number, piece in pieces.items():
        if number not in given:
            span, side = _span(piece), side_of_piece(piece)
            tracks.append(_Track(side, span, piece["geometry"], [number], span))


def _span(piece: np.void) -> Span:
    """Return a piece's stretch along the river [m]."""
    return float(piece["station_m"]), float(piece["station_end_m"])
