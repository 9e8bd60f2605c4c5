"""Measure how far the made ground, and the water on it, is from the truth; write docs/ground.md.

    python scripts/measure_ground.py [--quick] [--engine] [--write]

Four invented rivers whose true bed is known: the sample, and three of other families of shapes from
the tests (steady bends, steep, braided). For each, what the angler gives grows from edges alone to
a DEM with sixty soundings. The same flow stage runs on the true and on the made ground, so that
what differs is the ground's doing; the edges and the water a DEM saw are those of that stage on the
true ground. `--quick` measures the sample at its middle flow only, `--engine` takes the 2-D engine
instead of the quick profile, `--write` puts the tables between that method's marks in
docs/ground.md. Fitting always runs on the profile, as in the product, the ensemble as in a build.
By the engine it takes about ten minutes on two cores.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import geopandas as gpd
import numpy as np
import xarray as xr
from shapely import get_coordinates, points, segmentize

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import BoolArray, FloatArray  # noqa: E402
from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.words import Confidence, UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import build_ground  # noqa: E402
from reachmap.ground.fit import fit  # noqa: E402
from reachmap.ground.scaling import scaled  # noqa: E402
from reachmap.markup.model import Markup  # noqa: E402
from reachmap.pipeline.ensemble import weigh  # noqa: E402
from reachmap.pipeline.fitted import StoredFit  # noqa: E402
from reachmap.pipeline.settings import Settings, settings_for  # noqa: E402
from reachmap.pipeline.stamp import Options  # noqa: E402
from reachmap.pipeline.terrain import cover_factors  # noqa: E402
from reachmap.uncertainty.confidence import with_confidence  # noqa: E402
from reachmap.water import WaterSettings, read_water  # noqa: E402
from reachmap.water.edges import edge_layers  # noqa: E402
from scripts.ground_cases import SETTINGS, Case, cases, true_ground, variants  # noqa: E402

PAGE = ROOT / "docs" / "ground.md"
MARKS = "<!-- measured by the {0}: begin -->", "<!-- measured by the {0}: end -->"
SOFT = WaterSettings().limits
"""What counts as soft water in this table: the winter season's limits."""
ENDS_M = 30.0
"""Edges this near the head or the foot are left out [m]."""


@dataclass(frozen=True)
class Figures:
    """What was measured at one flow."""

    edge_m: float
    edge_90_m: float
    depth_bias_m: float
    depth_rms_m: float
    speed_rms_m_s: float
    overlap: float
    hits: Mapping[str, tuple[int, int]]

    def cells(self) -> str:
        """Return the figures as cells of a table."""
        told = " | ".join(f"{hit}/{all_}" if all_ else "-" for hit, all_ in self.hits.values())
        return (
            f"{self.edge_m:.1f} / {self.edge_90_m:.1f} | {self.depth_bias_m:+.2f} | "
            f"{self.depth_rms_m:.2f} | {self.speed_rms_m_s:.2f} | {self.overlap:.2f} | {told}"
        )


@dataclass(frozen=True)
class Measured:
    """One river with one thing given: the bed's error beneath the DEM's water, figures by flow."""

    name: str
    bed_bias_m: float
    bed_rms_m: float
    figures: tuple[Figures, ...]


def edge_points(ground: xr.Dataset, water: xr.Dataset) -> gpd.GeoSeries:
    """Return places every 4 m along the edges of the water, away from head and foot."""
    areas = edge_layers(ground, water)["wetted"].geometry
    found = get_coordinates(segmentize(areas.boundary.to_numpy(), 4.0))
    x, y = (xr.DataArray(found[:, column], dims="point") for column in (0, 1))
    station = ground["station"].interp(x=x, y=y, method="nearest").to_numpy()
    end = Centreline.of(ground).foot
    return gpd.GeoSeries(points(found[(station > ENDS_M) & (station < end - ENDS_M)]))


def soft(water: xr.Dataset) -> BoolArray:
    """Return the cells of soft water."""
    depth = water["depth"].to_numpy()
    speed = np.hypot(water["east_speed"].to_numpy(), water["north_speed"].to_numpy())
    deep = (depth >= SOFT.depth_low_m) & (depth <= SOFT.depth_high_m)
    return deep & (speed >= SOFT.speed_low_m_s) & (speed <= SOFT.speed_high_m_s)


@dataclass(frozen=True)
class Truth:
    """A river as it is: ground, how it runs at each flow, its edges and its water."""

    ground: xr.Dataset
    flows: xr.Dataset
    water: list[gpd.GeoDataFrame]

    @classmethod
    def of(cls, case: Case, flows: Sequence[float], settings: FlowSettings) -> Truth:
        """Return the truth of a case."""
        bare = replace(case.markup, soundings=())
        ground = true_ground(case, build_ground(bare, case.dem, SETTINGS))
        water = with_labels(solve(ground, flows, settings), UnitSystem.METRIC)
        return cls(ground, water, [read(ground, water, k) for k in range(len(flows))])


def read(ground: xr.Dataset, water: xr.Dataset, number: int) -> gpd.GeoDataFrame:
    """Return the swing water at one flow; none where the reading fails."""
    return read_water(ground, water.isel(flow=[number]), WaterSettings()).layers["water"]


