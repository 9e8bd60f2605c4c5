"""Flow windows: the flows at which a run is worth fishing, relative to the river's other runs."""

from __future__ import annotations

import math
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray

SHARE = 0.5
"""A run is in its window where its odds, over those of the flow's best run, are at least this share
of what they are at its best flow; our choice, 0.4-0.7."""

WIDE = 9.0
"""A window over more than this ratio of flows is suspicious: a river is another river at nine times
the flow. Our choice, 5-12."""


@dataclass(frozen=True, slots=True)
class Window:
    """Flow window of a run [m3/s]: its ends among the flows read, and its best flow.

    `wide` says that it is wider than a run's window should be, `open_low` and `open_high` that it
    may go on beyond the lowest and the highest flow read. NaN where the run is fished at none.
    """

    low: float = math.nan
    high: float = math.nan
    best: float = math.nan
    wide: bool = False
    open_low: bool = False
    open_high: bool = False


def window_of(flow: FloatArray, odds: FloatArray, rate: FloatArray) -> Window:
    """Return the flow window of one run.

    Parameters
    ----------
    flow
        Flows read [m3/s], rising, shape (n,).
    odds
        Its odds over those of each flow's best run, 0 to 100; NaN where it cannot be fished.
    rate
        Its odds an hour [1/h]: of flows at which it is equally good the one with most of them is
        its best.

    Notes
    -----
    Odds are compared flow by flow with the river's best run, since their level moves with how far
    one sees: in clear low water every run would be at its best. The window is the stretch of flows
    about the best one without a flow that falls below `SHARE`.
    """
    odds = np.nan_to_num(odds)
    if not odds.size or not odds.max() > 0:
        return Window()
    best = int(np.lexsort((-np.nan_to_num(rate), -np.round(odds, 6)))[0])
    good = odds >= SHARE * odds[best]
    low = best
    while low > 0 and good[low - 1]:
        low -= 1
    high = best
    while high + 1 < odds.size and good[high + 1]:
        high += 1
    return Window(
        float(flow[low]),
        float(flow[high]),
        float(flow[best]),
        wide=bool(flow[high] > WIDE * flow[low]),
        open_low=low == 0,
        open_high=high == odds.size - 1,
    )


def with_windows(runs: gpd.GeoDataFrame, table: pd.DataFrame) -> gpd.GeoDataFrame:
    """Return the layer of runs with the flow window of each, and the water at its two ends.

    Parameters
    ----------
    runs
        The layer `runs`.
    table
        The table of runs by flow with its odds.
    """
    rows = table.sort_values("flow")
    found: dict[str, Window] = {}
    for run, mine in rows.groupby("run"):
        columns = (mine[name].to_numpy(dtype=np.float64) for name in ("flow", "odds", "odds_hour"))
        found[str(run)] = window_of(*columns)
    every = [found.get(str(run), Window()) for run in runs["run"]]
    water = rows.set_index([rows["run"].astype(str), rows["flow"]])[["kind", "depth_m"]]
    water = water[~water.index.duplicated()]
    ends = {
        f"window_{end}_{to}": water[name]
        .reindex(
            pd.MultiIndex.from_arrays([runs["run"].astype(str), [getattr(w, end) for w in every]])
        )
        .to_numpy()
        for end in ("low", "high")
        for name, to in (("kind", "kind"), ("depth_m", "depth_m"))
    }
    return runs.assign(
        **ends,
        window_low_m3_s=[one.low for one in every],
        window_high_m3_s=[one.high for one in every],
        window_best_m3_s=[one.best for one in every],
        window_wide=[one.wide for one in every],
        window_open_low=[one.open_low for one in every],
        window_open_high=[one.open_high for one in every],
    )
