"""How far the reading of the sample river is from the truth: python scripts/measure_water.py.

The sample is built twice: from what its angler drew, as the product does, and from its true bed and
roughness. The same rules read both. Printed at three flows: landmarks of the drawing of the river
(bends, lips, the side channel) found and missed, for each kind of water the precision and recall of
its area, of pieces beside a seam how near their lines lie, and of structure how many are found.
`--method profile` takes the quick preview for both.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import xarray as xr
from shapely import Point
from shapely.geometry.base import BaseGeometry

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

import reachmap  # noqa: E402
from reachmap import flow, ground  # noqa: E402
from reachmap.base.centreline import Centreline  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.units import to_si  # noqa: E402
from reachmap.base.words import Side, UnitSystem, WaterKind, Wet  # noqa: E402
from reachmap.water import Reading, WaterSettings, read_water  # noqa: E402
from reachmap.water.bends import bends_of  # noqa: E402
from scripts.sample import plan  # noqa: E402
from tests import truth  # noqa: E402

SAMPLE = ROOT / "data_samples" / "madeup_river"
FLOWS_CFS = (600, 1800, 4200)
NEAR_M = 30.0
"""How near a landmark must be found: half the river's width."""
NEAR_WIDTHS = 0.25
"""How near two seams must run for one cast to cover both, in river widths (our choice)."""
LINE_M = 4.0
"""How far from its strip the line of a seam may run [m]."""


@dataclass(frozen=True, slots=True)
class Case:
    """A river, its flows and what was read from them, by flow."""

    ground: xr.Dataset
    flows: xr.Dataset
    readings: tuple[Reading, ...]


def read_all(terrain: xr.Dataset, flows: xr.Dataset, settings: WaterSettings) -> Case:
    """Return the reading of every flow."""
    readings = [
        read_water(terrain, flows.isel(flow=[k]), settings) for k in range(flows.sizes["flow"])
    ]
    return Case(terrain, flows, tuple(readings))


def solved(
    terrain: xr.Dataset, method: str, flows_cfs: Iterable[float], settings: WaterSettings
) -> Case:
    """Return a river's flows and their reading."""
    asked = [to_si(float(value), "cfs") for value in flows_cfs]
    how = flow.FlowSettings(method=method)
    flowing = with_labels(flow.solve(terrain, asked, how), UnitSystem.US)
    return read_all(terrain, flowing, settings)


def drawn_case(method: str, flows_cfs: Iterable[float], settings: WaterSettings) -> Case:
    """Return the sample as drawn."""
    reach = reachmap.open_reach(SAMPLE).drawing
    rules = ground.GroundSettings()
    grid = ground.grid_of(reach, rules.cell, rules.margin_m)
    dem = ground.read_dem(reach.dems, grid, reach.plan.dem)
    return solved(ground.build_ground(reach, dem, rules), method, flows_cfs, settings)


def place(station: float) -> Point:
    """Return a place on the true centreline."""
    x, y = truth.true_line().place(np.array([station]), np.array([0.0]))
    return Point(float(x[0]), float(y[0]))


def true_bends() -> list[tuple[Point, Side]]:
    """Return the middle and the inner side of each bend the river was made with."""
    found, station = [], 0.0
    for bend in plan.BENDS:
        if bend.turn_deg:
            side = Side.LEFT if bend.turn_deg > 0 else Side.RIGHT
            found.append((place(station + bend.length / 2), side))
        station += bend.length
    return found


def drawn_bends(case: Case) -> list[tuple[Point, Side]]:
    """Return the middle and the inner side of each bend that was read."""
    line = Centreline.of(case.ground)
    found = []
    for bend in bends_of(case.ground, WaterSettings().bends):
        middle = 0.5 * (bend.station_m + bend.station_end_m)
        x, y = line.from_station_offset(np.array([middle]), np.zeros(1))
        found.append((Point(x[0], y[0]), bend.inside))
    return found


def true_lips(case: Case) -> list[Point]:
    """Return the riffle crests the river was made with, within the map."""
    end = Centreline.of(case.ground).foot
    return [place(s) for s, _, pool in plan.CRESTS_AND_POOLS if 0 < s < end - 60 and pool > 0.15]


