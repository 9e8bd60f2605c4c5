"""What the bank tells of an unseen bed: its slope goes on, and bends are deep outside."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.angler.bank_slope import bank_depth, bend_factor
from reachmap.angler.chance import expected_water
from reachmap.angler.wading import NO, grade_water
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.centreline import Centreline
from tests.angler.hand import KIT
from tests.angler.test_wading import pond

WADE = WadingSettings()
ROWS, COLS, CELL = 14, 14, 2.0
LAND = 7
"""Rows of dry ground; the rest is water over a bed nobody saw."""


def banked(slope, *, depth=0.3):
    """Return a view of a bank that comes down by `slope` [m/m] to water of one mapped depth."""
    view = pond(["#" * COLS] * LAND + ["." * COLS] * (ROWS - LAND), depth=depth, cell=CELL)
    height = 100.0 + slope * CELL * (LAND - 0.5 - np.arange(ROWS))
    bed = np.repeat(np.where(np.arange(ROWS) < LAND, height, 100.0 - depth)[:, None], COLS, axis=1)
    sure = np.repeat(np.where(np.arange(ROWS) < LAND, 0.9, 0.4)[:, None], COLS, axis=1)
    return replace(view, bed=bed, confidence=sure)


def told(view, **changed):
    cells = view.wet_cells
    return view.spread(bank_depth(view, cells, replace(WADE, **changed)))


@pytest.mark.parametrize("slope", [0.05, 0.3])
def test_a_bank_goes_on_under_water_as_it_comes_down(slope):
    depth = told(banked(slope))
    for row in (LAND, LAND + 1, LAND + 4):
        assert depth[row, 7] == pytest.approx(slope * CELL * (row - LAND + 1))


def test_ground_under_the_water_of_a_higher_flow_tells_from_its_own_depth():
    view = banked(0.1)
    higher = replace(view, level=np.where(view.wet, 100.5, np.nan))
    assert told(higher)[LAND, 7] == pytest.approx(0.5 - 0.1 * CELL / 2 + 0.1 * CELL)


def test_where_no_ground_was_seen_nothing_is_told():
    view = banked(0.1)
    assert np.isinf(told(replace(view, confidence=np.full(view.wet.shape, 0.4)))[view.wet]).all()


def test_ground_that_may_be_waters_surface_tells_nothing_unless_its_bed_was_seen():
    view = banked(0.1)
    wetted = replace(view, wet_on_terrain_day=np.ones(view.wet.shape, dtype=bool))
    assert np.isinf(told(wetted)[view.wet]).all()
    assert np.isfinite(told(replace(wetted, bed_seen=True))[view.wet]).all()


def bend(radius):
    """Return a river line that turns left, 20 m wide."""
    angle = np.linspace(0.0, 1.0, 200)
    station = radius * angle
    return Centreline(
        radius * np.sin(angle), radius * (1 - np.cos(angle)), station, np.full(200, 20.0)
    )


def beside(view, side):
    """Return the view on one side of the line: 1 the left, -1 the right."""
    return replace(
        view, offset=np.full(view.wet.shape, 8.0 * side), station=np.full(view.wet.shape, 20.0)
    )


def test_a_made_bed_is_less_sure_outside_of_a_bend_and_surer_inside():
    view = replace(banked(0.1), line=bend(50.0))  # width over radius 0.4: as tight as counts
    outside, inside = (bend_factor(beside(view, s), view.wet_cells, WADE)[0] for s in (-1, 1))
    assert outside == pytest.approx(np.exp(0.4), rel=1e-3)
    assert inside == pytest.approx(np.exp(-0.4), rel=1e-3)
    gentle = replace(view, line=bend(200.0))  # width over radius 0.1
    assert bend_factor(beside(gentle, -1), view.wet_cells, WADE)[0] == pytest.approx(
        np.exp(0.2), rel=1e-2
    )


def errors(view, **changed):
    settings = replace(WADE, **changed)
    return view.spread(
        expected_water(view, view.speed[view.wet_cells], settings).depth_error
    ), view.spread(expected_water(view, view.speed[view.wet_cells], settings).speed_error)


def test_a_steep_bank_makes_the_water_beside_it_doubtful_and_a_gentle_one_less():
    gentle, steep = (errors(banked(slope))[0] for slope in (0.03, 0.5))
    assert steep[LAND, 7] > np.hypot(gentle[LAND, 7], 0.5)
    deep = replace(banked(0.03), depth=banked(0.03, depth=1.2).depth)
    unknown = replace(deep, confidence=np.where(deep.wet, 0.4, 0.5))
    assert errors(deep)[0][LAND, 7] < errors(unknown)[0][LAND, 7]


def test_the_outside_of_a_bend_is_more_doubtful_than_the_inside():
    view = replace(banked(0.1), line=bend(50.0))
    outside, inside = (errors(beside(view, side))[0][LAND + 2, 7] for side in (-1, 1))
    assert outside > 1.5 * inside
    seen = replace(view, confidence=np.full(view.wet.shape, 0.9))
    outside, inside = (errors(beside(seen, side))[0][LAND + 2, 7] for side in (-1, 1))
    assert outside == pytest.approx(inside)


def test_a_bed_that_soundings_gave_the_lie_doubts_depth_and_speed_alike():
    view = banked(0.1)
    usual, worse = errors(view), errors(replace(view, bed_doubt=2.0))
    for before, after in zip(usual, worse, strict=True):
        assert after[view.wet] == pytest.approx(2.0 * before[view.wet])
    seen = errors(replace(view, bed_doubt=2.0, bed_seen=True))
    assert seen[1][view.wet] == pytest.approx(usual[1][view.wet])


def test_a_cliff_carried_on_under_the_river_tells_no_depth_that_no_river_has():
    view = banked(6.0, depth=0.3)
    graded = grade_water(view, (), KIT.angler, WADE)
    margin = graded.depth.at(np.ravel_multi_index(view.wet_cells, view.wet.shape)) - 0.3
    assert told(view)[view.wet].max() > 80  # as the bank comes down
    assert margin.max() == pytest.approx(WADE.margin_high_m)
    assert not (graded.grade[view.wet] < NO).any()  # it is out of bounds all the same
    gentle = grade_water(banked(0.05, depth=0.3), (), KIT.angler, WADE)
    assert np.nanmax(gentle.depth.values) - 0.3 < 1.0
