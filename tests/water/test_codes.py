"""A piece of water keeps its code over the flows at which it is the same piece."""

import pandas as pd
import pytest
from shapely import Point, box

from reachmap.base.schema import layer_frame
from reachmap.water import lasting_codes
from reachmap.water.settings import RunSettings
from tests.made import CRS

WIDTH = 40.0
NUMBERS = (
    "width_m", "depth_m", "speed_m_s", "score",
    "factor_depth", "factor_speed", "factor_even", "factor_size",
)  # fmt: skip


def piece(flow, code, start, end, low=0.0, *, side="left", kind="soft_edge"):
    """Return a row of the water layer: a box 5 m wide along a river that runs east."""
    row = dict.fromkeys(NUMBERS, 1.0) | {"flow": flow, "flow_label": f"{flow:g}m3s", "code": code}
    row |= {"kind": kind, "side": side, "station_m": start, "station_end_m": end}
    row |= {"length_m": end - start, "confidence": "good", "run": ""}
    return row | {"geometry": box(start, low, end, low + 5)}


def codes(*rows):
    """Return the codes given, in the order of the rows."""
    return list(
        lasting_codes({"water": layer_frame("water", rows, CRS)}, WIDTH, RunSettings())["water"][
            "code"
        ]
    )


def test_the_same_piece_keeps_its_code_where_another_begins_above_it():
    # flow by flow the lower piece would be E1 at 10 m3/s and E2 at 20 m3/s
    rows = piece(10.0, "E1", 200, 300), piece(20.0, "E1", 50, 120), piece(20.0, "E2", 210, 320)
    assert codes(*rows) == ["E2", "E1", "E2"]


def test_it_may_be_missing_at_a_flow_between():
    rows = piece(10.0, "E1", 200, 300), piece(20.0, "E1", 50, 120), piece(30.0, "E1", 205, 300)
    first, between, last = codes(*rows)
    assert first == last != between


def test_pieces_of_one_flow_never_share_a_code():
    rows = piece(10.0, "E1", 0, 200), piece(20.0, "E1", 0, 95), piece(20.0, "E2", 100, 200)
    found = codes(*rows)
    assert len(set(found[1:])) == 2
    assert found[0] in found[1:]
    # of two that lie wholly within it, the longer one carries it on
    assert found[0] == found[2]


@pytest.mark.parametrize(
    "other",
    [
        piece(20.0, "E1", 200, 300, side="right"),
        piece(20.0, "B1", 200, 300, kind="inside_bend"),
        piece(20.0, "E1", 260, 360),
        piece(20.0, "E1", 200, 300, low=30.0),
    ],
    ids=["other bank", "other kind", "mostly elsewhere", "far across"],
)
def test_other_water_has_another_code(other):
    first, second = codes(piece(10.0, "E1", 200, 300), other)
    assert first != second


def test_each_kind_is_numbered_down_the_river():
    rows = [piece(10.0, f"E{n}", s, s + 50) for n, s in ((1, 400), (2, 100), (3, 250))]
    rows += [piece(10.0, "B1", 300, 390, kind="inside_bend")]
    assert codes(*rows) == ["E3", "E1", "E2", "B1"]


def test_what_names_a_piece_is_named_anew_with_it():
    rows = piece(10.0, "E1", 200, 300), piece(20.0, "E1", 50, 120), piece(20.0, "E2", 210, 320)
    stands = pd.DataFrame(
        {
            "flow_label": ["10m3s", "20m3s", "20m3s"],
            "code": ["E1-1", "E1-1", "E2-12"],
            "water": ["E1", "E1", "E2"],
        }
    ).assign(geometry=[Point(0, 0)] * 3)
    near = stands.drop(columns="code")
    layers = {"water": layer_frame("water", rows, CRS), "stations": stands, "hazards_near": near}
    layers["tip_ladder"] = near
    found = lasting_codes(layers, WIDTH, RunSettings())
    assert list(found["stations"]["code"]) == ["E2-1", "E1-1", "E2-12"]
    assert list(found["stations"]["water"]) == ["E2", "E1", "E2"]
    assert list(found["hazards_near"]["water"]) == ["E2", "E1", "E2"]
    assert list(found["tip_ladder"]["water"]) == ["E2", "E1", "E2"]
    assert list(layers["stations"]["code"]) == ["E1-1", "E1-1", "E2-12"]


def test_water_that_moves_on_a_little_at_each_step_does_not_carry_its_code_to_another_place():
    rows = [piece(10.0 + k, "E1", 200 + 30 * k, 300 + 30 * k) for k in range(5)]
    found = codes(*rows)
    assert found[0] == found[1]  # 70 of 100 m are shared with the first place
    assert found[0] != found[2]  # 40 of 100
    assert found[2] == found[3]
    assert found[0] != found[4]
