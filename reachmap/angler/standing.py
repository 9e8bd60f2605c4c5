"""From where a piece of swing water is fished: dry ground, easy water, or nowhere."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd

from reachmap.base.schema import as_promised
from reachmap.base.words import Footing

DRY_M = 0.1
"""Standing shallower than this counts as dry ground [m]; our choice."""


def fishable_runs(
    water: gpd.GeoDataFrame, stations: gpd.GeoDataFrame
) -> frozenset[tuple[str, str]]:
    """Return run and flow label of every run that some place with room to cast fishes.

    Parameters
    ----------
    water, stations
        Those layers over all flows, runs filled in.
    """
    able = stations[stations["cast"].notna()]
    places = set(zip(able["flow_label"], able["water"], strict=True))
    rows = zip(water["flow_label"], water["code"], water["run"], strict=True)
    return frozenset((str(run), str(label)) for label, code, run in rows if (label, code) in places)


def with_wading(
    water: gpd.GeoDataFrame, table: pd.DataFrame, stations: gpd.GeoDataFrame
) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Return the water layer and the table of runs by flow with their column `wade` filled in.

    Parameters
    ----------
    water
        The `water` layer over all flows.
    table
        From `runs_by_flow`: its `code` names a run's best piece at each flow.
    stations
        The `stations` layer over the same flows.
    """
    found = {
        (str(label), str(code)): _wade(mine)
        for (label, code), mine in stations.groupby(["flow_label", "water"])
    }
    pieces = [
        found.get((str(label), str(code)), Footing.NO)
        for label, code in zip(water["flow_label"], water["code"], strict=True)
    ]
    rows = [
        found.get((str(label), str(code)), Footing.NO) if code else None
        for label, code in zip(table["flow_label"], table["code"], strict=True)
    ]
    water = as_promised("water", water.assign(wade=[str(one) for one in pieces]))
    return water, as_promised(
        "runs_by_flow", table.assign(wade=pd.Series(rows, table.index, "object"))
    )


def _wade(stations: gpd.GeoDataFrame) -> Footing:
    """Return from where most of these places fish."""
    able = stations[stations["cast"].notna()]
    if able.empty:
        return Footing.UNKNOWN if stations["room_m"].isna().any() else Footing.NO
    return Footing.DRY if (able["depth_m"] < DRY_M).mean() >= 0.5 else Footing.EASY