def hits(found: list[Point], wanted: list[Point], near: float) -> tuple[int, int, int]:
    """Return how many found are near a wanted one, how many wanted near a found one, all found."""
    right = sum(any(f.distance(w) <= near for w in wanted) for f in found)
    met = sum(any(f.distance(w) <= near for f in found) for w in wanted)
    return right, met, len(found)


def area_of(layer: gpd.GeoDataFrame, kind: str | None) -> BaseGeometry:
    """Return the area of one kind of water, or of all."""
    return (layer if kind is None else layer[layer["kind"] == kind]).geometry.union_all()


def shares(drawn: BaseGeometry, true: BaseGeometry) -> str:
    """Return precision, recall and overlap of two areas as text."""
    common = drawn.intersection(true).area
    whole = drawn.union(true).area
    parts = [common / a if a > 0 else float("nan") for a in (drawn.area, true.area, whole)]
    sizes = f"{drawn.area / 100:.0f} / {true.area / 100:.0f}"
    return f"{parts[0]:.2f} | {parts[1]:.2f} | {parts[2]:.2f} | {sizes}"


def seam_shares(drawn: gpd.GeoDataFrame, true: gpd.GeoDataFrame, near: float = 10.0) -> str:
    """Return the share of seams' length within `near` [m] of the others', both ways."""
    parts = []
    for one, other in ((drawn, true), (true, drawn)):
        length = one.geometry.length.sum()
        inside = one.geometry.intersection(other.geometry.union_all().buffer(near)).length.sum()
        parts.append(f"{inside / length:.2f}" if length > 0 else "-")
    return f"{parts[0]} | {parts[1]} | - | {drawn.length.sum():.0f} / {true.length.sum():.0f} m"


def seam_piece_shares(
    drawn: Mapping[str, gpd.GeoDataFrame], true: Mapping[str, gpd.GeoDataFrame], near: float
) -> str:
    """Return what is true of the pieces beside seams, and of true ones what is drawn, as text.

    A piece is a line with a strip of a few metres beside it, so that of two lines side by side the
    strips have nothing in common. Told are the share of the pieces' lines within `near` [m] of a
    seam of the other reading, and of the pieces' area that is water of some kind in the other.
    """
    parts = []
    for one, other in ((drawn, true), (true, drawn)):
        own = one["water"][one["water"]["kind"] == WaterKind.SEAM].geometry
        lines = one["seams"].geometry.union_all().intersection(own.union_all().buffer(LINE_M))
        inside = lines.intersection(other["seams"].geometry.union_all().buffer(near)).length
        area = own.union_all().intersection(area_of(other["water"], None)).area
        told = [part / whole if whole > 0 else float("nan") for part, whole in
                ((inside, lines.length), (area, own.area.sum()))]  # fmt: skip
        parts.append(f"{told[0]:.2f} of {lines.length:.0f} m, {told[1]:.2f} of {len(own)} pieces")
    return f"{parts[0]} | {parts[1]} | - | -"


def structure_shares(drawn: gpd.GeoDataFrame, true: gpd.GeoDataFrame, near: float = 10.0) -> str:
    """Return by kind of structure: drawn, right, true, found; near is within `near` [m]."""
    lines = []
    for kind in sorted({*drawn["kind"].astype(str), *true["kind"].astype(str)}):
        mine, real = (one[one["kind"] == kind].geometry for one in (drawn, true))
        right, met = (
            sum(bool((b.distance(shape) <= near).any()) for shape in a)
            for a, b in ((mine, real), (real, mine))
        )
        lines.append(f"{kind} | {len(mine)} | {right} | {len(real)} | {met}")
    return "\n".join(lines)


def soft_shares(drawn: Case, true: Case, k: int) -> str:
    """Return precision, recall and overlap of the cells within the season's limits."""
    limits = reachmap.open_reach(SAMPLE).drawing.plan.season
    masks = []
    for case in (drawn, true):
        here = case.flows.isel(flow=k)
        speed = np.hypot(here["east_speed"], here["north_speed"])
        soft = (here["wet"] == Wet.YES) & (here["depth"] >= limits.depth_low_m)
        soft &= (here["depth"] <= limits.depth_high_m) & (speed >= limits.speed_low_m_s)
        masks.append(soft & (speed <= limits.speed_high_m_s))
    one, other = xr.align(*masks, join="inner")
    common, a, b = int((one & other).sum()), int(masks[0].sum()), int(masks[1].sum())
    cell = float(drawn.ground.attrs["cell"]) ** 2
    return (
        f"{common / a:.2f} | {common / b:.2f} | {common / (a + b - common):.2f} | "
        f"{a * cell / 100:.0f} / {b * cell / 100:.0f}"
    )


