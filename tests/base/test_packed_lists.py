"""Rasters stored as lists of cells: what is read back is what was stored."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from reachmap.base.packed import packed
from reachmap.base.packed_lists import as_lists, from_lists

RNG = np.random.default_rng(6)
STACK, PLANE = ("flow", "y", "x"), ("y", "x")


def water():
    depth = np.where(RNG.random((2, 6, 9)) < 0.3, RNG.random((2, 6, 9)), np.nan)
    return xr.Dataset(
        {
            "depth": (STACK, depth, {"units": "m"}),
            "level": (STACK, depth + 100),
            "nothing": (STACK, np.full(depth.shape, np.nan, np.float32)),
            "wet": (STACK, np.isfinite(depth).astype(np.uint8)),
            "bed": (PLANE, RNG.random((6, 9))),
            "cover": (PLANE, RNG.integers(0, 3, (6, 9), dtype=np.uint8)),
            "inflow": ("flow", [3.0, 4.0]),
        },
        coords={"flow": [3.0, 4.0], "x": np.arange(9.0), "y": np.arange(6.0)[::-1]},
        attrs={"crs": "EPSG:32607", "cell": 1.0},
    ).assign_coords(note_kind=("note", ["solved"]))


@pytest.mark.parametrize("ready", [packed, lambda one: one])
@pytest.mark.parametrize("names", [None, ["bed"], ["inflow"], ["wet", "inflow"]])
def test_what_is_stored_as_lists_is_read_back_the_same(tmp_path, ready, names):
    made = water() if names is None else water()[names]
    as_lists(ready(made)).to_netcdf(tmp_path / "one.nc", engine="netcdf4")
    with xr.open_dataset(tmp_path / "one.nc", engine="netcdf4") as stored:
        found = from_lists(stored)
    xr.testing.assert_identical(found, made)
    assert {name: one.dtype for name, one in found.data_vars.items()} == {
        name: one.dtype for name, one in made.data_vars.items()
    }


def test_rasters_of_the_same_cells_share_their_list():
    made = as_lists(water()[["depth", "level"]])
    assert sorted(str(name) for name in made.variables if str(name).endswith(".at")) == [
        "cells.0.at",
        "cells.1.at",
    ]


def test_a_dataset_stored_dense_is_read_too(tmp_path):
    made = water()
    made.to_netcdf(tmp_path / "dense.nc", engine="netcdf4")
    with xr.open_dataset(tmp_path / "dense.nc", engine="netcdf4") as stored:
        xr.testing.assert_identical(from_lists(stored), made)
