"""Symbols, types, heights and limits of files for a GPS; looks, fields and view of KML."""

from __future__ import annotations

import importlib.util
import re
from collections import Counter
from dataclasses import replace
from itertools import groupby
from pathlib import Path

import gpxpy
import numpy as np
import pytest
from lxml import etree

from reachmap.base.version import VERSION
from reachmap.markup.config import read_plan
from reachmap.markup.plan_parts import Gps
from reachmap.outputs.handheld import write_gpx, write_kml
from reachmap.outputs.handheld.kml import KINDS
from reachmap.outputs.handheld.symbols import SETS, TYPES
from tests.markup.folders import TOML
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_product import made_product

KML = "{http://www.opengis.net/kml/2.2}"


def with_gps(product, **settings):
    """The product with settings for a GPS."""
    plan = replace(product.markup.plan, gps=Gps(**settings))
    return replace(product, markup=replace(product.markup, plan=plan))


def with_day(product):
    """The product with places scored, so that there is a list for the day."""
    stations = product.layers["stations"].assign(odds=50.0)
    return replace(product, layers={**product.layers, "stations": stations})


@pytest.fixture(scope="module")
def product():
    return with_day(with_doubt(made_product()))


def gpx_of(product, folder, index=0, **more):
    path = write_gpx(product, folder, labels=(product.labels[index],), **more)[0]
    return gpxpy.parse(path.read_text(encoding="utf-8"))


def test_a_hazard_is_told_by_its_name_and_type_alone_whatever_the_symbol(product, tmp_path):
    for symbols in SETS:
        one = gpx_of(with_gps(product, symbols=symbols), tmp_path)
        hazards = [point for point in one.waypoints if point.type == "hazard"]
        assert len(hazards) == len(product.markup.hazards) > 0
        assert all(re.fullmatch(r"HAZ\d\d", point.name) for point in hazards)
        others = [point for point in one.waypoints if point.type != "hazard"]
        assert not [point for point in others if point.name.startswith("HAZ")]
        said = {point.symbol for point in one.waypoints}
        assert said == ({None} if symbols == "none" else said - {None})


def test_no_two_sets_have_a_symbol_for_hazards_that_another_group_has():
    for words in SETS.values():
        if words:
            assert set(words) == set(KINDS) - {"lanes", "wade"}
            assert Counter(words.values())[words["hazards"]] == 1


def test_the_angler_s_own_words_come_before_the_set(product, tmp_path):
    own = (("hazards", "Skull"), ("access", "Car"))
    one = gpx_of(with_gps(product, symbols="none", own_symbols=own), tmp_path)
    assert {point.symbol for point in one.waypoints} == {None, "Skull", "Car"}


def test_reach_toml_says_symbols_and_limits():
    more = '\n[gps]\nsymbols = "nouns"\nhazards = "Skull"\nmost_places = 500\n'
    read = read_plan(TOML + more)
    assert read.faults == ()
    assert read.plan.gps == Gps("nouns", (("hazards", "Skull"),), most_places=500)
    wrong = read_plan(TOML + '\n[gps]\nsymbols = "maker"\nmost_lines = -1\n')
    assert len(wrong.faults) == 2
    assert "words, nouns, none" in str(wrong.faults[0].fix)


def test_every_place_line_and_route_has_its_type_and_the_file_its_maker_and_time(product, tmp_path):
    one = gpx_of(product, tmp_path, 1)
    assert one.creator == f"reachmap {VERSION}"
    assert one.time is not None
    assert one.routes
    assert {route.type for route in one.routes} == {"day"}
    assert {point.type for route in one.routes for point in route.points} == {"day"}
    assert {track.type for track in one.tracks} == {TYPES["lanes"], TYPES["wade"]}
    assert all(point.type in TYPES.values() for point in one.waypoints)
    assert not [point for point in one.waypoints if point.time]  # nobody stood there


def test_heights_are_the_water_s_or_the_ground_s_and_only_above_a_datum(product, tmp_path):
    bare = gpx_of(product, tmp_path)
    assert not [point for point in bare.waypoints if point.elevation is not None]
    ground = product.ground.assign_attrs(vertical="dem")
    one = gpx_of(replace(product, ground=ground), tmp_path)
    rows = product.layers["structure"]
    rows = rows[rows["holds"] & (rows["flow_label"] == product.labels[0])]
    found = [point.elevation for point in one.waypoints if point.type == "lie"]
    level = product.flows["level"].isel(flow=0)
    places = zip(rows["lie_x_m"], rows["lie_y_m"], strict=True)
    wanted = [float(level.sel(x=x, y=y, method="nearest")) for x, y in places]
    assert found == pytest.approx(wanted, abs=0.051)
    bed = product.ground["bed"]
    ways = [point.elevation for point in one.waypoints if point.type == "way in"]
    at = [way.place for way in product.markup.access]
    inside = [bed.x.min() < p.x < bed.x.max() and bed.y.min() < p.y < bed.y.max() for p in at]
    assert any(inside)
    for height, p, ok in zip(ways, at, inside, strict=True):
        if ok:
            wanted = float(bed.sel(x=p.x, y=p.y, method="nearest"))
            assert height == pytest.approx(wanted, abs=0.051)
        else:
            assert height is None


