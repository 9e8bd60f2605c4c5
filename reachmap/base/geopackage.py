"""GeoPackage extension tables: column descriptions, allowed values, styles and metadata.

Schema and Metadata extensions of OGC 12-128 (GeoPackage 1.3, annexes F.9 and F.8; table layouts
from memory, read back by GDAL in the tests). `layer_styles` is a convention of desktop programs,
not a standard.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

PACKAGE_VERSION = "1.3"
"""Of the GeoPackage standard: the newest that older GIS programs read without a warning."""

SPEC = "http://www.geopackage.org/spec130/"


@dataclass(frozen=True, slots=True)
class ColumnNote:
    """Description of one column.

    Parameters
    ----------
    table, column
        Where it is.
    title
        Its name with its unit, as people read it.
    meaning
        One sentence.
    words
        Name of the list of words that it may hold (`add_words`), "" for none.
    """

    table: str
    column: str
    title: str
    meaning: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class LayerLook:
    """A layer's style, as QML and as SLD ("" where there is none), and a line about it."""

    table: str
    qml: str
    sld: str
    about: str


def describe_columns(database: sqlite3.Connection, notes: Iterable[ColumnNote]) -> None:
    """Write descriptions of columns in place of earlier ones of the same columns."""
    _schema_tables(database)
    database.executemany(
        "INSERT OR REPLACE INTO gpkg_data_columns "
        "(table_name, column_name, name, title, description, constraint_name) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        [
            (one.table, one.column, one.title, one.title, one.meaning, one.words or None)
            for one in notes
        ],
    )


def add_words(database: sqlite3.Connection, name: str, words: Iterable[tuple[str, str]]) -> None:
    """Name a list of words that columns may hold, each with its meaning, for their dropdowns."""
    _schema_tables(database)
    database.execute("DELETE FROM gpkg_data_column_constraints WHERE constraint_name = ?", (name,))
    database.executemany(
        "INSERT INTO gpkg_data_column_constraints "
        "(constraint_name, constraint_type, value, description) VALUES (?, 'enum', ?, ?)",
        [(name, word, meaning) for word, meaning in words],
    )


def _schema_tables(database: sqlite3.Connection) -> None:
    """Make the tables of the Schema extension where they are not there."""
    database.execute(
        "CREATE TABLE IF NOT EXISTS gpkg_data_columns (table_name TEXT NOT NULL, "
        "column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT, mime_type TEXT, "
        "constraint_name TEXT, CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), "
        "CONSTRAINT gdc_tn UNIQUE (table_name, name))"
    )
    database.execute(
        "CREATE TABLE IF NOT EXISTS gpkg_data_column_constraints (constraint_name TEXT NOT NULL, "
        "constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, "
        "max NUMERIC, max_is_inclusive BOOLEAN, description TEXT, "
        "CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value))"
    )
    for table in ("gpkg_data_columns", "gpkg_data_column_constraints"):
        _extend(database, table, "gpkg_schema", f"{SPEC}#extension_schema")


def _extend(database: sqlite3.Connection, table: str, name: str, definition: str) -> None:
    """Register once the extension that a table belongs to."""
    database.execute(
        "CREATE TABLE IF NOT EXISTS gpkg_extensions (table_name TEXT, column_name TEXT, "
        "extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL, "
        "CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))"
    )
    # the column is NULL, and NULLs never count as the same
    database.execute(
        "DELETE FROM gpkg_extensions WHERE table_name = ? AND extension_name = ?", (table, name)
    )
    database.execute(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, ?, ?, 'read-write')",
        (table, name, definition),
    )


def add_looks(database: sqlite3.Connection, looks: Iterable[LayerLook], *, date: str) -> None:
    """Store styles; a layer that has a default style already keeps it.

    Parameters
    ----------
    database
        The GeoPackage.
    looks
        A style a layer.
    date
        When they were made, like ``2001-02-03T04:05:06Z``.
    """
    database.execute(
        "CREATE TABLE IF NOT EXISTS layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT, "
        "f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), "
        "f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT, "
        "useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), update_time DATETIME)"
    )
    styled = {
        str(name)
        for (name,) in database.execute("SELECT f_table_name FROM layer_styles WHERE useAsDefault")
    }
    columns = dict(database.execute("SELECT table_name, column_name FROM gpkg_geometry_columns"))
    database.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
        "f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner, "
        "update_time) VALUES ('', '', ?, ?, 'reachmap', ?, ?, 1, ?, '', ?)",
        [
            (look.table, columns[look.table], look.qml, look.sld, look.about, date)
            for look in looks
            if look.table in columns and look.table not in styled
        ],
    )
    known = database.execute("SELECT 1 FROM gpkg_contents WHERE table_name = 'layer_styles'")
    if known.fetchone() is None:
        database.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, "
            "last_change) VALUES ('layer_styles', 'attributes', 'layer_styles', '', ?)",
            (date,),
        )


def add_metadata(
    database: sqlite3.Connection, text: str, tables: Sequence[str], *, date: str
) -> None:
    """Attach a text to the whole package and to tables of it, as its Metadata extension wants.

    Parameters
    ----------
    database
        The GeoPackage.
    text
        Plain text.
    tables
        Layers that it describes.
    date
        When it was written, like ``2001-02-03T04:05:06.000Z``.
    """
    database.execute(
        "CREATE TABLE IF NOT EXISTS gpkg_metadata (id INTEGER CONSTRAINT m_pk PRIMARY KEY "
        "ASC NOT NULL, md_scope TEXT NOT NULL DEFAULT 'dataset', md_standard_uri TEXT NOT NULL, "
        "mime_type TEXT NOT NULL DEFAULT 'text/xml', metadata TEXT NOT NULL DEFAULT '')"
    )
    database.execute(
        "CREATE TABLE IF NOT EXISTS gpkg_metadata_reference (reference_scope TEXT NOT NULL, "
        "table_name TEXT, column_name TEXT, row_id_value INTEGER, timestamp DATETIME NOT NULL "
        "DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), md_file_id INTEGER NOT NULL, "
        "md_parent_id INTEGER, "
        "CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id), "
        "CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id))"
    )
    for table in ("gpkg_metadata", "gpkg_metadata_reference"):
        _extend(database, table, "gpkg_metadata", f"{SPEC}#extension_metadata")
    number = database.execute(
        "INSERT INTO gpkg_metadata (md_scope, md_standard_uri, mime_type, metadata) "
        "VALUES ('dataset', ?, 'text/plain', ?)",
        (f"{SPEC}#extension_metadata", text),
    ).lastrowid
    database.executemany(
        "INSERT INTO gpkg_metadata_reference (reference_scope, table_name, timestamp, md_file_id) "
        "VALUES (?, ?, ?, ?)",
        [
            ("geopackage", None, date, number),
            *(("table", table, date, number) for table in tables),
        ],
    )
