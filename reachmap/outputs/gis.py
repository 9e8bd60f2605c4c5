"""Files for desktop GIS: results.gpkg with every layer, and one GeoTIFF a field and flow."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from functools import partial
from pathlib import Path

import numpy as np
import rasterio
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.base.cache import UNSYNCED, write_aside
from reachmap.base.columns import Layer
from reachmap.base.fields import FIELDS
from reachmap.base.gdal_options import gdal_options
from reachmap.base.grid import Grid
from reachmap.base.schema import LAYERS
from reachmap.base.words import Wet
from reachmap.outputs.gis_styles import qml_style, sld_style
from reachmap.outputs.product import Product
from reachmap.text.wading_terms import Terms, terms_of
from reachmap.text.written import written_layer

RASTERS = ("depth", "speed", "level")
"""Fields written as GeoTIFF; `speed` is the length of the two components."""

DOUBT_RASTERS = ("depth_spread", "speed_spread", "agreement")
"""Fields of the ensemble written too, where there is one."""

NODATA = -9999.0
"""Written where a field has no value: dry, or unknown; `wet_<label>.tif` tells which."""

WET_CODES = ", ".join(f"{code.value} {code.name.lower()}" for code in Wet)

GRADED = ("wading", "stations", "bars", "water", "runs")
"""Layers that speak of wading: their description begins with how water was graded."""

PACKAGE_VERSION = "1.3"
"""Of the GeoPackage standard: the newest that programs in use for years read without a word."""


def write_gis(product: Product, folder: Path) -> list[Path]:
    """Write results.gpkg and the GeoTIFFs of each flow; return the paths."""
    paths = [write_aside(folder / "results.gpkg", lambda aside: _write_package(aside, product))]
    grid = Grid.of(product.flows)
    for index, label in enumerate(product.labels):
        flow = product.flows.isel(flow=index)
        fields = {name: (flow, name) for name in (*RASTERS, "wet")}
        if product.doubt is not None:
            one = product.doubt.isel(flow=index)
            fields |= {name: (one, name) for name in DOUBT_RASTERS}
        for name, (source, field) in fields.items():
            write = partial(_write_raster, grid=grid, source=source, name=field, label=label)
            paths.append(write_aside(folder / f"{name}_{label}.tif", write))
    return paths


def _raster_values(flow: xr.Dataset, name: str) -> FloatArray:
    """Return a field as an array; NaN where there is none."""
    if name == "speed":
        speed = np.hypot(flow["east_speed"].to_numpy(), flow["north_speed"].to_numpy())
        return np.asarray(speed, dtype=np.float64)
    return np.asarray(flow[name].to_numpy(), dtype=np.float64)


def _write_raster(path: Path, *, grid: Grid, source: xr.Dataset, name: str, label: str) -> None:
    """Write one field at one flow as a cloud-optimised GeoTIFF in the metric CRS.

    Overviews take the nearest cell, so that no value is made up.
    """
    values = _raster_values(source, name)
    unit, meaning = _unit_of(name)
    codes = name == "wet"
    dtype = "uint8" if codes else "float32"
    profile = {
        "driver": "COG",
        "dtype": dtype,
        "count": 1,
        "height": grid.shape[0],
        "width": grid.shape[1],
        "crs": grid.crs,
        "transform": grid.transform,
        "nodata": None if codes else NODATA,
        "compress": "deflate",
        "predictor": 2 if codes else 3,
        "overview_resampling": "nearest",
    }
    filled = np.where(np.isfinite(values), values, NODATA).astype(dtype)
    with rasterio.open(path, "w", **profile) as target:
        target.write(filled, 1)
        target.set_band_unit(1, unit)
        target.set_band_description(1, f"{meaning} At {label}.")


def _unit_of(name: str) -> tuple[str, str]:
    """Return unit and meaning of a raster."""
    if name == "speed":
        return "m/s", "Depth-averaged speed; nodata where dry or unknown."
    if name == "wet":
        return "1", f"Whether there is water: {WET_CODES}."
    field = next(field for field in FIELDS if field.name == name)
    return field.unit, field.meaning


def _described(layer: Layer, terms: Terms) -> str:
    """Return what a layer holds; where it speaks of wading, also how water was graded."""
    return " ".join((*terms.lines, layer.meaning)) if layer.name in GRADED else layer.meaning


def _write_package(path: Path, product: Product) -> None:
    """Write every promised layer, its columns' units and meanings, and its style."""
    units = product.markup.plan.units
    terms = terms_of(product.report, units)
    with gdal_options(UNSYNCED):
        for layer in LAYERS:
            frame = written_layer(layer.name, product.layers[layer.name], product.runs, units)
            frame.to_file(
                path,
                layer=layer.name,
                driver="GPKG",
                engine="pyogrio",
                geometry_type=None if len(frame) else layer.geometry,
                DESCRIPTION=_described(layer, terms),
                VERSION=PACKAGE_VERSION,
            )
    with closing(sqlite3.connect(path)) as database, database:
        _describe_columns(database)
        _add_styles(database)


def _describe_columns(database: sqlite3.Connection) -> None:
    """Fill the GeoPackage Schema extension's table of columns (OGC 12-128r18, annex F.9)."""
    database.execute(
        "CREATE TABLE IF NOT EXISTS gpkg_data_columns (table_name TEXT NOT NULL, "
        "column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT, mime_type TEXT, "
        "constraint_name TEXT, CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name))"
    )
    rows = [
        (layer.name, column.name, column.unit, column.meaning)
        for layer in LAYERS
        for column in (*layer.columns, *layer.written)
    ]
    database.executemany(
        "INSERT OR REPLACE INTO gpkg_data_columns "
        "(table_name, column_name, name, title, description) VALUES (?, ?, ?, ?, ?)",
        [
            (table, name, *(2 * [f"{name} [{unit}]" if unit else name]), told)
            for table, name, unit, told in rows
        ],
    )
    database.execute(
        "INSERT OR IGNORE INTO gpkg_extensions "
        "(table_name, column_name, extension_name, definition, scope) VALUES "
        "('gpkg_data_columns', NULL, 'gpkg_schema', "
        "'http://www.geopackage.org/spec120/#extension_schema', 'read-write')"
    )


def _add_styles(database: sqlite3.Connection) -> None:
    """Store one OGC Styled Layer Descriptor a layer in the table that desktop GIS reads."""
    database.execute(
        "CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT, "
        "f_table_catalog TEXT, f_table_schema TEXT, f_table_name TEXT, f_geometry_column TEXT, "
        "styleName TEXT, styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, "
        "owner TEXT, ui TEXT, update_time DATETIME)"
    )
    database.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
        "f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner) "
        "VALUES ('', '', ?, 'geom', 'reachmap', ?, ?, 1, ?, '')",
        [
            (layer.name, qml_style(layer.name), sld_style(layer.name), layer.meaning)
            for layer in LAYERS
        ],
    )
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', 'Layer styles')"
    )
