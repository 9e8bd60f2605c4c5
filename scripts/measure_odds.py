"""What odds do where sharp limits stood: python -m scripts.measure_odds BUILT_FOLDER.

The sample, built into a folder with its ensemble, is read at four flows.

1. How far outlines move when the bed does: each flow is read as it was solved, and with smooth
   noise on its bed under the same water surface, where speed goes as depth^(2/3). Area of the
   pieces in one of the two alone over their mean area, share of the pieces found again (half of the
   union in common), and how far the cells move, which are 0 or 1 for sharp limits.
2. Cells claimed, against those that truly lie within the limits: the sample's true river, solved.
3. How much the product of two odds is off for taking depth and speed as independent: against the
   ensemble's own members, each judged by sharp limits with the flow model's error.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import xarray as xr
from scipy import ndimage

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

import reachmap  # noqa: E402
from reachmap import flow  # noqa: E402
from reachmap.base.arrays import BoolArray, FloatArray  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import UnitSystem  # noqa: E402
from reachmap.flow.notes import one_flow_of, repacked  # noqa: E402
from reachmap.markup.model import SeasonLimits  # noqa: E402
from reachmap.pipeline.order import begin_job  # noqa: E402
from reachmap.pipeline.solving import Solved, solve_reach  # noqa: E402
from reachmap.pipeline.stamp import Options  # noqa: E402
from reachmap.uncertainty.model_error import ModelError  # noqa: E402
from reachmap.water import WaterSettings, bends_of, read_water  # noqa: E402
from reachmap.water.clarity import clarity_at, limits_in  # noqa: E402
from reachmap.water.field import WaterField, field_of  # noqa: E402
from reachmap.water.settings import SuitSettings  # noqa: E402
from reachmap.water.soft_odds import soft_odds  # noqa: E402
from tests import truth  # noqa: E402

SAMPLE = ROOT / "data_samples" / "madeup_river"
FLOWS = ("900cfs", "1800cfs", "2400cfs", "4200cfs")
NOISE_M = 0.1
LENGTHS_M = (4.0, 10.0)
BANDS = (0.2, 0.35, 0.5, 0.65, 0.8, 0.95)
"""Bounds of odds between which the share that truly suits is told."""
SEEDS = (1, 2, 3)
HARD = {"thin_m": 0.0, "deep_m": 0.0, "slow_m_s": 0.0, "quick_m_s": 0.0}
SHARP = SuitSettings(**HARD, model=ModelError(0.0, 0.0, 0.0))


@dataclass(frozen=True, slots=True)
class OneFlow:
    """A flow with its doubt, and the season's limits in its clarity."""

    label: str
    flow: xr.Dataset
    doubt: xr.Dataset
    limits: SeasonLimits


def flows_of(solved: Solved, rules: WaterSettings) -> Iterator[OneFlow]:
    """Yield the flows to look at."""
    doubt = solved.ensemble.uncertainty
    if doubt is None:
        sys.exit("build the folder with its ensemble first")
    for label in FLOWS:
        one = repacked(one_flow_of(solved.rungs.flow, solved.rungs.labels.index(label)))
        limits = limits_in(rules, clarity_at(float(one["flow"][0]), rules))
        yield OneFlow(label, one, solved.nodes.uncertainty_at(doubt, one), limits)


def shaken(one: xr.Dataset, length_m: float, seed: int, cell: float) -> xr.Dataset:
    """Return a flow over a bed with smooth noise of `NOISE_M` (Gaussian, of a length [m])."""
    depth = one["depth"].to_numpy()[0]
    white = np.random.default_rng(seed).normal(size=depth.shape)
    noise = ndimage.gaussian_filter(white, length_m / cell)
    deeper = np.maximum(depth + NOISE_M / noise.std() * noise, 0.02)
    quicker = (deeper / depth) ** (2 / 3)
    made = one.copy()
    made["depth"] = one["depth"].dims, deeper[None], one["depth"].attrs
    for name in ("east_speed", "north_speed"):
        made[name] = one[name].dims, (one[name].to_numpy()[0] * quicker)[None], one[name].attrs
    return made


