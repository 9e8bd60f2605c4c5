"""Where the angler stands to fish a piece of swing water: dry ground, easy water, or nowhere."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.base.grouped import Rows, grouped_by, present
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
    stands = grouped_by(stations, ("flow_label", "water"), ("cast", "room_m", "depth_m"))
    found = {key: _wade(stands.of(*key)) for key in stands.places}
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


def _wade(stations: Rows) -> Footing:
    """Return from where most of these places fish."""
    able = stations[present(stations["cast"])]
    if not len(able):
        return Footing.UNKNOWN if np.isnan(stations["room_m"]).any() else Footing.NO
    return Footing.DRY if (able["depth_m"] < DRY_M).mean() >= 0.5 else Footing.EASY
