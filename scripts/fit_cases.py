"""Made rivers whose cover is rougher or smoother than its class says, with sticks timed on them."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import xarray as xr
from shapely import Point

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import FloatArray  # noqa: E402
from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import Cover, SpeedHow, UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import GroundSettings, build_ground, grid_of  # noqa: E402
from reachmap.ground.cover_classes import CHANNEL, CLASS_CODES, by_cover  # noqa: E402
from reachmap.markup.model import Markup, Speed  # noqa: E402
from scripts.ground_cases import (  # noqa: E402
    Case,
    seen_by_judge,
    true_ground,
    with_soundings,
)
from scripts.spread_cases import GAUGE_SD, ROUGH_SD, _noise  # noqa: E402
from tests.ground.scenes import drawing, flown, pool_riffle  # noqa: E402

SETTINGS = GroundSettings(cell=4.0)
"""A river 60 m wide, as a look has it."""

TRUE = {"channel": 1.1, "brush": 1.5, "grass": 0.7}
"""Roughness in truth over what its class says."""

STICK_SHARE = 0.1
"""Error of a timed stick as a share of the speed, standard deviation."""

BENCH_SLOPE, BENCH_M = 0.03, 35.0
LOW = 20.0


@dataclass(frozen=True)
class River:
    """A case with its truth: the ground, the water at the flows that ran, the notes taken.

    `true` is the geometric mean, over the cells of each class under the high flow, of the true
    roughness over what the class says.
    """

    case: Case
    truth: xr.Dataset
    water: xr.Dataset
    notes: Markup
    true: dict[str, float]


def benched(seed: int, length: float = 800.0, cell: float = SETTINGS.cell) -> Case:
    """Return a river of bends with low benches, brush on the left and grass on the right."""
    river = pool_riffle(length=length, bumps=0.1, seed=seed)
    beyond = np.maximum(np.abs(river.offset) - 30.0, 0.0)
    bench = np.minimum(beyond, BENCH_M) * BENCH_SLOPE + np.maximum(beyond - BENCH_M, 0.0) * 0.3
    fall = 100 - river.slope * river.line.station[:, None]
    outside = (beyond > 0)[None, :]
    river = replace(river, bed=np.where(outside, fall + 0.3 + bench, river.bed))
    markup = drawing(river, LOW, say_slope=False, bank_width=45.0, seed=seed)
    covers = (Cover.BRUSH, Cover.GRASS)
    banks = tuple(replace(one, cover=kind) for one, kind in zip(markup.banks, covers, strict=True))
    markup = replace(markup, banks=banks)
    grid = grid_of(markup, cell, SETTINGS.margin_m)
    bed = river.at(*np.meshgrid(grid.x, grid.y))
    dem = flown(river, markup, 0.75 * LOW, cell=cell)
    rough = np.full(bed.shape, river.roughness)
    return Case("benches", markup, dem, bed, rough, (LOW, 3 * LOW, 7 * LOW), river.slope)


def noted(
    seed: int, sticks: int, *, even: bool = False, factors: Mapping[str, float] = TRUE
) -> River:
    """Return a river with its truth, edges at two flows, 15 soundings, and sticks at the high flow.

    `factors` are the true ones of each class. Unless `even`, roughness varies from place to place
    within each class, and the flows that ran are not quite those that were read.
    """
    rng = np.random.default_rng(seed)
    settings = FlowSettings()
    case = benched(seed)
    made = build_ground(case.markup, case.dem, SETTINGS)
    rough = rougher(made, factors)
    ran = np.array(case.flows)
    if not even:
        width = Centreline.of(made).median_width
        rough = rough * np.exp(ROUGH_SD * _noise(rough.shape, width, SETTINGS.cell, rng))
        ran = ran * np.exp(rng.normal(0, GAUGE_SD, ran.size))
    case = replace(case, roughness=rough, flows=tuple(float(one) for one in ran))
    seen = seen_by_judge(case, settings, SETTINGS)
    truth = true_ground(seen, made)
    water = with_labels(solve(truth, list(seen.flows), settings), UnitSystem.METRIC)
    read = dict(zip(seen.flows, (LOW, 3 * LOW, 7 * LOW), strict=True))
    edges = tuple(replace(one, flow=read[one.flow]) for one in seen.markup.edges)
    sounded = with_soundings(seen, truth, water, 15).soundings
    depths = tuple(replace(one, flow=LOW) for one in sounded)
    speeds = timed(truth, made, water.isel(flow=2), 7 * LOW, sticks, rng)
    notes = replace(seen.markup, edges=edges, soundings=depths, speeds=speeds)
    wet = np.isfinite(water["depth"].isel(flow=2).to_numpy())
    logs = np.log(rough / made["roughness"].to_numpy())
    codes = {"channel": CHANNEL, **CLASS_CODES}
    cover = made["cover"].to_numpy()
    true = {name: float(np.exp(logs[wet & (cover == codes[name])].mean())) for name in TRUE}
    return River(replace(seen, flows=(LOW, 3 * LOW, 7 * LOW)), truth, water, notes, true)


def rougher(made: xr.Dataset, factors: Mapping[str, float]) -> FloatArray:
    """Return Manning's n of a made ground times the true factor of each class, shape (y, x)."""
    factor = by_cover(made["cover"].to_numpy(), factors["channel"], _growth(factors))
    return np.asarray(made["roughness"].to_numpy() * factor)


def as_doubted(seed: int) -> dict[str, float]:
    """Return true factors drawn from the doubt that the product has of them before any note."""
    rng = np.random.default_rng(1000 + seed)
    spread = SETTINGS.spread
    doubts = {"channel": spread.roughness_doubt, **dict.fromkeys(_growth(TRUE), spread.cover_doubt)}
    return {name: float(np.exp(rng.normal(0, doubt))) for name, doubt in doubts.items()}


def _growth(factors: Mapping[str, float]) -> dict[str, float]:
    """Return the classes beside the channel."""
    return {name: value for name, value in factors.items() if name in CLASS_CODES}


def timed(
    truth: xr.Dataset,
    made: xr.Dataset,
    water: xr.Dataset,
    flow: float,
    count: int,
    rng: np.random.Generator,
) -> tuple[Speed, ...]:
    """Return sticks timed on the surface, as many on each class of cover under water."""
    depth = water["depth"].to_numpy()
    speed = np.hypot(water["east_speed"], water["north_speed"]).to_numpy()
    station = truth["station"].to_numpy()
    foot = Centreline.of(truth).foot
    with np.errstate(invalid="ignore"):
        use = (depth > 0.25) & (station > 40) & (station < foot - 40)
    codes = made["cover"].to_numpy()
    classes = [code for code in np.unique(codes[use]) if (use & (codes == code)).sum() > 50]
    taken = []
    for number in range(count):
        row, col = np.nonzero(use & (codes == classes[number % len(classes)]))
        pick = rng.integers(row.size)
        y, x = truth["y"].to_numpy()[row[pick]], truth["x"].to_numpy()[col[pick]]
        mean = speed[row[pick], col[pick]] * np.exp(rng.normal(0, STICK_SHARE))
        surface = float(mean / SETTINGS.fitting.surface_factor)
        taken.append(Speed(Point(float(x), float(y)), surface, flow, SpeedHow.SURFACE))
    return tuple(taken)
