"""Measure how far the made ground, and the water on it, is from the truth; write docs/ground.md.

    python scripts/measure_ground.py [--quick] [--engine] [--write]

Three invented rivers whose true bed is known: the sample, and two of another family of shapes from
the tests. For each, what the angler gives grows from edges alone to a DEM with sixty soundings. The
same flow stage runs on the true and on the made ground, so that what differs is the ground's doing.
`--quick` measures the sample at its middle flow only, `--engine` takes the 2-D engine instead of
the quick profile, `--write` puts the tables between that method's marks in docs/ground.md. Fitting
always runs on the profile.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import geopandas as gpd
import numpy as np
import xarray as xr
from scipy.ndimage import binary_erosion, distance_transform_edt
from shapely import Point

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.errors import BuildError  # noqa: E402
from reachmap.base.shapes import B1, F8  # noqa: E402
from reachmap.base.words import Confidence  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import Dem, GroundSettings, build_ground, frame_of, read_dem  # noqa: E402
from reachmap.ground.fit import fit, scaled  # noqa: E402
from reachmap.markup import open_reach  # noqa: E402
from reachmap.markup.model import Markup, Sounding  # noqa: E402
from reachmap.water import WaterSettings, read_water  # noqa: E402
from scripts.sample import plan as sample_plan  # noqa: E402
from scripts.sample.truth import read_truth, truth_ground  # noqa: E402
from tests.ground.scenes import drawing, flown, pool_riffle  # noqa: E402

SETTINGS = GroundSettings()
PAGE = ROOT / "docs" / "ground.md"
MARKS = "<!-- measured by the {0}: begin -->", "<!-- measured by the {0}: end -->"
SOUNDING_ERROR_M = 0.06
SOFT_DEPTH_M, SOFT_SPEED_M_S = (0.5, 1.8), (0.3, 1.1)
"""What counts as soft water in this table."""


@dataclass(frozen=True)
class Case:
    """A river with its truth: drawing without soundings, DEM, true bed and n on the frame."""

    name: str
    markup: Markup
    dem: Dem
    bed: F8
    roughness: F8
    flows: tuple[float, float, float]
    slope: float


@dataclass(frozen=True)
class Figures:
    """What was measured at one flow."""

    edge_m: float
    edge_90_m: float
    depth_bias_m: float
    depth_rms_m: float
    speed_rms_m_s: float
    overlap: float
    good: int
    good_hit: int

    def cells(self) -> str:
        """Return the figures as cells of a table."""
        good = f"{self.good_hit}/{self.good}" if self.good else "-"
        return (
            f"{self.edge_m:.1f} / {self.edge_90_m:.1f} | {self.depth_bias_m:+.2f} | "
            f"{self.depth_rms_m:.2f} | {self.speed_rms_m_s:.2f} | {self.overlap:.2f} | {good}"
        )


@dataclass(frozen=True)
class Measured:
    """One river with one thing given: the bed's error beneath the DEM's water, figures by flow."""

    name: str
    bed_bias_m: float
    bed_rms_m: float
    figures: tuple[Figures, ...]


def sample_case() -> Case:
    """Return the sample river."""
    reach = open_reach(ROOT / "data_samples" / "madeup_river")
    frame = frame_of(reach, SETTINGS.cell, SETTINGS.margin_m)
    dem = read_dem(reach.dems, frame, reach.plan.dem)
    laid = read_truth(ROOT / "tests" / "truth" / "true_river.tif")
    truth = truth_ground(laid, sample_plan.centreline(), cell=round(SETTINGS.cell))
    here = truth[["bed", "roughness"]].interp(x=frame.x, y=frame.y, method="nearest")
    flows = tuple(reach.plan.flows[number] for number in (1, 4, 6))
    bed, roughness = (here[name].to_numpy() for name in ("bed", "roughness"))
    return Case("sample", reach, dem, bed, roughness, flows, sample_plan.SLOPE)


def made_case(name: str, low: float, **shape: float) -> Case:
    """Return a river of the tests' own family, drawn at `low` [m3/s], flown a quarter below it."""
    river = pool_riffle(**shape)
    markup = drawing(river, low, edge_flows=(3 * low, 7 * low), say_slope=False)
    dem = flown(river, markup, 0.75 * low)
    frame = frame_of(markup, SETTINGS.cell, SETTINGS.margin_m)
    bed = river.at(*np.meshgrid(frame.x, frame.y))
    rough = np.full(bed.shape, river.roughness)
    return Case(name, markup, dem, bed, rough, (low, 3 * low, 7 * low), river.slope)


