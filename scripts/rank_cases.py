"""Made rivers read twice, from what an angler gives and as they are: the odds of the same runs."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap import water  # noqa: E402
from reachmap.angler import AnglerSettings  # noqa: E402
from reachmap.angler.assess import assess_flow  # noqa: E402
from reachmap.angler.interception.density import Presence  # noqa: E402
from reachmap.angler.interception.join import (  # noqa: E402
    FlowPlaces,
    Meeting,
    fishable_places,
    minutes_of,
)
from reachmap.angler.interception.runs import Places, RunOdds, odds_of_runs  # noqa: E402
from reachmap.base.arrays import FloatArray  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import Side, UnitSystem  # noqa: E402
from reachmap.flow import solve  # noqa: E402
from reachmap.ground import Dem, build_ground, grid_of  # noqa: E402
from reachmap.markup.model import DemNote, Markup  # noqa: E402
from reachmap.pipeline.ensemble import weigh  # noqa: E402
from reachmap.pipeline.settings import settings_for  # noqa: E402
from reachmap.pipeline.stamp import Options  # noqa: E402
from reachmap.uncertainty import with_confidence  # noqa: E402
from reachmap.water import WaterSettings, read_water  # noqa: E402
from scripts.ground_cases import (  # noqa: E402
    SETTINGS,
    Case,
    bends_case,
    drawn_at,
    sample_case,
    variants,
)
from scripts.score_and_length import standard_plan  # noqa: E402
from scripts.score_rivers import ScoreRiver, rivers  # noqa: E402
from scripts.spread_cases import FlowSettings, real_like, true_water  # noqa: E402

EVIDENCE = ("edges only", "DEM + 25 soundings")
HOW = AnglerSettings(season=standard_plan().season.season)
MEET = HOW.interception
READINGS = len(MEET.members)
SAME_M = 20.0
"""A true place within this of one that the map has is of the same run [m]: edges of flat bars lie
off by so much (our choice)."""
RULES = {
    "limits.speed_low_m_s": (0.15, 0.4),
    "limits.speed_high_m_s": (0.7, 1.1),
    "limits.depth_low_m": (0.3, 0.8),
    "limits.depth_high_m": (1.5, 2.5),
    "bends.radius_high_widths": (6.0, 12.0),
    "tailouts.length_high_widths": (1.0, 3.0),
    "lanes.cover_depth_m": (0.5, 1.5),
    "suits.line": (0.35, 0.6),
}
"""Numbers of the water that move the order most (docs/sensitivity.md), with their ranges."""
DRAWS = 1
"""Truths in which those numbers are drawn from their ranges, besides that with them as shipped."""
FLOWS = (1,)
"""Which of the three flows of a river are read: its middle one."""


@dataclass(frozen=True, slots=True)
class Read:
    """What is read at one flow: places to stand, and how fish and casts lie to each other."""

    stations: gpd.GeoDataFrame
    meet: Meeting


def cases() -> Mapping[str, tuple[str, Case]]:
    """Yield kind and case of every river, by name; creeks are left out: cells of 2 m."""
    made = {"sample": ("bends", sample_case)}
    made["steady bends"] = ("bends", lambda: bends_case("steady bends", 20.0, FlowSettings()))
    for river in rivers():
        if river.kind != "creek":
            made[river.name] = (river.kind, lambda one=river: _case(one))
    return made


def _case(river: ScoreRiver) -> Case:
    """Return a river of `scripts.score_rivers` as a case; `real_like` makes what is seen of it."""
    truth = river.ground()
    low = 0.75 * river.flows[0]
    seen = solve(truth, [low, river.flows[0]], FlowSettings())
    markup = drawn_at(truth, river.flows, FlowSettings(), water=seen.isel(flow=[1]))
    grid = grid_of(markup, SETTINGS.cell, SETTINGS.margin_m)
    laid = truth[["bed", "roughness"]].assign(level=(("y", "x"), seen["level"].to_numpy()[0]))
    here = laid.interp(x=grid.x, y=grid.y, method="nearest")
    bed, rough, level = (here[name].to_numpy() for name in ("bed", "roughness", "level"))
    dem = Dem(np.where(np.isfinite(level), level, bed).astype(np.float32), low, "made datum")
    markup = replace(markup, plan=replace(markup.plan, dem=DemNote(low, "m", "")))
    return Case(river.name, markup, dem, bed, rough, river.flows, float(truth.attrs["slope"]))


def as_fished(markup: Markup) -> Markup:
    """Return a drawing of whoever owns the sample's kit, in winter, on foot from any bank."""
    plan = standard_plan()
    outing = replace(plan.outing, boat=False, bank=None)
    return replace(
        markup, plan=replace(markup.plan, kit=plan.kit, season=plan.season, outing=outing)
    )


def shipped() -> WaterSettings:
    """Return the rules of the water as they are."""
    return WaterSettings(limits=standard_plan().season)


def drawn(rng: np.random.Generator) -> WaterSettings:
    """Return the rules of the water with those numbers of `RULES` drawn from their ranges."""
    told = shipped()
    for name, span in RULES.items():
        part, number = name.split(".")
        inner = replace(getattr(told, part), **{number: float(rng.uniform(*span))})
        told = replace(told, **{part: inner})
    return told


