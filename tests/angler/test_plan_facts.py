"""What follows from a plan: mends in numbers, slack, step, pulls, what would help."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from reachmap.angler._kernels_swing import AGROUND, HANGS, STALLS
from reachmap.angler.picks import Pick
from reachmap.angler.plan_facts import (
    expected_takes,
    hang_down,
    head_out,
    is_short,
    mend_facts,
    pulls_to,
    second_passes,
    slack_at,
    slack_below,
    steps_at,
    tip_wants,
    would_help,
)
from reachmap.angler.plans import StripPlan, _nothing
from reachmap.angler.tries import make_tries
from reachmap.base.words import HangDown, LoopSide, MendTo, Season, Strip, WouldHelp
from reachmap.markup.model import SeasonLimits
from tests.angler.hand import FT, KIT
from tests.angler.planned import SETTINGS, piece, places, river, scene_of

USABLE = np.arange(len(KIT.tips), dtype=np.int32)
LIMIT = KIT.angler.cast_limit_m


def plan(*, angle=2, tip=1, cast=18.0, rod=0, high=False, **did):
    """Return the plan of one place whose swing did what is given."""
    one = np.zeros(1, np.int32)
    judged, track = _nothing(1, SETTINGS)
    usual = {"in_bands": 0.6, "quality": 0.6, "share": 0.5, "drag": 0.0, "tick": 0.0}
    usual |= {"swim_s": 20.0, "widest": 1.0, "pull": 0.5, "end": HANGS}
    for name, value in (usual | did).items():
        getattr(judged, name)[0] = value
    lot = make_tries(one, np.array([angle]), np.array([cast]), tip, high=high)
    picks = [Pick(0 if rod >= 0 else -1, rod, 0, {}, False, LoopSide.EITHER, True)]
    return StripPlan(lot, picks, judged, track, np.zeros(1))


def scene(**how):
    """Return the scene of one place, and its casts."""
    view = river()
    return scene_of(view, places(view), piece(), **how)


def test_mends_are_told_in_number_bow_side_and_moment():
    patterns = SETTINGS.plan.mends
    two = patterns.index(((0.0, 1.0), (4.0, 1.0))) + 1
    got = mend_facts(two, SETTINGS)
    assert (got.count, got.to, got.first_s, got.last_s) == (2, MendTo.UP, 0.0, 4.0)
    assert got.bow_m == pytest.approx(SETTINGS.line.mend_m)
    down = patterns.index(((0.0, -1.0),)) + 1
    assert mend_facts(down, SETTINGS).to is MendTo.DOWN
    assert mend_facts(0, SETTINGS).count == 0
    never = replace(SETTINGS, line=replace(SETTINGS.line, mend_m=0.0))
    assert mend_facts(two, never).to is None


@pytest.mark.parametrize("pull", [0.05, 0.3, 1.5])
@pytest.mark.parametrize("height", [1.2, 3.4])
@pytest.mark.parametrize("mass", [5e-4, 5e-3])
def test_slack_below_the_rod_is_that_of_a_catenary(pull, height, mass):
    # scipy.optimize.brentq as the outside judge of the hanging curve a (cosh(x/a) - 1)
    a = pull / (mass * 9.80665)
    x = brentq(lambda x: a * (np.cosh(x / a) - 1) - height, 1e-6, a * 12)
    steps = np.linspace(0, x, 20001)
    arc = np.hypot(np.diff(steps), np.diff(a * np.cosh(steps / a))).sum()
    assert slack_below(pull, height, mass) == pytest.approx(arc - math.hypot(x, height), abs=1e-5)


def test_a_short_cast_pulls_less_and_leaves_more_slack():
    assert slack_below(0.1, 3.0, 5e-3) > slack_below(1.0, 3.0, 5e-3)


def test_slack_is_told_with_the_line_that_hangs_there():
    one, _ = scene()
    # short: the head hangs from the tip, far heavier than running line, so more slack
    short, long = slack_at(one, plan(cast=12.0), 0), slack_at(one, plan(cast=24.0), 0)
    assert short > long > 0
    assert math.isnan(slack_at(one, plan(rod=-1), 0))
    assert math.isnan(slack_at(one, plan(pull=np.nan), 0))


def test_a_cast_is_short_up_to_three_and_a_half_rods():
    one, _ = scene()
    rod = KIT.rods[0].length_m
    assert is_short(one, plan(cast=3.4 * rod), 0)
    assert not is_short(one, plan(cast=3.6 * rod), 0)
    assert not is_short(one, plan(rod=-1), 0)


def test_a_heavier_tip_is_wanted_only_above_the_band_with_the_heaviest():
    last = len(KIT.tips) - 1
    assert tip_wants(plan(tip=last, share=0.2), USABLE, SETTINGS)[0] == 1
    assert tip_wants(plan(tip=last, share=0.5), USABLE, SETTINGS)[0] == 0
    assert tip_wants(plan(tip=1, share=0.2), USABLE, SETTINGS)[0] == 0


def test_a_lighter_tip_is_wanted_only_where_the_lightest_drags_or_runs_too_deep():
    assert tip_wants(plan(tip=0, drag=0.3), USABLE, SETTINGS)[0] == -1
    assert tip_wants(plan(tip=0, share=0.95), USABLE, SETTINGS)[0] == -1
    assert tip_wants(plan(tip=0, tick=0.1), USABLE, SETTINGS)[0] == 0
    assert tip_wants(plan(tip=1, drag=0.3), USABLE, SETTINGS)[0] == 0


def helped(made, *, wants=0, limit=LIMIT, far_bank=False):
    """Return what would help at one place."""
    _, aims = scene()
    stands = places(river(), (15, 20) if far_bank else (15,))
    if far_bank:
        stands.side[1] = 1
    got = would_help(made, np.array([wants]), aims[Strip.INSIDE], stands, SETTINGS, limit)
    return got[0]


def test_a_plan_that_serves_needs_no_help():
    assert helped(plan(quality=SETTINGS.plan.serves_low)) is None
    assert helped(plan(quality=SETTINGS.plan.serves_low - 0.01)) is not None


def test_what_would_help_is_the_tip_the_cast_the_bank_or_a_boat_in_that_order():
    bad = plan(quality=0.1)
    assert helped(bad, wants=1, limit=5.0) is WouldHelp.HEAVIER_TIP
    assert helped(bad, wants=-1, limit=5.0) is WouldHelp.LIGHTER_TIP
    assert helped(bad, limit=5.0, far_bank=True) is WouldHelp.LONGER_CAST
    assert helped(bad, far_bank=True) is WouldHelp.OTHER_BANK
    assert helped(bad) is WouldHelp.BOAT
    assert helped(plan(angle=-1)) is WouldHelp.BOAT


def test_the_hang_down_is_stepped_pulled_or_lifted_by_how_the_swing_ends():
    assert hang_down(plan(end=HANGS), 0, SETTINGS) is HangDown.STEP
    assert hang_down(plan(end=STALLS), 0, SETTINGS) is HangDown.PULL
    assert hang_down(plan(end=AGROUND), 0, SETTINGS) is HangDown.LIFT
    dragged = plan(tick=SETTINGS.plan.last_share)
    assert hang_down(dragged, 0, SETTINGS) is HangDown.LIFT
    assert hang_down(plan(swim_s=np.nan), 0, SETTINGS) is None


def test_a_step_shrinks_with_clarity_and_with_the_gap_between_arcs():
    clear, murky = replace(SETTINGS, clarity_m=5.0), replace(SETTINGS, clarity_m=0.9)
    usual = SETTINGS.pace.step_winter_m
    step, gap = steps_at(plan(widest=1.0), 20.0, clear)
    assert step[0] == pytest.approx(usual)
    assert gap[0] == pytest.approx(usual)
    step, gap = steps_at(plan(widest=1.0), 20.0, murky)
    assert step[0] < usual
    assert gap[0] <= 0.9 + 1e-9
    # in the thickest water half the season's step, as the score's minutes have it
    thick = replace(SETTINGS, clarity_m=0.2)
    assert steps_at(plan(widest=1.0), 20.0, thick)[0][0] == pytest.approx(0.5 * usual)
    # arcs that run nearly down the current lie closer than the step
    slanting, close = steps_at(plan(widest=0.5), 20.0, murky)
    assert slanting[0] >= step[0]
    assert close[0] == pytest.approx(0.5 * slanting[0])


def test_pulls_lengthen_the_first_cast_to_the_plans():
    one, _ = scene()
    rod = KIT.rods[0].length_m
    # a 13 ft rod and its length of line are 26 ft; 46 ft of cast are 8 pulls of 2.5 ft on
    assert pulls_to(one, plan(cast=46 * FT), 0) == 8
    assert pulls_to(one, plan(cast=2 * rod), 0) == 0
    assert pulls_to(one, plan(rod=-1), 0) == 0


def test_a_short_cast_tells_how_much_of_the_head_is_out():
    one, _ = scene()
    # 40 ft less 13 ft of rod and 14 ft of tip and leader: 13 of the head's 24 ft
    assert head_out(one, plan(cast=40 * FT), 0) == pytest.approx(13 * FT)
    assert math.isnan(head_out(one, plan(cast=60 * FT), 0))
    assert math.isnan(head_out(one, plan(rod=-1), 0))


def test_a_second_pass_is_worth_it_from_its_share_on():
    class Both:
        outside = plan(in_bands=SETTINGS.plan.second_low)

    assert second_passes(Both, SETTINGS)[0]
    Both.outside = plan(in_bands=SETTINGS.plan.second_low - 0.01)
    assert not second_passes(Both, SETTINGS)[0]
    Both.outside = plan(in_bands=np.nan)
    assert not second_passes(Both, SETTINGS)[0]


def test_the_take_is_expected_outside_only_in_clear_water_that_suits_there():
    view = river(depth=1.2, speed=0.6)
    one, aims = scene_of(view, places(view), piece())
    suits = SeasonLimits(Season.WINTER, 0.5, 1.8, 0.3, 0.9)
    clear = replace(SETTINGS, clarity_m=3.0)
    assert expected_takes(aims, one.strips, suits, 20.0, clear) == [Strip.OUTSIDE]
    murky = replace(SETTINGS, clarity_m=0.6)
    assert expected_takes(aims, one.strips, suits, 20.0, murky) == [Strip.INSIDE]
    quick = replace(suits, speed_high_m_s=0.5)
    assert expected_takes(aims, one.strips, quick, 20.0, clear) == [Strip.INSIDE]
