"""Table of runs by flow: in shape or not, why, and the alternative run."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr

from reachmap.base.arrays import IntArray
from reachmap.base.grid import Grid
from reachmap.base.grouped import Rows
from reachmap.base.packed import values_at
from reachmap.base.patches import cells_of
from reachmap.base.schema import table_frame
from reachmap.base.words import Lack, Wet
from reachmap.markup.model import SeasonLimits
from reachmap.water.by_run import water_by_run
from reachmap.water.clarity import clarity_at, limits_in
from reachmap.water.score import LACKS
from reachmap.water.settings import RunSettings, WaterSettings

_FOUND = ("kind", "code", "side", "score", "depth_m", "speed_m_s", "prime")
_LOOKED_AT = ("wet", "depth", "east_speed", "north_speed")


@dataclass(frozen=True, slots=True)
class _AtFlow:
    """One flow [m3/s] and its fields, dims (y, x)."""

    flow: float
    fields: Mapping[str, xr.DataArray]


def runs_by_flow(
    water: gpd.GeoDataFrame,
    runs: gpd.GeoDataFrame,
    flows: xr.Dataset,
    settings: WaterSettings,
    *,
    fishable: Container[tuple[str, str]] | None = None,
) -> pd.DataFrame:
    """Return the table of runs by flow.

    Parameters
    ----------
    water, runs
        From `follow_runs`.
    flows
        The flow stage's Dataset, flows rising: where a run is not in shape its own water is looked
        at to say why.
    settings
        The rules' numbers.
    fishable
        Run and flow label of those with a place to stand: only they can replace another run. All
        if not given.

    Returns
    -------
    pandas.DataFrame
        As `base.schema.RUNS_BY_FLOW` promises it; runs downstream, flows rising within each.
        `length_m`, `minutes` and `wade` are left to the angler's stage.
    """
    labels = [str(label) for label in flows["asked"].to_numpy()]
    cells = _footprints(runs, water, flows)
    looked_at = [
        _AtFlow(float(flow), {name: flows[name].isel(flow=k) for name in _LOOKED_AT})
        for k, flow in enumerate(flows["flow"].to_numpy())
    ]
    rows: list[dict[str, Any]] = []
    pieces = water_by_run(water, (*_FOUND, *FACTORS))
    for number, run in enumerate(runs["run"]):
        for k, label in enumerate(labels):
            here, flow = pieces.of(run, label), looked_at[k]
            base = {"run": run, "flow": flow.flow, "flow_label": label}
            rows.append(base | _state(here, flow, cells[number], settings))
    return with_instead(table_frame("runs_by_flow", rows), runs, fishable, settings.runs)


def _footprints(
    runs: gpd.GeoDataFrame, water: gpd.GeoDataFrame, flows: xr.Dataset
) -> list[IntArray]:
    """Return the cells of each run: those of its outline and of all its water at any flow.

    They are counted in the flattened raster.
    """
    grid = Grid.of(flows)
    found = []
    for run in runs.itertuples(index=False):
        shapes = [run.geometry, *water.loc[water["run"] == run.run, "geometry"]]
        window = grid.window_over(shapely.total_bounds(shapes))
        row, col = cells_of(grid.part(window).rasterize(shapes) > 0)
        found.append((row + window[0].start) * grid.shape[1] + col + window[1].start)
    return found


def _state(
    here: Rows,
    flow: _AtFlow,
    footprint: IntArray,
    settings: WaterSettings,
) -> dict[str, Any]:
    """Return a run's row at one flow but for what takes its place."""
    empty = {"instead": "", "instead_score": float("nan"), "instead_m": float("nan")}
    if len(here):
        best = here[np.argmax(here["score"])]
        good = bool(best["score"] >= settings.score.shape_score)
        found = {name: best[name] for name in _FOUND}
        why = None if good else _weakest(best)
        return empty | found | {"in_shape": good, "why": why, "why_too": None}
    depth, speed, lacks = _look_at(flow, footprint, settings)
    return empty | {
        "in_shape": False,
        "why": lacks[0],
        "why_too": lacks[1] if len(lacks) > 1 else None,
        "kind": None,
        "code": "",
        "side": None,
        "score": 0.0,
        "depth_m": depth,
        "speed_m_s": speed,
        "prime": False,
    }


FACTORS = {f"factor_{name}": lack for name, lack in LACKS.items()}
"""What a small factor of a score means, by the water layer's columns."""


