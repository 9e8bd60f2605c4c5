"""What the plans of a run's places have in common, and its ladder of tips."""

import math

import pandas as pd

from reachmap.angler.ladder import LADDER, ladder_of
from reachmap.angler.run_plan import PLANNED, run_plan
from reachmap.base.grouped import rows_of
from reachmap.base.words import MendTo, Strip, WouldHelp

PLACE = {
    "mends": 1, "mend_m": 1.2, "mend_to": "up", "mend_s": 0.0, "mend_last_s": 0.0, "pulls": 6,
    "take": "inside", "share_in_bands": 0.5, "second_pass": True, "out_cast_m": 22.0,
    "out_angle_deg": 36.0, "out_tip": "T-8", "out_mends": 0, "out_mend_to": None,
    "would_help": None, "rod_high": False,
}  # fmt: skip


def rows(*changes):
    """Return rows of the layer `stations`, one for each change of the usual place."""
    return rows_of(pd.DataFrame([PLACE | change for change in changes]), PLANNED)


def test_the_run_is_fished_as_most_of_its_places_are():
    got = run_plan(rows({}, {}, {"mends": 0, "mend_to": None, "out_tip": "T-14", "pulls": 9}))
    assert (got.mends, got.mend_to, got.out_tip, got.pulls) == (1, MendTo.UP, "T-8", 6)
    assert got.second
    assert got.take is Strip.INSIDE
    assert got.help is None


def test_what_would_help_is_told_where_most_plans_do_not_serve():
    bad = {"would_help": "longer cast"}
    assert run_plan(rows(bad, bad, {})).help is WouldHelp.LONGER_CAST
    assert run_plan(rows(bad, {}, {})).help is None


def test_without_a_plan_nothing_is_told():
    assert run_plan(rows({"share_in_bands": math.nan})) is None
    none = {"out_cast_m": math.nan, "out_angle_deg": math.nan, "second_pass": False}
    got = run_plan(rows(none))
    assert math.isnan(got.out_cast_m)
    assert got.out_tip == ""
    assert not got.second


def steps(*changes):
    """Return rows of the layer `tip_ladder`."""
    one = {
        "water": "E1", "side": "left", "tip": "T-8", "order": 2, "fly_depth_m": 1.0,
        "above_bed_m": 0.5, "share_in_bands": 0.4, "drag_share": 0.0, "tick_share": 0.0,
        "wait_s": 3.0,
    }  # fmt: skip
    return rows_of(pd.DataFrame([one | change for change in changes]), LADDER)


def fished(*changes):
    """Return places with room for a cast: of piece E1, from the left, with T-8."""
    one = {"water": "E1", "side": "left", "tip": "T-8"}
    return rows_of(pd.DataFrame([one | change for change in changes]), tuple(one))


def test_the_ladder_is_that_of_the_bank_and_water_fished_lightest_first():
    light = {"tip": "floating", "order": 1}
    mine = steps({}, light, {"side": "right", "fly_depth_m": 9.0}, {"water": "E9"})
    got = ladder_of(mine, fished({}))
    assert [step.tip for step in got] == ["floating", "T-8"]
    assert [step.chosen for step in got] == [False, True]
    assert got[1].depth_m == 1.0


def test_of_several_pieces_the_ladder_is_that_fished_most_with_the_tip_of_most_places():
    thin = {"water": "B2", "fly_depth_m": 0.3, "drag_share": 0.7}
    slow = {"water": "G3", "fly_depth_m": 2.0}
    light = {"water": "B2", "tip": "floating"}
    other = {"water": "B2", "tip": "T-14"}
    places = fished({}, {}, {"water": "G3"}, light, light, other)
    [step] = ladder_of(steps({}, thin, slow), places)
    assert step.depth_m == 1.0  # neither where it drags nor a mean of all three
    assert step.drag_share == 0.0
    assert ladder_of(steps(thin), places) == ()
