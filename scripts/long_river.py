"""A long invented river as a reach folder: a winding line, its banks and a terrain model."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from rasterio.features import rasterize
from rasterio.transform import from_origin
from scipy.spatial import cKDTree
from shapely import LineString, Polygon

CRS = "EPSG:32607"
STEP_M, WAVE_M, HALF_M, BANK_M, SLOPE, CELL_M, BESIDE_M = 4.0, 900.0, 18.0, 60.0, 0.002, 2.0, 140.0
"""Step along the line, length of a swing, half the water's width when full, breadth of the banks,
fall over length, cell of the terrain model, and how far beside the line it is known."""

TOML = """format = 1
name = "Long river (invented)"
units = "metric"
[river]
traced_flow = 40
[flows]
list = [12, 20, 32, 50, 80]
[dem]
flow = 14
height_unit = "m"
"""


def write_river(folder: Path, length: float) -> None:
    """Write a reach folder of `length` [m] that runs north-east in swings of 60 degrees.

    A parabolic channel with bars, pools on the outside of bends, and banks rising 1 in 5; the
    terrain model shows the water's surface where it is wet at 14 m3/s. The river fills a smaller
    share of its bounding box the longer it is.
    """
    folder.mkdir(parents=True)
    station = np.arange(0.0, length + STEP_M, STEP_M)
    heading = np.radians(45) + np.radians(60) * np.sin(2 * np.pi * station / WAVE_M)
    line = np.cumsum(STEP_M * np.c_[np.cos(heading), np.sin(heading)], axis=0)
    line += (500_000.0, 5_117_000.0)
    left = np.c_[-np.sin(heading), np.cos(heading)]
    river = LineString(line)
    named = {"name": ["Invented"], "part": ["main"]}
    file = folder / "markup.gpkg"
    gpd.GeoDataFrame(named, geometry=[river], crs=CRS).to_file(file, layer="river")
    gpd.GeoDataFrame(_banks(line, left), crs=CRS).to_file(file, layer="banks")
    _write_terrain(folder / "dem.tif", station, line, left)
    (folder / "reach.toml").write_text(TOML, encoding="utf-8")


def _banks(line: np.ndarray, left: np.ndarray) -> list[dict[str, object]]:
    """Return bank polygons of about a kilometre, gravel and trees in turn."""
    rows: list[dict[str, object]] = []
    count = max(int(len(line) * STEP_M / 1000), 1)
    for k, part in enumerate(np.array_split(np.arange(len(line)), count)):
        stretch = np.arange(part[0], min(part[-1] + 2, len(line)))
        for side, sign in (("left", 1), ("right", -1)):
            inner, outer = (
                line[stretch] + sign * away * left[stretch] for away in (HALF_M, HALF_M + BANK_M)
            )
            gravel = k % 2
            rows.append(
                {
                    "side": side,
                    "cover": "gravel" if gravel else "trees",
                    "rise": 3.0,
                    "cover_height": 0.0 if gravel else 8.0,
                    "geometry": Polygon(np.r_[inner, outer[::-1]]),
                }
            )
    return rows


def _write_terrain(path: Path, station: np.ndarray, line: np.ndarray, left: np.ndarray) -> None:
    """Write the terrain model; beyond `BESIDE_M` of the line nothing is known."""
    west, south = line.min(axis=0) - BESIDE_M - 20
    east, north = line.max(axis=0) + BESIDE_M + 20
    cols, rows = int((east - west) / CELL_M), int((north - south) / CELL_M)
    place = from_origin(west, north, CELL_M, CELL_M)
    near = rasterize([LineString(line).buffer(BESIDE_M)], (rows, cols), transform=place)
    row, col = np.nonzero(near)
    at = np.c_[west + (col + 0.5) * CELL_M, north - (row + 0.5) * CELL_M]
    _, vertex = cKDTree(line).query(at)
    away = ((at - line[vertex]) * left[vertex]).sum(axis=1)
    along = station[vertex]
    across, turn = np.abs(away) / HALF_M, np.cos(2 * np.pi * along / WAVE_M)
    inside = 1 - across**2
    bar = 0.35 * np.sin(2 * np.pi * along / 180)
    bed = -1.4 * inside * (1 + 0.35 * away / HALF_M * turn) + bar * inside
    ground = np.where(across < 1, bed, np.minimum((across - 1) * HALF_M / 5, 5))
    shown = np.maximum(ground, np.where(across < 1, -0.75, -9.0))
    raster = np.full((rows, cols), -9999, np.float32)
    raster[row, col] = 100 + SLOPE * (station[-1] - along) + shown
    profile = {"driver": "GTiff", "height": rows, "width": cols, "count": 1, "dtype": "float32"}
    with rasterio.open(
        path, "w", **profile, crs=CRS, transform=place, nodata=-9999, compress="deflate", tiled=True
    ) as file:
        file.write(raster, 1)
