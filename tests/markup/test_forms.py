"""The drawing in a desktop GIS: styles, dropdowns, meanings; what was changed there stays."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import geopandas as gpd
import pyogrio
import pytest
from lxml import etree

from reachmap.base.words import Cover, HazardKind
from reachmap.markup import read_markup
from reachmap.markup.forms import COVER_FILLS, INKS, form_qml
from reachmap.markup.layers import LAYER_FIELDS
from reachmap.markup.starter import write_new
from reachmap.markup.write import write_layers
from tests.markup.folders import layers, make


@pytest.fixture
def new(tmp_path):
    write_new(tmp_path / "river")
    return tmp_path / "river" / "markup.gpkg"


def rows(path, sql, *values):
    with closing(sqlite3.connect(path)) as database:
        return database.execute(sql, values).fetchall()


def test_a_new_drawing_has_a_style_for_every_layer(new):
    found = rows(new, "SELECT f_table_name, f_geometry_column, useAsDefault FROM layer_styles")
    assert {name for name, _, usual in found if usual} == set(LAYER_FIELDS)
    columns = dict(rows(new, "SELECT table_name, column_name FROM gpkg_geometry_columns"))
    assert all(column == columns[name] for name, column, _ in found)


def test_every_field_of_words_has_its_words_in_the_schema_tables(new):
    named = {
        (table, column): (words, told)
        for table, column, words, told in rows(
            new,
            "SELECT table_name, column_name, constraint_name, description FROM gpkg_data_columns",
        )
    }
    for spec in LAYER_FIELDS.values():
        for field in spec.fields:
            words, told = named[spec.name, field.name]
            assert told.startswith(field.meaning)
            if field.words is None:
                assert words is None
                continue
            sql = "SELECT value FROM gpkg_data_column_constraints WHERE constraint_name = ?"
            assert {value for (value,) in rows(new, sql, words)} == {w.value for w in field.words}


def test_dropdowns_hold_the_words_and_say_what_they_mean():
    root = etree.fromstring(form_qml(LAYER_FIELDS["hazards"]).encode())
    (field,) = root.findall("fieldConfiguration/field[@name='kind']")
    assert field.find("editWidget").get("type") == "ValueMap"
    options = field.findall(".//Option[@type='List']/Option/Option")
    assert [one.get("value") for one in options] == ["", *(kind.value for kind in HazardKind)]
    assert options[1].get("name") == f"strainer: {HazardKind.STRAINER.meaning}"
    assert root.find("defaults/default[@field='kind']").get("expression") == "'other'"
    assert root.find("renderer-v2") is None  # points, lines and areas: no one symbol fits


def test_what_must_be_filled_in_is_marked():
    root = etree.fromstring(form_qml(LAYER_FIELDS["banks"]).encode())
    must = {one.get("field") for one in root.findall("constraints/constraint[@constraints='1']")}
    assert must == {field.name for field in LAYER_FIELDS["banks"].fields if field.required}
    assert {one.get("value") for one in root.iter("category")} == {str(cover) for cover in Cover}
    assert set(COVER_FILLS) == set(Cover)
    assert set(INKS) == set(LAYER_FIELDS)


def test_a_style_that_was_changed_in_the_gis_stays_when_the_page_saves(tmp_path):
    path = write_layers(tmp_path / "markup.gpkg", layers())
    with closing(sqlite3.connect(path)) as database, database:
        database.execute(
            "UPDATE layer_styles SET styleQML = 'mine', styleName = 'my own' "
            "WHERE f_table_name = 'trees'"
        )
        database.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
            "f_geometry_column, styleName, styleQML, useAsDefault) "
            "VALUES ('', '', 'trees', 'geom', 'by night', 'dark', 0)"
        )
    before = rows(path, "SELECT * FROM layer_styles ORDER BY id")
    write_layers(path, {"trees": layers()["trees"], "rocks": layers()["rocks"]})
    assert rows(path, "SELECT * FROM layer_styles ORDER BY id") == before


def test_columns_and_layers_added_in_the_gis_stay_with_what_was_said_of_them(tmp_path):
    path = write_layers(tmp_path / "m.gpkg", {"trees": layers()["trees"].assign(kind="cedar")})
    gpd.GeoDataFrame({"x": [7]}, geometry=layers()["trees"].geometry[:1]).to_file(
        path, layer="my flies"
    )
    with closing(sqlite3.connect(path)) as database, database:
        database.execute(
            "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description) "
            "VALUES ('trees', 'kind', 'kind', 'Kind', 'What tree it is.')"
        )
    write_layers(path, {"trees": layers()["trees"].assign(kind="alder")})
    told = rows(
        path,
        "SELECT description FROM gpkg_data_columns WHERE table_name = 'trees' "
        "AND column_name = 'kind'",
    )
    assert told == [("What tree it is.",)]
    assert gpd.read_file(path, layer="trees")["kind"].tolist() == ["alder"]
    assert gpd.read_file(path, layer="my flies")["x"].tolist() == [7]


def test_a_feature_drawn_by_another_program_is_read(tmp_path):
    folder = make(tmp_path / "river")
    path = folder / "markup.gpkg"
    frame = gpd.read_file(path, layer="hazards")
    before = len(read_markup(folder).hazards)
    more = frame.iloc[:1].assign(kind="ledge", note="drawn in the GIS")
    pyogrio.write_dataframe(more, path, layer="hazards", append=True)
    found = read_markup(folder).hazards
    assert len(found) == before + 1
    assert found[-1].note == "drawn in the GIS"


def test_the_file_is_whole_and_says_which_extensions_it_uses(new):
    assert rows(new, "PRAGMA integrity_check") == [("ok",)]
    used = rows(new, "SELECT table_name, extension_name FROM gpkg_extensions")
    assert ("gpkg_data_columns", "gpkg_schema") in used
    assert len(used) == len(set(used))
