"""The order to go: on foot bank by bank, by boat, then from the banks; unknown is never on foot."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from reachmap.base.words import SurveyWay
from reachmap.ground.suggest import Suggestion
from reachmap.uncertainty.walk import SPREADS, STAND_M2_S, Banks, walking_order, with_ways

SHAPE = (20, 30)
LIMIT = 1.0


def banks(depth=0.4, speed=0.3, depth_spread=0.1, speed_spread=0.1, bed=0.0):
    """A river over rows 3 to 16, left bank in the north; values broadcast to (y, x)."""
    wet = np.zeros(SHAPE, dtype=bool)
    wet[3:17] = True
    offset = np.broadcast_to(9.5 - np.arange(SHAPE[0])[:, None], SHAPE)

    def field(values, where=True):
        return ("y", "x"), np.where(where, np.broadcast_to(values, SHAPE), np.nan)

    ground = xr.Dataset({"bed": field(bed), "offset": field(offset)})
    speeds = {"east_speed": field(speed, wet), "north_speed": field(0.0, wet)}
    water = xr.Dataset({"depth": field(depth, wet), **speeds})
    spreads = {"depth_spread": depth_spread, "speed_spread": speed_spread}
    doubt = xr.Dataset({name: field(values, wet) for name, values in spreads.items()})
    return Banks.of(ground, water, doubt, LIMIT)


def cell(row, col=10):
    return row * SHAPE[1] + col


def sounding(station, gain=0.1):
    return Suggestion("sounding", 0.0, 0.0, station, 0.0, 0.3, gain)


def way_of(found, row):
    one = with_ways([sounding(0.0)], [cell(row)], found)[0]
    return one.way, one.side


def test_shallow_slow_water_is_come_to_on_foot_from_the_nearer_bank():
    assert way_of(banks(), 4) == (SurveyWay.FOOT, "left")
    assert way_of(banks(), 15) == (SurveyWay.FOOT, "right")


@pytest.mark.parametrize(
    "beyond",
    [
        {"depth": LIMIT - SPREADS * 0.1 + 0.01, "speed": 0.1},
        {"depth_spread": (LIMIT - 0.4) / SPREADS + 0.01, "speed": 0.05, "speed_spread": 0.0},
        {"speed": STAND_M2_S / 0.6 - SPREADS * 0.1 + 0.01},
        {"speed_spread": (STAND_M2_S / 0.6 - 0.3) / SPREADS + 0.01},
        {"depth_spread": np.nan},
        {"speed_spread": np.nan},
    ],
    ids=["deep", "maybe deep", "fast", "maybe fast", "depth unsure", "speed unsure"],
)
def test_deep_fast_or_doubtful_water_is_never_come_to_on_foot(beyond):
    assert way_of(banks(**beyond), 5) == (SurveyWay.BOAT, "")


def test_shallows_behind_deep_water_are_not_come_to_on_foot():
    depth = np.full(SHAPE, 0.4)
    depth[5:8] = 2.0
    depth[12:15] = 2.0
    found = banks(depth=depth)
    assert way_of(found, 10) == (SurveyWay.BOAT, "")
    assert way_of(found, 4) == (SurveyWay.FOOT, "left")
    depth[12:15] = 0.4
    assert way_of(banks(depth=depth), 9) == (SurveyWay.FOOT, "right")  # though the left is nearer


def test_a_bank_of_unknown_ground_is_no_way_in():
    bed = np.zeros(SHAPE)
    bed[:3] = np.nan
    bed[17:] = np.nan
    assert way_of(banks(bed=bed), 4) == (SurveyWay.BOAT, "")


def test_the_order_goes_down_one_bank_then_the_other_then_by_boat_then_the_banks():
    depth = np.full(SHAPE, 0.4)
    depth[9:11] = 2.0
    found = banks(depth=depth)
    stick = Suggestion("stick", 0.0, 0.0, 5.0, 0.0, np.nan, 0.05, 80.0, "brush")
    asks = [
        sounding(300.0, 0.1), sounding(100.0, 0.1),  # left
        sounding(250.0, 0.3), sounding(50.0, 0.2),  # right: worth more
        sounding(400.0), sounding(20.0),  # by boat
        stick, Suggestion("stick", 0.0, 0.0, 2.0, 0.0, np.nan, 0.05, 40.0, "grass"),
        Suggestion("edge", 0.0, 0.0, 700.0, 0.0, np.nan, 0.5),
    ]  # fmt: skip
    rows = [4, 4, 15, 15, 9, 9, 4, 15, 9]
    ways = with_ways(asks, [cell(row) for row in rows], found)
    assert [one.way for one in ways] == ["foot"] * 4 + ["boat"] * 2 + ["bank"] * 3
    assert [one.side for one in ways[6:]] == ["left", "right", ""]
    assert walking_order(ways) == [4, 3, 2, 1, 6, 5, 9, 8, 7]
