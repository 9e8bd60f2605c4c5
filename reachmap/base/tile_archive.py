"""Pictures in a PMTiles archive (version 3); every size and offset is checked before use."""

from __future__ import annotations

import io
import math
import mmap
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from pmtiles.reader import Reader
from pmtiles.tile import TileType

from reachmap.base.crs import WEB_MERCATOR, WGS84, transform_points
from reachmap.base.grid import Bounds, Grid
from reachmap.base.safe_files import FileKind, RefusedError, check_file

ARCHIVE: Any = Reader
"""The library's reader; it carries no types."""

HEAD = b"PMTiles\x03"
"""How an archive of version 3 begins (PMTiles specification, section 3)."""

HALF_WORLD_M = math.pi * 6378137.0
"""From the middle of Web Mercator to its edges [m]."""

PICTURES = {TileType.PNG: "PNG", TileType.JPEG: "JPEG", TileType.WEBP: "WEBP"}
"""Kinds of tiles that hold pictures, and what opens them."""

MOST_TILES = 1600
"""Tiles read for one map; a coarser level is taken beyond; our choice: 105 million pixels."""

MOST_PIECE, MOST_UNPACKED = 8_000_000, 64_000_000
"""Largest piece of the file read at once, and what a directory may unpack to [bytes]."""

SIDES = (256, 512)
"""Sides that a tile may have [px]."""

TAKE_OUT = "Make it again from the pictures, or take it out"


def is_tile_archive(path: Path) -> bool:
    """Return whether a file begins as an archive does; False for one that cannot be read."""
    check_file(path, FileKind.IMAGERY)
    with path.open("rb") as stream:
        return stream.read(len(HEAD) - 1) == HEAD[:-1]


def look_into_archive(path: Path) -> None:
    """Raise where an archive holds no pictures that can be laid under a map.

    Raises
    ------
    RefusedError
        Saying what was found and how to mend it.
    """
    with path.open("rb") as stream, _mapped(stream) as mapping:
        _header(_Pieces(mapping))


def archive_extent(path: Path) -> Bounds | None:
    """Return the bounds that an archive's header states, in Web Mercator [m]; None for none."""
    with path.open("rb") as stream, _mapped(stream) as mapping:
        header = _header(_Pieces(mapping))
    names = ("min_lon_e7", "max_lon_e7", "min_lat_e7", "max_lat_e7")
    west, east, south, north = (header[name] / 1e7 for name in names)
    if not (-180 <= west < east <= 180 and -85 <= south < north <= 85):
        return None
    x, y = transform_points(np.array([west, east]), np.array([south, north]), WGS84, WEB_MERCATOR)
    return float(x[0]), float(y[0]), float(x[1]), float(y[1])


def tiles_over(path: Path, grid: Grid) -> tuple[NDArray[np.uint8], Grid]:
    """Return the tiles over a Web Mercator grid as one picture, and the grid it lies on.

    The level is the one about as fine as the grid, coarser where that would be too many tiles.
    Tiles that the archive does not hold are clear. Shape (rows, columns, 4).

    Raises
    ------
    RefusedError
        If the archive or a tile cannot be read.
    """
    with path.open("rb") as stream, _mapped(stream) as mapping:
        pieces = _Pieces(mapping)
        header = _header(pieces)
        low, high = int(header["min_zoom"]), int(header["max_zoom"])
        wanted = math.ceil(math.log2(2 * HALF_WORLD_M / 256 / grid.cell))
        level = min(max(wanted, low), high)
        while level > low and _count(grid, level) > MOST_TILES:
            level -= 1
        if _count(grid, level) > MOST_TILES:
            msg = f"its coarsest level has more than {MOST_TILES} tiles over the reach"
            raise RefusedError(msg, "Make it again with coarser levels too")
        reader = ARCHIVE(pieces)
        kind = PICTURES[header["tile_type"]]
        return _joined(lambda x, y: reader.get(level, x, y), kind, grid, level)


def _mapped(stream: io.BufferedReader) -> mmap.mmap:
    """Return a file in memory, read as it is needed."""
    return mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ)


