"""Writer of mark-up layers into a GeoPackage: atomic, other layers in the file are kept."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyogrio

from reachmap.base.cache import write_aside
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.gdal_options import gdal_options
from reachmap.base.geopackage import PACKAGE_VERSION
from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.markup.forms import Rows, add_forms, kept_rows
from reachmap.markup.layers import LAYER_FIELDS, NUMBERS, LayerSpec
from reachmap.markup.model import Markup
from reachmap.markup.quantities import unit_of

MARKUP_FILE = "markup.gpkg"

DIGITS = 6
"""Decimals kept when SI is converted back into the folder's units: a micron."""


def empty_layers(crs: str) -> dict[str, gpd.GeoDataFrame]:
    """Return every mark-up layer with its typed columns and no feature.

    Parameters
    ----------
    crs
        Any CRS, as an EPSG string or WKT.
    """
    return {name: layer_of(name, [], crs) for name in LAYER_FIELDS}


def layer_of(name: str, rows: Sequence[Mapping[str, Any]], crs: str) -> gpd.GeoDataFrame:
    """Return rows as a mark-up layer with its columns typed: text as text, numbers as float64.

    Parameters
    ----------
    name
        A layer of the register.
    rows
        Each with `geometry` and any of the layer's fields, numbers in the folder's units; what a
        row leaves out is empty text or NaN.
    crs
        CRS of the geometry.

    Raises
    ------
    ValueError
        If a row has a field that is not in the register.
    """
    spec = LAYER_FIELDS[name]
    known = {*spec.by_name, "geometry"}
    for row in rows:
        if not row.keys() <= known:
            msg = f"layer {name}: fields not in the register: {sorted(row.keys() - known)}"
            raise ValueError(msg)
    columns: dict[str, Any] = {}
    for field in spec.fields:
        if field.quantity in NUMBERS:
            values = [row.get(field.name) for row in rows]
            columns[field.name] = pd.Series(values, dtype="float64")
        else:
            texts = ["" if row.get(field.name) is None else str(row[field.name]) for row in rows]
            columns[field.name] = pd.Series(texts, dtype="object")
    shapes = gpd.GeoSeries([row["geometry"] for row in rows], crs=crs)
    return gpd.GeoDataFrame(columns, geometry=shapes, crs=crs)


def layers_of(markup: Markup) -> dict[str, gpd.GeoDataFrame]:
    """Return a drawing as mark-up layers in its CRS, numbers in the folder's units."""
    parts: dict[str, Sequence[Any]] = {name: getattr(markup, _PARTS[name]) for name in LAYER_FIELDS}
    units = markup.plan.units
    return {
        name: layer_of(name, [_row(spec, part, units) for part in parts[name]], markup.crs)
        for name, spec in LAYER_FIELDS.items()
    }


def write_markup(path: Path, markup: Markup) -> Path:
    """Write a drawing's layers into the GeoPackage at `path`; other layers are kept."""
    return write_layers(path, layers_of(markup))


def write_layers(
    path: Path, layers: Mapping[str, gpd.GeoDataFrame], *, date: str | None = None
) -> Path:
    """Write mark-up layers into the GeoPackage at `path`, by way of a temporary copy.

    Layers of the file that are not among `layers` stay as they are; one that is, is replaced.
    Columns beyond the register's are written as they come.

    Parameters
    ----------
    path
        The GeoPackage; made if it is not there.
    layers
        Layers of the register by name.
    date
        Time of change stored in the file, like ``2001-02-03T04:05:06Z``, for reproducible output
        of scripts; None for now.

    Raises
    ------
    ValueError
        If a layer's name is not in the register.
    MarkupError
        If another program has the file open.
    """
    unknown = sorted(layers.keys() - LAYER_FIELDS.keys())
    if unknown:
        msg = f"not mark-up layers: {unknown}"
        raise ValueError(msg)

    def write(aside: Path) -> None:
        kept: Rows = {}
        if path.exists():
            _copy_database(path, aside)
            with closing(sqlite3.connect(aside)) as before:
                kept = kept_rows(before)
        with gdal_options({"OGR_CURRENT_DATE": date, "OGR_SQLITE_SYNCHRONOUS": "OFF"}):
            for name, frame in layers.items():
                _write_layer(aside, LAYER_FIELDS[name], frame)
        with closing(sqlite3.connect(aside)) as written, written:
            written.execute("PRAGMA synchronous = OFF")
            written.execute("PRAGMA journal_mode = MEMORY")
            add_forms(written, layers, kept, date=date)
        # synchronised once, before the file replaces the old one, not after each step
        with aside.open("rb+") as whole:
            os.fsync(whole.fileno())

    return write_aside(path, write)


