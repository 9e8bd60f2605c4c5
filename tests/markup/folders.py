"""A small valid reach folder, invented, and ways to spoil it one thing at a time."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import geopandas as gpd
import numpy as np
import rasterio
from affine import Affine
from shapely import LineString, Point, Polygon

from reachmap.markup.write import layer_of, write_layers

CRS = "EPSG:32607"
X, Y = 500_000.0, 5_117_000.0
SLOPE = 0.002
LENGTH, HALF = 600.0, 20.0

TOML = """format = 1
name = "Invented reach"
units = "metric"

[river]
traced_flow = 30
slope = 0.002

[flows]
list = [20, 30, 45]
ladder = 0

[dem]
flow = 25
height_unit = "m"

[season]
name = "winter"
depth = [0.5, 1.8]
speed = [0.3, 0.9]

[angler]
height = 1.8
wade_limit = 0.9
hand = "right"
leader = 1.2
cast_limit = 24

[[rod]]
name = "thirteen"
length = "13 ft"
line_weight = 7

[[head]]
name = "short"
length = 7.3
family = "skagit"

[[tip]]
name = "floating"
length = 3
sink = 0
"""


def at(x: float, y: float) -> Point:
    """Return a place `x` metres down the straight river and `y` to its left."""
    return Point(X + x, Y + y)


def box(x0: float, y0: float, x1: float, y1: float) -> Polygon:
    return Polygon([(X + x0, Y + y0), (X + x1, Y + y0), (X + x1, Y + y1), (X + x0, Y + y1)])


def line(*places: tuple[float, float]) -> LineString:
    return LineString([(X + x, Y + y) for x, y in places])


def rows() -> dict[str, list[dict]]:
    """Return the features of a straight river that runs east, with something on every layer."""
    return {
        "river": [
            {
                "geometry": line(*((x, 0.0) for x in np.linspace(0, LENGTH, 31))),
                "name": "Invented",
                "part": "main",
            },
            {
                "geometry": line((200, -15), (250, -32), (330, -32), (380, -15)),
                "name": "back channel",
                "part": "side",
            },
        ],
        "banks": [
            {
                "geometry": box(-10, HALF, 300, 60),
                "name": "upper bar",
                "side": "left",
                "cover": "gravel",
                "rise": 1.2,
                "cover_height": 0.0,
            },
            {
                "geometry": box(300, HALF, 610, 60),
                "name": "alder flat",
                "side": "left",
                "cover": "trees",
                "rise": 1.5,
                "cover_height": 12.0,
                "note": "low branches",
            },
            {
                "geometry": box(-10, -80, 610, -40),
                "name": "road side",
                "side": "right",
                "cover": "built",
                "rise": 3.0,
                "cover_height": 1.0,
            },
            {"geometry": box(240, -30, 340, -20), "side": "island", "cover": "brush", "rise": 0.6},
        ],
        "edges": [{"geometry": line((0, 22), (600, 22)), "flow": 45.0, "date": "2001-11-02"}],
        "soundings": [
            {"geometry": at(100, 2), "name": "S1", "depth": 1.2, "flow": 30.0},
            {"geometry": at(200, 5), "name": "S2", "bed": 98.2},
        ],
        "speeds": [{"geometry": at(150, 0), "speed": 0.9, "flow": 30.0, "how": "surface"}],
        "levels": [
            {"geometry": at(50, 10), "level": 99.9, "flow": 25.0},
            {"geometry": at(550, 10), "level": 98.9, "flow": 25.0},
        ],
        "trees": [{"geometry": at(120, 40), "height": 18.0, "size": 6.0}],
        "rocks": [{"geometry": at(320, 4), "height": 0.8, "size": 2.0}],
        "structure": [
            {"geometry": at(260, 6), "kind": "bucket", "flow": 34.0, "note": "always one"}
        ],
        "hazards": [{"geometry": at(420, 18), "kind": "strainer", "note": "cedar in the water"}],
        "access": [{"geometry": at(60, 70), "kind": "parking", "note": "four cars"}],
        "runs": [
            {"geometry": box(0, -20, 250, 20), "name": "Bar run"},
            {"geometry": box(350, -20, 600, 20), "name": "Alder run"},
        ],
    }


def layers(made: dict[str, list[dict]] | None = None) -> dict[str, gpd.GeoDataFrame]:
    return {name: layer_of(name, each, CRS) for name, each in (made or rows()).items()}


def write_dem(
    path: Path,
    *,
    x0: float = -60.0,
    x1: float = 660.0,
    factor: float = 1.0,
    slope: float = SLOPE,
    base: float = 100.0,
    crs: str | None = CRS,
    cell: float = 4.0,
    unit: str = "",
) -> Path:
    """Write heights of the straight river: water at `base` m less the slope, banks 1 in 10."""
    x = np.arange(x0 + cell / 2, x1, cell)
    y = np.arange(100 - cell / 2, -100, -cell)
    across = np.abs(y)[:, None]
    ground = np.where(across <= HALF, 0.0, np.minimum((across - HALF) / 10, 3.0))
    height = (base - slope * x[None, :] + ground) * factor
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=x.size,
        height=y.size,
        count=1,
        dtype="float32",
        crs=crs,
        transform=Affine(cell, 0, X + x0, 0, -cell, Y + 100),
        nodata=-9999,
    ) as target:
        target.write(height.astype("float32"), 1)
        if unit:
            target.units = (unit,)
    return path


RATING = "stage_m,flow_m3s\n0.5,10\n0.9,25\n1.4,60\n2.2,150\n"
RECORD = "time,flow_m3s\n2001-11-01T00:00Z,28\n2001-11-01T06:00Z,Ice\n2001-11-01T12:00Z,31.5\n"


def plain(given: list[dict]) -> list[dict]:
    """Return rows in a form that can be compared: geometry, NaN too, as text."""
    return [{key: str(value) for key, value in row.items()} for row in given]


@cache
def good_files() -> tuple[bytes, bytes]:
    """Return the unspoilt drawing and DEM, made once."""
    with TemporaryDirectory() as aside:
        drawing = write_layers(Path(aside) / "markup.gpkg", layers())
        return drawing.read_bytes(), write_dem(Path(aside) / "dem.tif").read_bytes()


def make(
    folder: Path,
    *,
    toml: str = TOML,
    made: dict[str, list[dict]] | None = None,
    dem: bool = True,
    gauge: bool = True,
) -> Path:
    """Write a valid reach folder, or one whose reach.toml or features are given."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "reach.toml").write_text(toml, encoding="utf-8")
    drawing, ground = good_files()
    (folder / "markup.gpkg").write_bytes(drawing)
    usual = rows()
    changed = {n: each for n, each in (made or {}).items() if plain(each) != plain(usual[n])}
    if changed:
        write_layers(folder / "markup.gpkg", layers(changed))
    if dem:
        (folder / "dem.tif").write_bytes(ground)
    if gauge:
        (folder / "gauge").mkdir(exist_ok=True)
        (folder / "gauge" / "rating.csv").write_text(RATING, encoding="utf-8")
        (folder / "gauge" / "record.csv").write_text(RECORD, encoding="utf-8")
    return folder


