"""Import of dropped files (GPX, KML, KMZ, GeoJSON) as marks, with their layer where named.

The features go to the page first, which asks the angler; nothing is stored before that.
"""

from __future__ import annotations

import io
import json
import math
import re
import tempfile
import warnings
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from reachmap.base.crs import WGS84, is_known_crs, outside
from reachmap.base.errors import ReachmapError
from reachmap.base.safe_files import RefusedError
from reachmap.base.vectors import open_vector
from reachmap.markup.described import fill, is_nothing, plain_name
from reachmap.markup.layers import LAYER_FIELDS, LAYER_NAMES, LINE, POLYGON
from reachmap.markup.outlines import single_parts
from reachmap.markup.sources import CANNOT_READ
from reachmap.markup.text_formats import GPX_TABLES
from reachmap.web.editor.rows import paths_of
from reachmap.web.editor.schema import FEWEST_CORNERS, LONGEST_TEXT, MOST_CORNERS
from reachmap.web.editor.shapefile_zip import unpacked_shapefiles
from reachmap.web.editor.understood import Understood, understand
from reachmap.web.security import MOST_BYTES

MOST_FOUND = 5_000
"""Marks taken from one file at the most (our choice)."""

HEAD = 4096
"""Bytes looked at to tell what a file is."""

_ROOTS = {
    ".gpx": re.compile(rb"<gpx[\s>]", re.IGNORECASE),
    ".kml": re.compile(rb"<(\w+:)?kml[\s>]", re.IGNORECASE),
}
"""How files of a kind begin; the reading library would else guess by itself what it is given."""

UNPACKABLE = (
    *(zipfile.BadZipFile, zlib.error, StopIteration),
    *(OSError, RuntimeError, NotImplementedError, EOFError),
)
"""What a file that only calls itself KMZ may raise."""

TEXTS = (("name", "name"), ("note", "description"), ("note", "desc"), ("note", "cmt"))
"""Free texts of such files, as (field their rest goes to, column)."""


class FileImportError(ReachmapError):
    """A dropped file cannot be imported."""


@dataclass(frozen=True, slots=True)
class Found:
    """One thing found in a file: kind of geometry, corners, its layer ("" unknown), its texts.

    `layer` and `values` are what the file says in the drawing's own words; `understood` is the
    proposal that other words and columns lead to as well.
    """

    shape: str
    paths: tuple[Any, ...]
    layer: str
    values: Mapping[str, str]
    label: str
    understood: Understood

    def as_json(self) -> dict[str, Any]:
        """Return it as the page takes it."""
        return {
            "shape": self.shape,
            "paths": self.paths,
            "layer": self.layer,
            "values": dict(self.values),
            "label": self.label,
            "understood": self.understood.as_json(),
        }


def found_in(name: str, body: bytes) -> list[Found]:
    """Return what a dropped file holds.

    Parameters
    ----------
    name
        The file's name; its ending tells the kind, and a layer's name as its stem the layer.
    body
        Its bytes.

    Raises
    ------
    FileImportError
        If it cannot be read, holds nothing to draw, or too much.
    """
    ending, stem = Path(name).suffix.lower(), plain_name(Path(name).stem)
    home = stem if stem in LAYER_NAMES else ""
    if ending in {".geojson", ".json"}:
        frames = [("", _from_geojson(body))]
    elif ending == ".kmz":
        frames = list(_from_xml(".kml", _unpacked(body)))
    elif ending in _ROOTS:
        frames = list(_from_xml(ending, body))
    elif ending == ".zip":
        frames = list(_from_shapefiles(body))
    else:
        msg = (
            "Drop a GPX, KML, KMZ or GeoJSON file, a shapefile's parts packed as one ZIP, "
            "or a picture (PNG, JPEG, WebP)."
        )
        raise FileImportError(msg)
    file = Path(name).stem
    found = [one for table, frame in frames for one in _found(frame, table, home, file)]
    if not found:
        msg = "Nothing to draw is in that file."
        raise FileImportError(msg)
    corners = sum(len(path) for one in found for path in one.paths)
    if len(found) > MOST_FOUND or corners > MOST_CORNERS // 2:
        msg = f"That file holds too much: {len(found):,} things with {corners:,} corners."
        raise FileImportError(msg)
    return found


