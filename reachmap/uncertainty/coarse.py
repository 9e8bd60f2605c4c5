"""The ground on larger cells, and what runs on it read back on the map's own cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from scipy.ndimage import distance_transform_edt, map_coordinates

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid

WIDTH_CELLS = 8.0
"""Cells across the river's usual width on the coarse raster (our choice, 6-15)."""

LARGEST_M = 8.0
"""Largest coarse cell [m] (our choice: half a lane of current on a wide river)."""


def coarse_factor(ground: xr.Dataset) -> int:
    """Return how many cells a side make one coarse cell: at least 2."""
    size = min(Centreline.of(ground).median_width / WIDTH_CELLS, LARGEST_M)
    return max(round(size / Grid.of(ground).cell), 2)


@dataclass(frozen=True, slots=True)
class Coarse:
    """How a raster is cut into larger cells.

    Parameters
    ----------
    factor
        Cells a side of one coarse cell.
    template
        The ground on the coarse raster.
    """

    factor: int
    template: xr.Dataset

    @classmethod
    def of(cls, ground: xr.Dataset, factor: int) -> Coarse:
        """Return a ground on cells `factor` times as large.

        Means over what is known; a coarse cell is ground where at least half of it is.
        """
        grid = Grid.of(ground).coarsened(factor)
        known = np.isfinite(ground["bed"].to_numpy())
        enough = block_mean(known.astype(np.float64), factor) >= 0.5
        fields = {
            name: np.where(enough, block_mean(ground[name].to_numpy(), factor), np.nan)
            for name in ("bed", "roughness", "surface")
        }
        fields |= {
            name: block_mean(ground[name].to_numpy(), factor)
            for name in ("station", "offset", "confidence")
        }
        # A code has no mean: the block's first cell stands for it.
        fields["cover"] = ground["cover"].to_numpy()[::factor, ::factor]
        lines = ("line_x", "line_y", "line_station", "line_width")
        template = xr.Dataset(
            {name: (("y", "x"), values) for name, values in fields.items()}
            | {name: (("vertex",), ground[name].to_numpy()) for name in lines},
            coords={"x": grid.x, "y": grid.y},
            attrs=dict(ground.attrs) | {"cell": grid.cell},
        )
        return cls(factor, template)

    def with_bed(self, bed: FloatArray, roughness: FloatArray) -> xr.Dataset:
        """Return the coarse ground with another bed and roughness, both on the map's cells."""
        known = np.isfinite(self.template["bed"].to_numpy())
        changed = {
            "bed": np.where(known, block_mean(bed, self.factor), np.nan),
            "roughness": np.where(known, block_mean(roughness, self.factor), np.nan),
        }
        return self.template.assign({name: (("y", "x"), v) for name, v in changed.items()})

    def places(self, rows: np.ndarray, cols: np.ndarray) -> FloatArray:
        """Return where the map's cells lie among the coarse cells' centres, shape (2, n)."""
        # Centres to centres: cell i of the map has its
        # centre at (i + 0.5) / factor in coarse cells.
        return (np.stack([rows, cols]) + 0.5) / self.factor - 0.5


def block_mean(array: np.ndarray, factor: int) -> FloatArray:
    """Return means over blocks of cells, what is NaN or beyond the raster left out."""
    pads = [(0, -size % factor) for size in array.shape]
    padded = np.pad(array.astype(np.float64), pads, constant_values=np.nan)
    rows, cols = (size // factor for size in padded.shape)
    # Axes: row of blocks, row within, column of blocks, column within.
    blocks = padded.reshape(rows, factor, cols, factor)
    known = np.isfinite(blocks)
    count = known.sum(axis=(1, 3))
    total = np.where(known, blocks, 0.0).sum(axis=(1, 3))
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def filled(values: FloatArray, known: BoolArray) -> FloatArray:
    """Return values with that of the nearest known cell wherever it is not known."""
    if not known.any():
        return np.zeros(values.shape)
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.asarray(values[tuple(nearest)])


def read_at(values: FloatArray, places: FloatArray) -> FloatArray:
    """Return coarse values at the map's cells, straight between the coarse cells' centres."""
    return np.asarray(map_coordinates(values, places, order=1, mode="nearest"))
