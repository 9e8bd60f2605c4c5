"""Corners of reading that no one meets on a good day."""

from __future__ import annotations

import json
import os

import geopandas as gpd
import gpxpy.gpx
import pyogrio
import pytest
from shapely import LineString, Point

from reachmap.base.errors import MarkupError
from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.markup import read_markup
from reachmap.markup.described import is_nothing, pairs_in
from reachmap.markup.outlines import closed_line, crossing_place
from reachmap.markup.places import along_words, length_words, place_words
from reachmap.markup.starter import write_new
from tests.gauge.gauges import DATA, read
from tests.markup.folders import CRS, TOML, box, layers, make, rows
from tests.markup.phone_files import kml, kml_folder


def faults_of(folder) -> str:
    with pytest.raises(MarkupError) as caught:
        read_markup(folder)
    return str(caught.value)


def test_a_side_without_banks_for_a_stretch_is_told(tmp_path):
    made = rows()
    made["banks"] = [made["banks"][0], made["banks"][2]]  # left bank of the upper half only
    told = read_markup(make(tmp_path, made=made)).assumed
    assert any(text.startswith("River left has no bank drawn along about") for text in told)


def test_marks_without_a_size_are_told(tmp_path):
    made = rows()
    made["trees"][0]["height"] = None
    made["banks"][0]["rise"] = None
    told = read_markup(make(tmp_path, made=made, dem=False)).assumed
    assert "1 of the trees have no height or size: unknown there." in told
    assert any("banks have no rise and there is no DEM" in text for text in told)


def test_a_point_that_the_metric_crs_cannot_hold_is_a_fault(tmp_path):
    make(tmp_path, made={**rows(), "rocks": []})
    beyond = gpd.GeoDataFrame(
        {"height": [1.0], "size": [1.0]}, geometry=[Point(-51, 0)], crs="EPSG:4326"
    )
    beyond.to_file(tmp_path / "rocks.geojson")
    assert "rocks (feature 1 of rocks.geojson): it lies" in faults_of(tmp_path)


def test_a_table_without_geometry_is_a_fault(tmp_path):
    make(tmp_path)
    frame = layers()["trees"].drop(columns="geometry")
    pyogrio.write_dataframe(frame, tmp_path / "trees.gpkg", layer="trees", driver="GPKG")
    assert "trees.gpkg: it is a table without geometry" in faults_of(tmp_path)


def test_a_gpkg_called_by_a_layer_may_call_its_one_table_as_it_likes(tmp_path):
    make(tmp_path, made={**rows(), "trees": []})
    pyogrio.write_dataframe(layers()["trees"], tmp_path / "trees.gpkg", layer="export_7")
    assert len(read_markup(tmp_path).trees) == 1


def test_folders_of_a_kml_that_are_no_layers_are_told(tmp_path):
    make(tmp_path)
    mark = kml_folder("Holiday pictures", layers()["trees"], extended=True)
    (tmp_path / "markup.kml").write_text(kml(mark), encoding="utf-8")
    told = read_markup(tmp_path).assumed
    assert "markup.kml: folder 'Holiday pictures' is not read." in told


def test_a_misspelt_type_in_a_gpx_is_a_fault(tmp_path):
    make(tmp_path)
    gpx = gpxpy.gpx.GPX()
    gpx.waypoints.append(gpxpy.gpx.GPXWaypoint(46.2, -141.0, type="sounding"))
    (tmp_path / "markup.gpx").write_text(gpx.to_xml(), encoding="utf-8")
    text = faults_of(tmp_path)
    assert "<type> 'sounding' is none of reachmap's layers. Did you mean 'soundings'?" in text


def test_tracks_in_a_gpx_of_points_are_told(tmp_path):
    make(tmp_path)
    gpx = gpxpy.gpx.GPX()
    track = gpxpy.gpx.GPXTrack()
    points = [gpxpy.gpx.GPXTrackPoint(46.2, -141.0), gpxpy.gpx.GPXTrackPoint(46.21, -141.0)]
    track.segments.append(gpxpy.gpx.GPXTrackSegment(points))
    gpx.tracks.append(track)
    (tmp_path / "trees.gpx").write_text(gpx.to_xml(), encoding="utf-8")
    assert "trees.gpx: its tracks are not read, trees has none." in read_markup(tmp_path).assumed


def test_a_rise_below_the_water_is_taken_as_drawn(tmp_path):
    made = rows()
    made["banks"][0]["rise"] = -0.5
    assert read_markup(make(tmp_path, made=made)).banks[0].rise_m == -0.5


def test_a_plain_line_that_closes_is_a_polygon_in_any_format(tmp_path):
    make(tmp_path, made={**rows(), "runs": []})
    ring = LineString(box(0, -20, 250, 20).exterior.coords)
    frame = gpd.GeoDataFrame({"name": ["Ring"]}, geometry=[ring], crs=CRS)
    frame.to_crs("EPSG:4326").to_file(tmp_path / "runs.geojson")
    assert read_markup(tmp_path).runs[0].outline.area == pytest.approx(250 * 40, rel=1e-3)


