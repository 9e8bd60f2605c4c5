"""Packed rasters against the dense arrays they stand for."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
import xarray as xr

from reachmap.base.packed import (
    PackedRaster,
    known_cells,
    merged,
    numbers_in,
    packed,
    packed_fields,
    packed_raster,
    values_at,
)

STACK = ("flow", "y", "x")
RNG = np.random.default_rng(5)
DEPTH = np.where(RNG.random((3, 7, 11)) < 0.2, RNG.random((3, 7, 11)), np.nan)
CODE = RNG.choice([0, 1, 2], (3, 7, 11), p=[0.1, 0.1, 0.8]).astype(np.uint8)


@pytest.fixture(scope="module")
def held():
    parts = [
        xr.Dataset({"depth": (STACK, DEPTH[k : k + 1]), "wet": (STACK, CODE[k : k + 1])})
        for k in range(3)
    ]
    return xr.Dataset(packed_fields(parts))


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
def test_any_part_is_that_of_the_dense_array(held, key):
    for name, dense in (("depth", DEPTH), ("wet", CODE)):
        wanted = xr.DataArray(dense, dims=STACK).isel(key).to_numpy()
        got = held[name].isel(key).to_numpy()
        np.testing.assert_array_equal(got, wanted)
        assert got.dtype == dense.dtype


def test_a_chain_of_choices_is_made_before_anything_is_dense(held):
    part = held.isel(flow=[1, 2]).isel(flow=1, y=slice(2, 6)).isel(x=slice(1, 9))
    np.testing.assert_array_equal(part["depth"].to_numpy(), DEPTH[2, 2:6, 1:9])
    # what is read may be changed without changing what is packed
    part["depth"].to_numpy()[:] = -1
    held["wet"].isel(flow=0).to_numpy()[:] = 9
    np.testing.assert_array_equal(held["wet"].to_numpy(), CODE)


def test_only_cells_that_differ_from_the_first_are_held():
    known = DEPTH[0].copy()
    known[0, 0] = np.nan
    assert PackedRaster.of(known).cells.size == np.isfinite(known).sum()
    code = CODE[1].copy()
    code[0, 0] = 2
    over = PackedRaster.of(code)
    assert over.cells.size == (code != 2).sum()
    whole = slice(None)
    np.testing.assert_array_equal(over.window(whole, whole), code)


def test_fields_of_other_dims_are_left_to_the_caller():
    part = xr.Dataset({"depth": (STACK, DEPTH[:1]), "inflow": ("flow", [3.0])})
    assert set(packed_fields([part])) == {"depth"}


def test_a_dataset_packed_is_the_same_to_whoever_reads_it():
    made = xr.Dataset(
        {
            "bed": (("y", "x"), DEPTH[1]),
            "wet": (STACK, CODE, {"units": "1"}),
            "inflow": ("flow", [1.0, 2.0, 4.0]),
        },
        coords={
            "flow": [1.0, 2.0, 4.0],
            "x": np.arange(11.0),
            "y": np.arange(7.0),
            "note": ("lines", ["a", "b"]),
        },
        attrs={"cell": 2.0},
    )
    told = packed(made)
    assert told.identical(made)
    np.testing.assert_array_equal(told["bed"][2:5, 3].to_numpy(), DEPTH[1][2:5, 3])
    again = packed(told.isel(flow=[2]))
    assert again.identical(made.isel(flow=[2]))


def test_what_is_sent_elsewhere_is_the_river_and_not_its_box():
    """900 cells in a box of a million: two fields of doubles, and the cells they share."""
    depth = np.full((1, 1000, 1000), np.nan)
    depth[0, 500, 50:950] = 1.5
    part = xr.Dataset({"depth": (STACK, depth), "level": (STACK, depth + 40)})
    sent = pickle.dumps(packed(part))
    assert 900 * (2 * 8 + 4) < len(sent) < 900 * (2 * 8 + 4) + 4000
    assert pickle.loads(sent).identical(part)


@pytest.mark.parametrize("rows", [slice(None), slice(2, 6)])
@pytest.mark.parametrize("cols", [slice(None), slice(3, 10), slice(4, 4)])
def test_lists_of_cells_are_those_of_the_dense_raster(held, rows, cols):
    cells = np.arange(DEPTH[1, rows, cols].size, dtype=np.int32)[::3]
    for name, dense in (("depth", DEPTH[1, rows, cols]), ("wet", CODE[1, rows, cols])):
        field = held[name].isel(flow=[1], y=rows, x=cols)[0]
        assert np.array_equal(values_at(field, cells), dense.ravel()[cells], equal_nan=True)
        known, values = known_cells(field)
        assert np.array_equal(known, np.flatnonzero(np.isfinite(dense)))
        assert np.array_equal(values, dense[np.isfinite(dense)])
        raster = packed_raster(field)
        assert np.array_equal(raster.window(slice(None), slice(None)), dense, equal_nan=True)


def test_what_is_packed_is_packed_again_without_its_rasters_becoming_dense(held, monkeypatch):
    monkeypatch.setattr(PackedRaster, "window", None)
    again = packed(held.isel(flow=[2, 0]))
    monkeypatch.undo()
    assert np.array_equal(again["depth"].to_numpy(), DEPTH[[2, 0]], equal_nan=True)


def test_values_of_some_cells_are_those_of_the_dense_raster():
    chance = np.random.default_rng(3)
    raster = np.where(chance.random((3, 9, 11)) < 0.2, chance.random((3, 9, 11)), np.nan)
    raster[:, 0, 0] = np.nan
    dense = xr.Dataset({"depth": (("flow", "y", "x"), raster)})
    cells = np.arange(0, 99, 2, dtype=np.int32)
    for field in (dense["depth"], packed(dense)["depth"]):
        for one in (field, field[[2, 0, 1]], field[:, ::-1], field[1:], field[:, :, ::2]):
            cells = cells[cells < one[0].size]
            for index in (0, -1):
                expected = one.to_numpy()[index].ravel()[cells]
                assert np.array_equal(values_at(one[index], cells), expected, equal_nan=True)


def test_no_packed_raster_becomes_dense_for_the_values_of_some_cells(held, monkeypatch):
    monkeypatch.setattr(PackedRaster, "window", None)
    cells = np.array([70, 3, 3])
    for index in range(3):
        found = values_at(held["wet"].isel(flow=index), cells)
        assert (found == CODE[index].ravel()[cells]).all()


def test_the_numbers_in_one_raster_are_those_it_holds(held):
    for index in range(3):
        for name, dense in (("wet", CODE[index]), ("depth", DEPTH[index])):
            found = numbers_in(held[name].isel(flow=index))
            assert np.array_equal(np.unique(found), np.unique(dense), equal_nan=True)
            assert found.size < dense.size + 1


def test_rising_lists_of_cells_are_merged_as_numpy_joins_sets():
    rng = np.random.default_rng(5)
    for count in (0, 1, 300):
        one, other = (np.unique(rng.integers(0, 500, count)).astype(np.int32) for _ in range(2))
        found = merged(one, other)
        assert found.dtype == np.int32
        np.testing.assert_array_equal(found, np.union1d(one, other))
    assert merged(one, one.copy()) is one


def test_a_packed_raster_is_read_as_an_array_is():
    raster = np.full((6, 5), np.nan)
    raster[1, 2], raster[4, 0] = 3.0, 0.0
    held = PackedRaster.of(raster)
    rows, cols = np.array([1, 4, 5]), np.array([2, 0, 4])
    np.testing.assert_array_equal(held[rows, cols], raster[rows, cols])
    np.testing.assert_array_equal(held[0:3, 1:4], raster[0:3, 1:4])
    np.testing.assert_array_equal(held[...], raster)
    np.testing.assert_array_equal(held[raster >= 0], raster[raster >= 0])
    np.testing.assert_array_equal(np.asarray(held), raster)
    cells = np.arange(30, dtype=np.int32)
    same = PackedRaster.of_list((6, 5), np.nan, cells, raster.ravel())
    np.testing.assert_array_equal(same.cells, held.cells)
    np.testing.assert_array_equal(same[...], raster)


def test_cells_above_a_value_come_row_by_row_and_unknown_is_never_above():
    raster = np.array([[np.nan, 0.5, 0.0], [0.2, np.nan, 0.9]])
    rows, cols = PackedRaster.of(raster).above(0.1)
    assert list(zip(rows.tolist(), cols.tolist(), strict=True)) == [(0, 1), (1, 0), (1, 2)]
    with pytest.raises(ValueError, match="above 0"):
        PackedRaster.of(np.ones((2, 2))).above(0.0)
