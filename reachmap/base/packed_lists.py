"""Packed rasters as lists of cells and values, the form in which they are stored."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.arrays import IntArray
from reachmap.base.packed import PLANE, PackedRaster, packed, packed_field, packed_rasters

SHAPE = "raster_shape"
"""Attribute of a Dataset of lists: rows and columns of its rasters."""
PLANES = "planes"
"""Attribute of a field's first list: how many flows it has; 0 for a field of one raster."""
CELLS, ELSEWHERE = "cells", "elsewhere"


def as_lists(dataset: xr.Dataset) -> xr.Dataset:
    """Return a Dataset whose rasters are lists of cells and values.

    Each raster `name` of flow number k becomes `name.k`, the values at its cells, and
    `name.k.elsewhere`, that of all others. Lists of the same cells lie along the same dim, whose
    cells are `cells.n.at`. Without rasters it stays as it is.
    """
    names = [str(name) for name, one in dataset.data_vars.items() if one.dims[-2:] == PLANE]
    if not names:
        return dataset
    whole = packed(dataset)
    alike: list[IntArray] = []
    lists: dict[str, xr.Variable] = {}
    for name in names:
        field = whole[name]
        attrs = {**field.attrs, PLANES: field.sizes["flow"] if field.ndim == 3 else 0}
        for k, raster in enumerate(packed_rasters(field)):
            number = _number_of(raster.cells, alike)
            key = f"{name}.{k}"
            lists[key] = xr.Variable((f"{CELLS}.{number}",), raster.values, attrs)
            lists[f"{key}.{ELSEWHERE}"] = xr.Variable((), raster.ground)
    for number, cells in enumerate(alike):
        lists[f"{CELLS}.{number}.at"] = xr.Variable((f"{CELLS}.{number}",), cells)
    shape = [whole.sizes[dim] for dim in PLANE]
    return whole.drop_vars(names).assign(lists).assign_attrs({SHAPE: shape})


def from_lists(stored: xr.Dataset) -> xr.Dataset:
    """Return the Dataset, its rasters packed, that `as_lists` made lists of; it is loaded."""
    if SHAPE not in stored.attrs:
        return packed(stored)
    rows, cols = (int(size) for size in stored.attrs[SHAPE])
    loaded = stored.load()
    cells = {
        str(name).removesuffix(".at"): loaded[name].to_numpy()
        for name in loaded.data_vars
        if str(name).startswith(f"{CELLS}.")
    }
    fields: dict[str, xr.Variable] = {}
    for key in [str(key) for key in loaded.data_vars if str(key).endswith(".0")]:
        name = key.removesuffix(".0")
        attrs = dict(loaded[key].attrs)
        planes = int(attrs.pop(PLANES))
        rasters = []
        for k in range(max(planes, 1)):
            one = loaded[f"{name}.{k}"]
            elsewhere = loaded[f"{name}.{k}.{ELSEWHERE}"].to_numpy()
            at = cells[str(one.dims[0])]
            rasters.append(PackedRaster((rows, cols), elsewhere, at, one.to_numpy()))
        stack = packed_field(rasters, attrs)
        fields[name] = stack if planes else stack.isel(flow=0)
    listed = [name for name in loaded.data_vars if "." in str(name)]
    bare = loaded.drop_vars(listed)
    bare.attrs = {name: value for name, value in stored.attrs.items() if name != SHAPE}
    return bare.assign(fields)


def _number_of(cells: IntArray, alike: list[IntArray]) -> int:
    """Return the place of cells in a list of them, put at its end where they are new."""
    for number, one in enumerate(alike):
        if one is cells or np.array_equal(one, cells):
            return number
    alike.append(cells)
    return len(alike) - 1
