"""The angler's log joined to a build: read from the folder, laid on the map and in the table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import xarray as xr

from reachmap.triplog.model import Entry
from reachmap.triplog.onmap import log_columns, log_layer
from reachmap.triplog.store import kept_in


def read_log(folder: Path | None, *, wanted: bool) -> list[Entry]:
    """Return the entries of a folder's log; none where there is no log or it is not wanted."""
    return kept_in(folder) if wanted and folder is not None else []


def with_log(
    report: Mapping[str, Any],
    entries: Sequence[Entry],
    runs: gpd.GeoDataFrame,
    flowing: xr.Dataset,
) -> tuple[dict[str, Any], gpd.GeoDataFrame | None]:
    """Return a report whose table of runs tells of the log, and the log's layer.

    Without entries the report stays as it is and there is no layer.

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
    """
    if not entries:
        return dict(report), None
    labels = [str(label) for label in flowing["asked"].to_numpy()]
    flows = dict(zip(labels, flowing["flow"].to_numpy().astype(float).tolist(), strict=True))
    table = log_columns(entries, report["runs_by_flow"])
    layer = log_layer(entries, runs, flows, str(runs.crs))
    return {**report, "runs_by_flow": table}, layer
