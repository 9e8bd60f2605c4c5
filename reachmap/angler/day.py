"""How long each run takes at a flow, and when a forecast cuts off the way back from it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np

from reachmap.angler.pace import PIECE, STAND, fished_at
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.way_back import when_cut_off
from reachmap.base.arrays import FloatArray
from reachmap.water.by_run import named_by_run, water_by_run

Layers = Mapping[str, gpd.GeoDataFrame]


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


def run_minutes(
    runs: Sequence[str], label: str, layers: Layers, settings: AnglerSettings
) -> dict[str, float]:
    """Return how long each run takes to fish at one flow [min]; NaN where that is not known.

    Parameters
    ----------
    runs
        Names of runs.
    label
        Label of the flow.
    layers
        `water` and `stations` over one or all flows.
    settings
        The pace.
    """
    water, stations = (_at(layers[name], label) for name in ("water", "stations"))
    pieces, stands = water_by_run(water, PIECE), named_by_run(stations, water, STAND)
    return {
        run: fished_at(pieces.of(run, label), stands.of(run, label), settings).minutes
        for run in runs
    }


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
    Between two mapped flows the way back is not known: a place counts as cut off above the last
    flow at which it is open. Places that need no wading to get to land are never cut off.
    """
    water = _at(layers["water"], label)
    mine = water.loc[water["run"] == run, "code"]
    stands = _at(layers["stations"], label)
    stands = stands[stands["water"].isin(mine) & stands["cut_off_m3_s"].notna()]
    if stands.empty:
        return CutOff(np.datetime64("NaT", "s"))
    first = stands.sort_values("open_until_m3_s", kind="stable").iloc[0]
    last = float(first["open_until_m3_s"])
    when = when_cut_off(last, times, flow)
    return CutOff(when, str(first["code"]), last, float(first["cut_off_m3_s"]))


def _at(frame: gpd.GeoDataFrame, label: str) -> gpd.GeoDataFrame:
    """Return the rows of one flow."""
    return frame[frame["flow_label"] == label]
