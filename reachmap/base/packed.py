"""Sparse rasters: a background value and the cells that differ from it; dense when read.

A river covers a few hundredths of its bounding box. A Dataset of many flows keeps the wet cells of
each; a raster is made when one of them, or a window of it, is read as an array.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import EllipsisType
from typing import Any

import numpy as np
import xarray as xr
from xarray.backends import BackendArray
from xarray.core import indexing

from reachmap.base.arrays import IntArray

Shape = tuple[int, int]
PLANE = ("y", "x")
"""Last dims of a field that is packed."""


@dataclass(frozen=True, slots=True)
class PackedRaster:
    """One raster: one value for all cells, and the cells that differ from it.

    Parameters
    ----------
    shape
        Rows and columns.
    ground
        The value of all other cells, shape ().
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
    def of_list(
        cls, shape: Shape, fill: float, cells: IntArray, values: np.ndarray
    ) -> PackedRaster:
        """Return a raster of listed cells, rising, and one value for all others.

        Cells of that very value are left out of the list, as `of` leaves them out.
        """
        ground = np.asarray(fill, values.dtype)
        differ = ~np.isnan(values) if np.isnan(fill) else values != ground
        if differ.all():
            return cls(shape, ground, cells, values)
        return cls(shape, ground, cells[differ], values[differ])

    @classmethod
    def of(cls, raster: np.ndarray, alike: Iterable[IntArray] = ()) -> PackedRaster:
        """Return a raster packed over the value of its first cell; NaN equals NaN.

        Where its cells are those of one of `alike`, that array serves: the fields of a stage then
        share it, here and wherever they are sent.
        """
        ground = np.asarray(raster[0, 0])
        same = raster == ground
        if raster.dtype.kind == "f":
            same |= np.isnan(raster) & np.isnan(ground)
        cells = np.flatnonzero(~same).astype(np.int32)
        cells = next((one for one in alike if np.array_equal(one, cells)), cells)
        rows, cols = raster.shape
        return cls((rows, cols), ground, cells, raster.ravel()[cells])

    def at(self, cells: IntArray) -> np.ndarray:
        """Return the values at cells, indices into the raveled raster, of any shape."""
        if self.cells.size == 0:
            return np.full(cells.shape, self.ground, dtype=self.values.dtype)
        place = np.minimum(np.searchsorted(self.cells, cells), self.cells.size - 1)
        return np.where(self.cells[place] == cells, self.values[place], self.ground)

    def known(self) -> tuple[IntArray, np.ndarray]:
        """Return the cells that hold a finite number, rising, and their values, shape (n,)."""
        if np.isfinite(self.ground):
            return _known(self.window(slice(None), slice(None)))
        finite = np.isfinite(self.values)
        if finite.all():
            return self.cells, self.values
        return self.cells[finite], self.values[finite]

    def where(self, value: int) -> IntArray:
        """Return the cells that hold a value, as rising indices."""
        if self.ground == value:
            found = np.flatnonzero(self.window(slice(None), slice(None)) == value)
            return found.astype(np.int32)
        return np.asarray(self.cells[self.values == value])

    def above(self, value: float) -> tuple[IntArray, IntArray]:
        """Return rows and columns of the cells that hold more than a value, row by row.

        Raises
        ------
        ValueError
            If the cells that are not held do.
        """
        if self.ground > value:
            msg = f"cells that are not held are above {value}"
            raise ValueError(msg)
        rows, cols = np.divmod(self.cells[self.values > value], self.shape[1])
        return rows, cols

    def part(self, rows: slice, cols: slice) -> PackedRaster:
        """Return a window of the raster, packed over the same value; slices of step 1."""
        height, width = self.shape
        first, last, _ = rows.indices(height)
        left, right, _ = cols.indices(width)
        size = (max(last - first, 0), max(right - left, 0))
        if size == self.shape:
            return self
        begin, end = np.searchsorted(self.cells, (first * width, max(last, first) * width))
        row, col = np.divmod(self.cells[begin:end], width)
        inside = (col >= left) & (col < right)
        here = (row[inside] - first) * size[1] + col[inside] - left
        return PackedRaster(size, self.ground, here, self.values[begin:end][inside])

    def __getitem__(self, key: tuple[Any, Any] | np.ndarray | EllipsisType) -> np.ndarray:
        """Return a window, by two slices of step 1 or `...`, or values of cells.

        Those of a mask, or by row and column: a raster held by its cells is read as an array is.
        """
        if isinstance(key, EllipsisType):
            return self.window(slice(None), slice(None))
        if isinstance(key, np.ndarray):
            return self.at(np.flatnonzero(key).astype(np.int32))
        rows: Any
        rows, cols = key
        return self.window(rows, cols) if isinstance(rows, slice) else self.of_cells(rows, cols)

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> np.ndarray:
        """Return the raster as an array of its own; called by numpy."""
        return np.asarray(self[...], dtype)

    def of_cells(self, rows: IntArray, cols: IntArray) -> np.ndarray:
        """Return the values of cells by row and column, of any shape."""
        return self.at((np.asarray(rows) * np.int64(self.shape[1]) + cols).astype(np.int32))

    def window(self, rows: slice, cols: slice) -> np.ndarray:
        """Return a window of the raster as an array of its own; slices of step 1."""
        part = self.part(rows, cols)
        made = np.full(part.shape, part.ground, dtype=part.values.dtype)
        made.ravel()[part.cells] = part.values
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
        # Of no flows at all one is read and cut off again: the result has its shape and dtype.
        parts = [one.window(*windows)[rest] for one in chosen or self.rasters[:1]]
        return np.stack(parts)[: len(chosen)]


