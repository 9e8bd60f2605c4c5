"""Measure what evidence is worth on rivers whose truth is known; write docs/ground.md.

    python -m scripts.measure_given [--profile] [--write] [--river NAME]

For the sample and for regular bends: levels noted without a terrain model; depths that were logged
on trips, against the same drawn; echo-sounder tracks. What is given is read off the
true river with its error, then left out (the first row of each group: what the map was before) and
put in. Judged by the true bed and by the same flow stage on the true ground: bed within 20 m of the
evidence, depth, speed, and overlap of soft water. `--profile` takes the quick profile for the flow
engine; `--write` puts the table between its marks in docs/ground.md.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import xarray as xr
from scipy.spatial import cKDTree
from shapely import Point

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import FloatArray  # noqa: E402
from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.crs import WGS84, transform_points  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground import build_ground  # noqa: E402
from reachmap.logbook.model import Entry, Seen, SeenKind  # noqa: E402
from reachmap.markup.model import Level, Markup, Sounding, Track  # noqa: E402
from reachmap.pipeline.noted import with_log  # noqa: E402
from scripts.ground_cases import SETTINGS, Case, bends_case, sample_case  # noqa: E402
from scripts.marked_page import put_between  # noqa: E402
from scripts.measure_ground import Truth, _rms, soft  # noqa: E402

PAGE = ROOT / "docs" / "ground.md"
MARKS = "<!-- worth of evidence: begin -->", "<!-- worth of evidence: end -->"
NEAR_M = 20.0
LEVEL_ERROR_M, STAFF_ERROR_M, PHONE_M = 0.02, 0.06, 3.0
"""Errors given to a levelled height, to a depth by a staff, and to a phone's place."""
SET_ERROR_M, POINT_ERROR_M, TRACK_STEP_M = 0.06, 0.10, 1.0
"""Of an echo sounder: what a drive's depths share, each one's own, and how far apart they lie."""


@dataclass(frozen=True)
class Given:
    """A row of the table: what is given, whether with the terrain model, where the evidence is."""

    name: str
    markup: Markup
    with_dem: bool
    places: FloatArray


