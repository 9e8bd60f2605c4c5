"""Which files count: known from their names alone, and without a heavy import."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from reachmap.base.fingerprint import digest_file
from reachmap.markup import read_markup
from reachmap.markup.files import stays_inside
from reachmap.markup.found import input_files
from reachmap.markup.layers import LAYER_FIELDS
from reachmap.markup.model import Markup
from tests.markup.folders import TOML, layers, make, write_dem

ROOT = Path(__file__).resolve().parents[2]


def names(folder: Path) -> list[str]:
    return [path.relative_to(folder).as_posix() for path in input_files(folder)]


def test_the_files_of_a_whole_folder(tmp_path):
    make(tmp_path)
    assert names(tmp_path) == [
        "dem.tif",
        "gauge/rating.csv",
        "gauge/record.csv",
        "markup.gpkg",
        "reach.toml",
    ]


def test_other_files_do_not_count(tmp_path):
    make(tmp_path)
    before = names(tmp_path)
    for other in ("notes.txt", "log.gpkg", "photo.jpg", "rivers.geojson", "gauge/.hidden"):
        (tmp_path / other).write_text("x", encoding="utf-8")
    (tmp_path / "written").mkdir()
    (tmp_path / "written" / "dem.tif").write_text("x", encoding="utf-8")
    assert names(tmp_path) == before


def test_what_belongs_to_a_file_counts_with_it(tmp_path):
    make(tmp_path, dem=False, gauge=False)
    layers()["trees"].to_file(tmp_path / "trees.shp")
    (tmp_path / "markup.gpkg-wal").write_bytes(b"unsaved")
    write_dem(tmp_path / "dem_1.tif")
    (tmp_path / "dem_1.tif.aux.xml").write_text("<x/>", encoding="utf-8")
    assert names(tmp_path) == [
        *("dem_1.tif", "dem_1.tif.aux.xml", "markup.gpkg", "markup.gpkg-wal", "reach.toml"),
        *("trees.cpg", "trees.dbf", "trees.prj", "trees.shp", "trees.shx"),
    ]


def test_files_that_reach_toml_names_count(tmp_path):
    make(tmp_path, toml=TOML.replace('height_unit = "m"', 'files = ["ground/*.tif"]'), dem=False)
    (tmp_path / "ground").mkdir()
    write_dem(tmp_path / "ground" / "north.tif")
    write_dem(tmp_path / "dem.tif")
    assert "ground/north.tif" in names(tmp_path)
    assert "dem.tif" not in names(tmp_path)
    assert [path.name for path in read_markup(tmp_path).dems] == ["north.tif"]


def test_a_reach_toml_that_is_broken_or_missing_stops_nothing(tmp_path):
    make(tmp_path, toml="[[[")
    assert "dem.tif" in names(tmp_path)
    assert input_files(tmp_path / "nowhere") == []


@pytest.mark.parametrize(
    ("pattern", "inside"),
    [
        ("dem*.tif", True),
        ("gauge/*", True),
        ("../dem.tif", False),
        ("gauge/../../x", False),
        ("/etc/passwd", False),
        ("C:\\x.tif", False),
        ("", False),
    ],
)
def test_patterns_stay_inside_the_folder(pattern, inside):
    assert stays_inside(pattern) is inside


def test_digests_are_those_of_the_files_read(tmp_path):
    markup = read_markup(make(tmp_path))
    assert markup.digests == {
        path.relative_to(tmp_path).as_posix(): digest_file(path) for path in input_files(tmp_path)
    }


def test_the_listing_needs_no_heavy_library():
    code = (
        "import sys\nimport reachmap.markup.found\n"
        "heavy = {'numpy', 'pandas', 'geopandas', 'shapely', 'rasterio', 'pyogrio', 'scipy'}\n"
        "assert not heavy & set(sys.modules), heavy & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)


def test_every_layer_has_a_home_in_the_model():
    parts = {"river": "rivers"}
    for name in LAYER_FIELDS:
        assert parts.get(name, name) in Markup.__dataclass_fields__