def judged(truth: Truth, ground: xr.Dataset, water: xr.Dataset, sure: gpd.GeoDataFrame) -> Figures:
    """Return how one flow on the made ground differs from the same on the true."""
    label = str(water["asked"].item())
    number = list(truth.flows["asked"].to_numpy()).index(label)
    made, true = water.isel(flow=0), truth.flows.isel(flow=number)
    wet, true_wet = (np.isfinite(one["depth"].to_numpy()) for one in (made, true))
    both = wet & true_wet
    off = (made["depth"] - true["depth"]).to_numpy()[both]
    speeds = [np.hypot(one["east_speed"], one["north_speed"]).to_numpy() for one in (made, true)]
    mine, theirs = soft(made), soft(true)
    real = edge_layers(truth.ground, truth.flows.isel(flow=[number]))["wetted"]
    rim = real.geometry.boundary.union_all()
    far = edge_points(ground, water).distance(rim).to_numpy()
    return Figures(
        float(np.median(far)),
        float(np.percentile(far, 90)),
        float(off.mean()),
        _rms(off),
        _rms((speeds[0] - speeds[1])[both]),
        float((mine & theirs).sum() / max((mine | theirs).sum(), 1)),
        _hits(sure, truth.water[number]),
    )


def _hits(sure: gpd.GeoDataFrame, real: gpd.GeoDataFrame) -> dict[str, tuple[int, int]]:
    """Return by confidence how many features overlap true ones by half, and how many there are."""
    whole = real.geometry.union_all()
    share = sure.geometry.intersection(whole).area / sure.geometry.area
    hit = (share >= 0.5).to_numpy()
    return {
        word.value: (int(hit[mine].sum()), int(mine.sum()))
        for word in reversed(Confidence)
        if (mine := (sure["confidence"] == word.value).to_numpy()) is not None
    }


def rows(case: Case, settings: FlowSettings, pick: Sequence[int]) -> Iterator[Measured]:
    """Yield what was measured of one river, for each thing the angler may give."""
    flows = [case.flows[number] for number in pick]
    truth = Truth.of(case, flows, settings)
    low = solve(truth.ground, [case.flows[0]], settings)
    run = partial(solve, settings=FlowSettings())  # the quick profile, also where the engine judges
    for name, markup, use_dem in variants(case, truth.ground, low):
        ground = build_ground(markup, case.dem if use_dem else None, SETTINGS)
        yield measured(case, truth, (name, markup, ground, None), settings)
        if use_dem and markup.soundings:
            found = fit(ground, markup, run, SETTINGS)
            better = scaled(ground, found.roughness, found.depth, SETTINGS, cover_factors(found))
            kept = StoredFit(found, "")
            yield measured(case, truth, (f"{name}, fitted", markup, better, kept), settings)


def measured(
    case: Case,
    truth: Truth,
    made: tuple[str, Markup, xr.Dataset, StoredFit | None],
    settings: FlowSettings,
) -> Measured:
    """Return the bed's error beneath the DEM's water, and each flow's figures."""
    label, markup, ground, kept = made
    off = (ground["bed"].to_numpy() - case.bed)[case.bed < case.dem.height - 0.1]
    off = off[np.isfinite(off)]
    if ground.attrs["vertical"] == "local":
        off = off - np.median(off)
    flows = [float(flow) for flow in truth.flows["flow"].to_numpy()]
    water = with_labels(solve(ground, flows, settings), UnitSystem.METRIC)
    told = settings_of(markup, settings)
    doubt = weigh(markup, ground, water, told, kept)
    width = Centreline.of(ground).median_width
    figures = []
    for number in range(len(flows)):
        one, spread = water.isel(flow=[number]), doubt.isel(flow=[number])
        sure = with_confidence(read(ground, water, number), one, spread, width, told.uncertainty)
        figures.append(judged(truth, ground, one, sure))
    got = Measured(f"{case.name} | {label}", float(off.mean()), _rms(off), tuple(figures))
    print(got.name, f"{got.bed_bias_m:+.2f} {got.bed_rms_m:.2f}", flush=True)
    print(*(f"   {one.cells()}" for one in figures), sep="\n", flush=True)
    return got


def settings_of(markup: Markup, settings: FlowSettings) -> Settings:
    """Return a build's settings, with this script's flow stage and season."""
    told = settings_for(markup, Options())
    return replace(told, ground=SETTINGS, flow=settings, water=WaterSettings())


def _rms(values: FloatArray) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(values**2)))


def tables(*, quick: bool, engine: bool) -> str:
    """Return the tables as Markdown: the bed, then each flow, then how honest the words are."""
    settings = FlowSettings(method="engine" if engine else "profile")
    pick = (1,) if quick else (0, 1, 2)
    found = [one for case in cases(settings, quick=quick) for one in rows(case, settings, pick)]
    lines = ["| river | given | bed bias m | bed rms m |", "|---|---|---|---|"]
    lines += [f"| {one.name} | {one.bed_bias_m:+.2f} | {one.bed_rms_m:.2f} |" for one in found]
    for place, number in enumerate(pick):
        lines += ["", f"At {('low', 'middle', 'high')[number]} flow:", ""]
        lines += [
            "| river | given | edge m | depth bias m | depth rms m | speed rms m/s | overlap "
            "| good | fair | low |",
            "|---|---|---|---|---|---|---|---|---|---|",
        ]
        lines += [f"| {one.name} | {one.figures[place].cells()} |" for one in found]
    return "\n".join([*lines, "", honesty(found)])


def honesty(found: Sequence[Measured]) -> str:
    """Return one sentence: of the features called good, fair, low, how many overlap by half."""
    sums: dict[str, list[int]] = {}
    for figures in (one for row in found for one in row.figures):
        for word, (hit, number) in figures.hits.items():
            total = sums.setdefault(word, [0, 0])
            total[0] += hit
            total[1] += number
    told = [
        f"{word} {hit} of {number} ({hit / number:.0%})"
        for word, (hit, number) in sums.items()
        if number
    ]
    return "Over all rows and flows, overlapping true water by half: " + ", ".join(told) + "."


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
