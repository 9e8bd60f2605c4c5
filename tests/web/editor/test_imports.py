"""Dropped files: what is found in them, and what is turned away."""

import io
import json
import zipfile

import pytest

from reachmap.web.editor import imports as import_file
from reachmap.web.editor.imports import FileImportError, found_in
from tests.web.editor.folders import HOME

LON, LAT = HOME
GPX = f"""<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="a hand" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="{LAT}" lon="{LON}"><name>bar head; depth = 4.2 ft</name>
<desc>flow = 1200</desc><type>soundings</type></wpt>
<wpt lat="{LAT}" lon="{LON + 0.001}"><name>&lt;b&gt;a spot&lt;/b&gt;</name></wpt>
<trk><name>walked</name><trkseg><trkpt lat="{LAT}" lon="{LON}"><ele>3</ele></trkpt>
<trkpt lat="{LAT + 0.001}" lon="{LON + 0.001}"/>
<trkpt lat="{LAT}" lon="{LON + 0.002}"/></trkseg></trk>
</gpx>""".encode()

KML = f"""<?xml version="1.0" encoding="UTF-8"?>
<kml xmlns="http://www.opengis.net/kml/2.2"><Document>
<Folder><name>banks</name><Placemark><name>bar</name>
<description>side = left; cover = gravel</description>
<Polygon><outerBoundaryIs><LinearRing><coordinates>
{LON},{LAT},0 {LON + 0.001},{LAT},0 {LON},{LAT + 0.001},0 {LON},{LAT},0
</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Folder>
<Folder><name>odds</name><Placemark><name>way</name>
<LineString><coordinates>{LON},{LAT} {LON + 0.002},{LAT}</coordinates></LineString>
</Placemark></Folder></Document></kml>""".encode()


def geojson(*features, **more):
    return json.dumps({"type": "FeatureCollection", "features": list(features), **more}).encode()


def feature(geometry, **properties):
    return {"type": "Feature", "properties": properties, "geometry": geometry}


LINE = {"type": "LineString", "coordinates": [[LON, LAT], [LON + 0.001, LAT]]}
POLYGON = {
    "type": "Polygon",
    "coordinates": [[[LON, LAT], [LON + 0.001, LAT], [LON, LAT + 0.001], [LON, LAT]]],
}


def test_gpx_tracks_and_waypoints_with_their_layers_where_they_say_them():
    found = found_in("walk.gpx", GPX)
    assert [(one.shape, one.layer) for one in found] == [
        ("Point", "soundings"),
        ("Point", ""),
        ("LineString", ""),
    ]
    assert found[0].values["depth"] == "4.2 ft"
    assert found[0].values["flow"] == "1200"
    assert found[0].values["name"] == "bar head"
    assert found[1].label == "<b>a spot</b>"
    assert found[2].paths == (((LON, LAT), (LON + 0.001, LAT + 0.001), (LON + 0.002, LAT)),)


def test_the_files_name_may_say_the_layer():
    assert [one.layer for one in found_in("river.gpx", GPX)] == ["soundings", "", "river"]


def test_kml_folders_named_like_layers():
    found = {one.label: one for one in found_in("from phone.kml", KML)}
    assert found["bar"].layer == "banks"
    assert found["bar"].values["side"] == "left"
    assert found["bar"].values["cover"] == "gravel"
    assert len(found["bar"].paths[0]) == 3
    assert found["way"].layer == ""


def packed(name, content):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return stream.getvalue()


def test_kmz_is_kml_packed():
    plain = [one.as_json() for one in found_in("a.kml", KML)]
    assert [one.as_json() for one in found_in("a.kmz", packed("doc.kml", KML))] == plain


@pytest.mark.parametrize(
    "body", [b"", b"PK\3\4 torn", packed("doc.txt", b"x"), packed("doc.kml", KML)[:-30]]
)
def test_what_is_no_kmz_is_refused(body):
    with pytest.raises(FileImportError, match="not KMZ"):
        found_in("a.kmz", body)


def test_a_kmz_that_swells_is_refused(monkeypatch):
    monkeypatch.setattr(import_file, "MOST_BYTES", 100_000)
    with pytest.raises(FileImportError, match="too large unpacked"):
        found_in("a.kmz", packed("doc.kml", b"<kml>" + b" " * 5_000_000))


def test_geojson_with_properties_and_layers():
    body = geojson(
        feature(LINE, layer="river", name="Main", part="main"), feature(POLYGON, cover="sand")
    )
    line, polygon = found_in("a.geojson", body)
    assert line.layer == "river"
    assert line.values == {"name": "Main", "part": "main"}
    assert polygon.layer == ""
    assert found_in("banks.json", geojson(feature(POLYGON, cover="sand", rise=2.5)))[0].values == {
        "cover": "sand",
        "rise": "2.5",
    }


def test_older_geojson_in_another_crs_is_carried_over():
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32607"}}
    line = {"type": "LineString", "coordinates": [[500_000, 5_117_000], [500_100, 5_117_000]]}
    (found,) = found_in("a.geojson", geojson(feature(line), crs=crs))
    assert found.paths[0][0] == pytest.approx((-141.0, 46.206), abs=2e-3)


def test_many_parts_come_apart_and_empty_ones_are_left_out():
    several = {
        "type": "MultiLineString",
        "coordinates": [LINE["coordinates"], [[LON, LAT + 0.1], [LON, LAT + 0.2]]],
    }
    body = geojson(feature(several), feature(None), feature({"type": "Point", "coordinates": []}))
    assert [one.shape for one in found_in("a.geojson", body)] == ["LineString", "LineString"]


def test_a_bare_geometry_and_a_bare_feature_are_geojson_too():
    assert found_in("a.json", json.dumps(LINE).encode())[0].shape == "LineString"
    assert found_in("a.json", json.dumps(feature(POLYGON)).encode())[0].shape == "Polygon"


VRT = (
    b"<OGRVRTDataSource><OGRVRTLayer name='x'><SrcDataSource>/etc/passwd</SrcDataSource>"
    b"</OGRVRTLayer></OGRVRTDataSource>"
)
"""A file that would lead the reading library to other files of this computer."""


@pytest.mark.parametrize(
    ("name", "body"),
    [
        ("a.gpx", VRT),
        ("a.kml", b"<OGRVRTDataSource/>"),
        ("a.kml", b'<!DOCTYPE kml [<!ENTITY a "aaa">]><kml>&a;</kml>'),
        ("a.gpx", b"<gpx><unclosed"),
        ("a.gpx", b""),
        ("a.geojson", b"[1, 2"),
        ("a.geojson", b'{"type": "FeatureCollection"}'),
        ("a.geojson", b'{"type": "Feature", "geometry": {"type": "Circle"}}'),
        ("a.geojson", b'{"type": "FeatureCollection", "features": []}'),
        ("a.geojson", b"[" * 200_000),
        ("a.geojson", b'{"type": "Point", "coordinates": [500, 100]}'),
        ("a.exe", b"MZ"),
        ("../../etc/passwd", b"x"),
        ("a.shp", b"x"),
    ],
)  # fmt: skip
def test_what_cannot_be_taken_in_is_refused_in_words(name, body):
    with pytest.raises(FileImportError):
        found_in(name, body)


def test_a_file_of_too_many_things_is_refused(monkeypatch):
    monkeypatch.setattr(import_file, "MOST_FOUND", 2)
    with pytest.raises(FileImportError, match="too much"):
        found_in("a.geojson", geojson(*[feature(LINE)] * 3))
