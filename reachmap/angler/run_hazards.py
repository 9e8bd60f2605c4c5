"""Drawn hazards and a little more water on the `runs` layer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np

from reachmap.angler.near_runs import NEAR, by_weight, looked_everywhere, near_of
from reachmap.angler.pace import PIECE, STAND, bank_fished
from reachmap.base.grouped import Grouped, known
from reachmap.base.schema import as_promised
from reachmap.water.by_run import named_by_run, water_by_run


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
    tables = _Tables(
        water_by_run(water, PIECE),
        named_by_run(stations, water, (*STAND, "hand_shuts", "hand_flow_m3_s", "looked_m")),
        named_by_run(near, water, NEAR),
    )
    hand_m = float(stations["hand_m"].max()) if len(stations) else float("nan")
    found = [_columns(row, tables) | {"hand_m": hand_m} for row in runs.itertuples(index=False)]
    columns = {name: [one[name] for one in found] for name in (found[0] if found else {})}
    return as_promised("runs", runs.assign(**columns))


@dataclass(frozen=True, slots=True)
class _Tables:
    """Water, places to stand and hazards near, by run and flow label."""

    water: Grouped
    stations: Grouped
    near: Grouped


def _columns(run: Any, tables: _Tables) -> dict[str, Any]:
    """Return the columns of one run but for `hand_m`."""
    met: list[dict[str, Any]] = []
    looked: list[float] = []
    best = ""
    for label in sorted(label for name, label in tables.water.places if name == run.run):
        pieces, stands = tables.water.of(run.run, label), tables.stations.of(run.run, label)
        met += near_of(tables.near.of(run.run, label))
        fine = looked_everywhere(pieces, stands)
        looked.append(float(stands["looked_m"].min()) if fine else float("nan"))
        if np.isclose(pieces["flow"][0], run.best_flow_m3_s):
            best = label
    stands = bank_fished(tables.stations.of(run.run, best))
    here = near_of(tables.near.of(run.run, best))
    more = known(stands["hand_flow_m3_s"])
    return _first(met) | {
        "looked_m": float(np.min(looked)) if looked else float("nan"),
        "hand_shuts": bool(not len(stands) or stands["hand_shuts"].any()),
        "hand_flow_m3_s": float(more.min()) if len(more) else float("nan"),
        "places": len(stands),
        "left_out": sum(row["left_out"] for row in here),
    }


def _first(met: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Return the columns of the hazard that matters most; empty ones where there is none."""
    names = ("hazard_kind", "hazard_way", "hazard_toward")
    if not met:
        none = {"hazard_note": "", "hazard_distance_m": float("nan")}
        return dict.fromkeys(names) | none
    first = by_weight(met)[0]
    return {name: first[name] for name in (*names, "hazard_note", "hazard_distance_m")}
