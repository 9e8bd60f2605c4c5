"""The cells of a made river's raster, and the ground Dataset made of what was laid on them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from reachmap.base.fields import check_fields
from reachmap.base.words import COVER_CODES, Cover

from .line import Line

FloatArray = NDArray[np.float64]

SNAP = 4.0
"""A raster's edges lie on whole multiples of this [m], so that cells of 1, 2 and 4 m nest."""


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of a corridor about a line, as flat lists in row order.

    `west` and `north` are the raster's outer edges [m]; `row`, `col`, `station`, `offset` belong to
    each cell of the corridor.
    """

    cell: float
    west: float
    north: float
    shape: tuple[int, int]
    row: NDArray[np.int64]
    col: NDArray[np.int64]
    station: FloatArray
    offset: FloatArray

    @property
    def x(self) -> FloatArray:
        """Return the columns' centres, west to east [m]."""
        return np.asarray(self.west + (np.arange(self.shape[1]) + 0.5) * self.cell, np.float64)

    @property
    def y(self) -> FloatArray:
        """Return the rows' centres, north to south [m]."""
        return np.asarray(self.north - (np.arange(self.shape[0]) + 0.5) * self.cell, np.float64)

    def spread(self, values: FloatArray) -> FloatArray:
        """Return values of the cells as a raster, NaN outside the corridor."""
        full = np.full(self.shape, np.nan)
        full[self.row, self.col] = values
        return full


def corridor(line: Line, half_width: float, cell: float) -> Cells:
    """Return the cells within `half_width` [m] of a line, between its head and its foot."""
    west, south = (np.floor((v.min() - half_width) / SNAP) * SNAP for v in (line.x, line.y))
    east, north = (np.ceil((v.max() + half_width) / SNAP) * SNAP for v in (line.x, line.y))
    shape = (round((north - south) / cell), round((east - west) / cell))
    rows, cols = np.divmod(np.arange(shape[0] * shape[1]), shape[1])
    x, y = west + (cols + 0.5) * cell, north - (rows + 0.5) * cell
    station, offset = line.locate(x, y, within=half_width + 2 * cell)
    keep = (station >= 0) & (station <= line.length) & (np.abs(offset) <= half_width)
    return Cells(
        cell, float(west), float(north), shape, rows[keep], cols[keep], station[keep], offset[keep]
    )


@dataclass(frozen=True, slots=True)
class Laid:
    """What lies on the cells of a raster: bed [m], cover code and height of the cover [m], (y, x).

    Bed is NaN, cover and height are 0 outside the corridor.
    """

    x: FloatArray
    y: FloatArray
    bed: FloatArray
    cover: NDArray[np.uint8]
    tall: FloatArray


def coarser(laid: Laid, times: int) -> Laid:
    """Return the raster with cells `times` as large.

    The bed is the mean of those known, cover the commonest, its height the greatest.
    """
    if times == 1:
        return laid

    def blocks(values: NDArray[np.generic]) -> NDArray[np.generic]:
        high, wide = values.shape[0] // times, values.shape[1] // times
        cut = values[: high * times, : wide * times].reshape(high, times, wide, times)
        return cut.transpose(0, 2, 1, 3).reshape(high, wide, times * times)

    bed = blocks(laid.bed)
    known = np.isfinite(bed)
    total = np.where(known, bed, 0.0).sum(axis=2)
    count = known.sum(axis=2)
    mean = np.where(2 * count >= times * times, total / np.maximum(count, 1), np.nan)
    cover = blocks(laid.cover)
    votes = np.stack([(cover == code).sum(axis=2) for code in range(len(Cover) + 1)])
    votes[0] = 0
    common = np.where(np.isfinite(mean), votes.argmax(axis=0), 0).astype(np.uint8)
    tall = np.where(np.isfinite(mean), np.asarray(blocks(laid.tall), np.float64).max(axis=2), 0.0)
    x = laid.x[: mean.shape[1] * times].reshape(-1, times).mean(axis=1)
    y = laid.y[: mean.shape[0] * times].reshape(-1, times).mean(axis=1)
    return Laid(x, y, mean, common, tall)


@dataclass(frozen=True, slots=True)
class Facts:
    """What else a ground Dataset must say; `width` is the channel's along the line [m]."""

    crs: str
    slope: float
    width: FloatArray
    roughness: dict[Cover, float]


def ground_of(laid: Laid, line: Line, facts: Facts, *, line_step: int = 4) -> xr.Dataset:
    """Return the ground stage's Dataset of a made river; the bed is true, so confidence is 1."""
    known = np.isfinite(laid.bed)
    row, col = np.nonzero(known)
    station, offset = np.full(known.shape, np.nan), np.full(known.shape, np.nan)
    station[known], offset[known] = line.locate(laid.x[col], laid.y[row])
    n = np.zeros(len(Cover) + 1)
    for cover, value in facts.roughness.items():
        n[COVER_CODES[cover]] = value
    dims = ("y", "x")
    vertex = slice(None, None, line_step)
    blank = np.where(known, 0.0, np.nan)
    dataset = xr.Dataset(
        {
            "bed": (dims, laid.bed),
            "cover": (dims, laid.cover),
            "roughness": (dims, np.where(known, n[laid.cover], np.nan)),
            "surface": (dims, laid.bed + laid.tall),
            "station": (dims, station),
            "offset": (dims, offset),
            "confidence": (dims, np.ones(laid.bed.shape) + blank),
            "line_x": (("vertex",), line.x[vertex]),
            "line_y": (("vertex",), line.y[vertex]),
            "line_station": (("vertex",), line.station[vertex]),
            "line_width": (("vertex",), facts.width[vertex]),
        },
        coords={"x": laid.x, "y": laid.y},
        attrs={"crs": facts.crs, "cell": float(laid.x[1] - laid.x[0]), "slope": facts.slope},
    )
    return check_fields(dataset, "ground")
