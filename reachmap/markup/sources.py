"""Opening of the files that hold mark-up layers, in any format; contents are not checked here."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError, FieldError, GeometryError

from reachmap.base.crs import is_placed
from reachmap.base.errors import Fault
from reachmap.base.quoting import nearest, quoted
from reachmap.base.safe_files import RefusedError
from reachmap.base.vectors import Vector, open_vector
from reachmap.markup.described import plain_name
from reachmap.markup.file_facts import FileFact, Unused, Use
from reachmap.markup.found import Found, files_for
from reachmap.markup.layers import LAYER_NAMES
from reachmap.markup.source import Source, Sources
from reachmap.markup.text_formats import GPX_TABLES, from_gpx, from_kml

CANNOT_READ = (
    DataSourceError,
    DataLayerError,
    FieldError,
    GeometryError,
    ValueError,
    OSError,
    RuntimeError,
)
"""Exceptions raised by the library for unreadable files."""

FOR_PROGRAMMERS = (DeprecationWarning, PendingDeprecationWarning, FutureWarning)
"""Warnings on how a library is called: they say nothing of the file. Those of other threads of a
server are caught here too."""

DEGREES = (180.0, 90.0)
"""Largest longitude and latitude."""


def read_sources(folder: Path, spare_crs: str) -> Sources:
    """Return every mark-up layer of the folder that has features, and the use made of each file.

    A file named like a layer, or `markup`, must be valid. Of any other file only tables named like
    a layer are read, and only where no other file holds that layer.

    Parameters
    ----------
    folder
        The reach folder.
    spare_crs
        CRS of files that do not give theirs; "" for none.
    """
    sources = Sources()
    found = files_for(folder, Use.DRAWING)
    kml = any(one.path.suffix.lower() in {".kml", ".kmz"} for one in found)
    if kml and not _reads_extended_data():
        sources.notes.append(
            "This installation reads no extended data of KML: write fields into descriptions."
        )
    for one in found:
        if one.named:
            _read_file(one.path, folder, sources)
            sources.facts.append(one.fact)
        else:
            sources.facts.append(_read_other(one, folder, sources))
    sources.found = [_placed(source, spare_crs, sources) for source in sources.found]
    sources.faults += _twice(sources.found)
    return sources


def _read_other(one: Found, folder: Path, sources: Sources) -> FileFact:
    """Add the layers of a file without a reserved name, and return the use made of it."""
    own = Sources()
    _read_file(one.path, folder, own)
    if own.faults:
        wrong = own.faults[0]
        return FileFact(one.fact.name, Use.NOTHING, Unused.REFUSED, wrong.found, wrong.fix)
    held = {source.layer for source in sources.found}
    new = [source for source in own.found if source.layer not in held]
    if not new:
        double = ", ".join(sorted({source.layer for source in own.found}))
        why = Unused.DRAWN_ALREADY if double else Unused.NO_LAYER
        return FileFact(one.fact.name, Use.NOTHING, why, double)
    sources.found += new
    sources.notes += own.notes
    left = sorted({source.layer for source in own.found if source.layer in held})
    sources.notes += [
        f"{one.path.name}: its layer {name} is not read, another file holds it." for name in left
    ]
    layers = ", ".join(dict.fromkeys(source.layer for source in new))
    return FileFact(one.fact.name, Use.DRAWING, detail=layers, number=len(new))


def _reads_extended_data() -> bool:
    """Return whether GDAL has its LIBKML driver, which reads extended data."""
    return "LIBKML" in pyogrio.list_drivers()


def _read_file(path: Path, folder: Path, sources: Sources) -> None:
    """Add the layers of one file, or the fault that it cannot be read."""
    try:
        with _warnings_to(path, sources), open_vector(path, folder) as opened:
            for layer, table in _tables(path, opened.tables, sources):
                _read_table(path, opened, layer, table, sources)
    except RefusedError as error:
        sources.faults.append(Fault(path.name, f"it cannot be read ({error.found})", error.fix))
    except CANNOT_READ as error:
        sources.faults.append(_unreadable(path, error))


def _tables(
    path: Path, listed: Sequence[tuple[str, str | None]], sources: Sources
) -> list[tuple[str, str]]:
    """Return the layer of the register held by each table of a file, as (layer, table)."""
    whole = path.stem.lower() not in LAYER_NAMES
    if path.suffix.lower() == ".gpx":
        layer = "" if whole else path.stem.lower()
        return [(layer, name) for name, _ in listed if name in GPX_TABLES]
    if not whole and path.suffix.lower() != ".gpkg":
        return [(path.stem.lower(), name) for name, _ in listed]
    return _named(path, listed, sources)


def _named(
    path: Path, listed: Sequence[tuple[str, str | None]], sources: Sources
) -> list[tuple[str, str]]:
    """Return the tables of a file of many layers that are named like a layer."""
    whole = path.stem.lower() not in LAYER_NAMES
    known = [(plain_name(name), name) for name, kind in listed if plain_name(name) in LAYER_NAMES]
    if not whole and not known and len(listed) == 1:
        return [(path.stem.lower(), listed[0][0])]
    present = {layer for layer, _ in known}
    kml = path.suffix.lower() in {".kml", ".kmz"}
    for name, kind in listed:
        if plain_name(name) in LAYER_NAMES or kind is None:
            continue
        # A KML without folders has one table called like the file: that is no name of a layer.
        of_file = kml and plain_name(name) == plain_name(path.stem)
        near = None if of_file else nearest(name, LAYER_NAMES)
        if near is not None and near not in present:
            fix = f"Did you mean {near!r}? Rename it, or take it out"
            sources.faults.append(
                Fault(path.name, f"its layer {quoted(name)} is none of reachmap's", fix)
            )
        elif near is None and kml:
            sources.notes.append(f"{path.name}: folder {quoted(name)} is not read.")
    return known


def _read_table(path: Path, opened: Vector, layer: str, table: str, sources: Sources) -> None:
    """Read one table and add its layers."""
    try:
        frame = opened.read(table, on_invalid="ignore", fid_as_index=True)
    except CANNOT_READ as error:
        sources.faults.append(_unreadable(path, error))
        return
    if not len(frame):
        return
    file = path.name if plain_name(table) == layer else f"{path.name}, layer {table}"
    if path.stem.lower() in LAYER_NAMES and path.suffix.lower() != ".gpkg":
        file = path.name
    if not isinstance(frame, gpd.GeoDataFrame):
        fix = "Draw its features, or take the layer out"
        sources.faults.append(Fault(file, "it is a table without geometry", fix))
        return
    shape = frame.geometry.name
    frame.columns = [name if name == shape else plain_name(str(name)) for name in frame.columns]
    frame = frame.loc[:, ~frame.columns.duplicated()]
    if shape != "geometry":
        frame = frame.drop(columns="geometry", errors="ignore").rename_geometry("geometry")
    if path.suffix.lower() != ".gpkg":
        frame.index = pd.RangeIndex(1, len(frame) + 1)
    if path.suffix.lower() == ".gpx":
        sources.found += from_gpx(path, layer, table, frame, sources)
    elif path.suffix.lower() in {".kml", ".kmz"}:
        sources.found.append(Source(layer, file, from_kml(file, layer, frame, sources)))
    else:
        sources.found.append(Source(layer, file, frame))


def _placed(source: Source, spare_crs: str, sources: Sources) -> Source:
    """Return a source with its CRS, or a fault where it is unknown; degrees are range-checked."""
    frame = source.frame
    if frame.crs is None:
        if not spare_crs:
            fix = 'Export it again with its CRS, or name it in reach.toml: crs = "EPSG:..."'
            sources.faults.append(Fault(source.file, "it does not say its CRS", fix))
            return source
        frame = frame.set_crs(spare_crs)
        sources.notes.append(f"{source.file} does not say its CRS: {spare_crs} is taken.")
    if not is_placed(frame.crs.to_wkt()):
        found = f"its CRS {quoted(frame.crs.name)} says no place on the Earth"
        fix = "Export it again with its true CRS"
        sources.faults.append(Fault(source.file, found, fix))
        frame = frame.set_crs(None, allow_override=True)
    elif frame.crs.is_geographic:
        bounds = np.abs(frame.total_bounds)
        if (bounds[[0, 2]] > DEGREES[0]).any() or (bounds[[1, 3]] > DEGREES[1]).any():
            found = "its coordinates are not degrees, though its CRS says so"
            fix = "Export it again in longitude and latitude, or with its true CRS"
            sources.faults.append(Fault(source.file, found, fix))
            frame = frame.set_crs(None, allow_override=True)
    return Source(source.layer, source.file, frame, source.closes)


def _twice(found: Sequence[Source]) -> list[Fault]:
    """Return a fault for each layer that more than one file holds."""
    faults = []
    for name in LAYER_NAMES:
        files = sorted({source.file.split(",")[0] for source in found if source.layer == name})
        if len(files) > 1:
            fix = "Keep one of them in the folder"
            faults.append(Fault(name, f"it is drawn in {' and in '.join(files)}", fix))
    return faults


def _unreadable(path: Path, error: Exception) -> Fault:
    """Return the fault of a file that cannot be opened."""
    fix = "Open it in the program that made it and export it again, or take it out"
    return Fault(path.name, f"it cannot be read ({quoted(str(error), 160)})", fix)


@contextmanager
def _warnings_to(path: Path, sources: Sources) -> Iterator[None]:
    """Turn warnings of the reading library into notes for the angler."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        yield
    sources.notes += [
        f"{path.name}: {quoted(str(warning.message), 160)}"
        for warning in caught
        if not issubclass(warning.category, FOR_PROGRAMMERS)
    ]
