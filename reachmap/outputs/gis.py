"""Files for desktop GIS: results.gpkg with every layer, and one GeoTIFF a field and flow."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from functools import partial
from pathlib import Path
from xml.sax.saxutils import escape

import geopandas as gpd
import numpy as np
import rasterio
import xarray as xr
from rasterio.transform import from_origin

from reachmap.base.cache import unsynced, write_aside
from reachmap.base.fields import FIELDS
from reachmap.base.shapes import F8
from reachmap.base.tables import BY_NAME, LAYERS
from reachmap.outputs.product import Product

RASTERS = ("depth", "speed", "level")
"""Fields written as GeoTIFF; `speed` is the length of the two components."""

NODATA = -9999.0
"""Written where the field has no value: dry, or unknown (the `wet` field of the report tells)."""

LINE_COLOURS: Mapping[str, str] = {
    "edge_left": "#0d2b4f",
    "edge_right": "#0d2b4f",
    "seams": "#9a0050",
    "tailouts": "#5e2200",
    "lanes": "#3d1270",
}
AREA_COLOURS: Mapping[str, str] = {
    "wetted": "#b9dcf0",
    "water": "#ffd84d",
    "wading": "#8a8a8a",
    "runs": "#d8d2c4",
}


def write_gis(product: Product, folder: Path) -> list[Path]:
    """Write results.gpkg and the GeoTIFFs of each flow; return the paths."""
    paths = [
        write_aside(
            folder / "results.gpkg", lambda aside: _write_package(aside, dict(product.layers))
        )
    ]
    for index, label in enumerate(product.labels):
        flow = product.flows.isel(flow=index)
        for name in RASTERS:
            write = partial(_write_raster, flow=flow, name=name, label=label)
            paths.append(write_aside(folder / f"{name}_{label}.tif", write))
    return paths


def _raster_values(flow: xr.Dataset, name: str) -> F8:
    """Return a field as an array; NaN where there is none."""
    if name == "speed":
        speed = np.hypot(flow["east_speed"].to_numpy(), flow["north_speed"].to_numpy())
        return np.asarray(speed, dtype=np.float64)
    return np.asarray(flow[name].to_numpy(), dtype=np.float64)


def _write_raster(path: Path, *, flow: xr.Dataset, name: str, label: str) -> None:
    """Write one field at one flow as a cloud-optimised GeoTIFF in the metric CRS."""
    cell = float(flow.attrs["cell"])
    values = _raster_values(flow, name)
    corner = (float(flow["x"][0]) - cell / 2, float(flow["y"][0]) + cell / 2)
    unit, meaning = _unit_of(name)
    profile = {
        "driver": "COG",
        "dtype": "float32",
        "count": 1,
        "height": values.shape[0],
        "width": values.shape[1],
        "crs": flow.attrs["crs"],
        "transform": from_origin(*corner, cell, cell),
        "nodata": NODATA,
        "compress": "deflate",
        "predictor": 3,
    }
    filled = np.where(np.isfinite(values), values, NODATA).astype(np.float32)
    with rasterio.open(path, "w", **profile) as target:
        target.write(filled, 1)
        target.set_band_unit(1, unit)
        target.set_band_description(1, f"{meaning} At {label}.")


def _unit_of(name: str) -> tuple[str, str]:
    """Return unit and meaning of a raster."""
    if name == "speed":
        return "m/s", "Depth-averaged speed; nodata where dry or unknown."
    field = next(field for field in FIELDS if field.name == name)
    return field.unit, field.meaning


def _write_package(path: Path, layers: dict[str, gpd.GeoDataFrame]) -> None:
    """Write every promised layer, its columns' units and meanings, and its style."""
    with unsynced():
        for layer in LAYERS:
            layers[layer.name].to_file(
                path,
                layer=layer.name,
                driver="GPKG",
                engine="pyogrio",
                geometry_type=None if len(layers[layer.name]) else layer.geometry,
                DESCRIPTION=layer.meaning,
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
        for column in layer.columns
    ]
    database.executemany(
        "INSERT OR REPLACE INTO gpkg_data_columns (table_name, column_name, title, description) "
        "VALUES (?, ?, ?, ?)",
        [
            (table, name, f"{name} [{unit}]" if unit else name, told)
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
        "VALUES ('', '', ?, 'geom', 'reachmap', '', ?, 1, ?, '')",
        [(layer.name, sld_style(layer.name), layer.meaning) for layer in LAYERS],
    )
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', 'Layer styles')"
    )


def sld_style(name: str) -> str:
    """Return a layer's style as an OGC Styled Layer Descriptor 1.0."""
    kind = BY_NAME[name].geometry
    if kind == "LineString":
        colour = LINE_COLOURS.get(name, "#333333")
        stroke = _css("stroke", colour) + _css("stroke-width", "2")
        symbol = f"<LineSymbolizer><Stroke>{stroke}</Stroke></LineSymbolizer>"
    elif kind == "Point":
        symbol = (
            "<PointSymbolizer><Graphic><Mark><WellKnownName>circle</WellKnownName>"
            f"<Fill>{_css('fill', '#234a14')}</Fill></Mark><Size>7</Size></Graphic>"
            "</PointSymbolizer>"
        )
    else:
        fill = AREA_COLOURS.get(name, "#cccccc")
        inner = _css("fill", fill) + _css("fill-opacity", "0.5")
        stroke = _css("stroke", "#222222") + _css("stroke-width", "1")
        symbol = (
            f"<PolygonSymbolizer><Fill>{inner}</Fill><Stroke>{stroke}</Stroke></PolygonSymbolizer>"
        )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><StyledLayerDescriptor version="1.0.0" '
        'xmlns="http://www.opengis.net/sld"><NamedLayer>'
        f"<Name>{escape(name)}</Name><UserStyle><FeatureTypeStyle><Rule>{symbol}</Rule>"
        "</FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>"
    )


def _css(name: str, value: str) -> str:
    """Return one CssParameter element."""
    return f'<CssParameter name="{name}">{value}</CssParameter>'
