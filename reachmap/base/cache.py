"""Stored results: one file a stage under its key, written aside and renamed."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
import xarray as xr

from reachmap.base.vectors import open_vector

_QUICK = {"OGR_SQLITE_SYNCHRONOUS": "OFF", "OGR_SQLITE_JOURNAL": "MEMORY"}
"""GDAL options under which SQLite does not wait for the disk."""

PACKED = {"zlib": True, "complevel": 1, "shuffle": True}
"""How netCDF variables are stored: quick to write, about a third of the size."""


def write_aside(path: Path, write: Callable[[Path], Any]) -> Path:
    """Let `write` make a file beside `path`, then rename it: whole or not at all.

    Parameters
    ----------
    path
        Where the file shall be; its folder is made if need be.
    write
        Takes the path to write to.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    aside = path.with_name(f".{os.getpid()}-{path.name}")
    try:
        write(aside)
        aside.replace(path)
    finally:
        aside.unlink(missing_ok=True)
    return path


def remembered(path: Path, make: Callable[[], xr.Dataset]) -> xr.Dataset:
    """Return the Dataset stored at `path`, making and storing it first where it is not there.

    What is returned is always what was read back, so a first and a second build see the same bytes.
    """
    if not path.exists():
        made = make()
        packed = {str(name): dict(PACKED) for name in made.data_vars if made[name].ndim > 0}
        write_aside(path, lambda aside: made.to_netcdf(aside, engine="netcdf4", encoding=packed))
    with xr.open_dataset(path, engine="netcdf4") as stored:
        return stored.load()


def remembered_layers(
    path: Path, make: Callable[[], Mapping[str, gpd.GeoDataFrame]]
) -> dict[str, gpd.GeoDataFrame]:
    """Return the layers of the GeoPackage at `path`, making and storing them first if need be."""
    if not path.exists():
        made = make()
        write_aside(path, lambda aside: write_layers(aside, made))
    with open_vector(path) as file:
        return {name: file.read(name) for name, _ in file.tables}


def write_layers(path: Path, layers: Mapping[str, gpd.GeoDataFrame]) -> None:
    """Write layers into one GeoPackage; empty ones too, so that their columns are known."""
    path.unlink(missing_ok=True)
    with unsynced():
        for name, frame in layers.items():
            frame.to_file(path, layer=name, driver="GPKG", engine="pyogrio", SPATIAL_INDEX="NO")


@contextmanager
def unsynced() -> Iterator[None]:
    """Let GeoPackages be written without waiting for the disk after each layer.

    Only for files that can be made again and are renamed when whole: a power cut then costs a
    rebuild, never what a person made.
    """
    before = {name: pyogrio.get_gdal_config_option(name) for name in _QUICK}
    pyogrio.set_gdal_config_options(_QUICK)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