class Surveyor:
    """Reads evidence off a true river, with its errors."""

    def __init__(self, case: Case, truth: Truth) -> None:
        """Keep the river; the same numbers are drawn each time."""
        self.case, self.truth = case, truth
        ground = truth.ground
        self.line = Centreline.of(ground)
        self.station, self.offset = (ground[name].to_numpy() for name in ("station", "offset"))
        self.x, self.y = np.meshgrid(ground["x"].to_numpy(), ground["y"].to_numpy())
        self.depth = truth.flows["depth"].isel(flow=0).to_numpy()
        self.level = truth.flows["level"].to_numpy()
        self.flow = float(truth.flows["flow"][0])

    def levels(self, count: int, number: int = 0) -> tuple[Level, ...]:
        """Return levelled heights of the water's surface beside the bank, at one of the flows."""
        rng, found = np.random.default_rng(5), []
        level = self.level[number]
        for at in np.linspace(0.01, 0.99, count) * self.line.foot:
            row, col = np.nonzero((np.abs(self.station - at) < 3) & np.isfinite(level))
            best = int(np.argmax(self.offset[row, col] * rng.choice([-1, 1])))
            cell = row[best], col[best]
            height = float(level[cell]) + rng.normal(0, LEVEL_ERROR_M)
            place = Point(self.x[cell], self.y[cell])
            found.append(Level(place, height, float(self.truth.flows["flow"][number])))
        return tuple(found)

    def soundings(self, count: int) -> tuple[Sounding, ...]:
        """Return depths by a staff at random places that one can reach."""
        rng = np.random.default_rng(11)
        row, col = np.nonzero((self.depth > 0.15) & (self.depth < 1.6))
        pick = rng.choice(row.size, count, replace=False)
        return tuple(
            Sounding(
                f"S{k}",
                Point(self.x[r, c], self.y[r, c]),
                float(self.depth[r, c]) + rng.normal(0, STAFF_ERROR_M),
                self.flow,
                np.nan,
            )
            for k, (r, c) in enumerate(zip(row[pick], col[pick], strict=True), start=1)
        )

    def logged(self, soundings: Sequence[Sounding], *, off_m: float = 0.0) -> list[Entry]:
        """Return soundings as trips of a log, one each, by a phone that is some metres off."""
        rng = np.random.default_rng(2)
        x, y = (np.array([getattr(one.place, axis) for one in soundings]) for axis in "xy")
        x, y = (values + rng.normal(0, off_m, len(soundings)) for values in (x, y))
        lon, lat = transform_points(x, y, self.case.markup.crs, WGS84)
        when = datetime(2031, 1, 5, 9, tzinfo=UTC)
        return [
            Entry(
                when,
                flow=one.flow,
                seen=(Seen(SeenKind.SOUNDING, lon[k], lat[k], max(one.depth_m, 0.01)),),
            )
            for k, one in enumerate(soundings)
        ]

    def tracks(self, count: int) -> tuple[Track, ...]:
        """Return lengthwise drives: down the deepest water, then a fifth of the width beside it."""
        rng = np.random.default_rng(9)
        at = np.arange(10.0, self.line.foot - 10, TRACK_STEP_M)
        deep = self._deepest(at)
        found = []
        for number in range(count):
            side = (0.0, 0.2, -0.2)[number] * self.line.median_width
            offset = deep + side + 1.5 * np.sin(at / 17 + number)
            x, y = self.line.from_station_offset(at, offset)
            cell = self.x[0, 1] - self.x[0, 0]
            col = np.rint((x - self.x[0, 0]) / cell).astype(int)
            row = np.rint((self.y[0, 0] - y) / cell).astype(int)
            depth = self.depth[row, col] + rng.normal(0, SET_ERROR_M)
            depth = depth + rng.normal(0, POINT_ERROR_M, depth.shape)
            good = depth > 0.1
            name = f"drive {number + 1}"
            found.append(Track(name, x[good], y[good], depth[good], self.flow))
        return tuple(found)

    def _deepest(self, at: FloatArray) -> FloatArray:
        """Return the offset of the deepest water at stations, smooth along [m]."""
        wet, nodes, found = np.isfinite(self.depth), [], []
        for node in np.arange(0.0, self.line.foot + 20, 20.0):
            here = (np.abs(self.station - node) < 10) & wet
            if not here.any():
                continue
            nodes.append(node)
            deep = np.where(here, self.depth, -np.inf)
            found.append(self.offset.ravel()[int(np.argmax(deep))])
        calm = np.convolve(np.pad(found, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")
        return np.interp(at, nodes, calm)


def given(case: Case, truth: Truth) -> Iterator[Given]:
    """Yield the rows: each group begins with what was there before."""
    by = Surveyor(case, truth)
    bare = replace(case.markup, soundings=(), levels=())
    said = replace(bare, plan=replace(bare.plan, slope=case.slope))
    every = _places(by.levels(30))
    yield Given("no DEM, no note (before)", said, False, every)
    for count in (6, 12, 30):
        yield Given(f"no DEM, {count} levels", replace(said, levels=by.levels(count)), False, every)
    higher = (*by.levels(12), *by.levels(6, 1))
    yield Given("no DEM, 12 levels, 6 higher", replace(said, levels=higher), False, every)
    taken = by.soundings(30)
    near = _places(taken)
    yield Given("DEM, log not used (before)", bare, True, near)
    yield Given("DEM, 30 logged depths", with_log(bare, by.logged(taken)), True, near)
    phone = with_log(bare, by.logged(taken, off_m=PHONE_M))
    yield Given(f"DEM, 30 logged, {PHONE_M:g} m off", phone, True, near)
    yield Given("DEM, the same 30 drawn", replace(bare, soundings=taken), True, near)
    three = by.tracks(3)
    on = np.vstack([np.column_stack([one.x, one.y]) for one in three])
    yield Given("DEM, no track (before)", bare, True, on)
    for count in (1, 2, 3):
        yield Given(f"DEM, {count} tracks", replace(bare, tracks=three[:count]), True, on)


def _places(notes: Sequence[Level | Sounding]) -> FloatArray:
    """Return the places of notes, shape (n, 2) [m]."""
    return np.array([(one.place.x, one.place.y) for one in notes])


def row_of(case: Case, truth: Truth, one: Given, settings: FlowSettings) -> str:
    """Return a row: bed near the evidence, then depth, speed and overlap at each flow."""
    ground = build_ground(one.markup, case.dem if one.with_dem else None, SETTINGS)
    x, y = np.meshgrid(ground["x"].to_numpy(), ground["y"].to_numpy())
    off = ground["bed"].to_numpy() - case.bed
    under = (case.bed < case.dem.height - 0.1) & np.isfinite(off)
    if not one.with_dem:  # without a note heights are local
        off = off - np.median(off[under])
    far = np.full(off.shape, np.inf)
    far[under] = cKDTree(one.places).query(np.column_stack([x[under], y[under]]))[0]
    cells = [f"{_rms(off[under]):.3f}", f"{_rms(off[far <= NEAR_M]):.3f}"]
    flows = [float(flow) for flow in truth.flows["flow"].to_numpy()]
    water = solve(ground, flows, settings)
    for number in range(len(flows)):
        cells += _beside(water.isel(flow=number), truth.flows.isel(flow=number))
    return " | ".join([one.name, *cells])


def _beside(made: xr.Dataset, true: xr.Dataset) -> list[str]:
    """Return depth and speed root mean squares and the overlap of soft water at one flow."""
    both = np.isfinite(made["depth"].to_numpy()) & np.isfinite(true["depth"].to_numpy())
    depth = (made["depth"] - true["depth"]).to_numpy()[both]
    speeds = [np.hypot(one["east_speed"], one["north_speed"]).to_numpy() for one in (made, true)]
    mine, theirs = soft(made), soft(true)
    overlap = (mine & theirs).sum() / max((mine | theirs).sum(), 1)
    return [f"{_rms(depth):.2f} {_rms((speeds[0] - speeds[1])[both]):.2f} {overlap:.2f}"]


def table(settings: FlowSettings, river: str) -> str:
    """Return the table as Markdown."""
    lines = [
        "| river | given | bed rms m | within 20 m of it | low: depth, speed, overlap | middle "
        "| high |",
        "|---|---|---|---|---|---|---|",
    ]
    for case in _cases(settings):
        if river not in case.name:
            continue
        truth = Truth.of(case, case.flows, settings)
        for one in given(case, truth):
            lines.append(f"| {case.name} | {row_of(case, truth, one, settings)} |")
            print(lines[-1], flush=True)
    return "\n".join(lines)


def _cases(settings: FlowSettings) -> Iterator[Case]:
    """Yield the rivers."""
    yield sample_case()
    yield bends_case("steady bends", 20.0, settings)


def main() -> None:
    """Measure, print, and write the page if asked."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--profile", action="store_true")
    words.add_argument("--write", action="store_true")
    words.add_argument("--river", default="")
    asked = words.parse_args()
    text = table(FlowSettings(method="profile" if asked.profile else "engine"), asked.river)
    if asked.write:
        put_between(PAGE, MARKS, text)


if __name__ == "__main__":
    main()
