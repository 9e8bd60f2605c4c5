"""DEMs spoilt by their headers: size, place, CRS, nodata, kind of number, bytes."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine

from tests.markup.folders import CRS, X, Y, write_dem

PLACES = (
    Affine.identity(),
    Affine(4, 0, X - 60, 0, 4, Y - 100),
    Affine(4, 0, X - 60, 0, -4, Y + 100) * Affine.rotation(30),
    Affine(0, 0, 0, 0, 0, 0),
    Affine(1e-9, 0, X, 0, -1e-9, Y),
    Affine(1e9, 0, X, 0, -1e9, Y),
    Affine(4, 0, float("nan"), 0, -4, Y),
    Affine(4, 0, 1e300, 0, -4, Y),
    Affine(4, 4, X - 60, 4, 4, Y + 100),
)

SYSTEMS = (None, "EPSG:4326", "EPSG:2227", "EPSG:3857", "EPSG:32733", "EPSG:4978", "EPSG:6339+5703")


def spoil(folder: Path, dice: random.Random) -> str:
    """Write an odd DEM into a folder."""
    path = folder / dice.choice(["dem.tif", "dem.tif", "dem_2.tif", "dem.tiff"])
    match dice.randrange(6):
        case 0:
            write_dem(path, factor=dice.choice([0.0, -1.0, 1e30, 0.3048, float("nan")]))
            return f"heights of {path.name}"
        case 1:
            return _header(path, dice)
        case 2:
            return _huge(path, dice)
        case 3:
            return _cells(path, dice)
        case 4:
            write_dem(path)
            data = bytearray(path.read_bytes())
            for _ in range(dice.choice([1, 5, 50])):
                data[dice.randrange(min(len(data), 2_000))] = dice.randrange(256)
            path.write_bytes(data)
            return f"bytes of {path.name}"
        case _:
            write_dem(path)
            path.write_bytes(path.read_bytes()[: dice.randrange(4_000)])
            return f"{path.name} cut short"


def _write(path: Path, values: np.ndarray, **options) -> None:
    """Write a raster; what the library refuses is left empty."""
    bands = values if values.ndim == 3 else values[None]
    told = {"crs": CRS, "transform": PLACES[1], **options}
    try:
        with rasterio.open(
            path, "w", driver="GTiff", width=bands.shape[2], height=bands.shape[1],
            count=bands.shape[0], dtype=str(bands.dtype), **told,
        ) as target:  # fmt: skip
            target.write(bands)
    except Exception:  # noqa: BLE001 - what cannot be written cannot be read either
        path.touch()


def _header(path: Path, dice: random.Random) -> str:
    heights = (100 + np.zeros((50, 180))).astype("float32")
    place, crs = dice.choice(PLACES), dice.choice(SYSTEMS)
    nodata = dice.choice([None, 0, 100, float("nan"), float("inf"), -3.4e38])
    _write(path, heights, transform=place, crs=crs if dice.random() < 0.5 else CRS, nodata=nodata)
    return f"header of {path.name}"


def _huge(path: Path, dice: random.Random) -> str:
    """Write a raster of many cells that takes no room on the disk."""
    side = dice.choice([20_000, 100_000])
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=1, dtype="float32", crs=CRS,
        transform=Affine(700 / side, 0, X - 50, 0, -300 / side, Y + 150), tiled=True,
        compress="deflate", sparse_ok=True, BIGTIFF="YES", nodata=dice.choice([None, 0, -9999]),
    ):  # fmt: skip
        pass
    return f"{path.name} of {side} cells a side"


def _cells(path: Path, dice: random.Random) -> str:
    kind = dice.choice(["uint8", "int16", "float64", "complex64", "uint32"])
    shape = dice.choice([(1, 1), (1, 180), (50, 1), (3, 50, 180), (4, 50, 180), (2, 2)])
    values = np.full(shape, dice.choice([0, 100, 255])).astype(kind)
    if kind.startswith("float"):
        values.flat[:: dice.choice([1, 2, 7])] = dice.choice([np.nan, np.inf, -np.inf, 1e300])
    _write(path, values, transform=Affine(4, 0, X - 60, 0, -4, Y + 100))
    return f"{kind} {shape} in {path.name}"
