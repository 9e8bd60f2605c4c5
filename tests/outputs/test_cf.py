"""Datasets by the CF conventions: read by rioxarray and cf_xarray, and back from NetCDF."""

from __future__ import annotations

import cf_xarray  # noqa: F401 - adds the accessor
import numpy as np
import pytest
import rioxarray  # noqa: F401 - adds the accessor
import xarray as xr

from reachmap.base.words import COVER_CODES, Cover, Wet
from reachmap.outputs.cf import cf_dataset
from reachmap.outputs.zarr_fields import keep_zarr
from tests.made import CRS, made_flows, made_ground

UDUNITS = ("1", "m", "m s-1", "m3 s-1")
"""Units in the spelling of the CF standard name table: powers as whole numbers behind the unit."""


@pytest.fixture(scope="module")
def datasets():
    ground = made_ground(length=80.0, cell=4.0)
    flows = made_flows(ground, {20.0: -0.5, 40.0: 0.1}).assign_attrs(method="made")
    return {name: cf_dataset(one, ground, "Invented") for name, one in (
        ("ground", ground), ("flow", flows))}  # fmt: skip


@pytest.fixture(params=["memory", "netcdf", "zarr"])
def read(request, datasets, tmp_path):
    """The datasets as they are, and as they come back from a file."""
    if request.param == "memory":
        return datasets
    if request.param == "zarr":
        pytest.importorskip("zarr")
        for name, one in datasets.items():
            keep_zarr(one, tmp_path / f"{name}.zarr")
        return {
            name: xr.open_zarr(tmp_path / f"{name}.zarr", decode_coords="all").load()
            for name in datasets
        }
    for name, one in datasets.items():
        one.to_netcdf(tmp_path / f"{name}.nc")
    return {
        name: xr.load_dataset(tmp_path / f"{name}.nc", decode_coords="all") for name in datasets
    }


def test_rioxarray_finds_the_crs_and_the_raster(read):
    for one, field in ((read["ground"], "bed"), (read["flow"], "depth")):
        assert one.rio.crs.to_epsg() == int(CRS.split(":")[1])
        assert one[field].rio.crs.to_epsg() == int(CRS.split(":")[1])
        assert one[field].rio.resolution() == (4.0, -4.0)
        assert (one[field].attrs | one[field].encoding)["grid_mapping"] == "spatial_ref"


def test_cf_xarray_finds_axes_and_standard_names(read):
    flow = read["flow"]
    assert flow.cf["X"].name == "x"
    assert flow.cf["Y"].name == "y"
    assert (flow["x"].attrs["axis"], flow["y"].attrs["axis"]) == ("X", "Y")
    level = flow.cf["water_surface_height_above_reference_datum"]
    assert level.name == "level"
    discharge = flow.cf.standard_names["water_volume_transport_in_river_channel"]
    assert {"inflow", "outflow", "flow"} <= set(discharge)


@pytest.mark.parametrize(("name", "field"), [("flow", "wet"), ("ground", "cover")])
def test_codes_carry_their_words(read, name, field):
    array = read[name][field]
    codes = dict(zip(array.attrs["flag_meanings"].split(), array.attrs["flag_values"], strict=True))
    if field == "wet":
        assert codes == {"no": Wet.NO, "yes": Wet.YES, "unknown": Wet.UNKNOWN}
    else:
        assert codes == {"unknown": 0} | {cover.value: COVER_CODES[cover] for cover in Cover}
    assert set(np.unique(array)) <= set(codes.values())
    if not isinstance(array.attrs["flag_values"], list):  # Zarr keeps attributes as JSON
        assert array.attrs["flag_values"].dtype == array.dtype
    assert (array.cf == "unknown").dtype == bool


def test_each_field_says_what_it_is_in_a_unit_udunits_reads(read):
    for one in read.values():
        for name, array in one.data_vars.items():
            assert array.attrs.get("long_name") or array.attrs.get("standard_name"), name
            if name in ("wet", "cover", "roughness"):
                assert "units" not in array.attrs
            else:
                assert array.attrs["units"] in UDUNITS
    assert read["ground"]["roughness"].attrs["comment"] == "in s/m^(1/3)"


def test_numbers_and_the_place_of_each_cell_are_kept(read):
    ground = made_ground(length=80.0, cell=4.0)
    for one in read.values():
        np.testing.assert_array_equal(one["station"], ground["station"])
        np.testing.assert_array_equal(one["offset"], ground["offset"])
        assert {"station", "offset"} <= set(one.coords)
        assert one.attrs["Conventions"] == "CF-1.11"
        assert one.attrs["title"] == "Invented"
    np.testing.assert_array_equal(read["ground"]["bed"], ground["bed"])


def test_the_stage_s_own_dataset_is_left_as_it_was():
    ground = made_ground(length=80.0, cell=4.0)
    cf_dataset(ground, ground, "Invented")
    assert "spatial_ref" not in ground.coords
    assert "standard_name" not in ground["x"].attrs
    assert ground["cover"].attrs["units"] == "1"
