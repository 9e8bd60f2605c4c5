"""Rivers with a known bed, and what an angler would give of each, for scripts/measure_ground.py."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
import xarray as xr
from scipy.ndimage import gaussian_filter1d
from shapely import LineString, Point, Polygon

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import FloatArray  # noqa: E402
from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import Cover, Part, Side, UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import Dem, GroundSettings, build_ground, grid_of, read_dem  # noqa: E402
from reachmap.markup import read_markup  # noqa: E402
from reachmap.markup.dem_note import DemNote  # noqa: E402
from reachmap.markup.model import (  # noqa: E402
    Bank,
    Edge,
    Markup,
    Plan,
    River,
    Sounding,
)
from reachmap.water.edges import edge_layers  # noqa: E402
from scripts.sample import plan as sample_plan  # noqa: E402
from scripts.sample.truth import read_truth, truth_ground  # noqa: E402
from tests.ground.scenes import KIT, WINTER, drawing, flown, pool_riffle  # noqa: E402
from tests.reaches import BRAIDED_FLOWS, STEEP_FLOWS, braided_ground, steep_ground  # noqa: E402

SETTINGS = GroundSettings()
SOUNDING_ERROR_M = 0.06
DRAWING_ERROR_M = 1.0
"""How far a hand-drawn bank wanders from the traced edge, standard deviation [m]."""


@dataclass(frozen=True)
class Case:
    """A river with its truth: drawing without soundings, DEM, true bed and n on the grid."""

    name: str
    markup: Markup
    dem: Dem
    bed: FloatArray
    roughness: FloatArray
    flows: tuple[float, float, float]
    slope: float


def cases(settings: FlowSettings, *, quick: bool) -> Iterator[Case]:
    """Yield the rivers; `settings` are those of the flow stage that is the judge."""
    yield sample_case()
    if not quick:
        yield bends_case("steady bends", 20.0, settings)
        yield reach_case("steep", steep_ground(), STEEP_FLOWS, settings)
        yield reach_case("braided", braided_ground(), BRAIDED_FLOWS, settings)


def sample_case() -> Case:
    """Return the sample river."""
    reach = read_markup(ROOT / "data_samples" / "madeup_river")
    grid = grid_of(reach, SETTINGS.cell, SETTINGS.margin_m)
    dem = read_dem(reach.dems, grid, reach.plan.dem)
    laid = read_truth(ROOT / "tests" / "truth" / "true_river.tif")
    truth = truth_ground(laid, sample_plan.centreline(), cell=round(SETTINGS.cell))
    here = truth[["bed", "roughness"]].interp(x=grid.x, y=grid.y, method="nearest")
    flows = tuple(reach.plan.flows[number] for number in (1, 4, 6))
    bed, roughness = (here[name].to_numpy() for name in ("bed", "roughness"))
    return Case("sample", reach, dem, bed, roughness, flows, sample_plan.SLOPE)


def bends_case(name: str, low: float, settings: FlowSettings) -> Case:
    """Return a river of regular bends and pools, drawn at `low` [m3/s]."""
    river = pool_riffle(length=1500, bumps=0.12)
    markup = drawing(river, low, say_slope=False)
    grid = grid_of(markup, SETTINGS.cell, SETTINGS.margin_m)
    bed = river.at(*np.meshgrid(grid.x, grid.y))
    rough = np.full(bed.shape, river.roughness)
    dem = flown(river, markup, 0.75 * low)
    case = Case(name, markup, dem, bed, rough, (low, 3 * low, 7 * low), river.slope)
    return seen_by_judge(case, settings)


def reach_case(
    name: str, truth: xr.Dataset, flows: tuple[float, float, float], settings: FlowSettings
) -> Case:
    """Return a river of the tests' reaches, drawn at its low flow."""
    markup = drawn_at(truth, flows, settings)
    grid = grid_of(markup, SETTINGS.cell, SETTINGS.margin_m)
    here = truth[["bed", "roughness"]].interp(x=grid.x, y=grid.y, method="nearest")
    bed, roughness = (here[field].to_numpy() for field in ("bed", "roughness"))
    blank = Dem(bed.astype(np.float32), 0.75 * flows[0], "made datum")
    case = Case(name, markup, blank, bed, roughness, flows, float(truth.attrs["slope"]))
    return seen_by_judge(case, settings)