def cases(*, quick: bool) -> Iterator[Case]:
    """Yield the rivers."""
    yield sample_case()
    if not quick:
        yield made_case("steady bends", 20.0, length=1500, bumps=0.12)
        yield made_case(
            "small and steep", 9.0, length=1200, wavelength=360, turn_deg=35, half=18,
            slope=0.005, roughness=0.042, exponent=2.0, lean=0.4, bumps=0.15, seed=5,
        )  # fmt: skip


def true_ground(case: Case, template: xr.Dataset) -> xr.Dataset:
    """Return the truth as a ground, on the frame and line of a made one."""
    known = np.isfinite(template["station"].to_numpy()) & np.isfinite(case.bed)
    station = template["station"].to_numpy()
    end = float(template["line_station"].to_numpy()[-1])
    bed = np.where(known & (station >= 0) & (station <= end), case.bed, np.nan)
    rough = np.where(np.isfinite(case.roughness), case.roughness, 0.05)
    sure = np.where(np.isfinite(bed), 1.0, 0.0)
    fields = {"bed": bed, "roughness": rough, "confidence": sure}
    made = template.assign({name: (("y", "x"), values) for name, values in fields.items()})
    made.attrs = template.attrs | {"slope": case.slope, "low_foot_level": float("nan")}
    return made


def with_soundings(case: Case, truth: xr.Dataset, water: xr.Dataset, count: int) -> Markup:
    """Return the drawing with soundings zigzag down the river, depths at the lowest flow."""
    rng = np.random.default_rng(11)
    depth = water.isel(flow=0)["depth"].to_numpy()
    station, offset = truth["station"].to_numpy(), truth["offset"].to_numpy()
    reach = float(truth["line_station"].to_numpy()[-1])
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
    yield "DEM + 20 soundings", sounded(20), True
    yield "DEM + 60 soundings", sounded(60), True
    if case.markup.soundings:
        yield "DEM + its own 25 soundings", case.markup, True


def edge_of(wet: B1) -> B1:
    """Return the outermost wet cells."""
    return wet & ~binary_erosion(wet)


def soft(water: xr.Dataset) -> B1:
    """Return the cells of soft water."""
    depth = water["depth"].to_numpy()
    speed = np.hypot(water["east_speed"].to_numpy(), water["north_speed"].to_numpy())
    deep = (depth >= SOFT_DEPTH_M[0]) & (depth <= SOFT_DEPTH_M[1])
    return deep & (speed >= SOFT_SPEED_M_S[0]) & (speed <= SOFT_SPEED_M_S[1])


def judged(ground: xr.Dataset, made: xr.Dataset, truth: xr.Dataset, true: xr.Dataset) -> Figures:
    """Return how one flow on the made ground differs from the same on the true."""
    wet, true_wet = (np.isfinite(one["depth"].to_numpy()) for one in (made, true))
    far = distance_transform_edt(~edge_of(true_wet)) * SETTINGS.cell
    both = wet & true_wet
    off = (made["depth"] - true["depth"]).to_numpy()[both]
    speeds = [np.hypot(one["east_speed"], one["north_speed"]).to_numpy() for one in (made, true)]
    mine, theirs = soft(made), soft(true)
    good, hit = _good(ground, made, truth, true)
    return Figures(
        float(np.median(far[edge_of(wet)])),
        float(np.percentile(far[edge_of(wet)], 90)),
        float(off.mean()),
        _rms(off),
        _rms((speeds[0] - speeds[1])[both]),
        float((mine & theirs).sum() / max((mine | theirs).sum(), 1)),
        good,
        hit,
    )