class _Pieces:
    """Gives pieces of an archive; none is larger than one would be, packed or unpacked."""

    def __init__(self, mapping: mmap.mmap) -> None:
        self.mapping = mapping

    def __call__(self, offset: int, length: int) -> bytes:
        """Return `length` bytes from `offset`."""
        if not 0 <= length <= MOST_PIECE or offset < 0 or offset + length > len(self.mapping):
            msg = "its directory points outside the file"
            raise RefusedError(msg, TAKE_OUT)
        body = self.mapping[offset : offset + length]
        if body[:2] == b"\x1f\x8b":  # gzip: the library would unpack it whatever its size
            unpack = zlib.decompressobj(31)
            try:
                unpack.decompress(body, MOST_UNPACKED)
            except zlib.error:
                msg = "its directory is broken"
                raise RefusedError(msg, TAKE_OUT) from None
            if unpack.unconsumed_tail:
                msg = "its directory is larger than any real one"
                raise RefusedError(msg, TAKE_OUT)
        return body


def _header(pieces: _Pieces) -> dict[str, Any]:
    """Return an archive's header, looked at."""
    head = pieces(0, min(127, len(pieces.mapping)))
    if head[: len(HEAD)] != HEAD:
        msg = "it is a PMTiles archive of another version than 3"
        raise RefusedError(msg, TAKE_OUT)
    try:
        header: dict[str, Any] = ARCHIVE(pieces).header()
    except (ValueError, IndexError, TypeError, OverflowError):
        msg = "its header is broken"
        raise RefusedError(msg, TAKE_OUT) from None
    if header["tile_type"] not in PICTURES:
        msg = "its tiles are no pictures (PNG, JPEG or WebP)"
        raise RefusedError(msg, TAKE_OUT)
    if not 0 <= header["min_zoom"] <= header["max_zoom"] <= 24:
        msg = "its levels make no sense"
        raise RefusedError(msg, TAKE_OUT)
    return header


def _span(grid: Grid, level: int) -> tuple[int, int, int, int]:
    """Return the first and last column and row of tiles over a grid."""
    west, south, east, north = grid.bounds
    tile = 2 * HALF_WORLD_M / 2**level
    most = 2**level - 1
    columns = [math.floor((edge + HALF_WORLD_M) / tile) for edge in (west, east)]
    rows = [math.floor((HALF_WORLD_M - edge) / tile) for edge in (north, south)]
    left, right, top, bottom = (min(max(one, 0), most) for one in (*columns, *rows))
    return left, right, top, bottom


def _count(grid: Grid, level: int) -> int:
    """Return how many tiles of a level lie over a grid."""
    left, right, top, bottom = _span(grid, level)
    return (right - left + 1) * (bottom - top + 1)


def _joined(
    get: Callable[[int, int], bytes | None], kind: str, grid: Grid, level: int
) -> tuple[NDArray[np.uint8], Grid]:
    """Return the tiles over a grid as one picture with its place."""
    left, right, top, bottom = _span(grid, level)
    found = {
        (x, y): body
        for y in range(top, bottom + 1)
        for x in range(left, right + 1)
        if (body := _tile(get, x, y)) is not None
    }
    pictures = {at: _picture(body, kind) for at, body in found.items()}
    side = max((len(one) for one in pictures.values()), default=SIDES[0])
    whole = np.zeros(((bottom - top + 1) * side, (right - left + 1) * side, 4), dtype=np.uint8)
    for (x, y), picture in pictures.items():
        fitted = picture if len(picture) == side else picture.repeat(2, axis=0).repeat(2, axis=1)
        row, column = (y - top) * side, (x - left) * side
        whole[row : row + side, column : column + side] = fitted
    tile = 2 * HALF_WORLD_M / 2**level
    corner = (left * tile - HALF_WORLD_M, HALF_WORLD_M - top * tile)
    return whole, Grid.at_corner(*corner, tile / side, whole.shape[:2], WEB_MERCATOR)


def _tile(get: Callable[[int, int], bytes | None], x: int, y: int) -> bytes | None:
    """Return a tile's bytes; None where the archive holds none."""
    try:
        return get(x, y)
    except (ValueError, IndexError, TypeError, EOFError, OSError):
        msg = "its directory is broken"
        raise RefusedError(msg, TAKE_OUT) from None


def _picture(body: bytes, kind: str) -> NDArray[np.uint8]:
    """Return a tile as colours, shape (side, side, 4)."""
    try:
        with Image.open(io.BytesIO(body), formats=[kind]) as picture:
            if picture.size not in [(side, side) for side in SIDES]:
                msg = f"a tile has {picture.size[0]} by {picture.size[1]} pixels, not 256 or 512"
                raise RefusedError(msg, TAKE_OUT)
            return np.array(picture.convert("RGBA"))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        msg = f"a tile is no {kind}"
        raise RefusedError(msg, TAKE_OUT) from None
