"""Cache of stage results: one file a stage and key, each checked against its digest when read.

Each stored file `name` has a small file `name.blake2` beside it with its name, size and digest. A
file that cannot be read, or does not match its digest, counts as absent and is made again: one
flipped bit in a depth must not reach a wading grade.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

import geopandas as gpd
import xarray as xr

from reachmap.base.disk import room_on_disk, sync_file, sync_folder
from reachmap.base.gdal_options import gdal_options
from reachmap.base.packed_lists import as_lists, from_lists
from reachmap.base.vectors import open_vector

T = TypeVar("T")

UNSYNCED = {"OGR_SQLITE_SYNCHRONOUS": "OFF", "OGR_SQLITE_JOURNAL": "MEMORY"}
"""GDAL options under which SQLite does not wait for the disk after each layer.

Only for files that are written aside and waited for once, when they are whole.
"""

PACKED = {"zlib": True, "complevel": 1, "shuffle": True}
"""How netCDF variables are stored: quick to write, about a third of the size."""

DIGEST_ENDING = ".blake2"
"""Ending of the file that holds the digest of the file it is named after."""

_UNREADABLE = (OSError, ValueError, RuntimeError, KeyError, TypeError, AttributeError)
"""What readers of netCDF and GeoPackage raise at a damaged file."""


def write_aside(path: Path, write: Callable[[Path], Any]) -> Path:
    """Write a file as a whole or not at all: `write` makes it beside `path`, then it is renamed.

    The file and its name are on the disk when this returns, as far as the system can promise.

    Parameters
    ----------
    path
        Where the file shall be; its folder is made if need be.
    write
        Takes the path to write to.

    Raises
    ------
    DiskFullError
        If the disk is full; what was at `path` before is still there.
    """
    with room_on_disk(path.parent):
        path.parent.mkdir(parents=True, exist_ok=True)
    aside = path.with_name(f".{os.getpid()}-{path.name}")
    try:
        with room_on_disk(path.parent):  # before the half-written file makes room again
            write(aside)
            sync_file(aside)
            aside.replace(path)
            sync_folder(path.parent)
    finally:
        aside.unlink(missing_ok=True)
    return path


def remembered(path: Path, make: Callable[[], xr.Dataset]) -> xr.Dataset:
    """Return the Dataset stored at `path`, making and storing it first where no good one is there.

    What is returned is always what was read back, so a first and a second build see the same bytes.
    """
    stored = stored_dataset(path)
    return keep_dataset(path, make()) if stored is None else stored


def keep_dataset(path: Path, dataset: xr.Dataset) -> xr.Dataset:
    """Store a Dataset at `path` and return it as read back."""
    made = as_lists(dataset)
    encoding = {str(name): dict(PACKED) for name in made.data_vars if made[name].ndim > 0}
    return keep_file(
        path,
        lambda aside: made.to_netcdf(aside, engine="netcdf4", encoding=encoding),
        _read_dataset,
    )


def keep_layers(path: Path, layers: Mapping[str, gpd.GeoDataFrame]) -> dict[str, gpd.GeoDataFrame]:
    """Store layers at `path` and return them as read back."""
    return keep_file(path, lambda aside: write_layers(aside, layers), _read_layers)


def stored_dataset(path: Path) -> xr.Dataset | None:
    """Return the Dataset stored at `path`; None where none, or a damaged one, is there."""
    return _if_good(path, _read_dataset)


def stored_layers(path: Path) -> dict[str, gpd.GeoDataFrame] | None:
    """Return the layers stored at `path`; None where none, or damaged ones, are there."""
    return _if_good(path, _read_layers)


def is_good(path: Path) -> bool:
    """Return whether `path` is a file of ours that holds the very bytes that were stored."""
    try:
        stored = digest_path(path).read_text(encoding="ascii")
        return not path.is_symlink() and path.is_file() and stored == _digest_line(path)
    except (OSError, ValueError):
        return False


def digest_path(path: Path) -> Path:
    """Return where the digest of a stored file lies."""
    return path.with_name(path.name + DIGEST_ENDING)


def write_layers(path: Path, layers: Mapping[str, gpd.GeoDataFrame]) -> None:
    """Write layers into one GeoPackage; empty ones too, so that their columns are known."""
    path.unlink(missing_ok=True)
    with gdal_options(UNSYNCED):
        for name, frame in layers.items():
            frame.to_file(path, layer=name, driver="GPKG", engine="pyogrio", SPATIAL_INDEX="NO")


def _if_good(path: Path, read: Callable[[Path], T]) -> T | None:
    """Return what a stored file holds; None where it is absent or damaged."""
    if not is_good(path):
        return None
    try:
        return read(path)
    except _UNREADABLE:
        return None


def keep_file(path: Path, write: Callable[[Path], Any], read: Callable[[Path], T]) -> T:
    """Store a result with its digest and return it as read back.

    Parameters
    ----------
    path
        Where it is stored.
    write
        Takes the path to write to.
    read
        Reads what was written; the digest is stored only once that went well.
    """
    for place in (digest_path(path), path):
        _clear(place)
    digest_path(path).unlink(missing_ok=True)
    write_aside(path, write)
    with room_on_disk(path.parent):  # a full disk may show only here
        stored = read(path)
    line = _digest_line(path)
    write_aside(digest_path(path), lambda aside: aside.write_text(line, encoding="ascii"))
    return stored


def _clear(path: Path) -> None:
    """Move a folder that bears a stored file's name out of the way; nothing in it is removed."""
    if path.is_symlink() or not path.is_dir():
        return
    with suppress(OSError):
        path.rmdir()
        return
    number = 1
    while (aside := path.with_name(f"{path.name}.folder-{number}")).exists():
        number += 1
    path.rename(aside)


def _digest_line(path: Path) -> str:
    """Return name, size [bytes] and BLAKE2b digest of a file as one line of ASCII."""
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "blake2b").hexdigest()
    return f"{path.name.encode('ascii', 'replace').decode()} {path.stat().st_size} {digest}\n"


def _read_dataset(path: Path) -> xr.Dataset:
    """Return what a netCDF file holds, its rasters packed."""
    with xr.open_dataset(path, engine="netcdf4") as stored:
        return from_lists(stored)


def _read_layers(path: Path) -> dict[str, gpd.GeoDataFrame]:
    """Return every layer of a GeoPackage."""
    with open_vector(path) as file:
        return {name: file.read(name) for name, _ in file.tables}
