"""Runs: the same piece of water followed from flow to flow, under one name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from shapely import Polygon, contains_xy, union_all
from shapely.geometry.base import BaseGeometry

from reachmap.base.shapes import F8
from reachmap.base.tables import layer_frame
from reachmap.base.words import Side
from reachmap.markup.model import NamedRun
from reachmap.water.bends import bends_of
from reachmap.water.names import give_names
from reachmap.water.settings import WaterSettings
from reachmap.water.zones import largest

OVERLAP_LOW = 0.5
"""Share of the shorter piece's length along the river to be common; our choice, 0.4-0.7."""
APART_WIDTHS = 0.35
"""How far apart two pieces of one run may lie, in river widths: the edge moves up the bar as the
flow rises. Our choice, 0.2-0.5."""


@dataclass(slots=True)
class Run:
    """A run being put together: where its anchor lies, and which rows of the water are its own."""

    name: str
    named_by: str
    side: str
    start: float
    end: float
    shape: BaseGeometry
    outline: Polygon | None = None
    kind: str = ""
    members: list[int] = field(default_factory=list)


def overlap(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the common length of two stretches over the shorter one's, 0 to 1."""
    common = min(a[1], b[1]) - max(a[0], b[0])
    shorter = min(a[1] - a[0], b[1] - b[0])
    return float(np.clip(common / shorter, 0.0, 1.0)) if shorter > 0 else 0.0


def follow_runs(
    water: gpd.GeoDataFrame, ground: xr.Dataset, named: Sequence[NamedRun], settings: WaterSettings
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    """Return the water layer with its runs filled in, and the layer of runs.

    Parameters
    ----------
    water
        The `water` layers of all flows, stacked.
    ground
        The ground stage's Dataset.
    named
        The angler's own runs: their names win, their outlines stay as drawn.
    settings
        The rules' numbers.

    Returns
    -------
    water, runs
        Layers as `base.tables` promises them; runs in order downstream.

    Notes
    -----
    Two pieces are the same water where they lie on one side, near each other, and share half of the
    shorter one's length along the river or follow each other closely. The angler's runs gather
    theirs first. Of the rest the best piece anchors a run and gathers what matches it; the anchor
    does not move, so that runs never grow into each other. The kind is of no account: an inside
    bend may end as a soft edge. What is too small or too poor to anchor a run belongs to none.
    """
    pieces = water.reset_index(drop=True)
    width = float(np.nanmedian(ground["line_width"].to_numpy()))
    runs = [_named_run(run, ground, width) for run in named]
    worth = pieces["score"] * pieces["length_m"]
    near = APART_WIDTHS * width
    order = worth.sort_values(ascending=False, kind="stable").index
    for index in order:
        match = _match(pieces, int(index), runs, near)
        if match is None and _can_anchor(pieces.loc[index], settings):
            match = _anchored(pieces, int(index))
            runs.append(match)
        if match is not None:
            match.members.append(int(index))
    give_names(runs, pieces, bends_of(ground, settings.bends), width)
    runs.sort(key=lambda run: (run.start, run.end, run.name))
    names = pd.Series("", index=pieces.index, dtype=object)
    for run in runs:
        names[run.members] = run.name
    filled = pieces.assign(run=names)
    return filled, _runs_layer(runs, filled, settings)


def _can_anchor(piece: pd.Series, settings: WaterSettings) -> bool:
    """Return whether a piece is good and long enough to be a run of its own."""
    good = float(piece["score"]) >= settings.score.shape_score
    return good and float(piece["length_m"]) >= settings.score.run_length_m


def _anchored(pieces: gpd.GeoDataFrame, index: int) -> Run:
    """Return a new run anchored on a piece."""
    piece = pieces.loc[index]
    return Run(
        name="",
        named_by="reachmap",
        side=str(piece["side"]),
        start=float(piece["station_m"]),
        end=float(piece["station_end_m"]),
        shape=piece.geometry,
        kind=str(piece["kind"]),
    )


def _named_run(named: NamedRun, ground: xr.Dataset, width: float) -> Run:
    """Return the angler's own run: its stretch, and its side where it lies on one."""
    stations, offsets = _within(named.outline, ground)
    if stations.size == 0:
        return Run(named.name, "angler", "", np.inf, np.inf, named.outline, named.outline)
    start, end = (float(v) for v in np.quantile(stations, (0.02, 0.98)))
    middle = float(np.median(offsets))
    side = "" if abs(middle) < 0.1 * width else (Side.LEFT if middle > 0 else Side.RIGHT).value
    return Run(named.name, "angler", side, start, end, named.outline, named.outline)


def _within(outline: Polygon, ground: xr.Dataset) -> tuple[F8, F8]:
    """Return station and offset of the cells within an outline."""
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    west, south, east, north = outline.bounds
    cols = np.flatnonzero((x >= west) & (x <= east))
    rows = np.flatnonzero((y >= south) & (y <= north))
    if cols.size == 0 or rows.size == 0:
        return np.zeros(0), np.zeros(0)
    gx, gy = np.meshgrid(x[cols], y[rows])
    inside = contains_xy(outline, gx, gy)
    window = np.ix_(rows, cols)
    station = ground["station"].to_numpy()[window][inside]
    offset = ground["offset"].to_numpy()[window][inside]
    known = np.isfinite(station) & np.isfinite(offset)
    return station[known], offset[known]


def _match(pieces: gpd.GeoDataFrame, index: int, runs: list[Run], near: float) -> Run | None:
    """Return the run a piece belongs to: the angler's first, then the one it overlaps most."""
    piece = pieces.loc[index]
    span = (float(piece["station_m"]), float(piece["station_end_m"]))
    best: tuple[bool, float] = (False, 0.0)
    found: Run | None = None
    for run in runs:
        mine = run.named_by == "angler"
        common = overlap(span, (run.start, run.end))
        close = _follows(span, (run.start, run.end), near) and run.kind == piece["kind"]
        if common < OVERLAP_LOW and (mine or not close):
            continue
        if not _one_side(run.side, str(piece["side"])):
            continue
        if piece.geometry.distance(run.shape) > near:
            continue
        if (mine, max(common, 0.01)) > best:
            best, found = (mine, max(common, 0.01)), run
    return found


def _follows(a: tuple[float, float], b: tuple[float, float], near: float) -> bool:
    """Return whether of two stretches one begins where the other ends, give or take `near` [m]."""
    return min(abs(a[0] - b[1]), abs(b[0] - a[1])) <= near


def _one_side(a: str, b: str) -> bool:
    """Return whether two sides may be one: an island's edge is some channel's left or right."""
    return a == b or "" in (a, b) or Side.ISLAND in (a, b)


def _runs_layer(
    runs: list[Run], water: gpd.GeoDataFrame, settings: WaterSettings
) -> gpd.GeoDataFrame:
    """Return the runs as a layer."""
    rows = []
    for run in runs:
        mine = water.loc[run.members]
        shown = mine[mine["score"] >= settings.score.shape_score].sort_values("flow", kind="stable")
        if run.named_by != "angler" and shown.empty:
            continue
        shape = run.outline or largest(union_all(list(mine.geometry)).buffer(4.0).buffer(-4.0))
        if shape is None:
            continue
        best = mine.loc[mine["score"].idxmax()] if len(mine) else None
        length = float(best["length_m"]) if best is not None else run.end - run.start
        rows.append(
            {
                "run": run.name,
                "named_by": run.named_by,
                "side": run.side or (str(best["side"]) if best is not None else ""),
                "station_m": run.start if np.isfinite(run.start) else float("nan"),
                "length_m": length if np.isfinite(length) else float("nan"),
                "flows_in_shape": ", ".join(dict.fromkeys(map(str, shown["flow_label"]))),
                "best_flow": float(best["flow"]) if best is not None else float("nan"),
                "minutes": length * settings.score.pace_s_per_m / 60
                if best is not None
                else float("nan"),
                "note": "",
                "geometry": shape,
            }
        )
    return layer_frame("runs", rows, str(water.crs))
