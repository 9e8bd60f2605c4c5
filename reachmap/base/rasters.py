"""Opening rasters for reading: GeoTIFF or ASCII grid by the first bytes, and no network.

The raster library would open by any of its 200 drivers whatever a file holds: descriptions that
name other files, map services, addresses. Every raster that reachmap reads is opened here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import rasterio
from rasterio.io import DatasetReader, MemoryFile

from reachmap.base.safe_files import FileKind, RefusedError, check_file
from reachmap.base.sniff import SQLITE_HEAD, TIFF_HEADS, Content, content_of

DRIVERS = {
    **dict.fromkeys((Content.TIFF, Content.TIFF_PICTURE, Content.TIFF_BYTES), "GTiff"),
    Content.ASCII_GRID: "AAIGrid",
}
"""The one driver of the library that each content is opened by."""

CLOSED = {
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_PAM_ENABLED": "NO",
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
    "GDAL_HTTP_MAX_RETRY": "0",
}
"""Options under which GDAL looks at no file beside the one it is given and at no remote one."""

NAMES_FILES = frozenset({"OVERVIEWS", "GEOLOCATION"})
"""Domains of a TIFF's own metadata by which it can name other files or addresses."""

LARGEST_BLOCK = 1_000_000_000
"""Largest strip or tile [bytes unpacked] (our choice): it is held in memory whole."""

EXPORT_TIFF = "Export it again as a GeoTIFF, or take it out"


@contextmanager
def open_raster(path: Path) -> Iterator[DatasetReader]:
    """Yield a GeoTIFF or an ASCII grid opened for reading.

    What lies beside it (.aux.xml, .ovr, .tfw) is not read, but for the .prj of an ASCII grid, which
    has no other place for its CRS.

    Raises
    ------
    RefusedError
        If it is not a plain file, too large, neither of them, names other files, or lies askew.
    rasterio.errors.RasterioError
        If the library cannot read it.
    """
    check_file(path, FileKind.TERRAIN)
    driver = DRIVERS.get(content_of(path))
    if driver is None:
        msg = "it is not a GeoTIFF"
        raise RefusedError(msg, EXPORT_TIFF)
    if driver != "GTiff":
        check_file(path.with_suffix(".prj"), FileKind.SETTINGS, path.parent)
    # as a whole path, so that no name can be taken for an address or a virtual file system
    with rasterio.Env(**CLOSED), rasterio.open(str(path.resolve()), driver=driver) as source:
        _refuse_odd(source)
        yield source


@contextmanager
def open_imagery(path: Path) -> Iterator[DatasetReader]:
    """Yield a picture from the air opened for reading: a GeoTIFF, or tiles in an MBTiles file.

    Raises
    ------
    RefusedError
        If it is not a plain file, too large, neither of the two, names other files, or lies askew.
    rasterio.errors.RasterioError
        If the library cannot read it.
    """
    check_file(path, FileKind.IMAGERY)
    with path.open("rb") as stream:
        head = stream.read(len(SQLITE_HEAD))
    driver = "GTiff" if head.startswith(TIFF_HEADS) else "MBTiles" if head == SQLITE_HEAD else ""
    if not driver:
        msg = "it is neither a GeoTIFF nor an MBTiles file"
        raise RefusedError(msg, EXPORT_TIFF)
    with rasterio.Env(**CLOSED), rasterio.open(str(path.resolve()), driver=driver) as source:
        _refuse_odd(source)
        yield source


@contextmanager
def open_held(data: bytes) -> Iterator[DatasetReader]:
    """Yield a GeoTIFF of our own, held in memory, opened for reading.

    Raises
    ------
    rasterio.errors.RasterioError
        If the library cannot read it.
    """
    with rasterio.Env(**CLOSED), MemoryFile(data) as file, file.open(driver="GTiff") as source:
        yield source


@contextmanager
def open_mosaic(description: bytes) -> Iterator[DatasetReader]:
    """Yield several rasters as one.

    Parameters
    ----------
    description
        GDAL's description of the mosaic, made by reachmap, never read from a file; each of its
        sources must have been opened by `open_raster` before.
    """
    with (
        rasterio.Env(**CLOSED),
        MemoryFile(description, ext=".vrt") as file,
        file.open(driver="VRT") as source,
    ):
        yield source


def _refuse_odd(source: DatasetReader) -> None:
    """Raise for a TIFF that names other files, lies askew, or has parts beyond the memory."""
    named = NAMES_FILES & {*source.tag_namespaces(), *source.tag_namespaces(1)}
    if named:
        msg = f"it names other files ({', '.join(sorted(named)).lower()})"
        raise RefusedError(msg, EXPORT_TIFF)
    place = source.transform
    if not all(map(math.isfinite, place[:6])):
        msg = "where it lies makes no sense"
        raise RefusedError(msg, EXPORT_TIFF)
    upright = place.a > 0 > place.e and place.b == place.d == 0
    if not upright and not place.is_identity:  # without a place it is another fault
        msg = "its rows do not run from west to east and from north to south"
        raise RefusedError(
            msg, "Export it again north up, as a GIS program does when it reprojects"
        )
    for shape, kind in zip(source.block_shapes, source.dtypes, strict=True):
        if math.prod(shape) * _bytes_a_cell(kind) > LARGEST_BLOCK:
            msg = f"its tiles are too large ({shape[1]:,} by {shape[0]:,} cells)"
            raise RefusedError(msg, "Export it again with tiles of 256 or 512 cells")


def _bytes_a_cell(kind: str) -> int:
    """Return the size of a cell [bytes]; 16, the largest, for kinds that only GDAL knows."""
    try:
        return np.dtype(kind).itemsize
    except TypeError:
        return 16