def _window(key: int | slice) -> tuple[slice, int | slice]:
    """Return a slice of step 1 that covers a key, and the key within it."""
    if isinstance(key, slice):
        if key.step in (None, 1):
            return slice(key.start, key.stop), slice(None)
        return slice(None), key
    return slice(key, key + 1 or None), 0


def packed(dataset: xr.Dataset) -> xr.Dataset:
    """Return a Dataset whose rasters are packed, each of several flows by itself.

    Parameters
    ----------
    dataset
        Its fields with last dims (y, x), with or without flows before them, are read and packed one
        raster after the other, so that no more than one is dense; the rest is loaded.
    """
    fields = packed_fields([dataset])
    return dataset.drop_vars(list(fields)).load().assign(fields)


def packed_fields(parts: Iterable[xr.Dataset]) -> dict[str, xr.Variable]:
    """Return the raster fields of Datasets, one flow after the other, as packed variables.

    Parameters
    ----------
    parts
        Datasets of one ground or of one or more flows; each may be freed once the next is drawn.

    Returns
    -------
    dict
        For each field with last dims (y, x) a variable over all flows of all parts, that takes up
        room by the cell that differs from the raster's first one.
    """
    rasters: dict[str, list[PackedRaster]] = {}
    like: dict[str, xr.DataArray] = {}
    for part in parts:
        cells: dict[int, IntArray] = {}
        for key, field in part.data_vars.items():
            if field.dims[-2:] != PLANE:
                continue
            name = str(key)
            like.setdefault(name, field[..., :0, :0])
            planes = [field] if field.ndim == 2 else [field[k] for k in range(field.shape[0])]
            for plane in planes:
                held = _held(plane)
                if held is None:
                    raster = PackedRaster.of(plane.to_numpy(), cells.values())
                else:
                    raster = _sharing(held[0], cells.values())
                cells.setdefault(id(raster.cells), raster.cells)
                rasters.setdefault(name, []).append(raster)
    found = {}
    for name, held in rasters.items():
        stack = packed_field(held, like[name].attrs)
        found[name] = stack if like[name].ndim == 3 else stack.isel(flow=0)
    return found


def packed_field(
    rasters: Sequence[PackedRaster], attrs: Mapping[Any, Any] | None = None
) -> xr.Variable:
    """Return packed rasters, one a flow, as a variable on (flow, y, x)."""
    data = indexing.LazilyIndexedArray(PackedStack(rasters))
    return xr.Variable(("flow", *PLANE), data, dict(attrs or {}))


def packed_rasters(field: xr.DataArray) -> list[PackedRaster]:
    """Return the packed rasters, one a flow, of a field that is packed or dense."""
    held = _held(field)
    planes = [field] if field.ndim == 2 else [field[k] for k in range(field.shape[0])]
    return [PackedRaster.of(plane.to_numpy()) for plane in planes] if held is None else held


def packed_raster(field: xr.DataArray) -> PackedRaster:
    """Return a field of one raster packed; one that is packed already does not become dense."""
    return packed_rasters(field)[0]


def values_at(field: xr.DataArray, cells: IntArray) -> np.ndarray:
    """Return the values of one raster at cells, given as indices into it raveled, shape (n,)."""
    held = _held(field)
    return field.to_numpy().ravel()[cells] if held is None else held[0].at(cells)


def merged(one: IntArray, other: IntArray) -> IntArray:
    """Return the cells of two lists of rising cells, each once, rising.

    Lists that rise are merged in time that goes with their length; numpy's `union1d` hashes them.
    """
    if one is other or np.array_equal(one, other):
        return one
    cells = np.concatenate([one, other]).astype(np.int32)
    cells.sort(kind="stable")
    return cells[np.diff(cells, prepend=-1) > 0]


def known_cells(field: xr.DataArray) -> tuple[IntArray, np.ndarray]:
    """Return the cells of one raster that hold a finite number, rising, and their values.

    As indices into the raveled raster, shape (n,).
    """
    held = _held(field)
    return _known(field.to_numpy()) if held is None else held[0].known()


def _known(raster: np.ndarray) -> tuple[IntArray, np.ndarray]:
    """Return the cells of a dense raster that hold a finite number, and their values."""
    cells = np.flatnonzero(np.isfinite(raster)).astype(np.int32)
    return cells, raster.ravel()[cells]


def _held(field: xr.DataArray) -> list[PackedRaster] | None:
    """Return the packed rasters, or windows of them, that a field is made of; None where dense."""
    data = field.variable._data
    if not isinstance(data, indexing.LazilyIndexedArray):
        return None
    stack = data.array
    if not isinstance(stack, PackedStack):
        return None
    first, *windows = data.key.tuple
    if not all(isinstance(one, slice) and one.step in (None, 1) for one in windows):
        return None
    numbers = np.arange(len(stack.rasters))[first]
    return [stack.rasters[k].part(*windows) for k in np.atleast_1d(numbers)]


def _sharing(raster: PackedRaster, alike: Iterable[IntArray]) -> PackedRaster:
    """Return a raster that holds that one of `alike` which equals its cells, if one does."""
    for one in alike:
        if one is raster.cells or np.array_equal(one, raster.cells):
            return replace(raster, cells=one)
    return raster


def numbers_in(field: xr.DataArray) -> np.ndarray:
    """Return every number that a field holds, in no order; packed rasters do not become dense.

    The value that most cells of a packed raster have is there once for each.
    """
    held = _held(field)
    if held is None:
        return field.to_numpy().ravel()
    return np.concatenate([np.append(one.values, one.ground) for one in held])
