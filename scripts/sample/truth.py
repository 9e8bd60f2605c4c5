"""The true river as rasters: made, kept in one GeoTIFF, read back as a ground Dataset."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
import xarray as xr
from affine import Affine

from . import bed, cover, plan
from .line import Line
from .raster import Facts, Laid, coarser, corridor, ground_of

TRUE_RASTER = "true_river.tif"
EMPTY = -32768
PER_METRE = 100
"""Heights are kept as whole centimetres."""


def make_truth(line: Line) -> Laid:
    """Return the true river at one metre, its heights in whole centimetres."""
    cells = corridor(line, bed.CORRIDOR, 1.0)
    ground = np.rint(bed.true_bed(line, cells) * PER_METRE) / PER_METRE
    code, tall = cover.true_cover(line, cells)
    spread_code = np.zeros(cells.shape, dtype=np.uint8)
    spread_code[cells.row, cells.col] = code
    height = np.nan_to_num(cells.spread(tall), nan=0.0)
    return Laid(cells.x, cells.y, cells.spread(ground), spread_code, height)


def write_truth(path: Path, laid: Laid) -> None:
    """Write the true river: bands bed [cm], cover code, height of cover [cm]."""
    bed_cm = np.where(np.isfinite(laid.bed), np.rint(laid.bed * PER_METRE), EMPTY)
    bands = [bed_cm, laid.cover, np.rint(laid.tall * PER_METRE)]
    high, wide = laid.bed.shape
    cell = laid.x[1] - laid.x[0]
    where = Affine(cell, 0, laid.x[0] - cell / 2, 0, -cell, laid.y[0] + cell / 2)
    path.parent.mkdir(parents=True, exist_ok=True)
    with rasterio.open(
        path, "w", driver="GTiff", width=wide, height=high, count=3, dtype="int16", crs=plan.CRS,
        transform=where, nodata=EMPTY, tiled=True, blockxsize=256, blockysize=256,
        interleave="band", compress="deflate", predictor=2, zlevel=9,
    ) as target:  # fmt: skip
        target.write(np.stack(bands).astype(np.int16))
        target.descriptions = ("true bed [cm]", "cover code", "height of cover [cm]")
        target.update_tags(river=plan.NAME, datum=plan.DATUM)


def read_truth(path: Path) -> Laid:
    """Return the true river as it was written."""
    with rasterio.open(path) as source:
        bands, where = source.read(), source.transform
    bed_cm, code, tall = bands
    x = where.c + (np.arange(bed_cm.shape[1]) + 0.5) * where.a
    y = where.f + (np.arange(bed_cm.shape[0]) + 0.5) * where.e
    ground = np.where(bed_cm == EMPTY, np.nan, bed_cm / PER_METRE)
    return Laid(x, y, ground, code.astype(np.uint8), tall / PER_METRE)


def truth_ground(laid: Laid, line: Line, *, cell: int = 2) -> xr.Dataset:
    """Return the true river as the ground stage would hand it on, at cells of 1, 2 or 4 m."""
    width = bed.main_channel(line).width
    facts = Facts(plan.CRS, plan.SLOPE, width, cover.ROUGHNESS)
    return ground_of(coarser(laid, cell), line, facts)
