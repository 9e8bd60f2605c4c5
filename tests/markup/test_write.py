"""Writing the drawing: whole or not at all, nobody else's layer lost, the same bytes each time."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace

import geopandas as gpd
import pyogrio
import pytest
from shapely import Point

from reachmap.base.errors import MarkupError
from reachmap.base.words import UnitSystem
from reachmap.markup import read_markup, starter, write
from reachmap.markup.layers import LAYER_FIELDS, NUMBERS
from reachmap.markup.starter import write_new
from reachmap.markup.write import empty_layers, layer_of, write_layers, write_markup
from tests.markup.folders import CRS, TOML, layers, make, us_toml
from tests.markup.test_formats import assert_same

FAILS = "the library failed"


@pytest.mark.parametrize("units", ["metric", "us"])
def test_what_is_written_back_reads_the_same(units, tmp_path):
    markup = read_markup(make(tmp_path / "a"))
    markup = replace(markup, plan=replace(markup.plan, units=UnitSystem(units)))
    toml = TOML if units == "metric" else us_toml(TOML)
    make(tmp_path / "b", toml=toml)
    write_markup(tmp_path / "b" / "markup.gpkg", markup)
    assert_same(read_markup(tmp_path / "b"), markup, shift=1e-6)


def test_layers_it_does_not_know_stay(tmp_path):
    path = tmp_path / "markup.gpkg"
    own = gpd.GeoDataFrame({"x": [7]}, geometry=[Point(1, 2)], crs=CRS)
    own.to_file(path, layer="my flies")
    write_layers(path, {"trees": layers()["trees"]})
    write_layers(path, {"trees": layers()["trees"].iloc[:0]})
    assert {name for name, _ in pyogrio.list_layers(path)} == {"my flies", "trees", "layer_styles"}
    assert gpd.read_file(path, layer="my flies")["x"].tolist() == [7]
    assert len(gpd.read_file(path, layer="trees")) == 0


def test_columns_of_the_anglers_own_are_written_too(tmp_path):
    path = write_layers(tmp_path / "m.gpkg", {"trees": layers()["trees"].assign(kind="cedar")})
    assert gpd.read_file(path, layer="trees")["kind"].tolist() == ["cedar"]


def test_what_another_program_has_not_folded_in_yet_is_not_lost(tmp_path):
    path = write_layers(tmp_path / "m.gpkg", {"trees": layers()["trees"]})
    leave = (
        "import os, sqlite3, sys\n"
        "other = sqlite3.connect(sys.argv[1])\n"
        "other.execute('PRAGMA journal_mode=WAL')\n"
        "other.execute('CREATE TABLE mine (note TEXT)')\n"
        "other.execute(\"INSERT INTO mine VALUES ('kept')\")\n"
        "other.commit()\n"
        "os._exit(0)\n"  # as if killed: its notebook stays beside the file
    )
    subprocess.run([sys.executable, "-c", leave, str(path)], check=True)
    assert (tmp_path / "m.gpkg-wal").stat().st_size > 0
    write_layers(path, {"rocks": layers()["rocks"]})
    with closing(sqlite3.connect(path)) as again:
        assert again.execute("SELECT note FROM mine").fetchall() == [("kept",)]
    assert len(gpd.read_file(path, layer="rocks")) == 1


def test_a_file_that_another_program_has_open_is_left_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(write, "PATIENCE_S", 0.05)
    path = write_layers(tmp_path / "m.gpkg", {"trees": layers()["trees"]})
    with closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA journal_mode=WAL")
        other.execute("CREATE TABLE mine (note TEXT)")
        other.commit()
        with pytest.raises(MarkupError, match="another program has it open"):
            write_layers(path, {"rocks": layers()["rocks"]})
        other.execute("INSERT INTO mine VALUES ('kept')")
        other.commit()
    assert {name for name, _ in pyogrio.list_layers(path)} == {"trees", "layer_styles"}
    with closing(sqlite3.connect(path)) as again:
        assert again.execute("SELECT note FROM mine").fetchall() == [("kept",)]
    assert sorted(each.name for each in tmp_path.iterdir()) == ["m.gpkg"]


def test_the_same_date_gives_the_same_bytes(tmp_path):
    date = "2001-02-03T04:05:06Z"
    one, other = (
        write_layers(tmp_path / name, layers(), date=date).read_bytes()
        for name in ("a.gpkg", "b.gpkg")
    )
    assert one == other


def test_a_failure_leaves_the_old_file_as_it_was(tmp_path, monkeypatch):
    path = write_layers(tmp_path / "m.gpkg", layers())
    before = path.read_bytes()

    def fail(*_args, **_kwargs):
        raise OSError(FAILS)

    monkeypatch.setattr(pyogrio, "write_dataframe", fail)
    with pytest.raises(OSError, match=FAILS):
        write_layers(path, layers())
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["m.gpkg"]


def test_a_layer_that_is_none_of_ours_is_refused(tmp_path):
    with pytest.raises(ValueError, match="not mark-up layers"):
        write_layers(tmp_path / "m.gpkg", {"tree": layers()["trees"]})
    with pytest.raises(ValueError, match="fields not in the register"):
        layer_of("trees", [{"geometry": Point(0, 0), "hieght": 3.0}], CRS)


def test_empty_layers_have_their_typed_fields(tmp_path):
    path = write_layers(tmp_path / "m.gpkg", empty_layers("EPSG:4326"))
    for name, spec in LAYER_FIELDS.items():
        info = pyogrio.read_info(path, layer=name)
        wanted = {f.name: "OFTReal" if f.quantity in NUMBERS else "OFTString" for f in spec.fields}
        assert dict(zip(info["fields"], info["ogr_types"], strict=True)) == wanted
        shape = spec.shapes[0] if len(spec.shapes) == 1 else "Unknown"
        assert info["geometry_type"] == shape


def test_a_new_folder_lacks_nothing_but_the_river_and_its_banks(tmp_path):
    paths = write_new(tmp_path / "deep" / "reach")
    assert [path.name for path in paths] == ["reach.toml", "markup.gpkg"]
    assert sorted(each.name for each in (tmp_path / "deep" / "reach").iterdir()) == [
        "markup.gpkg",
        "reach.toml",
    ]
    with pytest.raises(MarkupError) as caught:
        read_markup(tmp_path / "deep" / "reach")
    assert [fault.where for fault in caught.value.faults] == ["river", "banks"]


def test_a_folder_with_a_dem_can_be_begun_in(tmp_path):
    (tmp_path / "dem.tif").write_bytes(b"x")
    write_new(tmp_path)
    assert (tmp_path / "dem.tif").read_bytes() == b"x"


@pytest.mark.parametrize("name", ["reach.toml", "markup.gpkg"])
def test_nothing_is_overwritten(name, tmp_path):
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(MarkupError, match=f"it holds a {name} already"):
        write_new(tmp_path)
    assert [each.name for each in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "x").write_text("mine", encoding="utf-8")
    with pytest.raises(MarkupError, match="it is a file, not a folder"):
        write_new(tmp_path / "x")


@pytest.mark.parametrize("made", [True, False])
def test_a_failure_leaves_nothing_half_written(made, tmp_path, monkeypatch):
    def fail(*_args, **_kwargs):
        raise OSError(FAILS)

    folder = tmp_path / "reach"
    if not made:
        folder.mkdir()
    place = starter._place
    calls = []

    def second_fails(source, target):
        calls.append(target)
        if len(calls) == 2:
            fail()
        place(source, target)

    monkeypatch.setattr(starter, "_place", second_fails)
    with pytest.raises(OSError, match=FAILS):
        write_new(folder)
    assert folder.exists() is not made
    assert not made or not list(tmp_path.iterdir())
    assert made or not list(folder.iterdir())


def test_a_folder_that_is_not_there_or_no_reach_folder(tmp_path):
    with pytest.raises(MarkupError, match=r"there is no such folder\. Name a reach folder"):
        read_markup(tmp_path / "nowhere")
    (tmp_path / "f").write_text("x", encoding="utf-8")
    with pytest.raises(MarkupError, match="it is a file, not a folder"):
        read_markup(tmp_path / "f")
    with pytest.raises(MarkupError, match=r"there is no reach\.toml in"):
        read_markup(tmp_path)


def test_the_file_itself_names_the_folder_too(tmp_path):
    make(tmp_path)
    assert read_markup(str(tmp_path / "reach.toml")).folder == tmp_path


def test_a_reach_toml_that_is_not_text(tmp_path):
    make(tmp_path)
    (tmp_path / "reach.toml").write_bytes(b"\xff\xfe\x00name")
    with pytest.raises(MarkupError, match=r"it is not a text file in UTF-8\. Save it again"):
        read_markup(tmp_path)
