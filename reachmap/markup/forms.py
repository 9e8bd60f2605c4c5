"""Styles and attribute forms of the drawing's GeoPackage for desktop GIS.

Styles, dropdowns and field descriptions are stored in the GeoPackage itself: as QML in
`layer_styles`, which QGIS applies by default, and as the Schema extension of the GeoPackage
standard, for any other program. Changes made by the angler are kept.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from xml.etree import ElementTree as ET

from reachmap.base import qml
from reachmap.base.geopackage import (
    ColumnNote,
    LayerLook,
    add_looks,
    add_words,
    describe_columns,
)
from reachmap.base.words import Cover
from reachmap.markup.layers import (
    LAYER_FIELDS,
    LINE,
    NUMBERS,
    POINT,
    POLYGON,
    LayerField,
    LayerSpec,
)

INKS: Mapping[str, str] = {
    **{"river": "#16333d", "banks": "#26451f", "edges": "#205b7b", "soundings": "#0d3b46"},
    **{"speeds": "#86094d", "levels": "#3b1470", "trees": "#26451f", "rocks": "#3f362c"},
    **{"structure": "#0a2a6b", "hazards": "#7a0f0a", "access": "#1c2a2b", "runs": "#0d3b46"},
}
"""Colours of the layers (our choice), those of the drawing page by day."""

COVER_FILLS: Mapping[Cover, str] = {
    Cover.GRAVEL: "#e6d3a4",
    Cover.SAND: "#f3e6b8",
    Cover.GRASS: "#c3d38f",
    Cover.BRUSH: "#9fb96f",
    Cover.TREES: "#6f945b",
    Cover.ROCK: "#b5aca1",
    Cover.CUTBANK: "#cf9a66",
    Cover.BUILT: "#a9a3a9",
}
"""Fills of the kinds of cover (our choice), those of the drawing page by day."""

DASHES: Mapping[str, tuple[float, ...]] = {"edges": (9, 5), "runs": (14, 4), "hazards": (10, 3)}
SHOWN: Mapping[str, str] = {
    **{"hazards": "kind", "access": "kind", "runs": "name", "structure": "kind"},
    **{"soundings": "depth", "speeds": "speed", "levels": "level"},
}
"""Field shown as the label of a feature."""

MARK_OF = {"hazards": "triangle", "access": "square", "levels": "diamond", "speeds": "cross"}
UNITS_ARE = "In the unit that reach.toml names."

TABLES = ("layer_styles", "gpkg_data_columns", "gpkg_metadata_reference")
"""Tables that refer to layers by name: the library deletes their rows with a layer."""

Rows = Mapping[str, tuple[tuple[str, ...], tuple[tuple[object, ...], ...]]]


def kept_rows(database: sqlite3.Connection) -> Rows:
    """Return column names and rows of each of `TABLES` that exists."""
    found = {}
    for table in TABLES:
        if _is_there(database, table):
            cursor = database.execute(f"SELECT rowid, * FROM {table}")
            names = tuple(str(one[0]) for one in cursor.description)
            found[table] = (names, tuple(cursor.fetchall()))
    return found


def add_forms(
    database: sqlite3.Connection, layers: Iterable[str], kept: Rows, *, date: str | None
) -> None:
    """Add styles, dropdowns and field descriptions of mark-up layers to their GeoPackage.

    Parameters
    ----------
    database
        The GeoPackage, its layers written.
    layers
        Names of mark-up layers.
    kept
        Rows present before they were written (`kept_rows`): restored unchanged.
    date
        When they were written, like ``2001-02-03T04:05:06Z``; None for now.
    """
    specs = [LAYER_FIELDS[name] for name in layers]
    words: dict[str, LayerField] = {}
    notes = []
    for spec in specs:
        for field in spec.fields:
            name = "" if field.words is None else f"markup_{field.words.__name__.lower()}"
            if name:
                words[name] = field
            notes.append(ColumnNote(spec.name, field.name, field.name, _meaning(field), name))
    for name, field in words.items():
        if field.words is not None:
            add_words(database, name, [(word.value, word.meaning) for word in field.words])
    describe_columns(database, notes)
    _put_back(database, kept)
    looks = [LayerLook(spec.name, form_qml(spec), "", spec.meaning) for spec in specs]
    add_looks(database, looks, date=date or datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))


def _is_there(database: sqlite3.Connection, table: str) -> bool:
    """Return whether a table exists."""
    found = database.execute(
        "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (table,)
    )
    return found.fetchone() is not None


def _put_back(database: sqlite3.Connection, kept: Rows) -> None:
    """Restore rows deleted with a layer, unless the same ones exist again."""
    for table, (names, rows) in kept.items():
        if not _is_there(database, table):
            continue
        marks = ", ".join("?" for _ in names)
        database.executemany(
            f"INSERT OR IGNORE INTO {table} ({', '.join(names)}) VALUES ({marks})",
            rows,
        )


def _meaning(field: LayerField) -> str:
    """Return a field's description, with its unit."""
    return f"{field.meaning} {UNITS_ARE}" if field.quantity in NUMBERS else field.meaning


