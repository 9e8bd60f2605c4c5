"""GeoPackage and GeoTIFF read back by general-purpose readers."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from lxml import etree

from reachmap.base.tables import LAYERS
from reachmap.outputs.gis import sld_style, write_gis
from tests.outputs.made_product import made_product


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gis")
    product = made_product()
    return product, folder, write_gis(product, folder)


def test_every_promised_layer_is_there_with_its_columns_and_crs(written):
    product, folder, _ = written
    for layer in LAYERS:
        frame = gpd.read_file(folder / "results.gpkg", layer=layer.name)
        assert [c for c in frame.columns if c != "geometry"] == [c.name for c in layer.columns]
        assert frame.crs == product.markup.crs
        assert len(frame) == len(product.layers[layer.name])


def test_the_package_is_a_geopackage_that_tells_its_units(written):
    _, folder, _ = written
    with closing(sqlite3.connect(folder / "results.gpkg")) as database:
        # application_id of OGC 12-128 (GeoPackage), requirement 2
        assert database.execute("PRAGMA application_id").fetchone()[0] == 0x47504B47
        title = database.execute(
            "SELECT title FROM gpkg_data_columns WHERE table_name='water' AND column_name='depth_m'"
        ).fetchone()[0]
        assert title == "depth_m [m]"
        styled = {row[0] for row in database.execute("SELECT f_table_name FROM layer_styles")}
        assert styled == {layer.name for layer in LAYERS}
        assert database.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_rasters_carry_the_field_where_it_was(written):
    product, folder, _ = written
    flow = product.flows.isel(flow=0)
    label = product.labels[0]
    with rasterio.open(folder / f"depth_{label}.tif") as raster:
        assert raster.crs == rasterio.crs.CRS.from_user_input(flow.attrs["crs"])
        assert raster.units == ("m",)
        values = raster.read(1, masked=True)
        depth = flow["depth"].to_numpy()
        np.testing.assert_allclose(values.filled(np.nan), depth, rtol=1e-6)
        row, col = np.argwhere(np.isfinite(depth))[7]
        x, y = raster.xy(row, col)
        assert (x, y) == (float(flow["x"][col]), float(flow["y"][row]))


def test_where_nothing_is_known_the_raster_says_nodata(written):
    product, folder, _ = written
    with rasterio.open(folder / f"speed_{product.labels[0]}.tif") as raster:
        mask = raster.read_masks(1) == 0
    assert np.array_equal(mask, np.isnan(product.flows["depth"].isel(flow=0).to_numpy()))


def test_styles_are_well_formed():
    for layer in LAYERS:
        root = etree.fromstring(sld_style(layer.name).encode())
        assert root.tag == "{http://www.opengis.net/sld}StyledLayerDescriptor"
