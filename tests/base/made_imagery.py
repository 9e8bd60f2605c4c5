"""Pictures from the air made by the libraries of their formats: a red west and a blue east."""

from __future__ import annotations

import io
import math
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import rasterio
from PIL import Image
from pmtiles.tile import Compression, TileType, zxy_to_tileid
from pmtiles.writer import Writer
from rasterio.transform import from_origin

from reachmap.base.tile_archive import HALF_WORLD_M

RED, BLUE = (200, 30, 30), (30, 30, 200)


def two_colours(rows: int, columns: int) -> np.ndarray:
    """Return the picture, shape (3, rows, columns): red in its western half, blue in the other."""
    picture = np.empty((3, rows, columns), dtype=np.uint8)
    picture[:] = np.array(BLUE, dtype=np.uint8)[:, None, None]
    picture[:, :, : columns // 2] = np.array(RED, dtype=np.uint8)[:, None, None]
    return picture


def geotiff(path: Path, bounds, crs, *, cell: float = 1.0, picture=None, **profile) -> Path:
    """Write a GeoTIFF of the picture over bounds [units of the CRS]."""
    west, south, east, north = bounds
    shape = round((north - south) / cell), round((east - west) / cell)
    bands = two_colours(*shape) if picture is None else picture(*shape)
    told = {"driver": "GTiff", "count": len(bands), "dtype": bands.dtype, "crs": crs} | profile
    with rasterio.open(
        path, "w", height=shape[0], width=shape[1], transform=from_origin(west, north, cell, cell),
        **told,
    ) as file:  # fmt: skip
        file.write(bands)
    return path


def tiles_of(bounds, level: int, middle: float):
    """Yield column, row and picture of each tile over bounds [m, Web Mercator]; red west of it."""
    west, south, east, north = bounds
    side = 2 * HALF_WORLD_M / 2**level
    for x in range(
        math.floor((west + HALF_WORLD_M) / side), math.floor((east + HALF_WORLD_M) / side) + 1
    ):
        for y in range(
            math.floor((HALF_WORLD_M - north) / side), math.floor((HALF_WORLD_M - south) / side) + 1
        ):
            edge = x * side - HALF_WORLD_M + (np.arange(256) + 0.5) * side / 256
            colours = np.where((edge < middle)[:, None], RED, BLUE).astype(np.uint8)
            yield x, y, Image.fromarray(np.broadcast_to(colours, (256, 256, 3)).copy())


def encoded(picture: Image.Image, kind: str) -> bytes:
    """Return a tile's bytes."""
    stream = io.BytesIO()
    picture.save(stream, kind, **({"lossless": True} if kind == "WEBP" else {}))
    return stream.getvalue()


def pmtiles(path: Path, bounds, *, level: int = 17, kind: str = "PNG", middle=None) -> Path:
    """Write a PMTiles archive of the picture over bounds [m, Web Mercator], one level."""
    middle = (bounds[0] + bounds[2]) / 2 if middle is None else middle
    found = sorted(
        (zxy_to_tileid(level, x, y), encoded(picture, kind))
        for x, y, picture in tiles_of(bounds, level, middle)
    )
    with path.open("wb") as stream:
        writer = Writer(stream)
        for number, body in found:
            writer.write_tile(number, body)
        writer.finalize(
            {
                "tile_type": getattr(TileType, kind), "tile_compression": Compression.NONE,
                "min_zoom": level, "max_zoom": level, "min_lon_e7": 0, "min_lat_e7": 0,
                "max_lon_e7": 0, "max_lat_e7": 0, "center_zoom": level, "center_lon_e7": 0,
                "center_lat_e7": 0,
            },
            {},
        )  # fmt: skip
    return path


def mbtiles(path: Path, bounds, *, level: int = 17, middle=None) -> Path:
    """Write an MBTiles file (specification 1.3: rows counted from the south) by SQLite alone."""
    middle = (bounds[0] + bounds[2]) / 2 if middle is None else middle
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("CREATE TABLE metadata (name text, value text)")
        database.execute(
            "CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer,"
            " tile_data blob)"
        )
        told = {"name": "made", "format": "png", "minzoom": level, "maxzoom": level}
        database.executemany("INSERT INTO metadata VALUES (?, ?)", [*told.items()])
        database.executemany(
            "INSERT INTO tiles VALUES (?, ?, ?, ?)",
            [
                (level, x, 2**level - 1 - y, encoded(picture, "PNG"))
                for x, y, picture in tiles_of(bounds, level, middle)
            ],
        )
    return path