def drawn_at(
    truth: xr.Dataset,
    flows: tuple[float, ...],
    settings: FlowSettings,
    *,
    water: xr.Dataset | None = None,
) -> Markup:
    """Return a rough drawing of a river: its line, and banks 25 m deep beside the low water.

    `water` is the river at its low flow where that has been solved already.
    """
    rng = np.random.default_rng(3)
    line = Centreline.through(truth["line_x"].to_numpy(), truth["line_y"].to_numpy(), 2.0)
    low = solve(truth, [flows[0]], settings) if water is None else water
    wet = np.isfinite(low["depth"].to_numpy()[0])
    station, offset = truth["station"].to_numpy()[wet], truth["offset"].to_numpy()[wet]
    at = np.arange(0.0, line.length, 6.0)
    which = np.digitize(station, at) - 1
    found = [offset[which == k] for k in range(at.size)]
    edges = []
    for end in (np.max, np.min):
        rough = np.array([end(some) if some.size else np.nan for some in found])
        rough = np.interp(at, at[np.isfinite(rough)], rough[np.isfinite(rough)])
        edges.append(gaussian_filter1d(rough, 1.0) + rng.normal(0, DRAWING_ERROR_M, at.size))
    left, right = edges
    wobble = np.interp(at, at[::5], rng.normal(0, 2.0, at[::5].size))
    middle = np.column_stack(line.from_station_offset(at, (left + right) / 2 + wobble))[::3]
    banks = []
    for side, edge, sign in ((Side.LEFT, left, 1), (Side.RIGHT, right, -1)):
        inner = np.column_stack(line.from_station_offset(at, edge))
        outer = np.column_stack(line.from_station_offset(at, edge + sign * 25.0))
        ring = Polygon(np.vstack([inner, outer[::-1]])).buffer(0)
        whole = ring if ring.geom_type == "Polygon" else max(ring.geoms, key=lambda part: part.area)
        banks.append(Bank(f"{side.value} bank", whole, side, Cover.GRAVEL, np.nan, np.nan, ""))
    dem = DemNote(np.nan, "m", "")
    plan = Plan("made", UnitSystem.METRIC, np.nan, flows[0], flows, WINTER, KIT, dem)
    crs = str(truth.attrs["crs"])
    return Markup(crs, plan, (River("made", Part.MAIN, LineString(middle)),), tuple(banks))


def seen_by_judge(
    case: Case, settings: FlowSettings, ground_settings: GroundSettings = SETTINGS
) -> Case:
    """Return a case with edges at its middle and high flow and a DEM flown a quarter below its low.

    Both as the judge's flow stage has the water on the true ground.
    """
    low = 0.75 * case.flows[0]
    truth = true_ground(case, build_ground(case.markup, case.dem, ground_settings))
    water = with_labels(solve(truth, [low, *case.flows[1:]], settings), UnitSystem.METRIC)
    return with_sight(case, truth, water, low)


def with_sight(case: Case, truth: xr.Dataset, water: xr.Dataset, low: float) -> Case:
    """Return a case with edges at its middle and high flow and a DEM of the water's first flow.

    Parameters
    ----------
    case
        Its `flows` are written beside the edges.
    truth, water
        The true ground; its water on the DEM's day and at the middle and high flow.
    low
        The flow that is said to have run on the DEM's day [m3/s].
    """
    edges = [
        Edge(line, flow, "")
        for number, flow in enumerate(case.flows[1:], start=1)
        for side in ("edge_left", "edge_right")
        for line in edge_layers(truth, water.isel(flow=[number]))[side].geometry
    ]
    level = water["level"].isel(flow=0).to_numpy()
    # the water of the day lies over its own bed only; beyond, the ground was dry
    height = np.where(np.isfinite(level), level, case.bed)
    seen = Dem(height.astype(np.float32), low, "made datum")
    plan = replace(case.markup.plan, dem=DemNote(low, "m", ""))
    markup = replace(case.markup, edges=tuple(edges), plan=plan)
    return replace(case, markup=markup, dem=seen)


