"""A day's list of runs: how long it takes, what the wind does at each place, when to be back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler.pace import day_minutes, fished_bank, minutes_at
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.way_back import when_cut_off
from reachmap.angler.wind import Wind, WindWord, clear_of_wind, downwind_side, wind_word
from reachmap.base.arrays import FloatArray
from reachmap.base.words import Cast

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

    `when` is NaT where the forecast never does or no place of the run can be cut off;
    `open_until` and `cut_off` are flow labels, `place` what is cut off, `words` one sentence.
    """

    when: np.datetime64
    open_until: str
    cut_off: str
    place: str
    words: str


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
        each[run] = minutes_at(mine, stands, settings)
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
        side the loop must lie on; `casts`, those with room whose loop lies there; `cast`, the one
        to make: the station's own where it is among them, else the first, empty where none is;
        `clear`, whether the station's own cast stays clear.
    """
    rows = []
    for row in stations.itertuples(index=False):
        down = math.radians(float(row.down_deg))
        side = downwind_side(wind, math.cos(down), math.sin(down))
        able = [
            cast for cast in str(row.casts).split(", ") if cast and clear_of_wind(Cast(cast), side)
        ]
        clear = row.cast in able
        rows.append(
            {
                "flow_label": row.flow_label,
                "code": row.code,
                "wind": wind_word(wind, down).value,
                "loop_side": side.value,
                "casts": ", ".join(able),
                "cast": row.cast if clear else (able[0] if able else ""),
                "clear": clear,
            }
        )
    columns = ["flow_label", "code", "wind", "loop_side", "casts", "cast", "clear"]
    return pd.DataFrame(rows, index=stations.index, columns=columns)


def wind_on_run(run: str, label: str, layers: Layers, wind: Wind) -> str:
    """Return what a wind means for a run at a flow, in one line; empty if calm or not known.

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
    stands = fished_bank(stands[stands["water"].isin(mine) & (stands["cast"] != "")])
    if stands.empty:
        return ""
    told = wind_by_station(stands, wind)
    word = told["wind"].mode().iloc[0]
    if word == WindWord.CALM:
        return ""
    way = f"{word} wind" if word in ("upstream", "downstream") else f"wind from river {word}"
    way = way[0].upper() + way[1:]
    lost = int((told["cast"] == "").sum())
    keeps = told.loc[told["cast"] != "", "cast"]
    if keeps.empty:
        return f"{way}: no cast with room here keeps the loop downwind of you."
    words = f"{way}: {keeps.mode().iloc[0]} keeps the loop downwind of you"
    some = f"; at {lost} of {len(told)} places none does" if lost else ""
    return f"{words}{some}."


def run_cut_off(
    run: str,
    label: str,
    layers: Layers,
    flows: Mapping[str, float],
    times: Sequence[np.datetime64],
    flow: FloatArray,
) -> CutOff:
    """Return when a forecast first cuts off the way back from a run's places.

    Parameters
    ----------
    run, label
        Name of the run and label of the flow at which one goes in.
    layers
        `water` and `stations` over all flows, ways back told (see `ways_back`).
    flows
        Discharge of every mapped flow [m3/s], by label.
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
    stands = stands[stands["water"].isin(mine) & (stands["cut_off"] != "")]
    if stands.empty:
        words = "No mapped flow cuts off the way back from its places."
        return CutOff(np.datetime64("NaT"), "", "", "", words)
    order = sorted(flows, key=lambda name: flows[name])
    reached = [order[order.index(shut) - 1] for shut in stands["cut_off"]]
    at = int(np.argmin([flows[name] for name in reached]))
    last, shut, place = reached[at], str(stands["cut_off"].iloc[at]), str(stands["code"].iloc[at])
    when = when_cut_off(flows[last], times, flow)
    if np.isnat(when):
        words = f"The forecast stays at or below {last}: the way back stays open."
    else:
        words = (
            f"Be back before {np.datetime_as_string(when, unit='m').replace('T', ' ')} UTC: the "
            f"forecast then goes above {last}, the last flow at which the way back is known open."
        )
    return CutOff(when, last, shut, place, words)


def _at(frame: gpd.GeoDataFrame, label: str) -> gpd.GeoDataFrame:
    """Return the rows of one flow."""
    return frame[frame["flow_label"] == label]
