"""How long a run takes to fish: steps, seconds per cast, minutes."""

from __future__ import annotations

import math
from collections.abc import Iterable

import geopandas as gpd
import numpy as np

from reachmap.angler.settings import AnglerSettings, PaceSettings
from reachmap.base.words import Season
from reachmap.water.clarity import clarity_by
from reachmap.water.gather import covered_length

NO_STAND = "No place with room to cast was found at its best flow."


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


def pace_runs(
    runs: gpd.GeoDataFrame,
    water: gpd.GeoDataFrame,
    stations: gpd.GeoDataFrame,
    settings: AnglerSettings,
) -> gpd.GeoDataFrame:
    """Return the `runs` layer with its `minutes` filled in, at each run's best flow.

    Parameters
    ----------
    runs
        The `runs` layer.
    water, stations
        Those layers over all flows.
    settings
        The pace.

    Notes
    -----
    See `minutes_at`. Minutes stay NaN where none of the run's water is there at its best flow, or
    nobody can cast to it; then the note says so.
    """
    minutes, notes = np.full(len(runs), np.nan), list(runs["note"])
    for i, row in enumerate(runs.itertuples(index=False)):
        pieces = water[(water["run"] == row.run) & np.isclose(water["flow"], row.best_flow)]
        if pieces.empty:
            continue
        here = stations["water"].isin(pieces["code"]) & np.isclose(stations["flow"], row.best_flow)
        minutes[i] = minutes_at(pieces, stations[here], settings)
        if math.isnan(minutes[i]):
            notes[i] = f"{notes[i]} {NO_STAND}".strip()
    return runs.assign(minutes=minutes, note=notes)


def minutes_at(
    water: gpd.GeoDataFrame, stations: gpd.GeoDataFrame, settings: AnglerSettings
) -> float:
    """Return the minutes to fish a run once through at one flow; NaN where nobody can cast to it.

    Parameters
    ----------
    water, stations
        The run's rows of those layers at that flow.
    settings
        Pace, season and clarity.

    Notes
    -----
    The length fished is what the pieces of water that are cast to from the best bank cover along
    the river, overlaps once; swing and cast are the medians of the places there.
    """
    stands = fished_bank(stations[stations["cast"] != ""]) if len(stations) else stations
    if water.empty or stands.empty:
        return math.nan
    flow = float(water["flow"].iloc[0])
    return run_minutes(
        covered_length(spans_of(fished_water(water, stands))),
        median_seconds(stands, settings.pace),
        step_length(
            settings.season,
            settings.pace,
            clarity_m=clarity_by(flow, settings.clarity_m, settings.clarity_law),
        ),
    )


def day_minutes(minutes: Iterable[float], settings: PaceSettings) -> float:
    """Return the minutes of a day's list of runs: fishing and the way from one to the next.

    Runs whose time is not known make the total unknown (NaN).
    """
    each = list(minutes)
    return float(sum(each)) + settings.between_min * max(len(each) - 1, 0)


def spans_of(water: gpd.GeoDataFrame) -> list[tuple[float, float]]:
    """Return where pieces of water begin and end along the river [m]."""
    return list(zip(water["station_m"], water["station_end_m"], strict=True))


def fished_bank(stations: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the stations of the bank one would fish from, of those of one run at one flow.

    The bank with the most places from which a cast has room; one reached by boat counts half.
    """
    if stations.empty:
        return stations
    boat = np.where(stations["access"] == "boat", 0.5, 1.0)
    worth = (stations["cast"] != "").astype(float) * boat
    best = worth.groupby(stations["side"]).sum()
    return stations[stations["side"] == best.idxmax()]


def fished_water(water: gpd.GeoDataFrame, stations: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the pieces of water that these stations fish; all of them if there is no station."""
    mine = water[water["code"].isin(stations["water"])]
    return mine if len(mine) else water


def median_seconds(stations: gpd.GeoDataFrame, settings: PaceSettings) -> float:
    """Return the seconds per cast of the middle station; the usual ones where none is known."""
    swing = stations["swing_s"].median() if len(stations) else math.nan
    cast = stations["cast_m"].median() if len(stations) else math.nan
    far = float(cast) if math.isfinite(cast) else settings.cast_m
    return cast_seconds(float(swing), far - settings.held_m, settings)