def as_field(ground: xr.Dataset, one: xr.Dataset, doubt: xr.Dataset | None) -> WaterField:
    """Return a flow as the rules see it; without a doubt nothing is in doubt at all."""
    rules = WaterSettings().channels
    return field_of(
        ground,
        one,
        island_low_m2=rules.island_low_m2,
        pool_low_m2=rules.pool_low_m2,
        uncertainty=doubt,
        model=SHARP.model,
    )


def moved(one: gpd.GeoDataFrame, other: gpd.GeoDataFrame) -> tuple[float, float]:
    """Return the area in one of two alone over their mean area, and the share found again."""
    whole = [each.geometry.union_all() for each in (one, other)]
    apart = 2 * whole[0].symmetric_difference(whole[1]).area / (whole[0].area + whole[1].area)
    again = []
    for shape in one.geometry:
        common = other.geometry.intersection(shape).area
        again.append(bool((common > 0.5 * (other.area + shape.area - common)).any()))
    return float(apart), float(np.mean(again))


def shifted(one: FloatArray, other: FloatArray) -> float:
    """Return the sum of differences over the mean sum, cell by cell."""
    one, other = np.nan_to_num(one), np.nan_to_num(other)
    return float(2 * np.abs(one - other).sum() / (one.sum() + other.sum()))


def steadiness(
    ground: xr.Dataset, one: OneFlow, rules: WaterSettings, length_m: float
) -> list[tuple[float, ...]]:
    """Return area [m2], how far outlines move, share found again, how far cells move: by rules."""
    bends, cell = bends_of(ground, rules.bends), float(ground.attrs["cell"])
    every = [one.flow, *(shaken(one.flow, length_m, seed, cell) for seed in SEEDS)]
    rows = []
    for suits, doubt in ((SHARP, None), (rules.suits, one.doubt)):
        how = replace(rules, suits=suits)
        water = [
            read_water(ground, each, how, bends=bends, uncertainty=doubt).layers["water"]
            for each in every
        ]
        odds = [soft_odds(as_field(ground, each, doubt), one.limits, suits) for each in every]
        found = np.mean([moved(water[0], each) for each in water[1:]], axis=0)
        cells = np.mean([shifted(odds[0], each) for each in odds[1:]])
        rows.append((float(water[0].area.sum()), *map(float, found), float(cells)))
    return rows


def true_cells(rules: WaterSettings, ones: Sequence[OneFlow]) -> dict[str, xr.DataArray]:
    """Return the cells that truly lie within the limits, by flow."""
    ground = truth.true_ground(2)
    asked = [float(one.flow["flow"][0]) for one in ones]
    solved = flow.solve(ground, asked, flow.FlowSettings(method="engine"))
    flows = with_labels(solved, UnitSystem.US)
    found = {}
    for number, one in enumerate(ones):
        field = as_field(ground, flows.isel(flow=[number]), None)
        found[one.label] = on_grid(field, soft_odds(field, one.limits, SHARP) >= rules.suits.line)
    return found


def on_grid(field: WaterField, values: FloatArray | BoolArray) -> xr.DataArray:
    """Return values of a field's raster with their coordinates."""
    return xr.DataArray(values, dims=("y", "x"), coords={"x": field.grid.x, "y": field.grid.y})


def overlap(mine: BoolArray, real: BoolArray) -> str:
    """Return precision, recall and overlap of two masks."""
    common = (mine & real).sum()
    parts = (common / mine.sum(), common / real.sum(), common / (mine | real).sum())
    return " / ".join(f"{part:.2f}" for part in parts)


