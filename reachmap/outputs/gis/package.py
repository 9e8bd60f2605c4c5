"""results.gpkg: every layer with described columns, its style, and the cautions as metadata."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import geopandas as gpd

from reachmap.base.cache import UNSYNCED
from reachmap.base.columns import Layer
from reachmap.base.gdal_options import gdal_options
from reachmap.base.geopackage import (
    PACKAGE_VERSION,
    ColumnNote,
    LayerLook,
    add_looks,
    add_metadata,
    add_words,
    describe_columns,
)
from reachmap.base.schema import LAYERS
from reachmap.base.words import UnitSystem, Word
from reachmap.outputs.gis.drawn import DRAWN, drawn_layers
from reachmap.outputs.gis.styles import qml_style, sld_style
from reachmap.outputs.product import Product
from reachmap.text import cautions
from reachmap.text.gis import column_meaning
from reachmap.text.wading_terms import Terms, terms_of
from reachmap.text.written import written_layer

OF_RUNS = ("water", "runs")
"""Layers that hold names of runs."""

GRADED = ("wading", "stations", "bars", "water", "runs")
"""Layers on wading: their description begins with how water was graded."""


def write_package(path: Path, product: Product) -> None:
    """Write every layer of the register with column descriptions, its style and the cautions."""
    units = product.markup.plan.units
    terms = terms_of(product.report, units)
    drawn = drawn_layers(product.markup)
    with gdal_options(UNSYNCED):
        for layer in LAYERS:
            _write_layer(path, layer, _written(product, layer.name, units), terms)
        for layer in DRAWN:
            _write_layer(path, layer, drawn[layer.name], terms)
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("PRAGMA synchronous = OFF")  # written atomically
        database.execute("PRAGMA journal_mode = MEMORY")
        _describe(database)
        looks = [
            LayerLook(layer.name, qml_style(layer.name), sld_style(layer.name), layer.meaning)
            for layer in (*LAYERS, *DRAWN)
        ]
        add_looks(database, looks, date=now)
        text = caution_text(product, terms)
        add_metadata(database, text, [layer.name for layer in (*LAYERS, *DRAWN)], date=now)


def _written(product: Product, name: str, units: UnitSystem) -> gpd.GeoDataFrame:
    """Return a layer with its sentences; those that hold no name of a run may be held."""
    make = partial(written_layer, name, product.layers[name], product.runs, units)
    if name in OF_RUNS:
        return make()
    return product.once("written", ("layers", "asks", "words"), make, name)


def caution_text(product: Product, terms: Terms) -> str:
    """Return the text that must accompany the layers: grading, cautions, sources."""
    more = [cautions.PREVIEW] if product.preview else []
    more += [cautions.INVENTED] if product.report.get("invented") else []
    return "\n".join((*terms.lines, *more, *cautions.CAUTIONS))


def _write_layer(path: Path, layer: Layer, frame: gpd.GeoDataFrame, terms: Terms) -> None:
    """Write one layer."""
    description = " ".join((*terms.lines, layer.meaning)) if layer.name in GRADED else layer.meaning
    frame.to_file(
        path,
        layer=layer.name,
        driver="GPKG",
        engine="pyogrio",
        geometry_type=None if len(frame) else layer.geometry,
        DESCRIPTION=description,
        VERSION=PACKAGE_VERSION,
    )


def _describe(database: sqlite3.Connection) -> None:
    """Add unit, meaning and permitted words of each column (the Schema extension)."""
    lists: dict[str, type[Word]] = {}
    notes = []
    for layer in (*LAYERS, *DRAWN):
        for column in (*layer.columns, *layer.written):
            title = f"{column.name} [{column.unit}]" if column.unit else column.name
            words = ""
            if column.words is not None:
                words = f"words_{column.words.__name__.lower()}"
                lists[words] = column.words
            meaning = column_meaning(column.meaning)
            notes.append(ColumnNote(layer.name, column.name, title, meaning, words))
    for name, members in lists.items():
        add_words(database, name, [(word.value, word.meaning) for word in members])
    describe_columns(database, notes)
