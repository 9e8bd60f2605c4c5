"""The score in the table of runs by flow, and what follows from it: order, prime water, window."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler.interception.density import Presence
from reachmap.angler.interception.ranks import rank_spans
from reachmap.angler.interception.runs import Places, RunOdds, odds_of_runs
from reachmap.angler.interception.settings import InterceptionSettings
from reachmap.angler.interception.swept import Swept
from reachmap.angler.pace import cast_seconds, step_length
from reachmap.angler.settings import AnglerSettings
from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.schema import as_promised
from reachmap.base.words import Side, WayIn
from reachmap.markup.plan_parts import Outing
from reachmap.water.clarity import clarity_by

Meeting = tuple[Presence, Swept]
"""Where fish are at a flow, and what casts cover from the rows of `stations` at it."""

SIDES = {Side.LEFT.value: 1, Side.RIGHT.value: -1, Side.ISLAND.value: 0}


@dataclass(frozen=True, slots=True)
class Scored:
    """The odds of the runs at one flow, and the odds of each place to stand.

    `best` [1/h] is the rate of the flow's best run by the mean of the readings; `share` (n,) what
    each place adds to its run's odds, NaN where it is not fished.
    """

    runs: Mapping[str, RunOdds]
    best: float
    share: FloatArray


def with_odds(
    table: pd.DataFrame,
    water: gpd.GeoDataFrame,
    stations: gpd.GeoDataFrame,
    meet: Callable[[str], Meeting | None],
    outing: Outing,
    settings: AnglerSettings,
    *,
    only: str | None = None,
) -> tuple[pd.DataFrame, gpd.GeoDataFrame]:
    """Return the table of runs by flow with the score of each, and the places with their share.

    Parameters
    ----------
    table
        From `runs_by_flow`.
    water, stations
        Those layers over the same flows, runs filled in.
    meet
        Gives where fish are and what casts cover at a flow by its label; None where not known.
    outing
        Who fishes: places to which only a boat leads count for those who have one, and of a bank
        named those on it and on islands alone.
    settings
        Pace, clarity, and how fish and fly meet.
    only
        Label of the one flow that is scored; None for all.

    Returns
    -------
    table, stations
        `odds_hour`, `odds` and the rest of the score in the table, NaN where the run cannot be
        fished; `odds` in the layer: what a place adds over the best place of its flow, 0 to 100.
    """
    rows = table.reset_index(drop=True)
    columns = {name: np.full(len(rows), np.nan) for name in NUMBERS}
    columns |= {name: np.zeros(len(rows), dtype=np.int64) for name in COUNTS}
    share = np.full(len(stations), np.nan)
    names = rows["run"].astype(str).to_numpy()
    at_flow = rows.groupby("flow_label", observed=True).indices
    for label, mine in stations.groupby("flow_label", observed=True).indices.items():
        if only not in (None, label) or label not in at_flow:
            continue
        met = meet(str(label))
        if met is None:
            continue
        scored = score_flow(stations.iloc[mine], water, str(label), met, outing, settings)
        share[mine] = scored.share
        for number in at_flow[label]:
            odds = scored.runs.get(names[number])
            if odds is not None:
                _fill(columns, int(number), odds, scored.best)
        _fill_ranks(columns, names, at_flow[label], scored.runs, settings.interception)
    filled = rows.assign(**columns)
    return as_promised("runs_by_flow", filled), stations.assign(odds=share)


NUMBERS = (
    "odds_hour",
    "odds",
    "odds_low",
    "odds_high",
    "passing",
    "prime_start_m",
    "prime_end_m",
    "prime_minutes",
)
COUNTS = ("rank_low", "rank_high")
"""Columns of the table that the score fills."""


def score_flow(
    stations: gpd.GeoDataFrame,
    water: gpd.GeoDataFrame,
    label: str,
    met: Meeting,
    outing: Outing,
    settings: AnglerSettings,
) -> Scored:
    """Return the odds of every run at one flow.

    Parameters
    ----------
    stations
        The rows of that flow, in the order in which `met` numbers them.
    water
        The layer, runs filled in.
    label
        Name of the flow.
    met, outing, settings
        As for `with_odds`.
    """
    presence, swept = met
    here = water[water["flow_label"] == label]
    run_of = dict(zip(here["code"].astype(str), here["run"].astype(str), strict=True))
    runs = stations["water"].astype(str).map(run_of).fillna("").to_numpy()
    able = fishable_places(stations, outing) & (runs != "")
    minutes = minutes_of(stations, settings)
    side = stations["side"].astype(str).map(SIDES).to_numpy()
    places = {
        str(run): Places(
            np.flatnonzero(able & (runs == run)).astype(np.int32),
            side[able & (runs == run)].astype(np.int32),
            stations["station_m"].to_numpy(dtype=np.float64)[able & (runs == run)],
            minutes[able & (runs == run)],
        )
        for run in np.unique(runs[able])
    }
    odds = odds_of_runs(places, swept, presence, settings.interception)
    best = max((float(one.rate.mean()) for one in odds.values()), default=0.0)
    share = np.full(len(stations), np.nan)
    for one in odds.values():
        share[one.places] = one.share
    top = float(np.nanmax(share)) if np.isfinite(share).any() else 0.0
    return Scored(odds, best, np.minimum(100.0 * share / top, 100.0) if top > 0 else share)


def fishable_places(stations: gpd.GeoDataFrame, outing: Outing) -> BoolArray:
    """Return which places this person can fish: room for a cast, a way there, on their bank."""
    able = stations["cast"].notna().to_numpy()
    if not outing.boat:
        able = able & (stations["access"] != WayIn.BOAT).to_numpy()
    able = able & np.array([outing.fishes_from(side) for side in stations["side"]], dtype=bool)
    return np.asarray(able & np.isfinite(stations["station_m"].to_numpy(dtype=np.float64)))


def minutes_of(stations: gpd.GeoDataFrame, settings: AnglerSettings) -> FloatArray:
    """Return how long the casts from each place take [min]: those along `bin_m` of its bank."""
    if not len(stations):
        return np.zeros(0)
    flow = float(stations["flow"].iloc[0])
    clarity = clarity_by(flow, settings.clarity_m, settings.clarity_law)
    step = step_length(settings.season, settings.pace, clarity_m=clarity)
    casts = max(round(settings.interception.bin_m / step), 1)
    cast = stations["cast_m"].to_numpy(dtype=np.float64)
    stripped = np.nan_to_num(cast, nan=settings.pace.cast_m) - settings.pace.held_m
    seconds = [
        cast_seconds(float(swing), float(more), settings.pace)
        for swing, more in zip(stations["swing_s"], stripped, strict=True)
    ]
    return np.asarray(casts * np.array(seconds) / 60.0)


def _fill(columns: Mapping[str, Any], number: int, odds: RunOdds, best: float) -> None:
    """Put the odds of one run into its row."""
    rate = odds.rate
    values = {
        "odds_hour": float(rate.mean()),
        "odds": _percent(float(rate.mean()), best),
        "passing": odds.passing,
        "prime_start_m": odds.prime_m[0],
        "prime_end_m": odds.prime_m[1],
        "prime_minutes": odds.prime_minutes,
    }
    for name, value in values.items():
        columns[name][number] = value


def _percent(value: float, best: float) -> float:
    """Return a rate over the best, 0 to 100; NaN where nothing is met anywhere."""
    return min(100.0 * value / best, 100.0) if best > 0 else math.nan


def _fill_ranks(
    columns: Mapping[str, Any],
    named: Any,
    numbers: Any,
    runs: Mapping[str, RunOdds],
    settings: InterceptionSettings,
) -> None:
    """Put the spans of ranks and odds into the rows of one flow."""
    names = list(runs)
    if not names:
        return
    rates = np.stack([runs[name].rate for name in names])
    places = np.array([len(runs[name].places) for name in names], dtype=np.int32)
    spans = rank_spans(rates, places, settings.ranks)
    place = {name: k for k, name in enumerate(names)}
    for number in numbers:
        k = place.get(named[number])
        if k is None:
            continue
        columns["rank_low"][number], columns["rank_high"][number] = spans.low[k], spans.high[k]
        columns["odds_low"][number], columns["odds_high"][number] = (
            spans.odds_low[k], spans.odds_high[k],
        )  # fmt: skip
