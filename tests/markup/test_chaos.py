"""Whatever is done to a folder's files: faults that can be read, never a trace."""

from __future__ import annotations

import math
import random
import shutil
from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
from shapely import (
    GeometryCollection,
    LineString,
    MultiLineString,
    MultiPoint,
    MultiPolygon,
    Point,
    Polygon,
    set_coordinates,
)

from reachmap.base.errors import MarkupError
from reachmap.markup import read_markup
from tests.markup.folders import CRS, X, Y, layers, make

VALUES = [None, "", "x" * 50, "left", "3.2", "-5", "1e30", "nan", "inf", "12 ft", "é☃", "=1+1"]


def odd_shape(dice: random.Random):
    """Return a geometry of any kind, valid or not."""
    places = [
        (X + dice.uniform(-50, 700), Y + dice.uniform(-100, 100))
        for _ in range(dice.choice([3, 4, 5, 8]))
    ]
    far = [(x + 1e3, y) for x, y in places]
    return dice.choice(
        [
            None,
            Point(),
            Point(places[0]),
            Point(1e30, -1e30),
            LineString(places),
            LineString([places[0], places[0]]),
            set_coordinates(LineString([(1, 1), (2, 3)]), [[math.nan, 1], [2, 3]]),
            Polygon(places),
            Polygon(places, [[(x + 1, y + 1) for x, y in places]]),
            MultiPoint(places),
            MultiLineString([places[:2], places[1:]]),
            MultiPolygon([Polygon(places), Polygon(far)]),
            GeometryCollection(),
            GeometryCollection([Point(places[0]), LineString(places)]),
        ]
    )


def spoil(folder: Path, dice: random.Random, drawn: dict[str, gpd.GeoDataFrame]) -> None:
    """Do one odd thing to a folder."""
    name = dice.choice(list(drawn))
    frame = drawn[name].copy()
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    path = dice.choice(files)
    data = bytearray(path.read_bytes())
    match dice.randrange(6):
        case 0:
            shapes = list(frame.geometry)
            shapes[dice.randrange(len(shapes))] = odd_shape(dice)
            frame = frame.set_geometry(gpd.GeoSeries(shapes, crs=CRS))
            pyogrio.write_dataframe(frame, folder / "markup.gpkg", layer=name, driver="GPKG")
        case 1:
            column = dice.choice([each for each in frame.columns if each != "geometry"])
            cells = [None if value is None else str(value) for value in frame[column]]
            cells[dice.randrange(len(cells))] = dice.choice(VALUES)
            frame[column] = cells
            pyogrio.write_dataframe(frame, folder / "markup.gpkg", layer=name, driver="GPKG")
        case 2:
            for _ in range(dice.randrange(1, 30)):
                if data:
                    data[dice.randrange(len(data))] = dice.randrange(256)
            path.write_bytes(data)
        case 3:
            path.write_bytes(data[: dice.randrange(len(data) + 1)])
        case 4:
            path.unlink()
        case _:
            ending = dice.choice([".geojson", ".fgb", ".gpkg"])
            frame.to_crs("EPSG:4326").to_file(folder / f"{name}{ending}")


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_no_accident_makes_a_trace(seed, tmp_path):
    dice = random.Random(seed)
    drawn = layers()
    good = make(tmp_path / "good")
    for turn in range(4):
        folder = tmp_path / str(turn)
        shutil.copytree(good, folder)
        for _ in range(dice.randrange(1, 4)):
            try:
                spoil(folder, dice, drawn)
            except (OSError, RuntimeError, IndexError):
                continue  # the file was spoilt too far to be spoilt again
        try:
            read_markup(folder)
        except MarkupError as error:
            assert all(fault.where and fault.found and fault.fix for fault in error.faults)  # noqa: PT017
