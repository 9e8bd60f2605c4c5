"""Opening drawn layers for reading: only the formats named here, each by its own first bytes.

The vector library would open by any of its 80 drivers whatever a file holds: descriptions that
name other files, services, addresses, programs to run. Every table that reachmap reads is opened
here: GeoPackage, shapefile and FlatGeobuf by the library, told apart by their first bytes; GPX and
KML by the library after they were made plain; GeoJSON without it.
"""

from __future__ import annotations

import io
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyogrio

from reachmap.base.gdal_options import gdal_options
from reachmap.base.geojson import geojson_table
from reachmap.base.plain_xml import plain_xml
from reachmap.base.safe_files import LARGEST, FileKind, RefusedError, check_file, read_limited
from reachmap.base.sniff import FLATGEOBUF_HEAD, SHAPEFILE_HEAD, SQLITE_HEAD

HEADS: Mapping[str, bytes] = {
    ".gpkg": SQLITE_HEAD,
    ".shp": SHAPEFILE_HEAD,
    ".fgb": FLATGEOBUF_HEAD,
}
"""How files read by the library begin, by ending; sources in `sniff.HEADS`."""

TEXT_ENDINGS = (".geojson", ".json", ".kml", ".kmz", ".gpx")
"""Endings of the formats that are text, or packed text."""

VECTOR_ENDINGS = (*HEADS, *TEXT_ENDINGS)
"""Endings of the files that are read; all others are refused."""

SHAPEFILE_PARTS = (".shx", ".dbf", ".prj", ".cpg")
"""What belongs to a shapefile."""

DATABASE_PARTS = ("-wal", "-shm", "-journal")
"""Endings of the files that SQLite keeps next to a database."""

CLOSED = {
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
    "GDAL_HTTP_MAX_RETRY": "0",
    "LIBKML_RESOLVE_STYLE": "NO",
    "LIBKML_EXTERNAL_STYLE": "NO",
}
"""Options under which GDAL opens no remote file."""

UNPACKABLE = (
    *(zipfile.BadZipFile, zlib.error, NotImplementedError),
    *(OSError, RuntimeError, EOFError, ValueError),
)
"""What a file that only calls itself KMZ may raise."""


@dataclass(frozen=True, slots=True)
class Vector:
    """A file of layers, opened.

    Parameters
    ----------
    tables
        Each table's name and kind of geometry; None for a table without any.
    path
        What the library reads.
    whole
        The one table of a format that is read without the library.
    """

    tables: tuple[tuple[str, str | None], ...]
    path: Path
    whole: gpd.GeoDataFrame | None = None

    def read(self, table: str, **options: Any) -> gpd.GeoDataFrame | pd.DataFrame:
        """Return a table; `options` are those of `pyogrio.read_dataframe`."""
        if self.whole is not None:
            return self.whole.copy()
        with gdal_options(CLOSED):
            return pyogrio.read_dataframe(self.path, layer=table, **options)


@contextmanager
def open_vector(path: Path, folder: Path | None = None) -> Iterator[Vector]:
    """Yield a file of layers opened for reading.

    Parameters
    ----------
    path
        The file; its ending says what it must be.
    folder
        The folder that it and what belongs to it must stay in; None where the user named it.

    Raises
    ------
    RefusedError
        If it is not what its ending says, not a plain file, too large, or leads elsewhere.
    pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError
        If the library cannot read it.
    """
    ending = path.suffix.lower()
    if ending == ".gpkg":
        yield _opened(_checked(path, ending, folder), _stored_tables(path))
    elif ending in HEADS:
        yield _opened(_checked(path, ending, folder))
    elif ending in {".geojson", ".json"}:
        frame = geojson_table(read_limited(path, FileKind.TEXT, folder))
        yield Vector(((path.stem, "Unknown"),), path, frame)
    elif ending in TEXT_ENDINGS:
        body = read_limited(path, FileKind.TEXT, folder)
        kind = "gpx" if ending == ".gpx" else "kml"
        text = plain_xml(unpacked_kml(body) if ending == ".kmz" else body, kind)
        with tempfile.TemporaryDirectory(prefix="reachmap-") as aside:
            plain = Path(aside) / f"{path.stem}.{kind}"
            plain.write_bytes(text)
            yield _opened(plain)
    else:
        msg = f"files that end in {ending or 'nothing'} are not read"
        raise RefusedError(msg, f"Give one of: {', '.join(VECTOR_ENDINGS)}")


