"""What casting a try costs, and how it is thrown."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.angler.tries import Loops, _throw, cost_of, joined_tries, make_tries, mends_of
from reachmap.base.words import Strip
from tests.angler.hand import FT, KIT
from tests.angler.planned import SETTINGS, piece, places, river, scene_of

PLAN = SETTINGS.plan
ANGLES = SETTINGS.stations.angles_deg
ACROSS, STEEP = ANGLES.index(0.0), ANGLES.index(48.0)
VIEW = river()
SCENE, AIMS = scene_of(VIEW, places(VIEW), piece())
ROOMY = Loops(np.full((1, len(ANGLES)), 30.0), np.full((1, len(ANGLES)), 30.0))
LIGHTEST = int(SCENE.gear.usable[0])


def lot(*, angle=STEEP, cast=15.0, tip=LIGHTEST, mends=0, fed=False, high=False):
    """Return one try of the one place."""
    one = np.zeros(1, np.int32)
    how = {"mends": mends, "fed": fed, "high": high}
    return make_tries(one, np.array([angle]), np.array([cast]), tip, **how)


def cost(loops=ROOMY, **how):
    """Return what one try costs."""
    return float(cost_of(SCENE, lot(**how), loops)[0])


def test_a_longer_cast_costs_by_its_length_over_the_longest():
    more = cost(cast=20.0) - cost(cast=15.0)
    assert more == pytest.approx(PLAN.length_cost * 5.0 / KIT.angler.cast_limit_m)


def test_each_mend_line_fed_and_a_high_rod_cost_alike():
    two = PLAN.mends.index(((0.0, 1.0), (4.0, 1.0))) + 1
    plain = cost()
    assert cost(mends=two) - plain == pytest.approx(2 * PLAN.act_cost)
    assert cost(fed=True) - plain == pytest.approx(PLAN.act_cost)
    assert cost(high=True) - plain == pytest.approx(PLAN.act_cost)


def test_a_squarer_cast_costs_more_and_one_up_the_current_most():
    assert cost(angle=ACROSS) - cost(angle=STEEP) == pytest.approx(PLAN.square_cost)
    assert cost(angle=ANGLES.index(-15.0)) - cost(angle=ACROSS) == pytest.approx(
        PLAN.square_cost / 3
    )


def test_each_step_up_the_ladder_costs_a_little():
    heavier = int(SCENE.gear.usable[2])
    # the head is the same at so short a cast, and there is room for it
    assert cost(tip=heavier) - cost() == pytest.approx(2 * PLAN.tip_effort)


@pytest.mark.parametrize(("fits", "tight", "worth"), [(9, 9, 1.0), (3, 9, 0.5), (3, 3, 0.0)])
def test_room_that_is_tight_or_missing_costs(fits, tight, worth):
    shape = (1, len(ANGLES))
    loops = Loops(np.full(shape, float(fits)), np.full(shape, float(tight)))
    # 15 m less 4 m of rod and 4.3 m of tip and leader leave 6.8 m of a head out
    assert cost(loops) - cost() == pytest.approx(PLAN.room_cost * (1.0 - worth))


def test_a_short_cast_needs_room_for_the_head_that_is_out_alone():
    shape = (1, len(ANGLES))
    loops = Loops(np.full(shape, 3.0), np.full(shape, 3.0))
    short = (13 + 14) * FT + 2.5
    assert cost(loops, cast=short) == pytest.approx(cost(cast=short))


def test_a_rod_held_high_lifts_its_tip_and_shortens_its_reach():
    low, high = (
        _throw(SCENE, lot(high=one), 0, AIMS[Strip.INSIDE].target_rad) for one in (False, True)
    )
    assert high.tip_m - low.tip_m == pytest.approx(PLAN.high_m)
    # the rod is the long side of the triangle
    assert np.hypot(high.reach_m, PLAN.high_m) == pytest.approx(low.reach_m)


def test_the_rod_tip_stays_above_the_water_however_deep_one_stands():
    deep = replace(SCENE, stands=replace(SCENE.stands, wade=np.array([1.5])))
    thrown = _throw(deep, lot(), 0, AIMS[Strip.INSIDE].target_rad)
    assert thrown.tip_m == SETTINGS.line.tip_low_m


def test_mends_and_line_fed_go_into_the_cast():
    thrown = _throw(SCENE, lot(mends=1, fed=True), 0, AIMS[Strip.INSIDE].target_rad)
    assert thrown.mends == ((0.0, SETTINGS.line.mend_m),)
    assert thrown.fed_m == PLAN.fed_m
    never = replace(SETTINGS, line=replace(SETTINGS.line, mend_m=0.0))
    assert mends_of(1, never) == ()
    assert mends_of(0, SETTINGS) == ()


def test_tries_are_joined_in_order():
    both = joined_tries([lot(angle=1), lot(angle=2, cast=20.0)])
    assert len(both) == 2
    assert both.angle.tolist() == [1, 2]
    assert both.cast_m.tolist() == [15.0, 20.0]