def _good(
    ground: xr.Dataset, made: xr.Dataset, truth: xr.Dataset, true: xr.Dataset
) -> tuple[int, int]:
    """Return how many features are called good, and how many of them overlap true ones by half."""
    try:
        found, real = (
            read_water(g, one.expand_dims("flow"), WaterSettings()).layers["water"]
            for g, one in ((ground, made), (truth, true))
        )
    except BuildError:
        return 0, 0
    good: gpd.GeoDataFrame = found[found["confidence"] == Confidence.GOOD.value]
    if good.empty or real.empty:
        return len(good), 0
    whole = real.geometry.union_all()
    share = good.geometry.intersection(whole).area / good.geometry.area
    return len(good), int((share >= 0.5).sum())


def rows(case: Case, settings: FlowSettings, pick: Sequence[int]) -> Iterator[Measured]:
    """Yield what was measured of one river, for each thing the angler may give."""
    flows = [case.flows[number] for number in pick]
    bare = replace(case.markup, soundings=())
    truth = true_ground(case, build_ground(bare, case.dem, SETTINGS))
    low = solve(truth, [case.flows[0]], settings)
    run = partial(solve, settings=FlowSettings())  # the quick profile, also where the engine judges
    for name, markup, use_dem in variants(case, truth, low):
        ground = build_ground(markup, case.dem if use_dem else None, SETTINGS)
        yield measured(case, (name, ground), flows, settings)
        if use_dem and markup.soundings:
            found = fit(ground, markup, run, SETTINGS)
            better = scaled(ground, found.roughness, found.depth, SETTINGS)
            yield measured(case, (f"{name}, fitted", better), flows, settings)


def measured(
    case: Case, made: tuple[str, xr.Dataset], flows: list[float], settings: FlowSettings
) -> Measured:
    """Return the bed's error beneath the DEM's water, and each flow's figures."""
    label, ground = made
    real = true_ground(case, ground)
    off = (ground["bed"].to_numpy() - case.bed)[case.bed < case.dem.height - 0.1]
    off = off[np.isfinite(off)]
    if ground.attrs["vertical"] == "local":
        off = off - np.median(off)
    water, true = solve(ground, flows, settings), solve(real, flows, settings)
    figures = [
        judged(ground, water.isel(flow=number), real, true.isel(flow=number))
        for number in range(len(flows))
    ]
    got = Measured(f"{case.name} | {label}", float(off.mean()), _rms(off), tuple(figures))
    print(got.name, f"{got.bed_bias_m:+.2f} {got.bed_rms_m:.2f}", *figures, sep="\n   ", flush=True)
    return got


def _rms(values: F8) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(values**2)))


def tables(*, quick: bool, engine: bool) -> str:
    """Return the tables as Markdown: the bed, then each flow."""
    settings = FlowSettings(method="engine" if engine else "profile")
    pick = (1,) if quick else (0, 1, 2)
    found = [one for case in cases(quick=quick) for one in rows(case, settings, pick)]
    lines = ["| river | given | bed bias m | bed rms m |", "|---|---|---|---|"]
    lines += [f"| {one.name} | {one.bed_bias_m:+.2f} | {one.bed_rms_m:.2f} |" for one in found]
    for place, number in enumerate(pick):
        lines += ["", f"At {('low', 'middle', 'high')[number]} flow:", ""]
        lines += [
            "| river | given | edge m | depth bias m | depth rms m | speed rms m/s | overlap "
            "| good |",
            "|---|---|---|---|---|---|---|---|",
        ]
        lines += [f"| {one.name} | {one.figures[place].cells()} |" for one in found]
    return "\n".join(lines)


def main() -> None:
    """Measure, print, and write the page if asked."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--quick", action="store_true")
    words.add_argument("--engine", action="store_true")
    words.add_argument("--write", action="store_true")
    asked = words.parse_args()
    text = tables(quick=asked.quick, engine=asked.engine)
    print(text)
    if asked.write:
        page = PAGE.read_text(encoding="utf-8")
        begin, end = (mark.format("engine" if asked.engine else "profile") for mark in MARKS)
        head, rest = page.split(begin)
        tail = rest.split(end)[1]
        PAGE.write_text(f"{head}{begin}\n{text}\n{end}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