def lane_gap(drawn: Mapping[str, gpd.GeoDataFrame], true: Mapping[str, gpd.GeoDataFrame]) -> str:
    """Return how far the drawn lane lies from the true one: median [m] and share within 10 m."""
    other = true["lanes"].geometry.union_all()
    lines = drawn["lanes"].geometry
    along = [line.interpolate(s) for line in lines for s in np.arange(0, line.length, 5.0)]
    gaps = np.array([point.distance(other) for point in along])
    return f"median {np.median(gaps):.1f} m, {100 * (gaps <= 10).mean():.0f} % within 10 m"


def print_landmarks(drawn: Case, true: Case) -> None:
    """Print what of the river's making was found."""
    bends, made = drawn_bends(drawn), true_bends()
    right = [any(s == t and p.distance(q) <= 2 * NEAR_M for q, t in made) for p, s in bends]
    met = [any(s == t and p.distance(q) <= 2 * NEAR_M for p, s in bends) for q, t in made]
    print(f"Bends, with their inner side: {sum(met)} of {len(made)} found, ", end="")
    print(f"{len(bends) - sum(right)} false\n")
    print("| flow | lips found | false | side channel drawn / true |")
    print("|---|---|---|---|")
    wanted = true_lips(true)
    for k, label in enumerate(drawn.flows["asked"].to_numpy()):
        tails = drawn.readings[k].layers["tailouts"]
        lips = [Point(line.coords[-1]) for line in tails.geometry]
        good, met_lips, found = hits(lips, wanted, NEAR_M)
        runs = [
            "runs" if (c := r.layers["channels"])[c["kind"] == "side"].length.max() > 150 else "no"
            for r in (drawn.readings[k], true.readings[k])
        ]
        print(f"| {label} | {met_lips} of {len(wanted)} | {found - good} | {runs[0]} / {runs[1]} |")


def print_areas(drawn: Case, true: Case) -> None:
    """Print precision, recall and overlap of each kind of water."""
    print("\n| flow | kind | precision | recall | overlap | drawn / true, 100 m2 |")
    print("|---|---|---|---|---|---|")
    for k, label in enumerate(drawn.flows["asked"].to_numpy()):
        mine, real = (case.readings[k].layers for case in (drawn, true))
        print(f"| {label} | cells within limits | {soft_shares(drawn, true, k)} |")
        for kind in (None, *WaterKind):
            name = "any water" if kind is None else str(kind).replace("_", " ")
            told = shares(area_of(mine["water"], kind), area_of(real["water"], kind))
            print(f"| {label} | {name} | {told} |")
        print(f"| {label} | seam lines | {seam_shares(mine['seams'], real['seams'])} |")
        width = Centreline.of(drawn.ground).median_width
        for near in (10.0, NEAR_WIDTHS * width):
            told = seam_piece_shares(mine, real, near)
            print(f"| {label} | seam pieces, lines within {near:.0f} m | {told} |")
        print(f"| {label} | lane | {lane_gap(mine, real)} | | | |")


def print_structure(drawn: Case, true: Case) -> None:
    """Print how many structures are found, by kind."""
    print("\n| flow | kind | drawn | right | true | found |\n|---|---|---|---|---|---|")
    for k, label in enumerate(drawn.flows["asked"].to_numpy()):
        mine, real = (case.readings[k].layers["structure"] for case in (drawn, true))
        for line in structure_shares(mine, real).splitlines():
            print(f"| {label} | {line} |")


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--method", choices=("engine", "profile"), default="engine")
    parser.add_argument("--flows", type=float, nargs="+", default=FLOWS_CFS, help="flows in cfs")
    asked = parser.parse_args()
    rules = WaterSettings(limits=reachmap.open_reach(SAMPLE).drawing.plan.season)
    drawn = drawn_case(asked.method, asked.flows, rules)
    true = solved(truth.true_ground(2), asked.method, asked.flows, rules)
    print_landmarks(drawn, true)
    print_areas(drawn, true)
    print_structure(drawn, true)
    return 0


if __name__ == "__main__":
    sys.exit(main())