def true_ground(case: Case, template: xr.Dataset) -> xr.Dataset:
    """Return the truth as a ground, on the grid and line of a made one.

    The line ends where the true bed does: a last section that is only half known would dam the
    river above it (by a quarter of a metre on the sample at high flow).
    """
    template = _cut_to_known(case, template)
    station = template["station"].to_numpy()
    known = np.isfinite(station) & np.isfinite(case.bed)
    end = Centreline.of(template).foot
    bed = np.where(known & (station >= 0) & (station <= end), case.bed, np.nan)
    rough = np.where(np.isfinite(case.roughness), case.roughness, 0.05)
    sure = np.where(np.isfinite(bed), 1.0, 0.0)
    fields = {"bed": bed, "roughness": rough, "confidence": sure}
    made = template.assign({name: (("y", "x"), values) for name, values in fields.items()})
    made.attrs = template.attrs | {"slope": case.slope, "low_foot_level": float("nan")}
    return made


def _cut_to_known(case: Case, template: xr.Dataset) -> xr.Dataset:
    """Return a ground whose line ends at the last section whose true bed is known right across."""
    station, offset = template["station"].to_numpy(), template["offset"].to_numpy()
    line = Centreline.of(template)
    half = line.width(np.nan_to_num(station)) / 2
    inside = np.isfinite(station) & (np.abs(offset) <= half)
    gaps = station[inside & ~np.isfinite(case.bed) & (station > line.foot / 2)]
    end = gaps.min() - SETTINGS.cell if gaps.size else line.foot
    return template.isel(vertex=slice(0, int((line.station <= end).sum())))


def with_soundings(case: Case, truth: xr.Dataset, water: xr.Dataset, count: int) -> Markup:
    """Return the drawing with soundings zigzag down the river, depths at the lowest flow."""
    rng = np.random.default_rng(11)
    depth = water.isel(flow=0)["depth"].to_numpy()
    station, offset = truth["station"].to_numpy(), truth["offset"].to_numpy()
    reach = Centreline.of(truth).foot
    shares = np.resize([-0.6, 0.05, 0.55, -0.2, 0.3], count)
    made = []
    for number, at in enumerate(np.linspace(0.02, 0.98, count) * reach):
        row, col = np.nonzero((np.abs(station - at) < SETTINGS.cell) & (depth > 0.15))
        if not row.size:
            continue
        wanted = np.quantile(offset[row, col], 0.5 + shares[number] / 2)
        best = int(np.argmin(np.abs(offset[row, col] - wanted)))
        x, y = truth["x"].to_numpy()[col[best]], truth["y"].to_numpy()[row[best]]
        deep = float(depth[row[best], col[best]]) + rng.normal(0, SOUNDING_ERROR_M)
        made.append(Sounding(f"S{number + 1}", Point(x, y), deep, case.flows[0], np.nan))
    return replace(case.markup, soundings=tuple(made))


def variants(
    case: Case, truth: xr.Dataset, water: xr.Dataset
) -> Iterator[tuple[str, Markup, bool]]:
    """Yield what the angler gives: its name, the drawing, and whether the DEM is used."""
    sounded = partial(with_soundings, case, truth, water)
    bare = replace(case.markup, soundings=())
    said = replace(case.markup.plan, slope=case.slope)
    yield "edges only", replace(bare, plan=said), False
    yield "edges + 20 soundings", replace(sounded(20), plan=said), False
    yield "DEM", bare, True
    yield "DEM + 25 soundings", sounded(25), True
    yield "DEM + 60 soundings", sounded(60), True
    if case.markup.soundings:
        yield "DEM + its own 25 soundings", case.markup, True
