"""KML files read back by GDAL's LIBKML driver and by lxml, and compared with the GPX files."""

from __future__ import annotations

import geopandas as gpd
import gpxpy
import numpy as np
import pandas as pd
import pytest
from lxml import etree

from reachmap.outputs.handheld import write_gpx, write_kml
from reachmap.outputs.handheld.kml import FOLDERS, _abgr
from reachmap.text.angler_text import TURNS
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product
from tests.outputs.test_gpx import NASTY

KML = "{http://www.opengis.net/kml/2.2}"


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    product = with_doubt(made_product())
    return product, write_kml(product, tmp_path_factory.mktemp("kml"))


def placemarks(path):
    return etree.parse(str(path)).findall(f".//{KML}Placemark")


def test_one_file_a_flow_and_one_of_all(written):
    product, paths = written
    assert [path.name for path in paths] == [f"{label}.kml" for label in (*product.labels, "all")]


def test_a_general_reader_finds_the_places_of_the_gpx_file(written, tmp_path):
    product, paths = written
    document = gpxpy.parse(write_gpx(product, tmp_path)[0].read_text(encoding="utf-8"))
    folders = list(gpd.list_layers(paths[0])["name"])
    # no place of the made product is scored, so that there is no day's list to put into a folder
    assert folders == [title for group, title in FOLDERS.items() if group != "day"]
    frames = [gpd.read_file(paths[0], layer=name) for name in folders[:6]]
    found = pd.concat(frames)
    assert all(frame.crs == "EPSG:4326" for frame in frames)
    np.testing.assert_allclose(
        np.c_[found.geometry.x, found.geometry.y],
        [(point.longitude, point.latitude) for point in document.waypoints],
        atol=1e-7,
    )
    assert list(found["Name"]) != [point.name for point in document.waypoints]
    lanes = gpd.read_file(paths[0], layer="Travel lanes of fish")
    assert len(lanes) == sum(track.comment.startswith("travel") for track in document.tracks)


def test_short_names_are_those_of_the_gpx_file(written, tmp_path):
    product, _ = written
    path = write_kml(product, tmp_path, long_names=False, labels=(product.labels[0],))[0]
    document = gpxpy.parse(
        write_gpx(product, tmp_path, labels=(product.labels[0],))[0].read_text(encoding="utf-8")
    )
    names = [mark.findtext(f"{KML}name") for mark in placemarks(path)]
    assert names == [p.name for p in document.waypoints] + [t.name for t in document.tracks]


def test_the_file_of_all_holds_each_flow_in_a_folder_and_lasting_things_once(written):
    product, paths = written
    root = etree.parse(str(paths[-1]))
    top = [folder.findtext(f"{KML}name") for folder in root.findall(f"{KML}Document/{KML}Folder")]
    flows = ["1,200 cfs", "2,400 cfs", "4,000 cfs", "6,500 cfs"]
    assert top == [FOLDERS["access"], FOLDERS["hazards"], FOLDERS["asks"], *flows]
    lasting = len(product.markup.access) + len(product.markup.hazards)
    lasting += len(product.layers["asks"])
    each = sum(len(placemarks(path)) - lasting for path in paths[:-1])
    assert len(placemarks(paths[-1])) == each + lasting


def test_lines_take_their_colours_from_the_file_and_nothing_from_elsewhere(written):
    _, paths = written
    root = etree.parse(str(paths[0])).getroot()
    styles = {style.get("id") for style in root.iter(f"{KML}Style")}
    used = {url.text.removeprefix("#") for url in root.iter(f"{KML}styleUrl")}
    assert used == styles
    assert not list(root.iter(f"{KML}href"))
    # KML writes opacity, blue, green, red (OGC 07-147r2, kml:color, from memory)
    assert _abgr("#112233") == "ff332211"


def test_hostile_text_stays_text_even_in_readers_that_show_html(tmp_path):
    for path in write_kml(with_doubt(made_product(text=NASTY), text=NASTY), tmp_path):
        text = path.read_text(encoding="utf-8")
        root = etree.fromstring(text.encode())
        assert {etree.QName(e).namespace for e in root.iter()} == {KML[1:-1]}
        said = [e.text or "" for e in root.iter(f"{KML}description", f"{KML}name")]
        assert any("[script]" in one for one in said)
        assert not any("<" in one for one in said)
        assert max(map(len, said)) <= 1000
        assert not TURNS.search(text)
        assert list(gpd.list_layers(path)["name"])