def _from_geojson(body: bytes) -> gpd.GeoDataFrame:
    """Return a GeoJSON file's features in WGS84."""
    try:
        message = json.loads(body)
        features = _features(message)
        shapes = [None if one is None else shapely.geometry.shape(one) for one, _ in features]
    except (ValueError, TypeError, KeyError, AttributeError, ShapelyError, RecursionError):
        msg = "That file is not GeoJSON."
        raise FileImportError(msg) from None
    rows = [properties for _, properties in features]
    crs = _named_crs(message)
    frame = gpd.GeoDataFrame(rows, geometry=gpd.GeoSeries(shapes, crs=crs), crs=crs)
    return frame if crs == WGS84 else outside(frame)


def _features(message: Any) -> list[tuple[Any, dict[str, Any]]]:
    """Return the features of GeoJSON as (geometry, properties)."""
    if message["type"] == "FeatureCollection":
        return [pair for one in message["features"] for pair in _features(one)]
    if message["type"] == "Feature":
        properties = message.get("properties") or {}
        return [(message["geometry"], {key: properties[key] for key in properties})]
    return [(message, {})]


def _named_crs(message: Mapping[str, Any]) -> str:
    """Return the CRS that older GeoJSON names; the format's own where it names none."""
    try:
        name = str(message["crs"]["properties"]["name"])
    except (KeyError, TypeError):
        return WGS84
    plain = name.rsplit(":", 1)[-1]
    if plain == "CRS84":
        return WGS84
    return name if is_known_crs(name) else WGS84


def _unpacked(body: bytes) -> bytes:
    """Return the KML in a KMZ: its first, and no more of it than the page would take unpacked."""
    try:
        with zipfile.ZipFile(io.BytesIO(body)) as packed:
            name = next(one for one in packed.namelist() if one.lower().endswith(".kml"))
            with packed.open(name) as stream:
                text = stream.read(MOST_BYTES + 1)
    except UNPACKABLE:
        msg = "That file is not KMZ."
        raise FileImportError(msg) from None
    if len(text) > MOST_BYTES:
        msg = f"That file is too large unpacked: {MOST_BYTES // 1024**2} MB at most."
        raise FileImportError(msg)
    return text


def _from_xml(ending: str, body: bytes) -> Iterator[tuple[str, gpd.GeoDataFrame]]:
    """Return the tables of a GPX or KML file, each with its name."""
    head = body[:HEAD]
    if not _ROOTS[ending].search(head) or b"<!ENTITY" in body:
        msg = f"That file is not {ending[1:].upper()}."
        raise FileImportError(msg)
    with tempfile.TemporaryDirectory(prefix="reachmap-") as folder:
        path = Path(folder) / f"dropped{ending}"
        path.write_bytes(body)
        try:
            with warnings.catch_warnings(action="ignore"), open_vector(path) as file:
                tables = [name for name, _ in file.tables]
                wanted = [name for name in tables if ending != ".gpx" or name in GPX_TABLES]
                frames = [(name, file.read(name)) for name in wanted]
        except (RefusedError, *CANNOT_READ) as error:
            msg = f"That file cannot be read ({str(error)[:160]})."
            raise FileImportError(msg) from None
    for name, frame in frames:
        if isinstance(frame, gpd.GeoDataFrame) and len(frame):
            yield name, frame if frame.crs is None else outside(frame)


