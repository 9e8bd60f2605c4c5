"""Drawn hazards and a little more water on the `runs` layer."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from reachmap.angler.near_runs import looked_everywhere, near_of
from reachmap.angler.pace import fished_bank
from reachmap.base.schema import as_promised
from reachmap.base.words import HazardWay


def runs_with_hazards(
    runs: gpd.GeoDataFrame,
    water: gpd.GeoDataFrame,
    stations: gpd.GeoDataFrame,
    near: gpd.GeoDataFrame,
) -> gpd.GeoDataFrame:
    """Return the `runs` layer with its columns on hazards and more water filled in.

    Parameters
    ----------
    runs
        The `runs` layer.
    water, stations, near
        The layers `water`, `stations` and `hazards_near` over all flows; ways back filled in.

    Notes
    -----
    The hazard is the one that matters most at any mapped flow; places left out and what more water
    shuts are those at the run's best flow. A run without places counts as shut.
    """
    found = [_columns(row, water, stations, near) for row in runs.itertuples(index=False)]
    columns = {name: [one[name] for one in found] for name in (found[0] if found else {})}
    return as_promised("runs", runs.assign(**columns))


def _columns(
    run: Any, water: gpd.GeoDataFrame, stations: gpd.GeoDataFrame, near: gpd.GeoDataFrame
) -> dict[str, Any]:
    """Return the columns of one run."""
    mine = water[water["run"] == run.run]
    tables: list[pd.DataFrame] = []
    looked = []
    for label, pieces in mine.groupby("flow_label"):
        stands = _at(stations, str(label), pieces)
        tables.append(near_of(near[near["flow_label"] == label], pieces["code"]))
        fine = looked_everywhere(pieces, stands)
        looked.append(float(stands["looked_m"].min()) if fine else float("nan"))
    every = pd.concat([table for table in tables if len(table)]) if any(map(len, tables)) else None
    best = mine[np.isclose(mine["flow"], run.best_flow_m3_s)]
    label = str(best["flow_label"].iloc[0]) if len(best) else ""
    stands = fished_bank(_at(stations, label, best))
    here = near_of(near[near["flow_label"] == label], best["code"])
    return _first(every) | {
        "looked_m": float(np.min(looked)) if looked else float("nan"),
        "hand_m": float(stations["hand_m"].max()) if len(stations) else float("nan"),
        "hand_shuts": bool(not len(stands) or stands["hand_shuts"].any()),
        "hand_flow_m3_s": float(stands["hand_flow_m3_s"].min()),
        "places": len(stands),
        "left_out": int(here["left_out"].sum()) if len(here) else 0,
    }


def _at(stations: gpd.GeoDataFrame, label: str, pieces: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the places of pieces of water at a flow."""
    here = (stations["flow_label"] == label) & stations["water"].isin(pieces["code"])
    return stations[here]


def _first(table: pd.DataFrame | None) -> dict[str, Any]:
    """Return the columns of the hazard that matters most; empty ones where there is none."""
    names = ("hazard_kind", "hazard_way", "hazard_toward")
    if table is None:
        none = {"hazard_note": "", "hazard_distance_m": float("nan")}
        return dict.fromkeys(names) | none
    order = table.assign(far=table["hazard_way"] == HazardWay.STRAIGHT)
    first = order.sort_values(["far", "hazard_distance_m"], kind="stable").iloc[0]
    return {name: first[name] for name in (*names, "hazard_note", "hazard_distance_m")}