def unpacked_kml(body: bytes) -> bytes:
    """Return the KML in a KMZ: doc.kml or its first, unpacked no further than text may be large.

    Raises
    ------
    RefusedError
        If it is no KMZ, holds no KML or too much of it.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(body)) as packed:
            names = [name for name in packed.namelist() if name.lower().endswith(".kml")]
            if not names:
                msg = "no KML is in it"
                raise RefusedError(msg, "Save it again as KMZ or KML")
            with packed.open("doc.kml" if "doc.kml" in names else names[0]) as stream:
                text = stream.read(LARGEST[FileKind.TEXT] + 1)
    except UNPACKABLE:
        msg = "it is not KMZ"
        raise RefusedError(msg, "Save it again as KMZ or KML") from None
    if len(text) > LARGEST[FileKind.TEXT]:
        most = LARGEST[FileKind.TEXT] // 1_000_000
        msg = f"it holds more than {most} MB when unpacked"
        raise RefusedError(msg, "Take out of it what the reach does not need")
    return text


def _checked(path: Path, ending: str, folder: Path | None) -> Path:
    """Return a file that is what its ending says, as a whole path."""
    check_file(path, FileKind.DRAWING, folder)
    with path.open("rb") as stream:
        head = stream.read(16)
    if not head.startswith(HEADS[ending]):
        msg = f"it is not what its ending {ending} says"
        raise RefusedError(msg, "Export it again, or take it out")
    parts = [path.with_suffix(part) for part in SHAPEFILE_PARTS] if ending == ".shp" else []
    if ending == ".gpkg":
        parts = [path.with_name(path.name + part) for part in DATABASE_PARTS]
    for part in parts:
        check_file(part, FileKind.DRAWING, folder)
    # as a whole path, so that no name can be taken for an address or a virtual file system
    whole = path.absolute()
    if "!" in str(whole):  # would be taken for a file within an archive
        msg = "the name of a folder it lies in holds a '!'"
        raise RefusedError(msg, "Rename that folder")
    return whole


def _stored_tables(path: Path) -> frozenset[str]:
    """Return the layers a GeoPackage lists, in small letters; raise where it cannot be trusted.

    A layer must be stored: a view, or a column that is worked out from others, could run for ever.
    """
    try:
        with closing(_database(path)) as database:
            kinds = {
                str(name).lower(): str(kind)
                for name, kind in database.execute("SELECT name, type FROM sqlite_master")
                if kind in {"table", "view"}
            }
            if kinds.get("gpkg_contents") != "table":
                msg = "it is not a GeoPackage"
                raise RefusedError(msg, "Export it again as one, or take it out")
            rows = database.execute("SELECT table_name FROM gpkg_contents LIMIT 10000")
            listed = frozenset(str(name).lower() for (name,) in rows)
            for name, kind in kinds.items():
                wanted = name in listed or name.startswith("gpkg_")
                if wanted and (kind == "view" or _worked_out(database, name)):
                    msg = f"its table {name[:60]!r} is worked out while it is read"
                    raise RefusedError(msg, "Save it as a plain layer, or take it out")
    except sqlite3.Error as error:
        msg = f"it is damaged ({str(error)[:120]})"
        raise RefusedError(msg, "Export it again, or take it out") from None
    return listed


def _database(path: Path) -> sqlite3.Connection:
    """Return an SQLite file opened for reading; where its folder cannot be written, as it lies."""
    name = path.absolute().as_uri()
    database = sqlite3.connect(f"{name}?mode=ro", uri=True, timeout=PATIENCE_S)
    try:
        database.execute("SELECT count(*) FROM sqlite_master")
    except sqlite3.OperationalError:
        database.close()
        return sqlite3.connect(f"{name}?immutable=1", uri=True)
    return database


PATIENCE_S = 2.0
"""Timeout for another program's lock [s] (our choice)."""


def _worked_out(database: sqlite3.Connection, table: str) -> bool:
    """Return whether a table has columns that are worked out from others."""
    rows = database.execute("SELECT hidden FROM pragma_table_xinfo(?)", (table,))
    return any(hidden in {2, 3} for (hidden,) in rows)


def _opened(path: Path, stored: frozenset[str] | None = None) -> Vector:
    """Return a file with its tables listed, those only that are `stored` where that is known."""
    with gdal_options(CLOSED):
        listed = [(str(name), kind) for name, kind in pyogrio.list_layers(path)]
    return Vector(
        tuple((name, kind) for name, kind in listed if stored is None or name.lower() in stored),
        path,
    )
