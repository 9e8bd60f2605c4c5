"""Fields as Zarr: read again by xarray, number for number, with their CF attributes."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from reachmap.base.errors import BuildError
from reachmap.outputs import zarr_fields
from reachmap.outputs.zarr_fields import refuse_without_zarr, write_zarr
from reachmap.pipeline.order import begin_job
from reachmap.pipeline.stamp import Options
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    pytest.importorskip("zarr")
    product = with_doubt(made_product())
    folder = tmp_path_factory.mktemp("zarr")
    return product, {path.name: path for path in write_zarr(product, folder)}


def test_every_stage_reads_back_number_for_number(written):
    product, paths = written
    assert set(paths) == {"flow.zarr", "ground.zarr", "doubt.zarr"}
    for name, dataset in (("flow", product.flows), ("ground", product.ground)):
        read = xr.open_zarr(paths[f"{name}.zarr"])
        for field in dataset.data_vars:
            np.testing.assert_array_equal(read[field].to_numpy(), dataset[field].to_numpy())
    flow = xr.open_zarr(paths["flow.zarr"])
    assert list(flow["asked"].to_numpy()) == list(product.flows["asked"].to_numpy())


def test_the_conventions_are_kept(written):
    product, paths = written
    read = xr.open_zarr(paths["flow.zarr"], decode_coords="all")
    assert read.attrs["Conventions"] == "CF-1.11"
    assert read["level"].attrs["standard_name"] == "water_surface_height_above_reference_datum"
    assert read["depth"].attrs["units"] == "m"
    assert read.rio.crs.to_epsg() == int(str(product.flows.attrs["crs"]).split(":")[1])


def test_a_flow_is_a_chunk(written):
    _, paths = written
    depth = xr.open_zarr(paths["flow.zarr"], chunks={})["depth"]
    assert depth.encoding["chunks"] == (1, *depth.shape[1:])


def test_without_the_library_nothing_is_begun(tmp_path, monkeypatch):
    monkeypatch.setattr(zarr_fields, "find_spec", lambda _: None)
    with pytest.raises(BuildError, match=r"pip install \"reachmap\[zarr\]\""):
        refuse_without_zarr()
    with pytest.raises(BuildError, match="--zarr"):
        begin_job(made_product().markup, tmp_path, Options(zarr=True))