def with_line(toml: str, old: str, new: str) -> str:
    """Return reach.toml with one line put in another's place; fails where the old is not there."""
    changed, count = re.subn(rf"(?m)^{re.escape(old)}$", new, toml)
    assert count == 1, f"{old!r} stands {count} times"
    return changed


def us_toml(toml: str) -> str:
    """Return the same plan in a folder of US units, each number with its metric unit behind."""
    return (
        toml.replace('"metric"', '"us"')
        .replace("traced_flow = 30", 'traced_flow = "30 m3/s"')
        .replace("[20, 30, 45]", '["20 m3/s", "30 m3/s", "45 cms"]')
        .replace("flow = 25", 'flow = "25 m3/s"')
        .replace("[0.5, 1.8]", '["0.5 m", "1.8 m"]')
        .replace("[0.3, 0.9]", '["0.3 m/s", "0.9 m/s"]')
        .replace("height = 1.8", 'height = "1.8 m"')
        .replace("wade_limit = 0.9", 'wade_limit = "90 cm"')
        .replace("leader = 1.2", 'leader = "1.2 metres"')
        .replace("cast_limit = 24", 'cast_limit = "24 m"')
        .replace("length = 7.3", 'length = "7.3 m"')
        .replace("length = 3\n", 'length = "3 m"\n')
    )
