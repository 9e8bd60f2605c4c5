"""The angler's log joined to a build: a map layer and columns of the table of runs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.logbook.join import Joined, join_trips, run_places
from reachmap.logbook.model import Entry
from reachmap.logbook.store import kept_in
from reachmap.outputs.log_layer import log_columns, log_factors, log_layer, unplaced_rows
from reachmap.text.log import unplaced_words, weight_words
from reachmap.text.numbers import text_of
from reachmap.water.names import drawn_name

RUN_KEYS = ("run", "drawn", "side", "station_m", "length_m")
"""The report's entries on each run, for trips that are logged after the build."""


def read_log(folder: Path | None, *, wanted: bool) -> list[Entry]:
    """Return the entries of a folder's log; none where there is no log or it is not wanted."""
    return kept_in(folder) if wanted and folder is not None else []


def with_log(
    report: Mapping[str, Any],
    entries: Sequence[Entry],
    runs: gpd.GeoDataFrame,
    flowing: xr.Dataset,
    drawn: Sequence[str],
    weight: float = 0.0,
) -> tuple[dict[str, Any], gpd.GeoDataFrame | None]:
    """Return a report whose table of runs has the log's columns, and the log's layer.

    The report says where each run lies (`runs_along`). Without entries it is else as before and
    there is no layer; with entries, `log` counts the trips, and names those that found no run.

    Parameters
    ----------
    report
        With `runs_by_flow`.
    entries
        Of the log, oldest first.
    runs
        The layer of runs.
    flowing
        The flow stage's Dataset.
    drawn
        Names of the angler's own outlines of runs.
    weight
        How much the log counts in the order of runs, 0 to 1.
    """
    along = [_along(row, drawn) for row in runs.to_dict("records")]
    placed = {**report, "runs_along": along}
    if not entries:
        return placed, None
    labels = [str(label) for label in flowing["asked"].to_numpy()]
    flows = dict(zip(labels, flowing["flow"].to_numpy().astype(float).tolist(), strict=True))
    joined = _joined(entries, runs, along)
    table = log_columns(joined, report["runs_by_flow"], weight)
    layer = log_layer(entries, runs, flows, str(runs.crs), joined)
    log = {
        "trips": len(entries),
        "placed": len(joined.runs_of),
        "unplaced": unplaced_rows(joined),
        "weight": weight,
        "words": ". ".join(filter(None, (weight_words(weight), unplaced_words(joined)))),
    }
    return {**placed, "runs_by_flow": table, "log": log}, layer


def order_factors(
    table: pd.DataFrame,
    entries: Sequence[Entry],
    runs: gpd.GeoDataFrame,
    drawn: Sequence[str],
    weight: float,
) -> FloatArray | None:
    """Return the log's factor on the worth of each row of the table of runs, shape (rows,).

    Parameters
    ----------
    table
        Of runs by flow.
    entries, runs, drawn, weight
        As for `with_log`.

    Returns
    -------
    FloatArray or None
        Above 0, 1 where the log says nothing; None where there is none or it does not count.
    """
    if weight <= 0 or not entries:
        return None
    along = [_along(row, drawn) for row in runs.to_dict("records")]
    rows = [{"run": run, "flow": q} for run, q in zip(table["run"], table["flow"], strict=True)]
    return np.array(log_factors(_joined(entries, runs, along), rows, weight))


def _joined(
    entries: Sequence[Entry], runs: gpd.GeoDataFrame, along: Sequence[Mapping[str, Any]]
) -> Joined:
    """Return which runs the entries belong to."""
    return join_trips(entries, run_places(along, list(runs.geometry)), str(runs.crs))


def _along(row: Mapping[str, Any], drawn: Sequence[str]) -> dict[str, Any]:
    """Return the report's entries on a run's place: plain JSON values."""
    own = drawn_name(str(row["run"]), drawn) if row["named_by"] == "angler" else ""
    numbers = (float(row["station_m"]), float(row["extent_m"]))
    rounded = [round(value, 1) if math.isfinite(value) else None for value in numbers]
    return dict(zip(RUN_KEYS, (str(row["run"]), own, text_of(row["side"]), *rounded), strict=True))
