"""The log's database: a GeoPackage of its own, its tables and their migrations."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from reachmap.base.errors import Fault, ReachmapError

APPLICATION_ID = 0x47504B47
"""OGC 12-128, requirement 2: "GPKG" in ASCII."""

FORMAT_VERSION = 10300
"""OGC 12-128r17: GeoPackage 1.3."""

BACKUPS_KEPT = 5
"""How many backups stay; our choice, range 2-20."""

_GEOPACKAGE = """
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY,
  organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL,
  description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL,
  identifier TEXT UNIQUE, description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER);
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL PRIMARY KEY,
  column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL, m TINYINT NOT NULL);
INSERT INTO gpkg_spatial_ref_sys VALUES
 ('Undefined cartesian', -1, 'NONE', -1, 'undefined', NULL),
 ('Undefined geographic', 0, 'NONE', 0, 'undefined', NULL),
 ('WGS 84 geodetic', 4326, 'EPSG', 4326,
  'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],
PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]',
  'longitude and latitude');
"""

_FIRST = """
CREATE TABLE entries (fid INTEGER PRIMARY KEY AUTOINCREMENT, geom BLOB, uid TEXT NOT NULL UNIQUE,
  when_utc TEXT NOT NULL, zone TEXT NOT NULL, run TEXT NOT NULL, flow_m3_s REAL,
  flow_from TEXT NOT NULL, clarity_m REAL, water_c REAL, minutes REAL, swung TEXT NOT NULL,
  touches INTEGER NOT NULL, landed INTEGER NOT NULL, released INTEGER NOT NULL,
  photo TEXT NOT NULL, note TEXT NOT NULL);
CREATE TABLE seen (fid INTEGER PRIMARY KEY AUTOINCREMENT, geom BLOB NOT NULL,
  entry_uid TEXT NOT NULL REFERENCES entries(uid) ON DELETE CASCADE, place INTEGER NOT NULL,
  kind TEXT NOT NULL, value REAL, note TEXT NOT NULL);
CREATE INDEX entries_when ON entries(when_utc);
CREATE INDEX entries_run ON entries(run);
CREATE INDEX seen_entry ON seen(entry_uid);
INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES
 ('entries', 'features', 'entries', 4326), ('seen', 'features', 'seen', 4326);
INSERT INTO gpkg_geometry_columns VALUES
 ('entries', 'geom', 'POINT', 4326, 0, 0), ('seen', 'geom', 'POINT', 4326, 0, 0);
"""


def _first(database: sqlite3.Connection) -> None:
    """Make the tables of version 1."""
    for statement in _statements(_FIRST):
        database.execute(statement)


def _placed(database: sqlite3.Connection) -> None:
    """Add station [m] and bank to entries (version 2): unknown for those kept already."""
    database.execute("ALTER TABLE entries ADD COLUMN station_m REAL")
    database.execute("ALTER TABLE entries ADD COLUMN bank TEXT NOT NULL DEFAULT ''")


MIGRATIONS: tuple[Callable[[sqlite3.Connection], None], ...] = (_first, _placed)
"""Step k brings a log from version k to k + 1; a released step is never changed."""


class LogError(ReachmapError):
    """The log cannot be used as it is."""

    def __init__(self, path: Path, found: str, fix: str) -> None:
        """Keep file, finding and mend as one message."""
        super().__init__(str(Fault(str(path), found, fix)))


def busy(path: Path, error: sqlite3.OperationalError) -> LogError:
    """Return the error for an intact log that cannot be used now: locked, disk full, no right."""
    fix = "Close what else has it open; see that the disk has room and the folder can be written to"
    return LogError(path, f"it cannot be used just now ({error})", fix)


def open_log(path: Path) -> sqlite3.Connection:
    """Return an open log, made new or brought up to date.

    A log of an older version is copied aside before it is changed; each step is one transaction.

    Raises
    ------
    LogError
        If the file is no log of ours, is damaged, or is of a newer version.
    """
    fresh = not path.exists()
    path.parent.mkdir(parents=True, exist_ok=True)
    database = sqlite3.connect(path, isolation_level=None, timeout=10.0)
    try:
        database.execute("PRAGMA foreign_keys = ON")
        database.execute("PRAGMA synchronous = FULL")
        _bring_up(database, path, fresh=fresh)
    except sqlite3.OperationalError as error:
        database.close()
        raise busy(path, error) from None
    except sqlite3.DatabaseError as error:
        database.close()
        fix = f"Put back the newest copy from {backup_folder(path)}, or move the file away"
        raise LogError(path, f"it cannot be read ({error})", fix) from None
    except BaseException:
        database.close()
        raise
    return database


def _bring_up(database: sqlite3.Connection, path: Path, *, fresh: bool) -> None:
    """Run the steps that are missing, all in one transaction, after a backup."""
    version = _version(database, path, fresh=fresh)
    if version > len(MIGRATIONS):
        raise LogError(path, f"it is of version {version}, newer than this reachmap", "Update it")
    if version == len(MIGRATIONS):
        return
    if version > 0:
        back_up(path)
    database.execute("BEGIN EXCLUSIVE")
    try:
        if _version(database, path, fresh=fresh) != version:  # another process was first
            database.execute("ROLLBACK")
            return
        if version == 0:
            for statement in _statements(_GEOPACKAGE):
                database.execute(statement)
            database.execute("CREATE TABLE log_version (version INTEGER NOT NULL)")
            database.execute("INSERT INTO log_version VALUES (0)")
            database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            database.execute(f"PRAGMA user_version = {FORMAT_VERSION}")
        for step in MIGRATIONS[version:]:
            step(database)
        database.execute("UPDATE log_version SET version = ?", (len(MIGRATIONS),))
        database.execute("COMMIT")
    except BaseException:
        database.execute("ROLLBACK")
        raise


def _version(database: sqlite3.Connection, path: Path, *, fresh: bool) -> int:
    """Return the log's version; 0 for an empty file."""
    tables = {str(row[0]) for row in database.execute("SELECT name FROM sqlite_master")}
    if "log_version" in tables:
        return int(database.execute("SELECT version FROM log_version").fetchone()[0])
    if tables and not fresh:
        raise LogError(path, "it is a database, but no log of reachmap", "Move it away")
    return 0


def backup_folder(path: Path) -> Path:
    """Return where copies of a log are kept."""
    return path.with_name(f"{path.stem}-backups")


def back_up(path: Path) -> Path:
    """Copy a log aside, whole, by SQLite's own backup; keep the newest few.

    Returns
    -------
    Path
        The copy.
    """
    folder = backup_folder(path)
    folder.mkdir(exist_ok=True)
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    target = folder / f"{path.stem}-{stamp}{path.suffix}"
    aside = target.with_suffix(".part")
    source, copy = sqlite3.connect(path), sqlite3.connect(aside)
    try:
        source.backup(copy)
    finally:
        source.close()
        copy.close()
    shutil.move(aside, target)
    for old in sorted(folder.glob(f"{path.stem}-*{path.suffix}"))[:-BACKUPS_KEPT]:
        old.unlink(missing_ok=True)
    return target


def _statements(script: str) -> list[str]:
    """Return the statements of a script; `executescript` would end the transaction."""
    return [part.strip() for part in script.split(";\n") if part.strip()]
