"""Packed rasters against the dense arrays they stand for."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from reachmap.base.packed import PackedRaster, packed_stack

STACK = ("flow", "y", "x")
RNG = np.random.default_rng(5)
DEPTH = np.where(RNG.random((3, 7, 11)) < 0.2, RNG.random((3, 7, 11)), np.nan)
CODE = RNG.choice([0, 1, 2], (3, 7, 11), p=[0.1, 0.1, 0.8]).astype(np.uint8)


@pytest.fixture(scope="module")
def packed():
    parts = [
        xr.Dataset({"depth": (STACK, DEPTH[k : k + 1]), "wet": (STACK, CODE[k : k + 1])})
        for k in range(3)
    ]
    return xr.Dataset(packed_stack(parts, STACK))


@pytest.mark.parametrize(
    "key",
    [
        {},
        {"flow": 1},
        {"flow": -1},
        {"flow": [2]},
        {"flow": [2, 0]},
        {"flow": slice(1, None)},
        {"flow": slice(3, 3)},
        {"flow": 2, "y": slice(1, 5), "x": slice(2, -3)},
        {"flow": 2, "y": slice(None, None, 2), "x": 4},
        {"flow": 0, "y": slice(5, 1, -1), "x": -1},
        {"flow": 0, "y": [3, 1], "x": slice(3, 3)},
        {"y": slice(6, 40), "x": slice(-2, None)},
    ],
)
def test_any_part_is_that_of_the_dense_array(packed, key):
    for name, dense in (("depth", DEPTH), ("wet", CODE)):
        wanted = xr.DataArray(dense, dims=STACK).isel(key).to_numpy()
        got = packed[name].isel(key).to_numpy()
        np.testing.assert_array_equal(got, wanted)
        assert got.dtype == dense.dtype


def test_a_chain_of_choices_is_made_before_anything_is_dense(packed):
    part = packed.isel(flow=[1, 2]).isel(flow=1, y=slice(2, 6)).isel(x=slice(1, 9))
    np.testing.assert_array_equal(part["depth"].to_numpy(), DEPTH[2, 2:6, 1:9])
    # what is read may be changed without changing what is packed
    part["depth"].to_numpy()[:] = -1
    packed["wet"].isel(flow=0).to_numpy()[:] = 9
    np.testing.assert_array_equal(packed["wet"].to_numpy(), CODE)


def test_only_cells_that_differ_are_held():
    assert PackedRaster.of(DEPTH[0], np.array(np.nan)).cells.size == np.isfinite(DEPTH[0]).sum()
    over = PackedRaster.of(CODE[1], CODE[0])
    assert over.cells.size == (CODE[1] != CODE[0]).sum()
    whole = slice(None)
    np.testing.assert_array_equal(over.window(whole, whole), CODE[1])


def test_fields_of_other_dims_are_left_to_the_caller():
    part = xr.Dataset({"depth": (STACK, DEPTH[:1]), "inflow": ("flow", [3.0])})
    assert set(packed_stack([part], STACK)) == {"depth"}
