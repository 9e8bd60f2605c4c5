"""Rasters of a river held by the cells that differ from their surroundings, dense when asked for.

A river covers a few hundredths of its bounding box. A Dataset of many flows keeps the wet cells of
each; a raster is made when one of them, or a window of it, is read as an array.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from xarray.backends import BackendArray
from xarray.core import indexing

from reachmap.base.arrays import IntArray

Shape = tuple[int, int]


@dataclass(frozen=True, slots=True)
class PackedRaster:
    """One raster: a ground for all cells, and the cells that differ from it.

    Parameters
    ----------
    shape
        Rows and columns.
    ground
        One value for all cells, shape (), or a raster of that shape that others may share.
    cells
        Cells that differ from it, as rising indices into the raveled raster, shape (m,).
    values
        Their values, shape (m,).
    """

    shape: Shape
    ground: np.ndarray
    cells: IntArray
    values: np.ndarray

    @classmethod
    def of(cls, raster: np.ndarray, ground: np.ndarray) -> PackedRaster:
        """Return a raster packed over a ground; NaN equals NaN."""
        same = raster == ground
        if raster.dtype.kind == "f":
            same |= np.isnan(raster) & np.isnan(ground)
        cells = np.flatnonzero(~same).astype(np.int32)
        rows, cols = raster.shape
        return cls((rows, cols), ground, cells, raster.ravel()[cells])

    def window(self, rows: slice, cols: slice) -> np.ndarray:
        """Return a window of the raster as an array of its own; slices of step 1."""
        height, width = self.shape
        first, last, _ = rows.indices(height)
        left, right, _ = cols.indices(width)
        size = (max(last - first, 0), max(right - left, 0))
        if self.ground.ndim:
            made = self.ground[first:last, left:right].copy()
        else:
            made = np.full(size, self.ground, dtype=self.values.dtype)
        begin, end = np.searchsorted(self.cells, (first * width, max(last, first) * width))
        row, col = np.divmod(self.cells[begin:end], width)
        inside = (col >= left) & (col < right)
        made[row[inside] - first, col[inside] - left] = self.values[begin:end][inside]
        return made


class PackedStack(BackendArray):
    """Packed rasters one above the other, an array of shape (n, y, x) to xarray."""

    def __init__(self, rasters: Sequence[PackedRaster]) -> None:
        """Hold rasters of one shape and kind, at least one."""
        self.rasters = tuple(rasters)
        self.shape = (len(rasters), *rasters[0].shape)
        self.dtype = rasters[0].values.dtype

    def __getitem__(self, key: indexing.ExplicitIndexer) -> np.ndarray:
        """Return the part asked for, dense."""
        read = indexing.explicit_indexing_adapter(
            key, self.shape, indexing.IndexingSupport.BASIC, self._read
        )
        return np.asarray(read)

    def _read(self, key: tuple[int | slice, ...]) -> np.ndarray:
        """Return the part of a basic index: whole numbers and slices."""
        first, *inner = key
        windows, rest = zip(*(_window(one) for one in inner), strict=True)
        chosen = self.rasters[first]
        if isinstance(chosen, PackedRaster):
            return np.asarray(chosen.window(*windows)[rest])
        parts = [one.window(*windows)[rest] for one in chosen or self.rasters[:1]]
        return np.stack(parts)[: len(chosen)]


def _window(key: int | slice) -> tuple[slice, int | slice]:
    """Return a slice of step 1 that holds what a key asks for, and the key within it."""
    if isinstance(key, slice):
        if key.step in (None, 1):
            return slice(key.start, key.stop), slice(None)
        return slice(None), key
    return slice(key, key + 1 or None), 0


def packed_stack(parts: Iterable[xr.Dataset], stack: Sequence[str]) -> dict[str, Any]:
    """Return the raster fields of Datasets of one flow each as packed variables.

    Parameters
    ----------
    parts
        Datasets with one flow; each is dropped as soon as it is packed.
    stack
        Dims of a stacked field: flow, y, x.

    Returns
    -------
    dict
        For each field with those dims an xarray Variable over all flows whose numbers take up room
        by the cell that differs: from NaN where the field is real, else from the first flow's.
    """
    rasters: dict[str, list[PackedRaster]] = {}
    grounds: dict[str, np.ndarray] = {}
    attrs: dict[str, dict[str, Any]] = {}
    for part in parts:
        for name, field in part.data_vars.items():
            if field.dims != tuple(stack):
                continue
            raster, key = field.to_numpy()[0], str(name)
            if key not in grounds:
                grounds[key] = (
                    np.array(np.nan, raster.dtype) if raster.dtype.kind == "f" else raster.copy()
                )
                attrs[key] = dict(field.attrs)
            rasters.setdefault(key, []).append(PackedRaster.of(raster, grounds[key]))
    return {
        name: xr.Variable(stack, indexing.LazilyIndexedArray(PackedStack(held)), attrs[name])
        for name, held in rasters.items()
    }
