"""Measure a draft from terrain alone on the made rivers, whose water is known.

    python -m scripts.measure_draft [--only NAME] [--plot DIR]

Each river: the terrain that a flight at its low flow would show, water flat across and lidar's
noise on all of it; then the draft from it. Written: how far the drafted line lies from the true
middle, the drafted edge from the true edge, islands and side channels found and false, crests found
and false within half a width. The truth is the made rivers' own: their bed, and the water of the
quick flow stage on it
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import FloatArray  # noqa: E402
from reachmap.base.grid import Grid  # noqa: E402
from reachmap.base.patches import Patches  # noqa: E402
from reachmap.draft import Draft, DraftSettings, Place, draft_river  # noqa: E402
from scripts.draft_rivers import River, flown, rivers  # noqa: E402

LEAST_ISLAND = 0.15
"""True islands smaller than a square of this many widths a side are not asked for (the draft's)."""


@dataclass(frozen=True)
class Score:
    """How a draft compares; lengths in m."""

    line: float
    within: float
    edge: float
    edge_high: float
    islands: tuple[int, int, int]
    sides: tuple[int, int]
    crests: tuple[int, int, int]
    seconds: float


def judged(river: River, draft: Draft, seconds: float) -> Score:
    """Return a draft's score."""
    main = next(one.shape for one in draft.features if one.values.get("part") == "main")
    half = draft.width / 2
    trim = min(1.0, 2 * draft.width / main.length)
    at = np.linspace(trim, 1 - trim, 400) * main.length
    off = shapely.distance(
        shapely.points(np.array([main.interpolate(s).coords[0] for s in at])), river.line
    )
    banks = [one for one in draft.features if one.layer == "banks"]
    inner = _inner_edges([one.shape for one in banks], main)
    outlines = [one for one, _ in river.grid.polygons(river.wet.astype(np.int32))]
    edge = shapely.union_all([one.boundary for one in outlines])
    shapely.prepare(edge)
    gaps = shapely.distance(shapely.points(inner), edge)
    true = true_islands(river, draft.width)
    mine = [one.shape for one in banks if one.values["side"] == "island"]
    large = (LEAST_ISLAND * draft.width) ** 2
    hit = [one for one in true if any(_alike(one, other) for other in mine)]
    false = [one for one in mine if one.area > large and not any(_touch(one, o) for o in true)]
    faces = _faces([one.shape for one in draft.features if one.layer == "river"])
    ringed = [
        one for one in true if any(face.contains(one.representative_point()) for face in faces)
    ]
    crests = _crests(river, [one.shape for one in draft.features if one.layer == "levels"], half)
    return Score(
        float(np.median(off)), float((off <= half).mean()), float(np.median(gaps)),
        float(np.percentile(gaps, 90)), (len(hit), len(true), len(false)),
        (len(ringed), len(true)), crests, seconds,
    )  # fmt: skip


def _inner_edges(banks: list[Polygon], main: LineString) -> FloatArray:
    """Return points every 2 m along the banks' sides that face the water."""
    whole = shapely.union_all(banks)
    points = []
    for part in shapely.get_parts(shapely.line_merge(whole.boundary)):
        at = np.arange(0, part.length, 2.0)
        points += [part.interpolate(s).coords[0] for s in at]
    found = np.array(points)
    station = np.array([main.project(Point(*p)) for p in found])
    # of the outline of all banks, what lies nearer to the line than the banks' middles
    middle = shapely.distance(shapely.points(found), main)
    reach = np.median([one.centroid.distance(main) for one in banks])
    good = (station > 40) & (station < main.length - 40) & (middle < 0.93 * reach)
    return found[good]


def true_islands(river: River, width: float) -> list[Polygon]:
    """Return the outlines of the true islands that are large enough."""
    dry = Patches.of(~river.wet)
    border = np.zeros_like(river.wet)
    border[0], border[-1], border[:, 0], border[:, -1] = True, True, True, True
    border |= ~np.isfinite(river.height)
    inner = ~dry.holding(border)
    inner[0] = False
    least = max(40.0, (LEAST_ISLAND * width) ** 2)
    found = [one for one, _ in river.grid.polygons(dry.labels * inner[dry.labels])]
    return [one for one in found if one.area >= least]


def _alike(one: Polygon, other: Polygon) -> bool:
    """Return whether two outlines share a third of what they cover."""
    return one.intersection(other).area > one.union(other).area / 3


def _touch(one: Polygon, other: Polygon) -> bool:
    """Return whether two outlines overlap at all."""
    return bool(one.intersects(other))


def _faces(lines: list[LineString]) -> list[Polygon]:
    """Return what the drafted channels ring, their ends carried to the nearest other channel."""
    joined = []
    for k, line in enumerate(lines):
        coords = list(line.coords)
        if k:
            others = shapely.union_all(lines[:k])
            for end in (0, -1):
                a, b = map(np.array, shapely.shortest_line(Point(coords[end]), others).coords)
                past = tuple(b + (b - a) * 0.05 + 1e-3)  # just over it, so that they surely cross
                coords = [past, *coords] if end == 0 else [*coords, past]
        joined.append(LineString(coords))
    faces = shapely.polygonize(shapely.get_parts(shapely.node(shapely.multilinestrings(joined))))
    return [one for one in faces.geoms if one.geom_type == "Polygon"]


def _crests(river: River, points: list[Point], half: float) -> tuple[int, int, int]:
    """Return crests found within half a width (of the channel) along the line, true, and false."""
    if river.crests is None:
        return (0, 0, len(points))
    true = river.crests[(river.crests > 2 * half) & (river.crests < river.line.length - 2 * half)]
    mine = np.array([river.line.project(one) for one in points])
    hit = sum(bool(mine.size) and np.abs(mine - s).min() <= half for s in true)
    false = sum(not true.size or np.abs(true - s).min() > half for s in mine)
    return int(hit), int(true.size), int(false)


def drafted(river: River, height: FloatArray) -> tuple[Draft, float]:
    """Return a draft of a river, and its seconds of processor time."""

    def terrain(grid: Grid) -> FloatArray:
        if grid == river.grid:
            return height
        row, col, inside = river.grid.index(*np.meshgrid(grid.x, grid.y))
        return np.where(inside, height[row, col], np.nan)

    place = Place(river.grid.crs, river.grid.bounds, river.grid.cell)
    start = time.process_time()
    draft = draft_river(place, terrain, lambda _grid, _height: None, DraftSettings())
    return draft, time.process_time() - start


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="")
    parser.add_argument("--plot", type=Path)
    told = parser.parse_args()
    print(
        "| river | width | line off | within | edge | edge 90 % | islands | ringed | crests | s |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    for make in rivers():
        river = make()
        if told.only and told.only not in river.name:
            continue
        height = river.height if river.name == "sample" else flown(river)
        draft, seconds = drafted(river, height)
        s = judged(river, draft, seconds)
        print(
            f"| {river.name} | {draft.width:.0f} | {s.line:.1f} | {s.within:.0%} | {s.edge:.1f} | "
            f"{s.edge_high:.1f} | {s.islands[0]} of {s.islands[1]}, {s.islands[2]} false | "
            f"{s.sides[0]} of {s.sides[1]} | {s.crests[0]} of {s.crests[1]}, {s.crests[2]} false | "
            f"{s.seconds:.1f} |",
            flush=True,
        )
        if told.plot is not None:
            _plot(river, draft, told.plot)


def _plot(river: River, draft: Draft, folder: Path) -> None:
    """Draw a draft over the truth."""
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    west, south, east, north = river.grid.bounds
    figure, axes = plt.subplots(figsize=(18, 11))
    axes.imshow(river.wet, extent=(west, east, south, north), cmap="Blues", alpha=0.6)
    for one in draft.features:
        if one.layer == "banks":
            axes.fill(*one.shape.exterior.xy, alpha=0.35)
        elif one.layer == "river":
            axes.plot(*one.shape.xy, "k" if one.values["part"] == "main" else "r")
        elif one.layer == "levels":
            axes.plot(one.shape.x, one.shape.y, "m*")
    axes.plot(*river.line.xy, "g--", lw=0.7)
    for s in [] if river.crests is None else river.crests:
        axes.plot(*river.line.interpolate(s).xy, "gx")
    folder.mkdir(parents=True, exist_ok=True)
    figure.savefig(folder / f"{river.name}.png", dpi=55)
    plt.close(figure)


if __name__ == "__main__":
    main()