def _weakest(piece: np.void) -> Lack:
    """Return what holds a piece's score down most."""
    return FACTORS[min(FACTORS, key=lambda name: float(piece[name]))]


def _look_at(
    flow: _AtFlow, footprint: IntArray, settings: WaterSettings
) -> tuple[float, float, list[Lack]]:
    """Return a run's median depth [m] and speed [m/s] at a flow, and why it does not fish."""
    wet, depth, east, north = (values_at(flow.fields[name], footprint) for name in _LOOKED_AT)
    speed = np.hypot(east, north)
    known = (wet == Wet.YES) & np.isfinite(depth) & np.isfinite(speed)
    if wet.size == 0 or (wet == Wet.UNKNOWN).mean() > settings.runs.unknown_share:
        return float("nan"), float("nan"), [Lack.UNKNOWN]
    if known.mean() < settings.runs.dry_share:
        return float("nan"), float("nan"), [Lack.DRY]
    deep, quick = float(np.median(depth[known])), float(np.median(speed[known]))
    limits = limits_in(settings, clarity_at(flow.flow, settings))
    return deep, quick, _lacks(deep, quick, limits)


def _lacks(depth: float, speed: float, limits: SeasonLimits) -> list[Lack]:
    """Return why water of a median depth [m] and speed [m/s] does not fish."""
    lacks = []
    if depth < limits.depth_low_m:
        lacks.append(Lack.THIN)
    elif depth > limits.depth_high_m:
        lacks.append(Lack.DEEP)
    if speed < limits.speed_low_m_s:
        lacks.append(Lack.SLOW)
    elif speed > limits.speed_high_m_s:
        lacks.append(Lack.QUICK)
    return lacks or [Lack.SCRAPS]


def with_instead(
    table: pd.DataFrame,
    runs: gpd.GeoDataFrame,
    fishable: Container[tuple[str, str]] | None,
    settings: RunSettings,
    *,
    by: str = "score",
) -> pd.DataFrame:
    """Return the table with what takes the place of each run that is out of shape.

    Parameters
    ----------
    table, runs
        The table of runs by flow, and the layer.
    fishable
        Run and flow label of those with a place to stand: only they can replace another run. All
        where None.
    settings
        How far off a run is worth half.
    by
        Column with the worth of the runs, 0 to 100.

    Notes
    -----
    Of the runs in shape at that flow the one of most worth: its score, halved for every `instead_m`
    along the river, and `fresh_worth` times as much where it is not in shape at the flow where this
    run is best: what comes in as this one goes out.
    """
    middle = {str(r.run): float(r.station_m + 0.5 * r.extent_m) for r in runs.itertuples()}
    best: dict[str, str] = {}
    shaped: dict[tuple[str, str], float] = {}
    for name, mine in table.groupby("run"):
        worth = np.nan_to_num(mine[by].to_numpy(dtype=np.float64))
        best[str(name)] = str(mine["flow_label"].iloc[int(worth.argmax())])
    for name, label, score, good in zip(
        table["run"], table["flow_label"], table[by], table["in_shape"], strict=True
    ):
        if good and score > 0 and (fishable is None or (str(name), str(label)) in fishable):
            shaped[str(name), str(label)] = float(score)
    found: list[tuple[str, float, float]] = []
    for name, label, good in zip(table["run"], table["flow_label"], table["in_shape"], strict=True):
        choice = "" if good else _instead((name, label, best[name]), shaped, middle, settings)
        score = shaped[choice, label] if choice else float("nan")
        found.append((choice, score, middle[choice] - middle[name] if choice else float("nan")))
    columns = ["instead", "instead_score", "instead_m"]
    return table.assign(**{c: [row[i] for row in found] for i, c in enumerate(columns)})


def _instead(
    lost: tuple[str, str, str],
    shaped: dict[tuple[str, str], float],
    middle: dict[str, float],
    settings: RunSettings,
) -> str:
    """Return the run that takes another's place at a flow, or nothing.

    `lost` are the other's name, the label of the flow and that of the flow where it is best.
    """
    run, label, best = lost
    worth: dict[str, float] = {}
    for (other, at), score in shaped.items():
        if at == label and other != run and np.isfinite(middle[other]) and np.isfinite(middle[run]):
            fresh = settings.fresh_worth if (other, best) not in shaped else 1.0
            far = abs(middle[other] - middle[run]) / settings.instead_m
            worth[other] = fresh * score * 0.5**far
    return max(worth, key=lambda name: worth[name]) if worth else ""
