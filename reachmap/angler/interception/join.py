"""The score in the table of runs by flow, and what follows from it: order, prime water, window."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from reachmap.angler.interception.density import Presence
from reachmap.angler.interception.ranks import rank_spans
from reachmap.angler.interception.runs import Fish, Places, RunOdds, odds_of_runs
from reachmap.angler.interception.settings import LEAST_RUN_M, InterceptionSettings
from reachmap.angler.interception.swept import Swept
from reachmap.angler.pace import cast_seconds, step_length
from reachmap.angler.settings import AnglerSettings
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
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


def with_odds(  # noqa: PLR0913 - what a score is made of
    table: pd.DataFrame,
    water: gpd.GeoDataFrame,
    stations: gpd.GeoDataFrame,
    meet: Callable[[str], Meeting | None],
    outings: Sequence[Outing],
    settings: AnglerSettings,
    *,
    only: str | None = None,
    least_m: float = LEAST_RUN_M,
) -> list[tuple[pd.DataFrame, gpd.GeoDataFrame]]:
    """Return the table of runs by flow with the score of each, and the places with their share.

    For each of some outings: what does not hang on who fishes is read and worked out once.

    Parameters
    ----------
    table
        From `runs_by_flow`.
    water, stations
        Those layers over the same flows, runs filled in.
    meet
        Gives where fish are and what casts cover at a flow by its label; None where not known.
    outings
        Who fishes: places to which only a boat leads count for those who have one, and of a bank
        named those on it and on islands alone.
    settings
        Pace, clarity, and how fish and fly meet.
    only
        Label of the one flow that is scored; None for all.
    least_m
        Less bank to fish from is no run to go to [m]; such a run is ranked with no other.

    Returns
    -------
    list of table, stations
        `odds_hour`, `odds` and the rest of the score in the table, NaN where the run cannot be
        fished, and no rank where it is out of shape or a scrap; `odds` in the layer: what a place
        adds over the best place of its flow, 0 to 100.
    """
    rows = table.reset_index(drop=True)
    made = [_Columns.of(len(rows), len(stations)) for _ in outings]
    names = rows["run"].astype(str).to_numpy()
    in_shape = rows["in_shape"].to_numpy(dtype=bool)
    at_flow = rows.groupby("flow_label", observed=True).indices
    for label, mine in stations.groupby("flow_label", observed=True).indices.items():
        if only not in (None, label) or label not in at_flow:
            continue
        met = meet(str(label))
        if met is None:
            continue
        here = FlowPlaces.of(stations.iloc[mine], water, str(label), met, settings)
        for one, outing in zip(made, outings, strict=True):
            scored = here.scored(outing)
            one.share[mine] = scored.share
            numbers = at_flow[label]
            shaped = set(names[numbers[in_shape[numbers]]])
            going = {
                name: odds
                for name, odds in scored.runs.items()
                if name in shaped and odds.prime_m[1] - odds.prime_m[0] >= least_m
            }
            one.fill(names, numbers, scored, going, settings.interception)
    return [
        (
            as_promised("runs_by_flow", rows.assign(**one.table)),
            stations.assign(odds=one.share),
        )
        for one in made
    ]


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


@dataclass(frozen=True, slots=True)
class FlowPlaces:
    """The places to stand of one flow and what is met from them, before it is said who fishes.

    `stations` are the rows of that flow, n of them; `run` names the run of each, empty for none;
    `side` and `minutes` are those of `Places`, shape (n,).
    """

    stations: gpd.GeoDataFrame
    run: NDArray[np.object_]
    side: IntArray
    minutes: FloatArray
    fish: Fish
    swept: Swept
    settings: InterceptionSettings

    @classmethod
    def of(
        cls,
        stations: gpd.GeoDataFrame,
        water: gpd.GeoDataFrame,
        label: str,
        met: Meeting,
        settings: AnglerSettings,
    ) -> FlowPlaces:
        """Return the places of one flow.

        Parameters
        ----------
        stations
            The rows of that flow, in the order in which `met` numbers them.
        water
            The layer, runs filled in.
        label
            Name of the flow.
        met, settings
            As for `with_odds`.
        """
        presence, swept = met
        here = water[water["flow_label"] == label]
        run_of = dict(zip(here["code"].astype(str), here["run"].astype(str), strict=True))
        runs = stations["water"].astype(str).map(run_of).fillna("").to_numpy()
        side = stations["side"].astype(str).map(SIDES).to_numpy(dtype=np.int32)
        fish = Fish.of(presence, settings.interception)
        minutes = minutes_of(stations, settings)
        return cls(stations, runs, side, minutes, fish, swept, settings.interception)

    def scored(self, outing: Outing) -> Scored:
        """Return the odds of every run for those who fish."""
        able = fishable_places(self.stations, outing) & (self.run != "")
        along = self.stations["station_m"].to_numpy(dtype=np.float64)
        places = {}
        for run in np.unique(self.run[able]):
            mine = able & (self.run == run)
            at = np.flatnonzero(mine).astype(np.int32)
            places[str(run)] = Places(at, self.side[mine], along[mine], self.minutes[mine])
        odds = odds_of_runs(places, self.swept, self.fish, self.settings)
        best = max((float(one.rate.mean()) for one in odds.values()), default=0.0)
        share = np.full(len(self.stations), np.nan)
        for one in odds.values():
            share[one.places] = one.share
        top = float(np.nanmax(share)) if np.isfinite(share).any() else 0.0
        return Scored(odds, best, np.minimum(100.0 * share / top, 100.0) if top > 0 else share)


@dataclass(frozen=True, slots=True)
class _Columns:
    """What is filled in for one outing: columns of the table, and of the places their share."""

    table: dict[str, NDArray[Any]]
    share: FloatArray

    @classmethod
    def of(cls, rows: int, places: int) -> _Columns:
        """Return columns of so many rows and places, nothing known yet."""
        table: dict[str, NDArray[Any]] = {name: np.full(rows, np.nan) for name in NUMBERS}
        table |= {name: np.zeros(rows, dtype=np.int64) for name in COUNTS}
        return cls(table, np.full(places, np.nan))

    def fill(
        self,
        names: Any,
        numbers: Any,
        scored: Scored,
        going: Mapping[str, RunOdds],
        settings: InterceptionSettings,
    ) -> None:
        """Put the score of one flow, whose rows have these numbers, into the table.

        `going` are the runs that one could go to: in shape, and no scraps. They alone are ranked,
        and the best of them is a hundred; where there is none, the best of all.
        """
        best = max((float(one.rate.mean()) for one in going.values()), default=scored.best)
        for number in numbers:
            odds = scored.runs.get(names[number])
            if odds is not None:
                _fill(self.table, int(number), odds, best)
        _fill_ranks(self.table, names, numbers, going, settings)


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
