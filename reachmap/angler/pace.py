"""How long a run takes to fish: steps, seconds per cast, minutes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler.settings import AnglerSettings, PaceSettings
from reachmap.base.arrays import FloatArray
from reachmap.base.grouped import Rows, known, present
from reachmap.base.words import Season, WayIn
from reachmap.water.by_run import named_by_run, water_by_run
from reachmap.water.clarity import clarity_by
from reachmap.water.gather import covered_length

PIECE = ("code", "flow", "station_m", "station_end_m")
"""Columns of the layer `water` that the pace needs."""

STAND = ("water", "side", "cast", "access", "swing_s", "cast_m", "step_m", "odds")
"""Columns of the layer `stations` that the pace needs."""


def step_length(season: Season, settings: PaceSettings, *, clarity_m: float = math.nan) -> float:
    """Return the step between casts [m]: the season's, shorter in coloured water.

    In water one sees less than `clear_m` into, the step shrinks in proportion, down to half: a fish
    must see the fly. Common practice, no published source.
    """
    step = settings.step_summer_m if season is Season.SUMMER else settings.step_winter_m
    if math.isfinite(clarity_m):
        step *= min(max(clarity_m / settings.clear_m, 0.5), 1.0)
    return step


def cast_seconds(swing_s: float, stripped_m: float, settings: PaceSettings) -> float:
    """Return the seconds from one cast to the next: swing, hang, cast, stripping.

    Parameters
    ----------
    swing_s
        From landing to hang-down [s]; NaN takes the usual one.
    stripped_m
        Running line stripped in before the next cast [m], >= 0.
    settings
        The rest.
    """
    swing = swing_s if math.isfinite(swing_s) else settings.swing_s
    return swing + settings.hang_s + settings.cast_s + settings.strip_s_per_m * max(stripped_m, 0.0)


def run_minutes(length_m: float, seconds: float, step_m: float) -> float:
    """Return the minutes to fish a length [m] once: a cast at its head and one each step."""
    return (math.floor(length_m / step_m + 1e-9) + 1) * seconds / 60.0


@dataclass(frozen=True, slots=True)
class Fished:
    """A run as it is fished at one flow from its better bank.

    `length_m` is what the water fished covers along the river, overlaps once; `seconds` those from
    one cast to the next, `step_m` the step between casts; `minutes` once through, NaN where there
    is no place with room to cast.
    """

    length_m: float
    seconds: float
    step_m: float
    minutes: float


def pace_runs(
    runs: gpd.GeoDataFrame,
    table: pd.DataFrame,
    water: gpd.GeoDataFrame,
    stations: gpd.GeoDataFrame,
    settings: AnglerSettings,
) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Return the `runs` layer and the table of runs by flow with length and minutes filled in.

    Parameters
    ----------
    runs, table
        The `runs` layer, and the table from `runs_by_flow`.
    water, stations
        Those layers over all flows.
    settings
        The pace.

    Notes
    -----
    See `fished_at`. The layer takes both from the table at the run's best flow.
    """
    pieces = water_by_run(water, PIECE)
    stands = named_by_run(stations, water, STAND)
    found: FloatArray = np.zeros((len(table), 2))
    for number, key in enumerate(zip(table["run"], table["flow_label"], strict=True)):
        fished = fished_at(pieces.of(*key), stands.of(*key), settings)
        found[number] = fished.length_m, fished.minutes
    table = table.assign(length_m=found[:, 0], minutes=found[:, 1])
    best = table.set_index(["run", "flow"])[["length_m", "minutes"]]
    keys = pd.MultiIndex.from_arrays([runs["run"], runs["best_flow_m3_s"]])
    columns = best.reindex(keys).reset_index(drop=True).set_index(runs.index)
    return runs.assign(length_m=columns["length_m"], minutes=columns["minutes"]), table


def fished_at(water: Rows, stations: Rows, settings: AnglerSettings) -> Fished:
    """Return how a run is fished at one flow.

    Parameters
    ----------
    water, stations
        The run's rows of those layers at that flow, columns `PIECE` and `STAND` at least.
    settings
        Pace, season and clarity.

    Notes
    -----
    The water fished are the pieces that are cast to from the bank of `fished_places`, all of them
    where no place has room to cast; swing, cast and step are the medians of the places there.
    """
    bank = bank_fished(stations)
    stands = bank[present(bank["cast"])]
    if not len(water):
        return Fished(0.0, math.nan, math.nan, math.nan)
    clarity = clarity_by(float(water["flow"][0]), settings.clarity_m, settings.clarity_law)
    length = covered_length(spans_of(fished_water(water, stands)))
    seconds = median_seconds(stands, settings.pace)
    step = step_length(settings.season, settings.pace, clarity_m=clarity)
    if len(own := known(stands["step_m"])):
        step = float(np.median(own))
    minutes = run_minutes(length, seconds, step) if len(stands) else math.nan
    return Fished(length, seconds, step, minutes)


def spans_of(water: Rows) -> list[tuple[float, float]]:
    """Return where pieces of water begin and end along the river [m]."""
    return list(zip(water["station_m"], water["station_end_m"], strict=True))


def fished_bank(stations: Rows) -> Rows:
    """Return the stations of the bank one would fish from, of those of one run at one flow.

    The bank with the most places from which a cast has room; one reached by boat counts half.
    """
    if not len(stations):
        return stations
    sides = stations["side"]
    worth = present(stations["cast"]) * np.where(stations["access"] == WayIn.BOAT, 0.5, 1.0)
    best = max(sorted(set(sides)), key=lambda side: worth[sides == side].sum())
    return np.asarray(stations[sides == best])


def fished_places(stations: Rows) -> Rows:
    """Return the places one fishes a run from at a flow, of its stations: `odds` among the columns.

    Those that give it its odds; where none is known, those of the bank one would fish from with
    room for a cast, or else all of that bank.
    """
    by_odds = stations[np.isfinite(stations["odds"])] if len(stations) else stations
    if len(by_odds):
        return np.asarray(by_odds)
    able = stations[present(stations["cast"])] if len(stations) else stations
    return fished_bank(able if len(able) else stations)


def bank_fished(stations: Rows) -> Rows:
    """Return all stations of the bank one fishes a run from, those without room among them."""
    places = fished_places(stations)
    return np.asarray(stations[np.isin(stations["side"], places["side"])])


def fished_water(water: Rows, stations: Rows) -> Rows:
    """Return the pieces of water that these stations fish; all of them if there is no station."""
    mine = water[np.isin(water["code"], stations["water"])]
    return mine if len(mine) else water


def median_seconds(stations: Rows, settings: PaceSettings) -> float:
    """Return the seconds per cast of the middle station; the usual ones where none is known."""
    swing, cast = (known(stations[name]) for name in ("swing_s", "cast_m"))
    far = float(np.median(cast)) if len(cast) else settings.cast_m
    middle = float(np.median(swing)) if len(swing) else math.nan
    return cast_seconds(middle, far - settings.held_m, settings)
