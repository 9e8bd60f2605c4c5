"""Runs: pieces of water matched over all flows under one name."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from shapely import Polygon, union_all

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.schema import as_promised, layer_frame
from reachmap.base.words import Side
from reachmap.base.words_runs import RunPart
from reachmap.markup.model import NamedRun
from reachmap.water.bends import bends_of
from reachmap.water.gather import Run, covered_length, gather_runs, long_enough
from reachmap.water.names import give_names
from reachmap.water.settings import WaterSettings
from reachmap.water.stretches import sections_of
from reachmap.water.zones import largest


def follow_runs(
    water: gpd.GeoDataFrame,
    ground: xr.Dataset,
    named: Sequence[NamedRun],
    settings: WaterSettings,
    *,
    names: Mapping[int, str] | None = None,
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
    names
        Names of stretches by number that an earlier build gave; the others are made.

    Returns
    -------
    water, runs
        Layers as `base.schema` promises them; runs in order downstream.

    Notes
    -----
    See `gather_runs`. A run of the angler's stays one run, whatever water lies in it. What is too
    short for a run belongs to none, unless the angler has drawn one there.
    """
    pieces = water.reset_index(drop=True)
    line = Centreline.of(ground)
    width = line.median_width
    drawn = [_drawn_run(run, ground, width) for run in named]
    sections = sections_of(line.head, line.foot, bends_of(ground, settings.bends), settings)
    runs = [
        run
        for run in gather_runs(pieces, drawn, width, settings.runs)
        if run.outline is not None or long_enough(run, settings.score)
    ]
    give_names(runs, sections, names or {})
    runs.sort(key=lambda run: (run.start, run.end, run.name))
    filled = pieces.assign(run=pd.Series("", index=pieces.index, dtype="str"), part=None)
    for run in runs:
        filled.loc[run.members, "run"] = run.name
        middle = 0.5 * (pieces["station_m"] + pieces["station_end_m"])[run.members]
        filled.loc[run.members, "part"] = [part_of(station, run) for station in middle]
    filled = as_promised("water", filled)
    return filled, _runs_layer(runs, filled, settings)


def part_of(station: float, run: Run) -> str | None:
    """Return the third of a run that a station [m] lies in; None where its ends are not known."""
    share = (station - run.start) / (run.end - run.start) if run.end > run.start else math.nan
    if not math.isfinite(share):
        return None
    thirds = tuple(RunPart)
    return thirds[min(max(int(3 * share), 0), 2)].value


def _drawn_run(named: NamedRun, ground: xr.Dataset, width: float) -> Run:
    """Return the angler's own run: its stretch, and its side where it lies on one."""
    stations, offsets = _within(named.outline, ground)
    span, side = (np.inf, np.inf), ""
    if stations.size:
        low, high = np.quantile(stations, (0.02, 0.98))
        span, middle = (float(low), float(high)), float(np.median(offsets))
        side = "" if abs(middle) < 0.1 * width else (Side.LEFT if middle > 0 else Side.RIGHT).value
    return Run(named.name, "angler", side, *span, outline=named.outline)


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
                "stretch": run.stretch,
                "named_by": run.named_by,
                "side": run.side or (str(best["side"]) if best is not None else None),
                "station_m": run.start if np.isfinite(run.start) else float("nan"),
                "extent_m": length if np.isfinite(length) else float("nan"),
                "best_flow_m3_s": float(best["flow"]) if best is not None else float("nan"),
                "geometry": shape,
            }
        )
    return layer_frame("runs", rows, str(water.crs))