def _write_layer(path: Path, spec: LayerSpec, frame: gpd.GeoDataFrame) -> None:
    """Write one layer, with its geometry type where it has only one."""
    shape = spec.shapes[0] if len(spec.shapes) == 1 else "Unknown"
    found = set(frame.geometry.geom_type.dropna())
    kind = shape if found <= {shape} else "Unknown"
    options = {"layer": spec.name, "driver": "GPKG", "geometry_type": kind}
    pyogrio.write_dataframe(frame, path, **options, VERSION=PACKAGE_VERSION)


def _copy_database(source: Path, target: Path) -> None:
    """Copy an SQLite file with the changes in its write-ahead log merged first.

    A file that another program has open with such a log must not be replaced: its changes would be
    written into the new file at the wrong places.
    """
    with closing(sqlite3.connect(source, timeout=PATIENCE_S)) as kept:
        try:
            if kept.execute("PRAGMA journal_mode").fetchone()[0] == "wal":
                kept.execute("PRAGMA journal_mode=DELETE")
        except sqlite3.OperationalError:
            fix = "Save and close it there, then try again: nothing was changed"
            raise MarkupError([Fault(source.name, "another program has it open", fix)]) from None
        with closing(sqlite3.connect(target)) as copy:
            kept.backup(copy)


PATIENCE_S = 2.0
"""Longest wait for another program's lock [s] (our choice)."""


_PARTS = {
    "river": "rivers",
    **{name: name for name in LAYER_FIELDS if name != "river"},
}
"""Attribute of Markup that holds each layer's features."""

_SHAPES = ("line", "outline", "shape", "place")
"""Attributes of the model's dataclasses that may hold the geometry."""

_NAMES: Mapping[tuple[str, str], str] = {
    ("banks", "rise"): "rise_m",
    ("banks", "cover_height"): "cover_height_m",
    ("soundings", "depth"): "depth_m",
    ("soundings", "bed"): "bed_m",
    ("speeds", "speed"): "speed_m_s",
    ("levels", "level"): "level_m",
    ("trees", "height"): "height_m",
    ("rocks", "height"): "height_m",
}
"""Model attribute of each field whose name there carries its unit."""

_WIDTHS: Mapping[tuple[str, str], Callable[[Any], float]] = {
    (name, "size"): lambda part: 2.0 * part.radius_m for name in ("trees", "rocks")
}
"""Fields stored differently in the model."""


def _row(spec: LayerSpec, part: Any, units: UnitSystem) -> dict[str, Any]:
    """Return one feature as a row of its layer."""
    row: dict[str, Any] = {
        "geometry": next(getattr(part, name) for name in _SHAPES if hasattr(part, name))
    }
    for field in spec.fields:
        key = (spec.name, field.name)
        value = _WIDTHS[key](part) if key in _WIDTHS else getattr(part, _NAMES.get(key, field.name))
        if field.quantity in NUMBERS:
            row[field.name] = round(from_si(float(value), unit_of(field.quantity, units)), DIGITS)
        else:
            row[field.name] = str(value)
    return row