def test_what_a_device_cannot_keep_is_left_out_and_said_and_hazards_never_are(product, tmp_path):
    whole = gpx_of(product, tmp_path)
    assert "Left out" not in whole.description
    hazards = len(product.markup.hazards)
    for most in (1, 12, 30):
        one = gpx_of(with_gps(product, most_places=most, most_lines=1), tmp_path)
        assert len(one.waypoints) == max(most, hazards)
        assert sum(point.type == "hazard" for point in one.waypoints) == hazards
        assert len(one.tracks) == 1
        assert one.tracks[0].type == TYPES["wade"]
        lost = len(whole.waypoints) - len(one.waypoints) + len(whole.tracks) - 1
        said = re.search(r"Left out for the limits of your device: ([^.]*)\.", one.description)
        assert sum(map(int, re.findall(r"\d+", said[1]))) == lost
        assert "Look before you wade" in one.description
    every = gpx_of(with_gps(product, most_places=0, most_lines=0, most_points=0), tmp_path)
    assert len(every.waypoints) == len(whole.waypoints)


def test_a_line_of_too_many_points_is_thinned_and_it_is_said(product, tmp_path):
    one = gpx_of(with_gps(product, most_points=20), tmp_path)
    for track in one.tracks:
        assert track.get_points_no() <= max(20, 2 * len(track.segments))
        assert all(len(segment.points) >= 2 for segment in track.segments)
    assert "Lines with points left out" in one.description


def test_texts_are_as_long_as_the_device_keeps(product, tmp_path):
    one = gpx_of(with_gps(product, longest_text=80), tmp_path)
    assert max(len(point.description) for point in one.waypoints) == 80


@pytest.fixture(scope="module")
def kml(product, tmp_path_factory):
    folder = tmp_path_factory.mktemp("kml")
    ground = product.ground.assign_attrs(vertical="dem")
    return write_kml(replace(product, ground=ground), folder)


def test_kml_is_valid_under_the_published_schema(kml):
    """KML 2.2 schema (OGC 07-147r2), as carried by the PyPI package fastkml."""
    home = importlib.util.find_spec("fastkml")
    path = Path(home.submodule_search_locations[0]) / "schema" / "ogckml22.xsd"
    schema = etree.XMLSchema(etree.parse(str(path)))
    for one in kml:
        schema.assertValid(etree.parse(str(one)))
    text = kml[0].read_text(encoding="utf-8").replace("<Placemark>", "<Placemark><speed/>")
    assert not schema.validate(etree.fromstring(text.encode()))


def test_every_placemark_has_a_look_of_its_own_group_and_fields(kml):
    root = etree.parse(str(kml[1])).getroot()
    styles = {style.get("id"): style for style in root.iter(f"{KML}Style")}
    colours = {name: style.findtext(f"{KML}IconStyle/{KML}color") for name, style in styles.items()}
    assert all(colours.values())
    assert Counter(colours.values())[colours["hazards"]] == 1
    scales = {name: float(s.findtext(f"{KML}IconStyle/{KML}scale")) for name, s in styles.items()}
    assert all(scales["hazards"] > scales[name] for name in styles if name != "hazards")
    placemarks = list(root.iter(f"{KML}Placemark"))
    assert placemarks
    for one in placemarks:
        group = one.findtext(f"{KML}styleUrl").removeprefix("#")
        assert group in styles
        fields = {data.get("name"): data.findtext(f"{KML}value") for data in one.iter(f"{KML}Data")}
        assert fields["group"] == TYPES[group]
        assert fields["kind"]
        lasting = group in {"access", "hazards", "asks"}
        assert fields.get("flow") == (None if lasting else "2,400 cfs")
    assert not list(root.iter(f"{KML}TimeSpan", f"{KML}TimeStamp"))


def test_the_day_is_a_line_through_its_places_in_order(kml):
    root = etree.parse(str(kml[1])).getroot()
    (folder,) = [
        one
        for one in root.iter(f"{KML}Folder")
        if one.findtext(f"{KML}name") == "Today, in walking order"
    ]
    places = [one.text for one in folder.iterfind(f".//{KML}Point/{KML}coordinates")]
    (line,) = [one.text for one in folder.iterfind(f".//{KML}LineString/{KML}coordinates")]
    spots = [tuple(place.split(",")[:2]) for place in places]
    assert [spot for spot, _ in groupby(spots)] == [tuple(p.split(",")[:2]) for p in line.split()]


def test_the_view_looks_down_on_all_there_is(kml):
    for path in kml:
        root = etree.parse(str(path)).getroot()
        (view,) = root.iter(f"{KML}LookAt")
        at = {etree.QName(one).localname: float(one.text) for one in view}
        xy = np.array(
            [
                [float(number) for number in place.split(",")[:2]]
                for one in root.iter(f"{KML}coordinates")
                for place in one.text.split()
            ]
        )
        low, high = xy.min(axis=0), xy.max(axis=0)
        assert low[0] < at["longitude"] < high[0]
        assert low[1] < at["latitude"] < high[1]
        metres = 111_000 * np.hypot(
            (high[0] - low[0]) * np.cos(np.radians(low[1])), high[1] - low[1]
        )
        assert metres < at["range"] < 3 * metres