def dependence(ground: xr.Dataset, one: OneFlow, rules: WaterSettings) -> tuple[float, ...]:
    """Return the product's odds less the members' own, by sharp limits: mean, size, quantiles."""
    field = as_field(ground, one.flow, one.doubt)
    mine = on_grid(field, soft_odds(field, one.limits, replace(rules.suits, **HARD)))
    a, b = xr.align(mine, one.doubt["suits_chance"].isel(flow=0), join="inner")
    off = (a - b).to_numpy()[field.wet & (np.fmax(a, b).to_numpy() > 0.02)]
    off = off[np.isfinite(off)]
    low, high = np.quantile(off, (0.05, 0.95))
    return float(off.mean()), float(np.abs(off).mean()), float(low), float(high)


def print_steadiness(ground: xr.Dataset, ones: Sequence[OneFlow], rules: WaterSettings) -> None:
    """Print how far things move with the bed: sharp limits / odds."""
    print("| flow | noise over | area, 100 m2 | outlines move | pieces found again | cells move |")
    print("|---|---|---|---|---|---|")
    for one in ones:
        for length in LENGTHS_M:
            sharp, soft = steadiness(ground, one, rules, length)
            told = [f"{a:.2f} / {b:.2f}" for a, b in zip(sharp[1:], soft[1:], strict=True)]
            area = f"{sharp[0] / 100:.0f} / {soft[0] / 100:.0f}"
            print(f"| {one.label} | {length:.0f} m | {area} | {' | '.join(told)} |", flush=True)


def print_truth(solved: Solved, ones: Sequence[OneFlow], rules: WaterSettings) -> None:
    """Print precision, recall and overlap of the cells claimed with those that truly suit.

    Then, of the cells with some odds, the share that truly lies within the limits.
    """
    print("\n| flow | sharp limits | odds of one half | odds of 0.4 |\n|---|---|---|---|")
    real = true_cells(rules, ones)
    shares = []
    for one in ones:
        told, soft = [], (rules.suits, one.doubt)
        for suits, doubt, line in ((SHARP, None, 0.5), (*soft, 0.5), (*soft, 0.4)):
            field = as_field(solved.ground, one.flow, doubt)
            mine = on_grid(field, soft_odds(field, one.limits, suits) >= line)
            a, b = xr.align(mine, real[one.label], join="inner")
            told.append(overlap(a.to_numpy(), b.to_numpy()))
        print(f"| {one.label} | {' | '.join(told)} |")
        field = as_field(solved.ground, one.flow, one.doubt)
        odds = on_grid(field, soft_odds(field, one.limits, rules.suits))
        a, b = xr.align(odds, real[one.label], join="inner")
        found = [
            b.to_numpy()[((a >= low) & (a < high)).to_numpy()] for low, high in pairwise(BANDS)
        ]
        shares.append([one.label, *(f"{float(each.mean()):.2f}" for each in found)])
    print(f"\n| flow | {' | '.join(f'{low:g}-{high:g}' for low, high in pairwise(BANDS))} |")
    print("|---" * len(BANDS) + "|")
    for row in shares:
        print(f"| {' | '.join(row)} |")


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("built", type=Path, help="folder the sample was built into")
    parser.add_argument("--line", type=float, help="odds at which outlines are drawn")
    asked = parser.parse_args()
    job = begin_job(reachmap.open_reach(SAMPLE).drawing, asked.built, Options())
    solved, rules = solve_reach(job), job.settings.water
    if asked.line is not None:
        rules = replace(rules, suits=replace(rules.suits, line=asked.line))
    ones = list(flows_of(solved, rules))
    print_steadiness(solved.ground, ones, rules)
    print_truth(solved, ones, rules)
    print("\n| flow | product less members | mean size | 5 % | 95 % |\n|---|---|---|---|---|")
    for one in ones:
        told = [f"{value:+.3f}" for value in dependence(solved.ground, one, rules)]
        print(f"| {one.label} | {' | '.join(told)} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
