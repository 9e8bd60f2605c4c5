"""Drawings spoilt by structure: geometry, attributes, CRS, and the format they are written in."""

from __future__ import annotations

import math
import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from pyproj.exceptions import ProjError
from shapely import (
    GeometryCollection,
    LineString,
    MultiLineString,
    MultiPoint,
    MultiPolygon,
    Point,
    Polygon,
    affinity,
)

from tests.fuzz.words import CELLS, NAMES
from tests.markup.folders import CRS, X, Y, layers
from tests.markup.phone_files import kml, kml_folder

Frames = dict[str, gpd.GeoDataFrame]

ODD_CRS = (
    *("EPSG:4326", "EPSG:3857", "EPSG:2227", "EPSG:32733", "EPSG:4978", "EPSG:27700", "EPSG:5041"),
    *("+proj=ortho +lat_0=46 +lon_0=-141", "+proj=utm +zone=7 +units=us-ft", "+proj=lcc +lat_1=46"),
    'ENGCRS["site",EDATUM["x"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],LENGTHUNIT["m",1]]',
)
"""Wrong, geographic, in feet, of another place, without a place."""

CURVE = (
    bytes.fromhex("010800000003000000")
    + np.array([X, Y, X + 300, Y + 50, X + 600, Y], dtype="<f8").tobytes()
)
"""A CIRCULARSTRING in well-known binary."""


def odd_geometry(dice: random.Random, given):
    """Return a geometry of any kind, valid or not."""
    places = [
        (X + dice.uniform(-50, 700), Y + dice.uniform(-100, 100))
        for _ in range(dice.choice([3, 4, 5, 8, 60]))
    ]
    big = dice.choice([1e9, 1e30, 1.7e308, math.inf, math.nan, -1e-300])
    makers: list[Callable[[], object]] = [
        lambda: None,
        Point,
        Polygon,
        GeometryCollection,
        lambda: Point(big, big),
        lambda: Point(places[0]),
        lambda: LineString(places),
        lambda: LineString([places[0]] * 2),
        lambda: Polygon(places),
        lambda: Polygon(places, [[(x + 1, y + 1) for x, y in places]]),
        lambda: MultiPoint(places),
        lambda: MultiLineString([places[:2], places[1:]]),
        lambda: MultiPolygon([Polygon(places), Polygon([(x + 9, y) for x, y in places])]),
        lambda: GeometryCollection([Point(places[0]), LineString(places), Polygon(places)]),
        lambda: shapely.force_3d(given, big),
        lambda: shapely.set_coordinates(
            shapely.transform(given, lambda at: at),
            np.where(np.arange(shapely.get_num_coordinates(given) * 2).reshape(-1, 2) == 1, big,
                     shapely.get_coordinates(given)),
        ),
        lambda: shapely.transform(given, lambda at: at * dice.choice([0.0, -1.0, 1e-6, 1e6])),
        lambda: shapely.transform(given, lambda at: at[::-1]),
        lambda: shapely.segmentize(given, dice.choice([0.05, 1.0])),
        lambda: MultiPolygon([given] * 3) if given.geom_type == "Polygon" else given,
    ]  # fmt: skip
    try:
        return dice.choice(makers)()
    except (shapely.GEOSException, ValueError):
        return None


def geometry(frames: Frames, dice: random.Random) -> str:
    """Spoil the geometry of some features of a layer."""
    name = dice.choice(list(frames))
    frame = frames[name]
    shapes = list(frame.geometry)
    for _ in range(dice.choice([1, 1, 2, len(shapes)])):
        at = dice.randrange(len(shapes))
        if shapes[at] is not None and not shapes[at].is_empty:
            shapes[at] = odd_geometry(dice, shapes[at])
    frames[name] = frame.set_geometry(gpd.GeoSeries(shapes, index=frame.index, crs=frame.crs))
    return f"geometry of {name}"


def copies(frames: Frames, dice: random.Random) -> str:
    """Repeat features of a layer, some moved a little."""
    name = dice.choice(list(frames))
    times = dice.choice([2, 20, 200])
    frame = frames[name].iloc[np.tile(np.arange(len(frames[name])), times)].reset_index(drop=True)
    if dice.random() < 0.4:
        moved = [
            shape if shape is None else affinity.translate(shape, number * 0.01)
            for number, shape in enumerate(frame.geometry)
        ]
        frame = frame.set_geometry(gpd.GeoSeries(moved, crs=frame.crs))
    frames[name] = frame
    return f"{times} copies in {name}"


