"""A day's list of runs: how long it takes, what the wind does at each place, when to be back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler.casts import casts_with
from reachmap.angler.pace import day_minutes, fished_at, fished_bank
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.way_back import when_cut_off
from reachmap.angler.wind import Wind, WindWord, clear_of_wind, downwind_side, wind_word
from reachmap.base.arrays import FloatArray
from reachmap.base.words import Cast, CastFit

Layers = Mapping[str, gpd.GeoDataFrame]


@dataclass(frozen=True, slots=True)
class DayTotal:
    """The time a day's runs take [min]: each, all fishing, all ways between, and all together.

    `unknown` are the runs whose time nobody knows; the total is NaN if there is one.
    """

    each: dict[str, float]
    fishing_min: float
    between_min: float
    total_min: float
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CutOff:
    """When a forecast first cuts off the way back from a run, and by what.

    `when` is NaT where the forecast never does or no place of the run can be cut off; `place` is
    the code of the first place cut off, empty where none can be; `open_until_m3_s` and
    `cut_off_m3_s` are the last mapped flow that leaves its way back open and the first that cuts
    it off [m3/s], NaN where none does.
    """

    when: np.datetime64
    place: str = ""
    open_until_m3_s: float = math.nan
    cut_off_m3_s: float = math.nan


@dataclass(frozen=True, slots=True)
class WindOnRun:
    """What a wind does on most of a run's places.

    `wind` is its word there; `cast` one whose loop stays downwind, None where none with room does;
    at `lost` of `places` no cast does.
    """

    wind: WindWord
    cast: Cast | None
    lost: int
    places: int


def day_total(
    runs: Sequence[str], label: str, layers: Layers, settings: AnglerSettings
) -> DayTotal:
    """Return how long a day's list of runs takes at one flow.

    Parameters
    ----------
    runs
        Names of runs, in the order they are fished.
    label
        Label of the flow.
    layers
        `water` and `stations` over one or all flows.
    settings
        The pace.
    """
    water, stations = (_at(layers[name], label) for name in ("water", "stations"))
    each = {}
    for run in runs:
        mine = water[water["run"] == run]
        stands = stations[stations["water"].isin(mine["code"])]
        each[run] = fished_at(mine, stands, settings).minutes
    unknown = tuple(run for run, minutes in each.items() if math.isnan(minutes))
    fishing = float(sum(each.values()))
    total = day_minutes(each.values(), settings.pace)
    between = day_minutes([0.0] * len(each), settings.pace)
    return DayTotal(each, fishing, between, total, unknown)


def wind_by_station(stations: gpd.GeoDataFrame, wind: Wind) -> pd.DataFrame:
    """Return what a wind does at each station.

    Parameters
    ----------
    stations
        The `stations` layer.
    wind
        The wind, of a forecast or as a word.

    Returns
    -------
    pandas.DataFrame
        Index of `stations`; `flow_label`, `code`; `wind`, its word at that place; `loop_side`, the
        side the loop must lie on; `casts`, a tuple of those with room whose loop lies there;
        `cast`, the one to make: the station's own where it is among them, else the first, None
        where none is; `clear`, whether the station's own cast stays clear.
    """
    rows = []
    for row in stations.itertuples(index=False):
        down = math.radians(float(row.down_deg))
        side = downwind_side(wind, math.cos(down), math.sin(down))
        with_room = casts_with(row._asdict(), CastFit.FITS, CastFit.TIGHT)
        able = [cast for cast in with_room if clear_of_wind(cast, side)]
        clear = row.cast in able
        rows.append(
            {
                "flow_label": row.flow_label,
                "code": row.code,
                "wind": wind_word(wind, down).value,
                "loop_side": side.value,
                "casts": tuple(able),
                "cast": Cast(row.cast) if clear else next(iter(able), None),
                "clear": clear,
            }
        )
    columns = ["flow_label", "code", "wind", "loop_side", "casts", "cast", "clear"]
    return pd.DataFrame(rows, index=stations.index, columns=columns)


def wind_on_run(run: str, label: str, layers: Layers, wind: Wind) -> WindOnRun | None:
    """Return what a wind means for a run at a flow; None if calm or not known.

    Parameters
    ----------
    run, label
        Name of the run and label of the flow.
    layers
        `water` and `stations` over one or all flows.
    wind
        The wind.
    """
    water = _at(layers["water"], label)
    mine = water.loc[water["run"] == run, "code"]
    stands = _at(layers["stations"], label)
    stands = fished_bank(stands[stands["water"].isin(mine) & stands["cast"].notna()])
    if stands.empty:
        return None
    found = wind_by_station(stands, wind)
    word = WindWord(found["wind"].mode().iloc[0])
    if word is WindWord.CALM:
        return None
    keeps = found["cast"].dropna()
    cast = Cast(keeps.mode().iloc[0]) if len(keeps) else None
    return WindOnRun(word, cast, len(found) - len(keeps), len(found))


def run_cut_off(
    run: str,
    label: str,
    layers: Layers,
    times: Sequence[np.datetime64],
    flow: FloatArray,
) -> CutOff:
    """Return when a forecast first cuts off the way back from a run's places.

    Parameters
    ----------
    run, label
        Name of the run and label of the flow at which one goes in.
    layers
        `water` and `stations` over all flows, ways back filled in (see `ways_back`).
    times, flow
        The forecast: times, rising, and discharge [m3/s]; NaN counts as above everything.

    Notes
    -----
    Between two mapped flows nobody knows: a place counts as cut off from the last flow on at which
    its way back is open. Places that need no wading to get to land are never cut off.
    """
    water = _at(layers["water"], label)
    mine = water.loc[water["run"] == run, "code"]
    stands = _at(layers["stations"], label)
    stands = stands[stands["water"].isin(mine) & stands["cut_off_m3_s"].notna()]
    if stands.empty:
        return CutOff(np.datetime64("NaT"))
    first = stands.sort_values("open_until_m3_s", kind="stable").iloc[0]
    last = float(first["open_until_m3_s"])
    when = when_cut_off(last, times, flow)
    return CutOff(when, str(first["code"]), last, float(first["cut_off_m3_s"]))


def _at(frame: gpd.GeoDataFrame, label: str) -> gpd.GeoDataFrame:
    """Return the rows of one flow."""
    return frame[frame["flow_label"] == label]