def rows(
    case: Case, kind: str, seed: int, wanted: tuple[str, ...], by: FlowSettings
) -> Iterator[pd.DataFrame]:
    """Yield for each evidence and flow a row for each run that the map shows as fishable.

    Columns `map_0` to `map_6` hold its odds an hour by each reading of the fish [1/h], `true_k_m`
    those of the same water in truth by rules k (0 as shipped) and reading m; 0 where nobody could
    truly stand.
    """
    one, truth, ran = real_like(case, seed, by)
    one = replace(one, markup=as_fished(one.markup))
    true = true_water(truth, (ran[0], *(ran[number] for number in FLOWS)), by)
    rng = np.random.default_rng(1000 + seed)
    rules = [shipped(), *(drawn(rng) for _ in range(DRAWS))]
    real = [
        [_read(truth, true, 1 + at, one.markup, rule, None, None) for at in range(len(FLOWS))]
        for rule in rules
    ]
    for given, markup, use_dem in variants(one, truth, true):
        if given not in wanted:
            continue
        ground = build_ground(markup, one.dem if use_dem else None, SETTINGS)
        day = 0.75 * one.flows[0]
        solved = solve(ground, [day, *(one.flows[number] for number in FLOWS)], by)
        made = with_labels(solved.isel(flow=slice(1, None)), UnitSystem.METRIC)
        then = solved.isel(flow=[0]) if use_dem else None
        told = replace(settings_for(markup, Options()), ground=SETTINGS, flow=by, water=shipped())
        doubt = weigh(markup, ground, made, told, None)
        labels = [str(label) for label in made["asked"].to_numpy()]
        mine = [
            _read(ground, made, place, markup, shipped(), doubt, then)
            for place in range(len(FLOWS))
        ]
        named = _named(mine, ground)
        for place, label in enumerate(labels):
            here = {"river": case.name, "kind": kind, "seed": seed, "given": given}
            here["flow"] = FLOWS[place]
            stations, meet = mine[place][1].stations, mine[place][1].meet
            here_places = FlowPlaces.of(stations, named, label, meet, HOW)
            scored = here_places.scored(one.markup.plan.outing)
            found = [
                {**here, "run": name, "places": len(odds.places), "hours": odds.hours}
                | {f"map_{m}": float(odds.rate[m]) for m in range(READINGS)}
                | {
                    f"true_{k}_{m}": float(rate)
                    for k, reading in enumerate(real)
                    for m, rate in enumerate(_true_rates(odds, stations, reading[place][1]))
                }
                for name, odds in scored.runs.items()
            ]
            if found:
                yield pd.DataFrame(found)


def _read(
    ground: xr.Dataset,
    flowing: xr.Dataset,
    number: int,
    markup: Markup,
    rules: WaterSettings,
    doubt: xr.Dataset | None,
    then: xr.Dataset | None,
) -> tuple[gpd.GeoDataFrame, Read]:
    """Return the water of one flow, and what this person can do there."""
    one = flowing.isel(flow=[number])
    spread = None if doubt is None else doubt.isel(flow=[number])
    reading = read_water(ground, one, rules, uncertainty=spread)
    pieces = reading.layers["water"]
    assessed = assess_flow(ground, one, pieces, as_fished(markup), HOW, terrain_day=then)
    if spread is not None:
        width = float(np.nanmedian(ground["line_width"]))
        told = settings_for(markup, Options()).uncertainty
        pieces = with_confidence(pieces, one, spread, width, told)
    label = str(flowing["asked"].to_numpy()[number])
    stations = assessed.layers["stations"].assign(flow_label=label)
    meet = (Presence.of_dataset(reading.presence), assessed.swept)
    return pieces.assign(flow_label=label), Read(stations, meet)


def _named(mine: list[tuple[gpd.GeoDataFrame, Read]], ground: xr.Dataset) -> gpd.GeoDataFrame:
    """Return the water of all flows with the names of its runs."""
    some = [pieces for pieces, _ in mine if len(pieces)]
    if not some:
        return mine[0][0].assign(run="")
    whole = pd.concat(some, ignore_index=True)
    layer = gpd.GeoDataFrame(whole, geometry="geometry", crs=mine[0][0].crs)
    return water.follow_runs(layer, ground, (), shipped())[0]


def _true_rates(odds: RunOdds, stations: gpd.GeoDataFrame, true: Read) -> FloatArray:
    """Return the true odds an hour of a map's run by each reading, shape (readings,)."""
    mine = stations.iloc[odds.places]
    theirs = true.stations
    able = fishable_places(theirs, replace(standard_plan().outing, boat=False, bank=None))
    able &= (theirs["water"].astype(str) != "").to_numpy()
    along = theirs["station_m"].to_numpy(dtype=np.float64)
    half = 0.5 * MEET.bin_m
    with np.errstate(invalid="ignore"):
        able &= (along >= mine["station_m"].min() - half) & (
            along <= mine["station_m"].max() + half
        )
    side, own = theirs["side"].astype(str).to_numpy(), set(mine["side"].astype(str))
    able &= np.isin(side, [*own, Side.ISLAND.value]) | (Side.ISLAND.value in own)
    able &= (theirs.geometry.distance(mine.geometry.union_all()) <= SAME_M).to_numpy()
    index = np.flatnonzero(able).astype(np.int32)
    if not index.size:
        return np.zeros(READINGS)
    minutes = minutes_of(theirs, HOW)
    places = Places(index, np.zeros(index.size, dtype=np.int32), along[index], minutes[index])
    presence, swept = true.meet
    return odds_of_runs({"it": places}, swept, presence, MEET)["it"].rate
