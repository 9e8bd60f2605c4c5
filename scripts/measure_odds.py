"""How far outlines move when the bed does: python -m scripts.measure_odds BUILT_FOLDER.

The sample, built into a folder with its ensemble, is read twice at some flows: as it was solved,
and with smooth noise on its bed under the same water surface, where speed goes as depth^(2/3). The
union of all pieces of water is compared: area in one of the two alone over the mean area. Printed
for sharp limits (no softness, no spread) and for odds; and for the odds themselves, cell by cell.
Last, how much the product of two odds is off for taking depth and speed as independent: against the
ensemble's own members, of which each was judged by sharp limits with the flow model's error.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import xarray as xr
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

import reachmap  # noqa: E402
from reachmap.base.arrays import FloatArray  # noqa: E402
from reachmap.flow.notes import one_flow_of, repacked  # noqa: E402
from reachmap.pipeline.order import begin_job  # noqa: E402
from reachmap.pipeline.solving import Job, Solved, solve_reach  # noqa: E402
from reachmap.pipeline.stamp import Options  # noqa: E402
from reachmap.uncertainty.model_error import ModelError  # noqa: E402
from reachmap.water import WaterSettings, bends_of, read_water  # noqa: E402
from reachmap.water.clarity import clarity_at, limits_in  # noqa: E402
from reachmap.water.field import WaterField, field_of  # noqa: E402
from reachmap.water.settings import SuitSettings  # noqa: E402
from reachmap.water.soft_odds import soft_odds  # noqa: E402

SAMPLE = ROOT / "data_samples" / "madeup_river"
FLOWS = ("900cfs", "1800cfs", "2400cfs", "4200cfs")
NOISE_M = 0.1
SHARP = SuitSettings(
    thin_m=0.0, deep_m=0.0, slow_m_s=0.0, quick_m_s=0.0, model=ModelError(0.0, 0.0, 0.0)
)


@dataclass(frozen=True, slots=True)
class OneFlow:
    """A flow with its doubt."""

    label: str
    flow: xr.Dataset
    doubt: xr.Dataset


def flows_of(job: Job, solved: Solved) -> Iterator[OneFlow]:
    """Yield the flows to look at."""
    if solved.ensemble.doubt is None:
        sys.exit("build the folder with its ensemble first")
    del job
    for label in FLOWS:
        one = repacked(one_flow_of(solved.rungs.flow, solved.rungs.labels.index(label)))
        yield OneFlow(label, one, solved.nodes.doubt_at(solved.ensemble.doubt, one))


def shaken(one: xr.Dataset, cells: float, seed: int) -> xr.Dataset:
    """Return a flow over a bed with smooth noise of `NOISE_M` and a length in cells (Gaussian)."""
    depth = one["depth"].to_numpy()[0]
    random = np.random.default_rng(seed)
    noise = ndimage.gaussian_filter(random.normal(size=depth.shape), cells)
    deeper = np.maximum(depth + NOISE_M / noise.std() * noise, 0.02)
    quicker = (deeper / depth) ** (2 / 3)
    made = one.copy()
    made["depth"] = one["depth"].dims, deeper[None], one["depth"].attrs
    for name in ("east_speed", "north_speed"):
        made[name] = one[name].dims, (one[name].to_numpy()[0] * quicker)[None], one[name].attrs
    return made


def as_field(ground: xr.Dataset, one: xr.Dataset, doubt: xr.Dataset | None) -> WaterField:
    """Return a flow as the rules see it, no matter how small a pool."""
    rules = WaterSettings().channels
    return field_of(
        ground, one, island_low_m2=rules.island_low_m2, pool_low_m2=rules.pool_low_m2, doubt=doubt
    )


def moved(one: BaseGeometry, other: BaseGeometry) -> float:
    """Return the area in one of two alone over their mean area."""
    return float(2 * one.symmetric_difference(other).area / (one.area + other.area))


def shifted(one: FloatArray, other: FloatArray) -> float:
    """Return the sum of differences over the mean sum, cell by cell."""
    one, other = np.nan_to_num(one), np.nan_to_num(other)
    return float(2 * np.abs(one - other).sum() / (one.sum() + other.sum()))


def compare(ground: xr.Dataset, one: OneFlow, rules: WaterSettings, sigma: float) -> list[float]:
    """Return areas [m2] and how far they move, sharp and by odds, and how far the odds do."""
    bends = bends_of(ground, rules.bends)
    sharp = replace(rules, suits=SHARP)
    cases = ((sharp, None), (rules, one.doubt))
    limits = limits_in(rules, clarity_at(float(one.flow["flow"][0]), rules))
    other = [shaken(one.flow, sigma, seed) for seed in (1, 2, 3)]
    row: list[float] = []
    for settings, doubt in cases:
        whole = [
            read_water(ground, each, settings, bends=bends, doubt=doubt)
            .layers["water"].geometry.union_all()
            for each in (one.flow, *other)
        ]  # fmt: skip
        odds = [
            soft_odds(as_field(ground, each, doubt), limits, settings.suits)
            if doubt is not None
            else soft_odds(
                field_of(ground, each, island_low_m2=60.0, pool_low_m2=400.0, model=SHARP.model),
                limits,
                settings.suits,
            )
            for each in (one.flow, *other)
        ]
        row += [
            whole[0].area,
            float(np.mean([moved(whole[0], each) for each in whole[1:]])),
            float(np.mean([shifted(odds[0], each) for each in odds[1:]])),
        ]
    return row


def dependence(ground: xr.Dataset, one: OneFlow, rules: WaterSettings) -> tuple[float, ...]:
    """Return mean and quantiles of the product's odds less the members' own, by sharp limits."""
    field = as_field(ground, one.flow, one.doubt)
    limits = limits_in(rules, clarity_at(field.flow, rules))
    bare = replace(rules.suits, thin_m=0.0, deep_m=0.0, slow_m_s=0.0, quick_m_s=0.0)
    mine = soft_odds(field, limits, bare)[field.wet]
    whole = one.doubt["suits_chance"].to_numpy()[0]
    grid = reachmap.water.field.Grid.of(ground)
    row, col, _ = grid.index(field.grid.x[:1], field.grid.y[:1])
    theirs = whole[row[0] : row[0] + field.wet.shape[0], col[0] : col[0] + field.wet.shape[1]]
    off = mine - theirs[field.wet]
    off = off[np.isfinite(off) & (np.maximum(mine, theirs[field.wet]) > 0.02)]
    low, high = np.quantile(off, (0.05, 0.95))
    return float(off.mean()), float(np.abs(off).mean()), float(low), float(high)


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("built", type=Path, help="folder the sample was built into")
    asked = parser.parse_args()
    job = begin_job(reachmap.open_reach(SAMPLE).drawing, asked.built, Options())
    solved = solve_reach(job)
    rules = job.settings.water
    ones = list(flows_of(job, solved))
    print(
        "| flow | noise | area, sharp / odds, 100 m2 | outlines move, sharp / odds | cells move |"
    )
    print("|---|---|---|---|---|")
    for one in ones:
        for sigma in (2.0, 5.0):
            area, out, cell, area2, out2, cell2 = compare(solved.ground, one, rules, sigma)
            length = sigma * float(solved.ground.attrs["cell"])
            print(
                f"| {one.label} | {length:.0f} m | {area / 100:.0f} / {area2 / 100:.0f} "
                f"| {out:.2f} / {out2:.2f} | {cell:.2f} / {cell2:.2f} |",
                flush=True,
            )
    print("\n| flow | product less members, mean | mean size | 5 % | 95 % |")
    print("|---|---|---|---|---|")
    for one in ones:
        told = " | ".join(f"{value:+.3f}" for value in dependence(solved.ground, one, rules))
        print(f"| {one.label} | {told} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
