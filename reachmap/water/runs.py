"""Runs: pieces of water matched over all flows under one name."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from shapely import Polygon, union_all

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.schema import layer_frame
from reachmap.base.words import Side
from reachmap.markup.model import NamedRun
from reachmap.water.bends import bends_of
from reachmap.water.gather import (
    Run,
    covered_length,
    gather_runs,
    long_enough,
    one_side,
)
from reachmap.water.names import give_names, own_names
from reachmap.water.settings import WaterSettings
from reachmap.water.zones import largest


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
        Layers as `base.schema` promises them; runs in order downstream.

    Notes
    -----
    See `gather_runs`. A run that lies for the most part in one of the angler's own takes its name;
    where several do, bank and place along the river tell them apart. What is too short for a run
    belongs to none, unless the angler has drawn one there.
    """
    pieces = water.reset_index(drop=True)
    width = Centreline.of(ground).median_width
    own = [_named_run(run, ground, width) for run in named]
    near = settings.runs.apart_widths * width
    found = gather_runs(pieces, width, settings)
    runs = [run for run in found if long_enough(run, settings.score)]

    def belongs(run: Run, mine: Run) -> bool:
        return _belongs(run, mine, near, settings.runs.overlap_low)

    for mine in own:
        if not any(belongs(run, mine) for run in runs):
            runs += [run for run in found if run not in runs and belongs(run, mine)]
    runs += own_names(own, runs, belongs)
    give_names(runs, pieces, bends_of(ground, settings.bends), width)
    runs.sort(key=lambda run: (run.start, run.end, run.name))
    names = pd.Series("", index=pieces.index, dtype="str")
    for run in runs:
        names[run.members] = run.name
    filled = pieces.assign(run=names)
    return filled, _runs_layer(runs, filled, settings)


def _named_run(named: NamedRun, ground: xr.Dataset, width: float) -> Run:
    """Return the angler's own run: its stretch, and its side where it lies on one."""
    stations, offsets = _within(named.outline, ground)
    span, side = (np.inf, np.inf), ""
    if stations.size:
        low, high = np.quantile(stations, (0.02, 0.98))
        span, middle = (float(low), float(high)), float(np.median(offsets))
        side = "" if abs(middle) < 0.1 * width else (Side.LEFT if middle > 0 else Side.RIGHT).value
    return Run(named.name, "angler", side, *span, named.outline, outline=named.outline)


def _belongs(run: Run, own: Run, near: float, overlap_low: float) -> bool:
    """Return whether a run is part of one of the angler's: most of its length, on its side."""
    common = min(run.end, own.end) - max(run.start, own.start)
    if common < overlap_low * (run.end - run.start) or not one_side(own.side, run.side):
        return False
    return bool(run.shape.distance(own.shape) <= near)


def _within(outline: Polygon, ground: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Return station and offset of the cells within an outline."""
    grid = Grid.of(ground)
    window = grid.window_over(outline.bounds)
    inside = grid.part(window).rasterize([outline]) > 0
    station = ground["station"].to_numpy()[window][inside]
    offset = ground["offset"].to_numpy()[window][inside]
    known = np.isfinite(station) & np.isfinite(offset)
    return station[known], offset[known]


def _runs_layer(
    runs: list[Run], water: gpd.GeoDataFrame, settings: WaterSettings
) -> gpd.GeoDataFrame:
    """Return the runs as a layer."""
    rows = []
    for run in runs:
        mine = water.loc[run.members]
        shown = (mine["score"] >= settings.score.shape_score).any()
        if run.named_by != "angler" and not shown:
            continue
        shape = run.outline or largest(union_all(list(mine.geometry)).buffer(4.0).buffer(-4.0))
        if shape is None:
            continue
        best = mine.loc[mine["score"].idxmax()] if len(mine) else None
        length = run.end - run.start if best is None else covered_length(run.spans[best["flow"]])
        rows.append(
            {
                "run": run.name,
                "named_by": run.named_by,
                "side": run.side or (str(best["side"]) if best is not None else None),
                "station_m": run.start if np.isfinite(run.start) else float("nan"),
                "extent_m": length if np.isfinite(length) else float("nan"),
                "best_flow_m3_s": float(best["flow"]) if best is not None else float("nan"),
                "geometry": shape,
            }
        )
    return layer_frame("runs", rows, str(water.crs))
