"""The preview of what the page shows: what it reads and leaves out, and that it writes nothing."""

import pytest
import shapely
from shapely import Point, Polygon

from reachmap.base.fingerprint import digest_file
from reachmap.markup.read import read_markup
from reachmap.pipeline import most_wanted
from reachmap.pipeline.drawn_preview import SOFT, UNKNOWN, WET, drawn_ground, preview_cell, water_at
from reachmap.web.editor.preview import Previewer, read_request
from reachmap.web.editor.schema import MessageError
from reachmap.web.editor.session import EditorSession, prepare
from tests.web.editor.folders import bank, mark, river, sent, sounding

FACTS = {"traced_flow": "900", "slope": "0.002", "flows": "600, 900, 1400"}
LEFT, RIGHT = bank("left", id_="new-l"), bank("right", id_="new-r", cover="gravel")


@pytest.fixture
def previewer(tmp_path):
    prepare(tmp_path)
    session = EditorSession(tmp_path)
    session.save_facts(1, FACTS)
    return Previewer(session)


def body(*marks, draft=None, at=None, **more):
    return {"version": 1, "marks": list(marks), "draft": draft, "at": at, **more}


def area(outlines):
    """Return the area of outlines in WGS84, in square degrees."""
    return joined(outlines).area


def joined(outlines):
    """Return outlines of the answer as one shape."""
    return shapely.union_all([Polygon(one[0], one[1:]) for one in outlines])


def test_more_flow_is_wider_and_soft_water_lies_in_water(previewer):
    low, high = (previewer.preview(body(river(), LEFT, RIGHT, at=at)) for at in (0.0, 1.0))
    assert (low["flow"], high["flow"]) == ("600 cfs", "1,400 cfs")
    assert area(low["wet"]) < area(high["wet"])
    for told in (low, high):
        assert told["tag"] == "Preview"
        assert "People drown wading" in told["caution"]
        soft, wet = (
            shapely.union_all([Polygon(o[0], o[1:]) for o in told[k]]) for k in ("soft", "wet")
        )
        assert soft.difference(wet.buffer(3e-5)).is_empty  # an outline of cells, to half a cell


def test_the_line_in_hand_counts_and_nothing_is_written(previewer):
    folder = previewer.session.folder
    before = {path: digest_file(path) for path in folder.iterdir()}
    without = previewer.preview(body(river(), LEFT))
    assert "wet" not in without
    assert any("right" in one["fix"] + one["found"] for one in without["wanting"])
    assert previewer.preview(body(river(), LEFT, draft=RIGHT))["wet"]
    corner = {**RIGHT, "paths": [RIGHT["paths"][0][:2]]}
    assert "wet" not in previewer.preview(body(river(), LEFT, draft=corner))
    edge = {**RIGHT, "shape": "Polygon", "paths": [RIGHT["paths"][0][:6]]}
    strip = body(river(), LEFT, draft=edge, strip="150", beside=river()["paths"][0])
    assert previewer.preview(strip)["wet"]
    assert {path: digest_file(path) for path in folder.iterdir()} == before


def test_what_is_at_fault_is_left_out_and_said(previewer):
    bare = bank("right", id_="new-r", cover="")
    told = previewer.preview(body(river(), LEFT, bare, sounding(flow="")))
    assert told["left_out"] == 1
    assert any("count as grass" in line for line in told["lines"])
    assert previewer.preview(body(river(), LEFT, RIGHT, sounding()))["left_out"] == 0


def test_a_bank_without_a_rise_is_not_known_and_is_asked_for(previewer):
    open_bank = bank("right", id_="new-r", cover="gravel", rise="")
    drawn = body(river(), LEFT, open_bank, at=1.0)
    unknown = previewer.preview(drawn)["unknown"]
    wanted = previewer.wanted(drawn)
    assert (wanted["asked"], wanted["mark"]) == ("rise", "new-r")
    told = previewer.preview(body(river(), LEFT, RIGHT, at=1.0))
    assert area(told["unknown"]) < 0.9 * area(unknown)
    assert "bank not known" in told["change"]
    assert told["was"]
    assert previewer.wanted(body(river(), LEFT, RIGHT, at=1.0))["asked"] != "rise"


def test_the_fall_is_asked_for_until_two_levels_are_in(previewer, monkeypatch):
    monkeypatch.setattr(most_wanted, "_depth", lambda *_: None)
    assert previewer.wanted(body(river(), LEFT, RIGHT))["asked"] == "level"
    path = river()["paths"][0]
    levels = [
        mark("levels", "Point", [[path[k]]], {"level": height, "flow": "900"}, id_=f"new-{k}")
        for k, height in ((0, "300"), (5, "297.5"))
    ]
    assert previewer.wanted(body(river(), LEFT, RIGHT, *levels)) == {}


def test_a_sounding_is_asked_for_in_the_water(previewer, monkeypatch):
    monkeypatch.setattr(most_wanted, "_fall", lambda *_: None)
    drawn = body(river(), LEFT, RIGHT)
    wanted = previewer.wanted(drawn)
    assert wanted["asked"] == "sounding"
    assert "from safety" in wanted["question"]
    wet = previewer.preview(drawn)["wet"]
    assert any(Polygon(one[0], one[1:]).contains(Point(wanted["place"])) for one in wet)


@pytest.mark.parametrize("fact", ["traced_flow", "slope"])
def test_a_number_that_is_missing_is_named_and_none_is_guessed(previewer, fact):
    session = previewer.session
    session.save_facts(session.store.version, {fact: ""})
    told = previewer.preview(body(river(), LEFT, RIGHT))
    assert "wet" not in told
    assert any(one.get("fact") == fact for one in told["wanting"])


def test_without_flows_to_map_the_slider_goes_about_the_traced_one(previewer):
    session = previewer.session
    session.save_facts(session.store.version, {"flows": ""})
    told = previewer.preview(body(river(), LEFT, RIGHT))
    assert (told["flow"], told["ends"]) == ("900 cfs", ["450 cfs", "1,800 cfs"])


def test_ground_without_a_height_is_neither_dry_nor_water(previewer):
    session = previewer.session
    session.save(sent(river(), LEFT, bank("right", id_="new-r", rise=""), version=2))
    reach = read_markup(session.folder)
    drawn = drawn_ground(reach)
    water = water_at(drawn, reach.plan.flows[-1])
    blind = ~(drawn.ground["bed"].notnull().to_numpy())
    assert blind.any()
    assert set(water.state[blind & (water.state > 0)].tolist()) <= {UNKNOWN}
    assert ((water.state == WET) | (water.state == SOFT)).any()
    assert preview_cell(reach) in (1.0, 2.0, 4.0)


@pytest.mark.parametrize("more", [{"at": 2}, {"at": "half"}, {"draft": 3}, {"marks": None}])
def test_what_is_no_request_is_refused(previewer, more):
    with pytest.raises(MessageError):
        read_request({**body(river()), **more}, previewer.session.store.units)
