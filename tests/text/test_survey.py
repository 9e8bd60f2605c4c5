"""What is said of places worth a note: what to do there, how to come to it, in the order to go."""

from __future__ import annotations

import math

from shapely import Point

from reachmap.base.schema import layer_frame
from reachmap.base.words import UnitSystem
from reachmap.text.map_places import survey_card
from reachmap.text.survey import survey_lines, survey_note
from tests.made import CRS, ORIGIN_X, ORIGIN_Y

METRIC = UnitSystem.METRIC


def row(rank, order, kind="sounding", **more):
    told = {
        "code": f"A{rank}", "rank": rank, "order": order, "way": "foot", "side": "left",
        "kind": kind, "station_m": 100.0 * order, "offset_m": -4.0, "flow_m3_s": math.nan,
        "cover": "", "spread_m": 0.3, "gain": 0.1, "geometry": Point(ORIGIN_X, ORIGIN_Y),
    }  # fmt: skip
    return told | more


def stick(rank, order, **more):
    usual = {"way": "bank", "spread_m": math.nan, "flow_m3_s": 80.0, "cover": "brush"}
    return row(rank, order, "stick", **usual | more)


def test_a_stick_is_timed_from_the_bank_at_its_flow_and_tells_of_its_cover():
    note = survey_note(stick(1, 1), METRIC)
    assert "from the bank" in note
    assert "80 m3/s" in note.replace("m³/s", "m3/s")
    assert "how rough brush under water is" in note
    assert "10 %" in note
    assert "the river's bed" in survey_note(stick(1, 1, cover="channel"), METRIC)
    assert "unknown cover" in survey_note(stick(1, 1, cover="unknown"), METRIC)
    assert "less than 1 %" in survey_note(stick(1, 1, gain=0.004), METRIC)


def test_a_way_on_foot_is_never_a_promise_and_a_boat_is_told():
    on_foot = survey_note(row(1, 1), METRIC)
    assert "On foot from river left, where the map lets you wade that day" in on_foot
    by_boat = survey_note(row(1, 1, way="boat", side=None), METRIC)
    assert "by boat, or leave it" in by_boat
    assert "On foot" not in by_boat


def test_the_list_goes_in_order_under_a_heading_for_each_way():
    rows = [
        row(1, 3, way="boat", side=None), row(2, 2), row(3, 1), stick(4, 4, side="right"),
        row(5, 5, "edge", way="bank", side=None, spread_m=math.nan),
    ]  # fmt: skip
    lines = survey_lines(layer_frame("asks", rows, CRS), CRS, METRIC, built=True)
    codes = [line.split()[0] for line in lines if line.lstrip().startswith("A") and "E" not in line]
    assert [one for one in codes if one[1:].isdigit()] == ["A3", "A2", "A1", "A4", "A5"]
    headings = [line for line in lines[1:] if line.endswith(":")]
    assert len(headings) == 4
    assert "river left" in headings[0]
    assert "boat" in headings[1]
    assert "river right" in headings[2]
    assert "banks" in headings[3]


def test_a_card_says_which_stop_it_is_and_what_to_do():
    card = survey_card(stick(4, 7), METRIC)
    assert "time a stick" in card.title
    assert ("In the order to go", "stop 7") in card.rows
    assert "a sounding" in survey_card(row(1, 1), METRIC).title
    assert "edge" in survey_card(row(1, 1, "edge", way="bank"), METRIC).title
