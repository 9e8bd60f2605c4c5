"""A seam that is there over a narrow range of flows is none, and its water loses the name alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, box

from reachmap.base.schema import layer_frame
from reachmap.base.words import Side, WaterKind
from reachmap.water.codes import LETTERS
from reachmap.water.lasting_seams import lasting, seams_that_last
from reachmap.water.settings import SeamSettings, WaterSettings
from tests.made import CRS

RULES = SeamSettings()
LADDER = [10.0 * 1.1**k for k in range(9)]  # 10 to 21.4 m3/s, a tenth apart


def seam(flow, *, y=0.0, x=(0.0, 60.0), side=Side.LEFT, fast=1.2):
    return {
        "flow": flow,
        "flow_label": f"{flow:.3g}",
        "code": "L1",
        "strength": 0.1,
        "length_m": x[1] - x[0],
        "slow_side": side.value,
        "from_junction": False,
        "fast_m_s": fast,
        "slow_m_s": 0.4,
        "thickness_m": 6.0,
        "eddy": False,
        "chance": 0.95,
        "lasts_m": 80.0,
        "geometry": LineString([(x[0], y), (x[1], y)]),
    }


def seams_of(*rows):
    return layer_frame("seams", rows, CRS)


def kept(rows, flows=LADDER, rules=RULES):
    return lasting(seams_of(*rows), flows, rules).tolist()


def test_a_seam_at_one_flow_in_the_midst_of_a_ladder_is_dropped():
    assert kept([seam(LADDER[4])]) == [False]


def test_it_lasts_where_it_is_there_over_a_half_more_water():
    # gone at numbers 2 and 7: 1.1^5 = 1.61; at 2 and 6: 1.1^4 = 1.46
    assert kept([seam(LADDER[k]) for k in (3, 4, 5, 6)]) == [True] * 4
    assert kept([seam(LADDER[k]) for k in (3, 4, 5)]) == [False] * 3
    loose = replace(RULES, lasting_ratio=1.4)
    assert kept([seam(LADDER[k]) for k in (3, 4, 5)], rules=loose) == [True] * 3


def test_beyond_the_lowest_and_the_highest_flow_it_is_believed():
    assert kept([seam(LADDER[0]), seam(LADDER[8], y=50.0)]) == [True, True]


def test_flows_that_lie_far_apart_tell_nothing_of_those_between():
    assert kept([seam(20.0)], [10.0, 20.0, 40.0]) == [True]
    assert kept([seam(12.0)], [10.0, 12.0, 14.0]) == [False]


def test_a_flow_without_any_seam_counts_as_one_without_it():
    rows = [seam(LADDER[k]) for k in (1, 2, 4, 5)]  # nothing at number 3
    assert kept(rows) == [False] * 4


@pytest.mark.parametrize(
    ("other", "same"),
    [
        ({"y": 7.0}, True),
        ({"y": 9.0}, False),
        ({"side": Side.RIGHT}, False),
        ({"x": (25.0, 60.0)}, True),
        ({"x": (45.0, 120.0)}, False),
    ],
)
def test_it_is_the_same_seam_near_by_along_it_and_slow_on_one_side(other, same):
    more = [seam(LADDER[k], **other) for k in (4, 5, 6)]
    assert kept([seam(LADDER[3]), *more])[0] is same


def test_a_seam_that_moves_a_little_from_flow_to_flow_is_followed_all_the_way():
    rows = [seam(LADDER[k], y=5.0 * k) for k in (2, 3, 4, 5, 6)]
    assert kept(rows) == [True] * 5


def piece(flow, y, kind=WaterKind.SEAM):
    row = {"flow": flow, "flow_label": f"{flow:.3g}", "code": "S1", "kind": kind.value}
    return row | {"side": "left", "geometry": box(0.0, y, 60.0, y + 6.0)}


def layers_of(seams, pieces):
    water = layer_frame("water", [], CRS)
    filler = dict.fromkeys(water.columns.difference(["geometry"]), 0.0)
    words = {
        "confidence": "good",
        "run": "",
        "prime": False,
        "tailout_untold": False,
        "wade": None,
        "part": None,
    }
    rows = [filler | words | one for one in pieces]
    return {"seams": seams_of(*seams), "water": layer_frame("water", rows, CRS)}


@pytest.mark.parametrize(("fast", "kind"), [(1.2, WaterKind.SOFT_EDGE), (0.7, WaterKind.EVEN_RUN)])
def test_water_beside_a_seam_that_is_dropped_loses_the_name_alone(fast, kind):
    flow = LADDER[4]
    lasting_one = [seam(one, y=40.0) for one in LADDER]
    layers = layers_of(
        [*lasting_one, seam(flow, fast=fast)],
        [piece(flow, 0.0), piece(flow, 40.0), piece(flow, 0.0, WaterKind.INSIDE_BEND)],
    )
    found = seams_that_last(layers, LADDER, WaterSettings())
    assert found["water"]["kind"].tolist() == [kind, WaterKind.SEAM, WaterKind.INSIDE_BEND]
    assert len(found["seams"]) == len(lasting_one)
    assert found["seams"].index.tolist() == list(range(len(lasting_one)))
    named = ["kind", "code"]
    assert found["water"].drop(columns=named).equals(layers["water"].drop(columns=named))
    assert found["water"]["code"].iloc[0][0] == LETTERS[kind]
    assert found["water"]["kind"].dtype == layers["water"]["kind"].dtype


def test_where_every_seam_lasts_nothing_changes():
    layers = layers_of([seam(one) for one in LADDER], [piece(LADDER[0], 0.0)])
    found = seams_that_last(layers, LADDER, WaterSettings())
    assert all(found[name] is layers[name] for name in layers)
    empty = layers_of([], [])
    assert len(seams_that_last(empty, LADDER, WaterSettings())["seams"]) == 0
    assert np.asarray(lasting(empty["seams"], LADDER, RULES)).size == 0