def form_qml(spec: LayerSpec) -> str:
    """Return a layer's style and form as QML; no style where it may hold several geometries."""
    root = qml.root("Symbology|Labeling|Fields|Forms")
    if len(spec.shapes) == 1:
        _look(root, spec)
    _fields(root, spec)
    return qml.text_of(root)


def _look(root: ET.Element, spec: LayerSpec) -> None:
    """Add a layer's renderer: banks by their cover, all others in one colour."""
    by_cover = spec.name == "banks"
    kind = "categorizedSymbol" if by_cover else "singleSymbol"
    renderer = ET.SubElement(root, "renderer-v2", type=kind)
    fills = [(str(cover), fill) for cover, fill in COVER_FILLS.items()] if by_cover else [("", "")]
    if by_cover:
        renderer.set("attr", "cover")
        categories = ET.SubElement(renderer, "categories")
        for number, (value, _) in enumerate(fills):
            one = {"value": value, "symbol": str(number), "label": value, "render": "true"}
            ET.SubElement(categories, "category", one)
    symbols = ET.SubElement(renderer, "symbols")
    for number, (_, fill) in enumerate(fills):
        _symbol(symbols, str(number), spec, fill)
    if spec.name in SHOWN:
        where = qml.OVER if spec.shapes == (POLYGON,) else qml.AROUND
        qml.labelled(root, qml.Label(f'"{SHOWN[spec.name]}"', INKS[spec.name], where))


def _symbol(symbols: ET.Element, name: str, spec: LayerSpec, fill: str) -> None:
    """Add a symbol of a layer."""
    (shape,) = spec.shapes
    kind = {POINT: "marker", LINE: "line", POLYGON: "fill"}[shape]
    ink = qml.rgba(INKS[spec.name])
    symbol = qml.symbol(symbols, name, kind)
    if shape == POINT:
        values = {"name": MARK_OF.get(spec.name, "circle"), "color": qml.rgba("#fffdf6")}
        more = {"outline_color": ink, "size": "2.8", "outline_width": "0.5"}
        qml.symbol_layer(symbol, "SimpleMarker", values | more)
        return
    if fill:
        values = {"color": qml.rgba(fill, 0.75), "style": "solid", "outline_style": "no"}
        qml.symbol_layer(symbol, "SimpleFill", values)
    qml.symbol_layer(symbol, "SimpleLine", qml.line_values(ink, 2.2, DASHES.get(spec.name, ())))


def _fields(root: ET.Element, spec: LayerSpec) -> None:
    """Add a dropdown, default and constraint for each field of words."""
    configuration = ET.SubElement(root, "fieldConfiguration")
    aliases, defaults = ET.SubElement(root, "aliases"), ET.SubElement(root, "defaults")
    constraints = ET.SubElement(root, "constraints")
    for index, field in enumerate(spec.fields, start=1):  # 0 is the row's number
        one = ET.SubElement(configuration, "field", name=field.name, configurationFlags="None")
        ET.SubElement(aliases, "alias", field=field.name, index=str(index), name=field.name)
        if field.words is not None:
            pairs = [(f"{word.value}: {word.meaning}", word.value) for word in field.words]
            qml.choices(one, pairs if field.required else [("", ""), *pairs])
        usual = f"'{field.default}'" if field.default is not None else ""
        ET.SubElement(defaults, "default", field=field.name, expression=usual, applyOnUpdate="0")
        # 1: must not be empty; strength 2: said, but the feature is kept all the same
        must = {"constraints": "1", "notnull_strength": "2"} if field.required else {}
        rest = {"constraints": "0", "notnull_strength": "0", "unique_strength": "0"}
        ET.SubElement(constraints, "constraint", {"field": field.name, **rest, **must})
