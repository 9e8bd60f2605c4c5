"""Measure what notes at the suggested places are worth, against other places; docs/ground.md.

    python -m scripts.measure_asks [--starts 12] [--first 1] [--drawn | --shapes]

Starts: made rivers with low benches (`scripts/fit_cases.py`), uneven in bed and roughness, at flows
off the gauge, each with a DEM, edges at two flows and five soundings; their classes are rougher or
smoother as in `TRUE`, or `--drawn` from the doubt the product has of them. From each, ten notes
more are taken at places chosen by a rule, with a sounding's and a stick's errors, the ground is
made and fitted anew, and the overlap of soft water with the true is the mean over the middle and
the high flow. Rules: the suggestions as they are; soundings alone; the earlier rule, whose cells
weigh by the sum of their chances and whose spread holds the flow model's error; at random; none.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import geopandas as gpd
import numpy as np
import xarray as xr
from shapely import Point

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import BoolArray  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import SpeedHow, UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import build_ground  # noqa: E402
from reachmap.ground.fit import fit  # noqa: E402
from reachmap.ground.scaling import form_of, scaled  # noqa: E402
from reachmap.ground.suggest import suggest  # noqa: E402
from reachmap.markup.model import Markup, Sounding, Speed  # noqa: E402
from reachmap.pipeline.ensemble import class_sds, weigh  # noqa: E402
from reachmap.pipeline.fitted import StoredFit  # noqa: E402
from reachmap.pipeline.terrain import cover_factors  # noqa: E402
from reachmap.uncertainty.survey import STAFF_M, survey_layer  # noqa: E402
from scripts import ground_cases  # noqa: E402
from scripts.fit_cases import LOW, SETTINGS, STICK_SHARE, TRUE, River, as_doubted, noted  # noqa: E402
from scripts.ground_cases import SOUNDING_ERROR_M  # noqa: E402
from scripts.measure_spread import settings_of, soft, speed_of  # noqa: E402
from tests import reaches  # noqa: E402

QUICK = FlowSettings()
RUN = partial(solve, settings=QUICK)
COUNT, FIRST = 10, 5
RULES = ("none", "random", "earlier rule", "soundings alone", "suggested")


def fitted_map(river: River, markup: Markup) -> tuple[xr.Dataset, xr.Dataset, StoredFit]:
    """Return ground and water mapped from notes, fitted to them, and the fit."""
    ground = build_ground(markup, river.case.dem, SETTINGS)
    found = fit(ground, markup, RUN, SETTINGS)
    better = scaled(ground, found.roughness, found.depth, SETTINGS, cover_factors(found))
    water = with_labels(solve(better, list(river.case.flows), QUICK), UnitSystem.METRIC)
    return better, water, StoredFit(found, "")


def overlap(river: River, water: xr.Dataset) -> float:
    """Return the mean overlap of soft water with the true at the middle and the high flow."""
    shares = []
    for number in (1, 2):
        both = [
            soft(one["depth"].to_numpy(), speed_of(one))
            for one in (water.isel(flow=number), river.water.isel(flow=number))
        ]
        shares.append(float((both[0] & both[1]).sum() / max((both[0] | both[1]).sum(), 1)))
    return float(np.mean(shares))


def taken(
    river: River, places: list[tuple[str, float, float, float]], rng: np.random.Generator
) -> tuple[list[Sounding], list[Speed]]:
    """Return the notes taken at places (kind, x, y, flow) of the true river."""
    depths, speeds = [], []
    x, y = river.truth["x"].to_numpy(), river.truth["y"].to_numpy()
    for number, (kind, east, north, flow) in enumerate(places):
        row, col = int(np.argmin(np.abs(y - north))), int(np.argmin(np.abs(x - east)))
        at = river.case.flows.index(flow) if kind == "stick" else 0
        here = river.water.isel(flow=at, y=row, x=col)
        deep = float(here["depth"])
        if not np.isfinite(deep):
            continue
        if kind == "stick":
            mean = float(np.hypot(here["east_speed"], here["north_speed"]))
            mean *= float(np.exp(rng.normal(0, STICK_SHARE)))
            surface = mean / SETTINGS.fitting.surface_factor
            speeds.append(Speed(Point(east, north), surface, flow, SpeedHow.SURFACE))
        else:
            deep = max(deep + rng.normal(0, SOUNDING_ERROR_M), 0.05)
            depths.append(Sounding(f"N{number}", Point(east, north), deep, LOW, np.nan))
    return depths, speeds


def earlier(
    ground: xr.Dataset, doubt: xr.Dataset, reachable: BoolArray, sounded: np.ndarray
) -> list[tuple[str, float, float, float]]:
    """Return the places of the earlier rule."""
    chance = np.nan_to_num(doubt["suits_chance"].to_numpy()).sum(axis=0)
    spread = np.nan_to_num(np.sqrt(np.nanmean(_held(doubt) ** 2, axis=0)))
    asks = suggest(ground, spread, chance, SETTINGS, COUNT, reachable=reachable, sounded=sounded)
    return [("sounding", one.x, one.y, np.nan) for one in asks]


def _held(doubt: xr.Dataset) -> np.ndarray:
    """Return the spread of depth, 0 where no flow wets a cell."""
    spread = doubt["depth_spread"].to_numpy()
    return np.where(np.isfinite(spread).any(axis=0), spread, 0.0)


def one_start(seed: int, *, drawn: bool) -> dict[str, float]:
    """Return the overlap that each rule reaches from one start."""
    river = noted(seed, 0, factors=as_doubted(seed) if drawn else TRUE)
    kept_depths = river.notes.soundings[:: max(len(river.notes.soundings) // FIRST, 1)][:FIRST]
    start = replace(river.notes, soundings=kept_depths)
    ground, water, kept = fitted_map(river, start)
    settings = settings_of(start)
    doubt = weigh(start, ground, water, replace(settings, flow=QUICK, ground=SETTINGS), kept)
    low = water["depth"].isel(flow=0).to_numpy()
    with np.errstate(invalid="ignore"):
        reachable = form_of(ground, SETTINGS)[0] & (low > 0) & (low <= STAFF_M)
    rough = class_sds(kept, SETTINGS)
    cells = [_cell(ground, one.place) for one in kept_depths]
    rng = np.random.default_rng(100 + seed)
    bare = dict.fromkeys(rough, 0.0)
    places = {
        "none": [],
        "random": _random(ground, reachable, COUNT, rng),
        "earlier rule": earlier(ground, doubt, reachable, np.array(cells)),
        "soundings alone": rows_of(survey_layer(ground, water, doubt, start, SETTINGS, bare)),
        "suggested": rows_of(survey_layer(ground, water, doubt, start, SETTINGS, rough)),
    }
    found = {}
    for rule, some in places.items():
        depths, speeds = taken(river, some, np.random.default_rng(seed))
        more = replace(
            start, soundings=(*start.soundings, *depths), speeds=(*start.speeds, *speeds)
        )
        found[rule] = overlap(river, fitted_map(river, more)[1] if some else water)
    kinds = [kind for kind, *_ in places["suggested"]]
    cells_words = " | ".join(f"{found[rule]:.3f}" for rule in RULES)
    print(f"| {seed} | {cells_words} | {kinds.count('stick')} |", flush=True)
    return found


def shapes() -> Iterator[tuple[str, River]]:
    """Yield rivers of other families of shapes, even, at the flows read, with their truth."""
    for name in ("winding", "islands", "ledges"):
        flows = getattr(reaches, f"{name.upper()}_FLOWS")
        case = ground_cases.reach_case(name, getattr(reaches, f"{name}_ground")(2.0), flows, QUICK)
        truth = ground_cases.true_ground(
            case, build_ground(case.markup, case.dem, ground_cases.SETTINGS)
        )
        water = with_labels(solve(truth, list(flows), QUICK), UnitSystem.METRIC)
        yield name, River(case, truth, water, case.markup, {})


def soundings_alone(first: int, starts: int) -> list[dict[str, float]]:
    """Return overlaps from five soundings at random, and with ten more by each rule; no fit."""
    found = []
    for name, river in shapes():
        low = river.water["depth"].isel(flow=0).to_numpy()
        for seed in range(first, first + starts):
            rng = np.random.default_rng(seed)
            known = _random(river.truth, low > 0.2, FIRST, rng)
            depths, _ = taken(river, known, rng)
            start = replace(river.notes, soundings=tuple(depths))
            ground, water = _mapped(river, start)
            settings = replace(settings_of(start), flow=QUICK)
            doubt = weigh(start, ground, water, settings, None)
            own = water["depth"].isel(flow=0).to_numpy()
            with np.errstate(invalid="ignore"):
                reachable = form_of(ground, ground_cases.SETTINGS)[0] & (own > 0) & (own <= STAFF_M)
            bare = dict.fromkeys(class_sds(None, SETTINGS), 0.0)
            cells = np.array([_cell(ground, one.place) for one in depths], dtype=np.int64)
            places = {
                "random": _random(ground, reachable, COUNT, rng),
                "earlier rule": earlier(ground, doubt, reachable, cells),
                "soundings alone": rows_of(
                    survey_layer(ground, water, doubt, start, ground_cases.SETTINGS, bare)
                ),
            }
            got = {"none": overlap(river, water)}
            for rule, some in places.items():
                more, _ = taken(river, some, np.random.default_rng(seed))
                noted_now = replace(start, soundings=(*start.soundings, *more))
                got[rule] = overlap(river, _mapped(river, noted_now)[1])
            print(f"| {name} {seed} | " + " | ".join(f"{one:.3f}" for one in got.values()) + " |")
            sys.stdout.flush()
            found.append(got)
    return found


def _mapped(river: River, markup: Markup) -> tuple[xr.Dataset, xr.Dataset]:
    """Return ground and water mapped from notes without a fit."""
    ground = build_ground(markup, river.case.dem, ground_cases.SETTINGS)
    return ground, with_labels(solve(ground, list(river.case.flows), QUICK), UnitSystem.METRIC)


def _random(
    ground: xr.Dataset, where: BoolArray, count: int, rng: np.random.Generator
) -> list[tuple[str, float, float, float]]:
    """Return places of soundings at random."""
    row, col = np.nonzero(where)
    pick = rng.choice(row.size, count, replace=False)
    x, y = ground["x"].to_numpy()[col[pick]], ground["y"].to_numpy()[row[pick]]
    return [("sounding", float(e), float(n), np.nan) for e, n in zip(x, y, strict=True)]


def _cell(ground: xr.Dataset, place: Point) -> int:
    """Return the flat number of the cell of a place."""
    row = int(np.argmin(np.abs(ground["y"].to_numpy() - place.y)))
    return row * ground.sizes["x"] + int(np.argmin(np.abs(ground["x"].to_numpy() - place.x)))


def rows_of(layer: gpd.GeoDataFrame) -> list[tuple[str, float, float, float]]:
    """Return the places of the layer of suggestions."""
    return [
        (str(one.kind), one.geometry.x, one.geometry.y, float(one.flow_m3_s))
        for one in layer.itertuples()
        if one.kind != "edge"
    ]


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--starts", type=int, default=12)
    words.add_argument("--first", type=int, default=1)
    words.add_argument("--drawn", action="store_true", help="true factors drawn from their doubt")
    words.add_argument("--shapes", action="store_true", help="soundings alone, other rivers")
    asked = words.parse_args()
    if asked.shapes:
        told(soundings_alone(asked.first, asked.starts), RULES[1:4])
        return
    print("| start | " + " | ".join(RULES) + " | sticks |")
    many = [one_start(asked.first + number, drawn=asked.drawn) for number in range(asked.starts)]
    told(many, RULES[1:])


def told(many: Sequence[Mapping[str, float]], rules: Sequence[str]) -> None:
    """Print the mean gain of each rule over none, its standard error, and how often it gained."""
    base = np.array([one["none"] for one in many])
    for rule in rules:
        gain = np.array([one[rule] for one in many]) - base
        error = gain.std(ddof=1) / np.sqrt(gain.size) if gain.size > 1 else np.nan
        print(f"{rule}: {gain.mean():+.3f} +- {error:.3f}, better in {(gain > 0).sum()}")


if __name__ == "__main__":
    main()
