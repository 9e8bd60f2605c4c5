"""Facts of a built reach for a guide's day, from its layers and the rasters of its flows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from reachmap.angler import AnglerSettings
from reachmap.angler.pace import fished_places
from reachmap.angler.wading import limit_for
from reachmap.base.arrays import BoolArray
from reachmap.base.crs import outside
from reachmap.base.grid import Grid
from reachmap.base.grouped import Grouped
from reachmap.base.patches import joined_to, nearest_cells
from reachmap.base.words import WadeGrade, Wet
from reachmap.markup.model import Access, Markup
from reachmap.planner.guide.facts import (
    ON_FOOT,
    DrawnAccess,
    FlowWater,
    Grading,
    GuideFacts,
    RunWater,
    Stand,
)
from reachmap.planner.guide.thalweg import float_line
from reachmap.planner.offer import best_odds_of, best_stretch, number_in, offered
from reachmap.water.by_run import named_by_run

STAND = (
    "side", "station_m", "depth_m", "speed_m_s", "access", "cast", "cast_m", "head_max_m", "odds",
    "open_until_m3_s", "cut_off_m3_s", "hand_shuts", "rod", "head", "tip", "hazard_distance_m",
    "lon", "lat", "zone_depth_m", "zone_speed_m_s", "dry_way",
)  # fmt: skip
"""Columns that a place to stand is made from; the last five are added by `_with_ways`."""

ACCESS_NEAR_M = 40.0
"""Largest distance from a drawn access to dry ground that it leads to [m]; our choice, 20-80."""

ZONE_NEAR_M = 3.0
"""Largest distance from a place in the water to its zone of graded water [m]; our choice, a cell
or two."""


@dataclass(frozen=True, slots=True)
class Read:
    """A reach at every flow that was read: labels and flows [m3/s], rising, and their rasters.

    `ground` is the ground stage's Dataset, `flows` the flow stage's (flow, y, x).
    """

    labels: tuple[str, ...]
    flows: tuple[float, ...]
    ground: xr.Dataset
    rasters: xr.Dataset


def guide_facts(
    reach: Markup,
    read: Read,
    layers: Mapping[str, gpd.GeoDataFrame],
    rows: Sequence[Mapping[str, Any]],
    *,
    angler: AnglerSettings,
    step_m: float,
) -> GuideFacts:
    """Return the facts of a built reach.

    Parameters
    ----------
    reach
        The drawing.
    read
        Its flows.
    layers
        Over the same flows: `stations`, `water`, `wading`.
    rows
        The report's table of runs by flow.
    angler
        Settings of the build, for limits and rules.
    step_m
        Step along the river at which the thalweg's speed is read [m].
    """
    stations = _with_ways(layers, read, reach.access)
    stands = named_by_run(stations, layers["water"], STAND)
    found = []
    for index, (label, flow) in enumerate(zip(read.labels, read.flows, strict=True)):
        mine = [row for row in rows if str(row["flow_label"]) == label]
        best = best_odds_of(mine)
        runs = sorted((_run_water(row, stands, best) for row in mine), key=lambda one: one.middle_m)
        line = float_line(read.ground, read.rasters.isel(flow=index), step_m)
        found.append(FlowWater(float(flow), label, tuple(runs), *line))
    between = angler.pace.between_min
    return GuideFacts(tuple(found), _accesses(reach), grading_of(reach, angler), between)


def grading_of(reach: Markup, angler: AnglerSettings) -> Grading:
    """Return the person, limits and rules that a build was graded for."""
    kit, wading = reach.plan.kit, angler.wading
    who = kit.angler
    return Grading(
        limit=limit_for(who, wading),
        rules=wading.rules,
        own=wading.own,
        depth_share_high=wading.depth_share_high,
        height_m=who.height_m,
        wade_limit_m=who.wade_limit_m,
        cast_limit_m=who.cast_limit_m,
        mass_kg=wading.mass_kg,
        heads=tuple((head.name, head.length_m) for head in kit.heads),
        rods=tuple(rod.name for rod in kit.rods),
        tips=tuple(tip.name for tip in kit.tips),
    )


def _accesses(reach: Markup) -> tuple[DrawnAccess, ...]:
    """Return the accesses downstream."""
    if not reach.access:
        return ()
    places = outside(gpd.GeoDataFrame(geometry=[one.place for one in reach.access], crs=reach.crs))
    found = [
        DrawnAccess(
            str(one.kind), one.note, float(reach.main.line.project(one.place)),
            round(float(there.x), 7), round(float(there.y), 7),
        )
        for one, there in zip(reach.access, places.geometry, strict=True)
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: one.station_m))


def _run_water(row: Mapping[str, Any], stands: Grouped, best: float) -> RunWater:
    """Return a run at a flow, from its row of the table of runs."""
    mine = fished_places(stands.of(str(row["run"]), str(row["flow_label"])))
    score = number_in(row["score"])
    minutes, _ = best_stretch(row, number_in(row["minutes"]))
    start, end = (number_in(row.get(f"prime_{name}_m")) for name in ("start", "end"))
    if len(mine):
        at = mine["station_m"]
        if not (math.isfinite(start) and math.isfinite(end)):
            start, end = float(at.min()), float(at.max())
        within = (at >= start - ZONE_NEAR_M) & (at <= end + ZONE_NEAR_M)
        mine = mine[within] if within.any() else mine
    kept = sorted((_stand(one) for one in mine), key=lambda one: one.station_m)
    return RunWater(
        name=str(row["run"]),
        kind=str(row["kind"] or ""),
        bank=kept[0].side if kept else "",
        start_m=start,
        end_m=end,
        minutes=minutes,
        rate=offered(row, score, best)[0],
        shut=str(row.get("shut") or ""),
        mind=str(row.get("mind") or ""),
        in_shape=bool(row["in_shape"]),
        stands=tuple(kept),
    )


def _stand(row: np.void) -> Stand:
    """Return a place to stand."""
    cut = float(row["cut_off_m3_s"])
    until = float(row["open_until_m3_s"]) if math.isfinite(cut) else math.inf
    return Stand(
        lon=round(float(row["lon"]), 7),
        lat=round(float(row["lat"]), 7),
        side=str(row["side"]),
        station_m=round(float(row["station_m"]), 1),
        depth_m=float(row["depth_m"]),
        speed_m_s=float(row["speed_m_s"]),
        zone_depth_m=float(row["zone_depth_m"]),
        zone_speed_m_s=float(row["zone_speed_m_s"]),
        way=_word(row["access"]),
        dry_way=bool(row["dry_way"]),
        castable=bool(_word(row["cast"])),
        cast_m=float(row["cast_m"]),
        head_max_m=float(row["head_max_m"]),
        odds=float(row["odds"]),
        open_until=until,
        hand_shuts=bool(row["hand_shuts"]),
        cast=_word(row["cast"]),
        rod=_word(row["rod"]),
        head=_word(row["head"]),
        tip=_word(row["tip"]),
        hazard_m=float(row["hazard_distance_m"]),
    )


def _word(value: Any) -> str:
    """Return a word of a layer; empty where it is missing."""
    return str(value) if isinstance(value, str) else ""


def _with_ways(
    layers: Mapping[str, gpd.GeoDataFrame], read: Read, access: Sequence[Access]
) -> gpd.GeoDataFrame:
    """Return the stations with place, depth and speed of their zone, and the dry way to them."""
    stations = layers["stations"].reset_index(drop=True)
    there = outside(gpd.GeoDataFrame(geometry=stations.geometry, crs=stations.crs)).geometry
    filled = stations.assign(lon=there.x, lat=there.y)
    count = len(stations)
    depth, speed = np.full(count, np.nan), np.full(count, np.nan)
    dry_way = np.zeros(count, dtype=bool)
    grid = Grid.of(read.ground)
    known = np.isfinite(read.ground["bed"].to_numpy())
    for index, label in enumerate(read.labels):
        mine = np.flatnonzero((stations["flow_label"] == label).to_numpy())
        if not mine.size:
            continue
        zones = _zones_of(stations.iloc[mine], layers["wading"], label)
        depth[mine], speed[mine] = zones["depth_m"], zones["speed_m_s"]
        dry = (read.rasters["wet"].isel(flow=index).to_numpy() == Wet.NO) & known
        ground = reached_dry(grid, dry, access)
        row, col, inside = grid.index(
            stations.geometry.x.to_numpy()[mine], stations.geometry.y.to_numpy()[mine]
        )
        far = np.full(mine.size, np.inf)
        far[inside] = grid.cell * nearest_cells(ground, row[inside], col[inside])[0]
        # dry ground itself, or water no farther out than its zone reaches from such ground
        out = np.nan_to_num(np.asarray(zones["out_m"], dtype=np.float64), nan=0.0)
        dry_way[mine] = far <= out + 1.5 * grid.cell
    return filled.assign(zone_depth_m=depth, zone_speed_m_s=speed, dry_way=dry_way)


def reached_dry(grid: Grid, dry: BoolArray, access: Sequence[Access]) -> BoolArray:
    """Return the mask (y, x) of known dry ground that dry ground connects to an access on foot."""
    starts = np.zeros(dry.shape, dtype=bool)
    walked = [one for one in access if one.kind in ON_FOOT]
    if walked and dry.any():
        x, y = np.array([[one.place.x, one.place.y] for one in walked]).T
        row, col, inside = grid.index(x, y)
        far, near_row, near_col = nearest_cells(dry, row[inside], col[inside])
        good = far * grid.cell <= ACCESS_NEAR_M
        starts[near_row[good], near_col[good]] = True
    return joined_to(starts, dry)


def _zones_of(stands: gpd.GeoDataFrame, wading: gpd.GeoDataFrame, label: str) -> pd.DataFrame:
    """Return depth, speed and distance from ground of each place's zone; NaN without a zone."""
    waded = wading[
        (wading["flow_label"] == label) & wading["grade"].isin((WadeGrade.EASY, WadeGrade.CAREFUL))
    ]
    joined = gpd.sjoin_nearest(
        stands[["geometry"]], waded[["geometry", "depth_m", "speed_m_s", "out_m"]],
        how="left", max_distance=ZONE_NEAR_M,
    )  # fmt: skip
    # of several zones at the same distance the worst of each value
    found = joined.groupby(level=0)[["depth_m", "speed_m_s", "out_m"]].max()
    return pd.DataFrame(found.loc[stands.index])
