"""Preview of the DEM: metadata of its files, and heights at a few places.

The raster itself is read by the ground stage; this checks early whether it can be.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.io import DatasetReader
from shapely import Polygon
from shapely.geometry import box

from reachmap.base.arrays import FloatArray
from reachmap.base.crs import is_known_crs, is_placed, transform_points, vertical_frame
from reachmap.base.errors import Fault
from reachmap.base.quoting import quoted
from reachmap.base.rasters import open_raster
from reachmap.base.safe_files import RefusedError
from reachmap.base.units import FACTORS, HEIGHT_UNIT_WORDS

EDGE_POINTS = 8
"""Points along each side of a tile when its outline is carried into another CRS (our choice)."""


@dataclass(frozen=True, slots=True)
class Tile:
    """Metadata of one raster file.

    Parameters
    ----------
    path
        The file.
    crs
        Its CRS as WKT, "" for none.
    unit_m
        Size of its unit of height [m], NaN where not given.
    datum
        Name of its vertical datum, "" where not given.
    outline
        Its outline in the project's CRS; empty where that is not known.
    cell
        Size of a cell in its own horizontal unit.
    date, flown
        The day that the file names, ISO, "" for none; and whether that is the day of the flight,
        not the day on which the file was made.
    """

    path: Path
    crs: str
    unit_m: float
    datum: str
    outline: Polygon
    cell: float
    date: str = ""
    flown: bool = False


def look_at_tiles(paths: Sequence[Path], crs: str) -> tuple[list[Tile], list[Fault]]:
    """Return the metadata of each raster file, and the faults of unusable ones.

    Parameters
    ----------
    paths
        Raster files.
    crs
        The project's CRS, "" where it is not known.
    """
    tiles: list[Tile] = []
    faults: list[Fault] = []
    for path in paths:
        where = f"DEM {path.name}"
        try:
            with _no_georeference_warning(), open_raster(path) as source:
                wkt = source.crs.to_wkt() if source.crs is not None else ""
                bands, kind = source.count, source.dtypes[0]
                words = (source.units[0] or "").strip().lower()
                bounds, cell = source.bounds, max(source.res)
                size = source.width, source.height
                placed = not source.transform.is_identity
                date, flown = _day_of(source)
        except RefusedError as error:
            faults.append(Fault(where, f"it cannot be read ({error.found})", error.fix))
            continue
        except (RasterioError, OSError, ValueError) as error:
            fix = "Export it again as a GeoTIFF, or take it out"
            faults.append(Fault(where, f"it cannot be read ({quoted(str(error), 120)})", fix))
            continue
        wrong = _too_large(*size) or _unfit(bands, kind, wkt, placed=placed)
        if wrong is not None:
            faults.append(Fault(where, *wrong))
            continue
        datum, vertical = vertical_frame(wkt)
        unit = HEIGHT_UNIT_WORDS.get(words, vertical)
        outline = _outline(bounds, wkt, crs)
        tiles.append(Tile(path, wkt, unit, datum, outline, float(cell), date, flown))
    return tiles, faults


def _day_of(source: DatasetReader) -> tuple[str, bool]:
    """Return the day that a raster names, ISO, "" for none, and whether it was flown then.

    GDAL keeps the day of a flight as ACQUISITIONDATETIME, domain IMAGERY (from memory). The tag
    DateTime of TIFF is the day on which the file was made (TIFF 6.0, Adobe 1992, "DateTime": "date
    and time of image creation", YYYY:MM:DD HH:MM:SS; from memory).
    """
    told = source.tags(ns="IMAGERY").get("ACQUISITIONDATETIME", "")
    made = source.tags().get("TIFFTAG_DATETIME", "")
    for text, flown in ((told, True), (made, False)):
        try:
            return date.fromisoformat(text.strip()[:10].replace(":", "-")).isoformat(), flown
        except ValueError:
            continue
    return "", False


MOST_CELLS = 2_000_000_000
"""Most cells of one DEM file (our choice: 45 km square at 1 m)."""


def _too_large(wide: int, high: int) -> tuple[str, str] | None:
    """Return the fault of a raster that is too large as (found, fix), None otherwise."""
    if wide * high <= MOST_CELLS:
        return None
    return f"it holds {wide} x {high} cells", "Cut it to the reach in a GIS program, or take it out"


def _unfit(bands: int, kind: str, crs: str, *, placed: bool) -> tuple[str, str] | None:
    """Return the fault of an unusable raster as (found, fix), None for a usable one."""
    again = "in a GIS program and export it again"
    if bands in (3, 4) and kind == "uint8":
        fix = "Give the ground's heights as a raster of one band, or take it out"
        return f"it is a picture of {bands} bands, not heights", fix
    if not placed:
        return "it does not say where it lies", f"Give it its place and CRS {again}"
    if not crs:
        return "it does not say its CRS", f"Give it its CRS {again}"
    if not is_known_crs(crs) or not is_placed(crs):
        return "its CRS says no place on the Earth", f"Give it its true CRS {again}"
    return None


@contextmanager
def _no_georeference_warning() -> Iterator[None]:
    """Silence rasterio's warning on rasters without georeferencing: it is reported as a fault."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        yield


def heights_at(
    tiles: Sequence[Tile], x: FloatArray, y: FloatArray, crs: str, unit_m: float
) -> FloatArray:
    """Return the DEM's heights at places [m]; NaN where no tile has a value.

    Parameters
    ----------
    tiles
        Readable tiles with a CRS; where several cover a place the first is used.
    x, y
        Places in `crs`, 1-D.
    crs
        The project's CRS.
    unit_m
        Size of the unit of height of tiles that do not give theirs [m].
    """
    heights = np.full(x.shape, np.nan)
    for tile in tiles:
        missing = np.flatnonzero(np.isnan(heights))
        if not missing.size:
            break
        try:
            own_x, own_y = transform_points(x[missing], y[missing], crs, tile.crs)
            heights[missing] = _sampled(tile, own_x, own_y, unit_m)
        except (RefusedError, RasterioError, OSError, ValueError):
            continue  # files that cannot be read are reported by `look_at_tiles`
    return heights


def unit_in_use(tiles: Sequence[Tile], said: str) -> float:
    """Return the size of the unit of height [m]: from the files, else from reach.toml."""
    named = [tile.unit_m for tile in tiles if not math.isnan(tile.unit_m)]
    return named[0] if named else FACTORS[said]


def _sampled(tile: Tile, x: FloatArray, y: FloatArray, unit_m: float) -> FloatArray:
    """Return one tile's heights at places in its own CRS [m]."""
    unit = unit_m if math.isnan(tile.unit_m) else tile.unit_m
    with open_raster(tile.path) as source:
        left, bottom, right, top = source.bounds
        within = (x >= left) & (x <= right) & (y >= bottom) & (y <= top)
        values = np.full(x.shape, np.nan)
        places = np.flatnonzero(within & np.isfinite(x) & np.isfinite(y))
        order = places[np.lexsort((x[places], -y[places]))]  # row by row: blocks are read once
        pairs = [(float(x[index]), float(y[index])) for index in order]
        for index, value in zip(order, source.sample(pairs, indexes=1, masked=True), strict=True):
            if not np.ma.getmaskarray(value)[0] and np.isfinite(value[0]):
                values[index] = float(value[0])
    return values * unit


def _outline(bounds: tuple[float, float, float, float], own: str, crs: str) -> Polygon:
    """Return a tile's outline in the project's CRS, its sides densified before projection."""
    if not crs:
        return Polygon()
    ring = np.asarray(box(*bounds).exterior.coords)
    steps = np.linspace(0, 1, EDGE_POINTS, endpoint=False)[:, None]
    dense = np.vstack([a + steps * (b - a) for a, b in pairwise(ring)])
    try:
        x, y = transform_points(dense[:, 0].copy(), dense[:, 1].copy(), own, crs)
    except ValueError:
        return Polygon()
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        return Polygon()
    return Polygon(np.column_stack([x, y]))