def attributes(frames: Frames, dice: random.Random) -> str:
    """Spoil cells, columns or the names of columns of a layer."""
    name = dice.choice(list(frames))
    frame = frames[name].copy()
    columns = [each for each in frame.columns if each != "geometry"]
    column = dice.choice(columns)
    match dice.randrange(4):
        case 0:
            frame = frame.drop(columns=column)
        case 1:
            frame = frame.rename(columns={column: dice.choice(NAMES)})
        case 2:
            frame[column] = dice.choice([1, True, 2.5, "2001-02-03", None, b"\x00\xff"])
        case _:
            cells = [None if value is None else str(value) for value in frame[column]]
            cells[dice.randrange(len(cells))] = dice.choice(CELLS)
            frame[column] = cells
    frames[name] = frame
    return f"{column} of {name}"


def _called(frame: gpd.GeoDataFrame, crs: str | None) -> gpd.GeoDataFrame:
    """Return a layer whose coordinates stay and are said to be of a CRS."""
    return frame.set_crs(crs, allow_override=True)


def reference(frames: Frames, dice: random.Random) -> str:
    """Give a layer, or all, a wrong CRS or none."""
    names = dice.choice([[dice.choice(list(frames))], list(frames)])
    crs = dice.choice([None, *ODD_CRS])
    for name in names:
        moved = crs is not None and dice.random() < 0.3
        moved = moved and frames[name].crs is not None  # an earlier change may have taken it
        try:
            frames[name] = frames[name].to_crs(crs) if moved else _called(frames[name], crs)
        except ProjError:  # an earlier change named a CRS that leads nowhere
            frames[name] = _called(frames[name], crs)
    return f"CRS of {len(names)} layers: {crs}"


def layout(frames: Frames, dice: random.Random) -> str:
    """Take layers away, or name them otherwise."""
    name = dice.choice(list(frames))
    if dice.random() < 0.5:
        del frames[name]
        return f"no {name}"
    other = dice.choice([*NAMES, "River", "bank", "banks_2", "gpkg_contents2"])
    frames[other] = frames.pop(name)
    return f"{name} called {other}"


SPOILERS = (geometry, geometry, geometry, attributes, attributes, copies, reference, layout)


def write(folder: Path, frames: Frames, dice: random.Random) -> str:
    """Write layers: most into one GeoPackage, sometimes some as files of their own."""
    aside = {}
    if dice.random() < 0.35:
        for name in dice.sample(list(frames), min(len(frames), dice.choice([1, 2]))):
            aside[name] = frames[name]
    for name, frame in frames.items():
        if name not in aside:
            _quietly(frame, folder / "markup.gpkg", layer=name, driver="GPKG")
    told = []
    for name, frame in aside.items():
        ending = dice.choice([".geojson", ".fgb", ".shp", ".gpkg", ".kml"])
        if ending == ".kml":
            _kml(folder / f"{name}.kml", name, frame, dice)
        else:
            _quietly(frame, folder / f"{name}{ending}")
        told.append(f"{name}{ending}")
    return ", ".join(told)


def _quietly(frame: gpd.GeoDataFrame, path: Path, **options) -> None:
    """Write a layer; one that the library refuses is left out."""
    try:
        pyogrio.write_dataframe(frame, path, promote_to_multi=False, **options)
    except Exception:  # noqa: BLE001 - what cannot be written cannot be read either
        path.touch()


def _kml(path: Path, name: str, frame: gpd.GeoDataFrame, dice: random.Random) -> None:
    try:
        text = kml(kml_folder(name, frame, extended=dice.random() < 0.5))
    except Exception:  # noqa: BLE001 - as above
        text = "<kml"
    path.write_text(text, encoding="utf-8", errors="replace")


def curve(folder: Path) -> None:
    """Put a curve into the river's table, which the writing library has no word for."""
    with closing(sqlite3.connect(folder / "markup.gpkg")) as database:
        found = database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        for (name,) in found.fetchall():
            database.execute(f'DROP TRIGGER "{name}"')  # they call functions of GDAL's own
        head = b"GP\x00\x01" + np.int32(32607).tobytes()
        database.execute("UPDATE river SET geom = ? WHERE fid = 1", (head + CURVE,))
        database.commit()


def fresh() -> Frames:
    """Return the layers of the good drawing."""
    return {name: frame.copy() for name, frame in layers().items()}


__all__ = ["CRS", "SPOILERS", "curve", "fresh", "write"]