@pytest.mark.parametrize("error", [FileExistsError, OSError])
def test_a_file_made_in_the_meantime_is_not_lost(error, tmp_path, monkeypatch):
    target = tmp_path / "reach" / "reach.toml"

    def link(_source, place):
        if place == target:
            target.write_text("mine", encoding="utf-8")
        raise error

    monkeypatch.setattr(os, "link", link)
    with pytest.raises(MarkupError, match="it was made in the meantime"):
        write_new(tmp_path / "reach")
    assert target.read_text(encoding="utf-8") == "mine"
    assert [each.name for each in (tmp_path / "reach").iterdir()] == ["reach.toml"]


def test_a_file_system_without_links_does_as_well(tmp_path, monkeypatch):
    def link(_source, _place):
        raise OSError

    monkeypatch.setattr(os, "link", link)
    assert all(path.exists() for path in write_new(tmp_path / "reach"))


def test_places_in_words():
    assert place_words(500_000.0, 5_117_000.0, CRS) == "latitude 46.20658, longitude -141.00000"
    assert place_words(float("inf"), 0.0, CRS) == "x inf, y 0"
    assert length_words(3.048, UnitSystem.US) == "10 ft"
    assert length_words(1234.5, UnitSystem.METRIC) == "1,234 m"
    line = LineString([(0, 0), (100, 0)])
    assert along_words(line, Point(40, 5), UnitSystem.METRIC) == "40 m down the river line"


def test_a_line_that_does_not_cross_itself_has_no_crossing():
    assert crossing_place(LineString([(0, 0), (1, 0)]), CRS) is None


def test_a_line_of_two_corners_walks_round_nothing():
    line = LineString([(0, 0), (1, 0)])
    assert closed_line(line) is line


def test_texts_of_phones():
    fields = ["depth", "flow", "name"]
    assert pairs_in("depth=1;flow: 2\nlovely spot", fields) == (
        {"depth": "1", "flow": "2"},
        "lovely spot",
        [],
    )
    assert pairs_in("Depth = 4 ft<br/>depth=9", fields)[0] == {"depth": "4 ft"}
    long = "depth=1;" * 1_000
    assert pairs_in(long, fields) == ({}, long, [])
    assert pairs_in("see http://x.example/a=b", fields)[0] == {}


@pytest.mark.parametrize("value", [None, "", " \n", float("nan")])
def test_nothing_is_nothing(value):
    assert is_nothing(value)


def test_zero_is_something():
    assert not is_nothing(0)


def test_a_json_of_two_gauges_is_a_fault(tmp_path):
    told = json.loads((DATA / "daily.json").read_text(encoding="utf-8"))
    told["features"][0]["properties"]["monitoring_location_id"] = "USGS-1"
    (tmp_path / "two.json").write_text(json.dumps(told), encoding="utf-8")
    _, faults, _ = read(tmp_path / "two.json")
    assert "it holds 2 gauges (USGS-05427718, USGS-1)" in faults[0]


def test_a_json_of_an_unknown_unit_is_a_fault(tmp_path):
    text = (DATA / "daily.json").read_text(encoding="utf-8").replace("ft^3/s", "acre-ft")
    (tmp_path / "u.json").write_text(text, encoding="utf-8")
    _, faults, _ = read(tmp_path / "u.json")
    assert len(faults) == 1
    assert "the unit of its flow is not known" in faults[0]


def test_a_rating_for_straight_lines_is_told(tmp_path):
    text = (DATA / "rating_base.rdb").read_text(encoding="utf-8")
    (tmp_path / "r.rdb").write_text(text.replace('"logarithmic"', '"linear"'), encoding="utf-8")
    _, faults, notes = read(tmp_path / "r.rdb")
    assert not faults
    assert any("made for straight lines between points" in note for note in notes)


def test_two_columns_of_flow_in_one_file_are_told(tmp_path):
    text = (
        "agency_cd\tdatetime\t01_00060_00003\t02_00060_00003\t02_00060_00001\n"
        "5s\t20d\t14n\t14n\t14n\nUSGS\t2012-09-17\t203\t1\t300\nUSGS\t2012-09-18\t1470\n"
    )
    (tmp_path / "d.rdb").write_text(text, encoding="utf-8")
    gauge, faults, notes = read(tmp_path / "d.rdb")
    assert not faults
    assert from_si(gauge.flow, "cfs").tolist() == pytest.approx([203, 1470])
    assert any("a second column of flow is not read" in note for note in notes)


def test_a_gauge_without_a_rating_is_told(tmp_path):
    make(tmp_path)
    (tmp_path / "gauge" / "rating.csv").unlink()
    assert any("has no rating" in text for text in read_markup(tmp_path).assumed)


def test_toml_with_a_byte_order_mark_reads(tmp_path):
    make(tmp_path)
    (tmp_path / "reach.toml").write_bytes(b"\xef\xbb\xbf" + TOML.encode())
    assert read_markup(tmp_path).plan.name == "Invented reach"


def test_an_installation_with_the_lesser_kml_reader_says_so(tmp_path, monkeypatch):
    make(tmp_path, made={**rows(), "trees": []})
    mark = kml_folder("trees", layers()["trees"], extended=False)
    (tmp_path / "trees.kml").write_text(kml(mark), encoding="utf-8")
    assert not any("extended data" in text for text in read_markup(tmp_path).assumed)
    monkeypatch.setattr(pyogrio, "list_drivers", lambda: {"KML": "r"})
    assert any("reads no extended data of KML" in text for text in read_markup(tmp_path).assumed)
