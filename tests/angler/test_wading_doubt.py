"""Wading reckons with what the ensemble does not know, never with less than its own table."""

import numpy as np
import pytest
import xarray as xr

from reachmap.angler.settings import WadingSettings
from reachmap.angler.view import view_of
from reachmap.angler.wading import CAREFUL, doubtful_depth, doubtful_speed, grade_water
from tests.angler.hand import KIT
from tests.made import made_flows, made_ground

WADE = WadingSettings()
GROUND = made_ground(length=300)
FLOW = made_flows(GROUND, {20.0: -0.6})
SHAPE = FLOW["depth"].shape[1:]


def doubt(depth_m, speed_m_s):
    fields = {"depth_spread": depth_m, "speed_spread": speed_m_s}
    return xr.Dataset({name: (("y", "x"), np.full(SHAPE, value)) for name, value in fields.items()})


def graded(spread):
    view = view_of(GROUND, FLOW, spread)
    return view, grade_water(view, (), KIT.angler, WADE)


def test_without_an_ensemble_nothing_changes():
    _, bare = graded(None)
    _, sure = graded(doubt(0.0, 0.0))
    assert (bare.grade == sure.grade).all()
    assert bare.depth == pytest.approx(sure.depth, nan_ok=True)


def test_the_depth_to_reckon_with_grows_with_the_spread():
    view, wide = graded(doubt(0.3, 0.0))
    _, bare = graded(None)
    deep = view.wet & (view.depth > 1.0)
    assert wide.depth[deep] == pytest.approx(view.depth[deep] + WADE.doubt * 0.3)
    assert (wide.depth[view.wet] >= bare.depth[view.wet] - 1e-12).all()


def test_the_speed_to_reckon_with_grows_with_the_spread():
    view, quick = graded(doubt(0.0, 0.6))
    _, bare = graded(None)
    deep = view.wet & (view.depth > 1.0)
    assert (quick.speed[deep] >= view.speed[deep] + WADE.doubt * 0.6 - 1e-9).all()
    assert (quick.speed[view.wet] >= bare.speed[view.wet] - 1e-12).all()


def test_more_doubt_never_opens_water():
    areas = []
    for spread in (None, doubt(0.15, 0.1), doubt(0.4, 0.3), doubt(1.0, 1.0)):
        view, wading = graded(spread)
        areas.append(int(((wading.grade <= CAREFUL) & view.wet).sum()))
    assert areas == sorted(areas, reverse=True)
    assert areas[-1] < areas[0]


def test_a_nan_of_the_ensemble_is_no_less_careful_than_the_table():
    view, lost = graded(doubt(np.nan, np.nan))
    _, bare = graded(None)
    assert lost.depth[view.wet] == pytest.approx(bare.depth[view.wet])


def test_the_greater_of_the_two_errors_counts():
    depth, sure = np.array([1.5]), np.array([1.0])
    table = doubtful_depth(depth, sure, WADE)
    assert doubtful_depth(depth, sure, WADE, np.array([0.0])) == pytest.approx(table)
    assert doubtful_depth(depth, sure, WADE, np.array([0.4])) == pytest.approx(
        1.5 + 0.4 * WADE.doubt
    )
    speed = doubtful_speed(np.array([1.0]), depth, depth, WADE, np.array([0.5]))
    assert speed == pytest.approx(1.0 + 0.5 * WADE.doubt)
