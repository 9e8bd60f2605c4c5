"""The ground on larger cells, and what runs on it read back on the map's own cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.packed import PackedRaster, Shape, packed_field, packed_raster
from reachmap.base.patches import nearest_cells

WIDTH_CELLS = 8.0
"""Cells across the river's usual width on the coarse raster (our choice, 6-15)."""

LARGEST_M = 8.0
"""Largest coarse cell [m] (our choice: half a lane of current on a wide river)."""


def coarse_factor(ground: xr.Dataset) -> int:
    """Return how many cells a side make one coarse cell: at least 2."""
    size = min(Centreline.of(ground).median_width / WIDTH_CELLS, LARGEST_M)
    return max(round(size / Grid.of(ground).cell), 2)


@dataclass(frozen=True, slots=True)
class Blocks:
    """Cells of a raster put together into blocks, a coarse cell each.

    Parameters
    ----------
    cells
        Rising indices into the raveled raster, shape (n,).
    shape
        Rows and columns of blocks.
    at
        The blocks that hold any of the cells, as rising indices, shape (b,).
    part
        Which of them each cell lies in, shape (n,).
    size
        How many cells of the raster, listed or not, each of them has, shape (b,).
    """

    cells: IntArray
    shape: Shape
    at: IntArray
    part: IntArray
    size: IntArray

    @classmethod
    def of(cls, cells: IntArray, shape: Shape, factor: int) -> Blocks:
        """Return the blocks, `factor` cells a side, of cells of a raster of some shape."""
        rows, cols = (-(-size // factor) for size in shape)
        row, col = np.divmod(cells, shape[1])
        at, part = np.unique(row // factor * cols + col // factor, return_inverse=True)
        high, wide = (
            np.minimum(factor, size - one * factor)
            for size, one in zip(shape, np.divmod(at, cols), strict=True)
        )
        return cls(cells, (rows, cols), at, part.astype(np.int32), high * wide)

    def means(self, raster: PackedRaster) -> PackedRaster:
        """Return means over the blocks of a raster that is packed over these cells.

        What is NaN is left out, as is what lies beyond the raster.
        """
        finite = np.isfinite(raster.values)
        total = np.bincount(self.part, np.where(finite, raster.values, 0.0), self.at.size)
        count = np.bincount(self.part, finite, self.at.size)
        if np.isfinite(raster.ground):
            rest = self.size - np.bincount(self.part, minlength=self.at.size)
            total, count = total + rest * float(raster.ground), count + rest
        mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
        return PackedRaster(self.shape, raster.ground.astype(np.float64), self.at, mean)


def block_mean(raster: PackedRaster, factor: int, blocks: Blocks | None = None) -> PackedRaster:
    """Return means over blocks of cells, what is NaN or beyond the raster left out.

    `blocks` serve where they are those of the raster's cells.
    """
    if blocks is None or not np.array_equal(blocks.cells, raster.cells):
        blocks = Blocks.of(raster.cells, raster.shape, factor)
    return blocks.means(raster)


@dataclass(frozen=True, slots=True)
class Coarse:
    """How a raster is cut into larger cells.

    Parameters
    ----------
    factor
        Cells a side of one coarse cell.
    template
        The ground on the coarse raster, packed.
    blocks
        The map's cells whose bed, and whose roughness, is known, in coarse cells.
    ground
        The coarse cells that are ground, as rising indices, shape (c,).
    """

    factor: int
    template: xr.Dataset
    blocks: tuple[Blocks, Blocks]
    ground: IntArray

    @classmethod
    def of(cls, ground: xr.Dataset, factor: int) -> Coarse:
        """Return a ground on cells `factor` times as large.

        Means over what is known; a coarse cell is ground where at least half of it is.
        """
        grid = Grid.of(ground).coarsened(factor)
        fine = {name: packed_raster(ground[name]) for name in ("bed", "roughness")}
        bed, rough = (Blocks.of(one.cells, one.shape, factor) for one in fine.values())
        known = block_mean(_known(fine["bed"]), factor, bed)
        enough = _half(known)
        fields = {
            name: _only(block_mean(raster, factor, blocks), enough)
            for (name, raster), blocks in zip(fine.items(), (bed, rough), strict=True)
        }
        fields |= {
            name: block_mean(packed_raster(ground[name]), factor)
            for name in ("station", "offset", "confidence")
        }
        # A code has no mean: the block's first cell stands for it.
        fields["cover"] = PackedRaster.of(ground["cover"].to_numpy()[::factor, ::factor])
        lines = ("line_x", "line_y", "line_station", "line_width")
        template = xr.Dataset(
            {name: _field(raster) for name, raster in fields.items()}
            | {name: (("vertex",), ground[name].to_numpy()) for name in lines},
            coords={"x": grid.x, "y": grid.y},
            attrs=dict(ground.attrs) | {"cell": grid.cell},
        )
        return cls(factor, template, (bed, rough), enough)

    def with_bed(self, bed: PackedRaster, roughness: PackedRaster) -> xr.Dataset:
        """Return the coarse ground with another bed and roughness, both on the map's cells."""
        changed = {
            name: _field(_only(block_mean(raster, self.factor, blocks), self.ground))
            for name, raster, blocks in zip(
                ("bed", "roughness"), (bed, roughness), self.blocks, strict=True
            )
        }
        return self.template.assign(changed)

    def places(self, rows: np.ndarray, cols: np.ndarray) -> FloatArray:
        """Return where the map's cells lie among the coarse cells' centres, shape (2, n)."""
        # Cell i of the map has its centre at (i + 0.5) / factor in coarse cells.
        return (np.stack([rows, cols]) + 0.5) / self.factor - 0.5


def _known(raster: PackedRaster) -> PackedRaster:
    """Return 1 where a raster is a number, 0 elsewhere."""
    ground, values = (np.isfinite(one).astype(np.float64) for one in (raster.ground, raster.values))
    return PackedRaster(raster.shape, np.asarray(ground), raster.cells, values)


def _half(share: PackedRaster) -> IntArray:
    """Return the cells with a share of at least half, as rising indices."""
    if share.ground >= 0.5:
        return np.flatnonzero(share.window(slice(None), slice(None)) >= 0.5).astype(np.int32)
    return share.cells[share.values >= 0.5]


def _only(raster: PackedRaster, cells: IntArray) -> PackedRaster:
    """Return a raster at some cells, NaN elsewhere."""
    return PackedRaster(raster.shape, np.array(np.nan), cells, raster.at(cells))


def _field(raster: PackedRaster) -> xr.Variable:
    """Return a packed raster as a variable on (y, x)."""
    return packed_field([raster]).isel(flow=0)


@dataclass(frozen=True, slots=True)
class Corners:
    """Places among the centres of a raster's cells, to be read straight between them.

    Parameters
    ----------
    shape
        Rows and columns of the raster.
    cells
        The cells about any of the places, as rising indices into it raveled, shape (c,).
    corner
        Which of `cells` are the four about each place, shape (4, n).
    share
        What each of them counts, shape (4, n), adding up to 1.
    """

    shape: Shape
    cells: IntArray
    corner: IntArray
    share: FloatArray

    @classmethod
    def of(cls, places: FloatArray, shape: Shape) -> Corners:
        """Return the corners of places, shape (2, n); those off the raster lie on its rim."""
        first, beyond = [], []
        for place, size in zip(places, shape, strict=True):
            inner = np.clip(place, 0, size - 1)
            begin = np.minimum(inner.astype(np.int32), max(size - 2, 0))
            first.append(begin)
            beyond.append(inner - begin)
        last = [np.minimum(one + 1, size - 1) for one, size in zip(first, shape, strict=True)]
        flat = [row * shape[1] + col for row in (first[0], last[0]) for col in (first[1], last[1])]
        share = [
            row * col for row in (1 - beyond[0], beyond[0]) for col in (1 - beyond[1], beyond[1])
        ]
        cells, corner = np.unique(np.stack(flat), return_inverse=True)
        return cls(shape, cells, corner.reshape(4, -1).astype(np.int32), np.stack(share))

    def read(self, values: FloatArray) -> FloatArray:
        """Return values on `cells` read at the places, shape (n,)."""
        found = np.zeros(self.corner.shape[1])
        for corner, share in zip(self.corner, self.share, strict=True):
            found += share * values[corner]
        return found

    def filled(self, known: IntArray, values: FloatArray) -> FloatArray:
        """Return for each of `cells` the value of the nearest known cell; 0 where none is known.

        Parameters
        ----------
        known
            Rising indices into the raveled raster, shape (k,).
        values
            What is known there, shape (k,).
        """
        if known.size == 0:
            return np.zeros(self.cells.shape)
        mask = np.zeros(self.shape, dtype=bool)
        mask.ravel()[known] = True
        nearest = self.cells.copy()
        lacking = ~mask.ravel()[nearest]
        rows, cols = np.divmod(nearest[lacking], self.shape[1])
        _, row, col = nearest_cells(mask, rows.astype(np.int32), cols.astype(np.int32))
        nearest[lacking] = row * self.shape[1] + col
        return np.asarray(values[np.searchsorted(known, nearest)])