def _from_shapefiles(body: bytes) -> Iterator[tuple[str, gpd.GeoDataFrame]]:
    """Return the shapefiles of a ZIP, each with its name, in WGS84."""
    with tempfile.TemporaryDirectory(prefix="reachmap-") as folder:
        try:
            paths = unpacked_shapefiles(body, Path(folder))
            frames = []
            for path in paths:
                with warnings.catch_warnings(action="ignore"), open_vector(path) as file:
                    frames += [(name, file.read(name)) for name, _ in file.tables]
        except (RefusedError, *CANNOT_READ) as error:
            msg = f"That file cannot be read ({str(error)[:160]})."
            raise FileImportError(msg) from None
    for name, frame in frames:
        if isinstance(frame, gpd.GeoDataFrame) and len(frame):
            if frame.crs is None:
                msg = f"{name}.shp does not say where on Earth it lies: pack its .prj with it."
                raise FileImportError(msg)
            yield name, outside(frame)


def _found(frame: gpd.GeoDataFrame, table: str, home: str, file: str) -> Iterator[Found]:
    """Return what one table holds, part by part."""
    plain = frame.drop(columns=frame.geometry.name)
    plain.columns = [plain_name(str(name)) for name in plain.columns]
    plain = plain.loc[:, ~plain.columns.duplicated()]
    for row, geometry in zip(plain.to_dict("records"), frame.geometry, strict=True):
        named = {str(key): value for key, value in row.items()}
        if geometry is None or geometry.is_empty or not np.isfinite(_corners(geometry)).all():
            continue
        layer = _layer(named, table, home)
        for part in single_parts(geometry):
            shape, paths = paths_of(part, WGS84)
            enough = shape in FEWEST_CORNERS and all(
                len(path) >= FEWEST_CORNERS[shape] for path in paths
            )
            if not paths or not enough or not _in_world(paths):
                continue
            fitting = layer if layer and _fits(shape, paths, layer) else ""
            values = _values(named, fitting)
            where = (("folder", table), ("file", file))
            closed = shape == LINE and len(paths[0]) >= 4 and paths[0][0] == paths[0][-1]
            made = understand(named, POLYGON if closed else shape, fitting, values, where)
            yield Found(shape, paths, fitting, values, _label(named), made)


def _layer(row: Mapping[str, Any], table: str, home: str) -> str:
    """Return the layer a feature says it is of: its own type, its folder, its file; "" for none."""
    for key in ("type", "layer"):
        message = row.get(key)
        if not is_nothing(message) and plain_name(str(message)) in LAYER_NAMES:
            return plain_name(str(message))
    return plain_name(table) if plain_name(table) in LAYER_NAMES else home


def _fits(shape: str, paths: Sequence[Any], layer: str) -> bool:
    """Return whether a layer can hold a shape; a line of three corners may stand for an outline."""
    shapes = LAYER_FIELDS[layer].shapes
    return shape in shapes or (shape == LINE and POLYGON in shapes and len(paths[0]) >= 3)


def _values(row: Mapping[str, Any], layer: str) -> dict[str, str]:
    """Return the fields of a layer a feature's columns and free texts tell; {} for no layer."""
    if not layer:
        return {}
    fields = list(LAYER_FIELDS[layer].by_name)
    free = {column for _, column in TEXTS}
    message = {name: value for name, value in row.items() if not is_nothing(value)}
    filled: dict[str, object] = {
        name: message[name] for name in fields if name in message and name not in free
    }
    texts = [(field, str(message[column])) for field, column in TEXTS if column in message]
    fill(filled, texts, fields, layer)
    return {name: _words(value) for name, value in filled.items()}


def _words(value: object) -> str:
    """Return a cell as the page's text."""
    if isinstance(value, float) and math.isfinite(value):
        return f"{value:.12g}"
    return str(value)[:LONGEST_TEXT]


def _label(row: Mapping[str, Any]) -> str:
    """Return what to call a found thing."""
    name = row.get("name")
    return "" if is_nothing(name) else str(name)[:200]


def _corners(geometry: BaseGeometry) -> Any:
    """Return a geometry's coordinates, flat."""
    return shapely.get_coordinates(geometry)


def _in_world(paths: Sequence[Any]) -> bool:
    """Return whether all corners are degrees."""
    return all(abs(x) <= 180 and abs(y) <= 90 for path in paths for x, y in path)
