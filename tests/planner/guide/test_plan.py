"""Who fishes where: limits, rules, ways back, the boat, plan B, and what small changes do."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest

from reachmap.planner.guide.day import Why
from reachmap.planner.guide.facts import DrawnAccess, facts_from, facts_text
from reachmap.planner.guide.layout import lay_out
from reachmap.planner.guide.people import is_lower, is_theirs, limit_of, offer_for
from reachmap.planner.guide.plan import make_guide_plan
from reachmap.planner.guide.settings import GuideSettings
from reachmap.planner.guide.ways import IDLE
from reachmap.planner.rules import Rule, RuleKind, Rules
from tests.planner.guide.made import (
    GRADING,
    SMALL,
    TALL,
    made_day,
    made_facts,
    made_flow,
    made_inputs,
    made_party,
    made_stand,
    made_water,
)

DAY = date(2031, 1, 14)
RUNS = (
    made_water("Upper", 200, 60),
    made_water("Middle", 600, 90),
    made_water("Lower", 1000, 40),
)


def why(plan, name):
    return next(one.why for one in plan.left_out if one.run.name == name)


def fished(plan):
    return {name for way in plan.names for name in way if name}


# limits of each person


def test_a_small_person_s_limits_are_lower_and_never_wider_than_the_map_s():
    assert is_lower(limit_of(SMALL, GRADING), GRADING.limit)
    giant = replace(TALL, height_m=2.1, wade_limit_m=1.2, mass_kg=120)
    assert not is_lower(limit_of(giant, GRADING), GRADING.limit)
    assert limit_of(giant, GRADING).depth_m == GRADING.limit.depth_m


@pytest.mark.parametrize(
    ("changed", "theirs"),
    [
        ({}, True),  # dry ground that dry ground joins to a way in
        ({"dry_way": False}, False),
        ({"hand_shuts": True}, False),
        ({"depth_m": 0.2, "zone_depth_m": 0.29, "zone_speed_m_s": 0.2}, True),
        ({"depth_m": 0.2, "zone_depth_m": 0.31, "zone_speed_m_s": 0.2}, False),  # 0.6 of 0.5 m
        ({"depth_m": 0.2, "zone_depth_m": 0.25, "zone_speed_m_s": 0.6}, False),  # 0.6 of 0.8 m/s
        ({"depth_m": 0.2, "zone_depth_m": 0.2, "zone_speed_m_s": 0.49}, False),
        ({"depth_m": 0.2}, False),  # what is not known is not theirs
        ({"depth_m": math.nan}, False),
    ],
)
def test_only_what_is_within_lower_limits_on_all_of_the_way_is_theirs(changed, theirs):
    limit = limit_of(SMALL, GRADING)
    assert limit.depth_m == 0.5
    assert is_theirs(made_stand(0, **changed), limit, 0.6, boat=False) is theirs


def test_a_boat_lands_on_dry_ground_and_not_in_the_water():
    limit = limit_of(SMALL, GRADING)
    apart = made_stand(0, dry_way=False)
    wet = replace(apart, depth_m=0.2, zone_depth_m=0.2, zone_speed_m_s=0.2)
    assert is_theirs(apart, limit, 0.6, boat=True)
    assert not is_theirs(wet, limit, 0.6, boat=True)


def test_the_product_of_depth_and_speed_counts_too():
    limit = replace(limit_of(SMALL, GRADING), product_m2_s=0.1)
    stand = made_stand(0, depth_m=0.2, zone_depth_m=0.29, zone_speed_m_s=0.3)
    assert not is_theirs(stand, limit, 0.6, boat=False)
    assert is_theirs(stand, replace(limit, product_m2_s=0.2), 0.6, boat=False)


def test_part_of_a_run_is_worth_its_part_of_the_odds():
    run = made_water("Run", 0, 50)
    half = replace(
        run,
        stands=tuple(
            replace(one, dry_way=one.station_m < 50, odds=2.0 if one.station_m < 50 else 1.0)
            for one in run.stands
        ),
    )
    party = made_party(SMALL)
    offer = offer_for(SMALL, half, GRADING, party, 0.6)
    assert offer.own_limits
    assert len(offer.stands) == 3
    assert offer.share == pytest.approx(6 / 9)
    assert offer.minutes == pytest.approx(30)
    assert offer.pass_worth == pytest.approx(offer_for(TALL, half, GRADING, party, 0.6).pass_worth
                                             * 6 / 9)  # fmt: skip


def test_a_cast_too_long_or_a_head_too_long_is_not_theirs():
    run, party = made_water("Run", 0, 50), made_party()
    assert offer_for(replace(TALL, cast_limit_m=17.0), run, GRADING, party, 0.6) is None
    assert offer_for(replace(TALL, heads=(("belly", 16.0),)), run, GRADING, party, 0.6) is None
    assert offer_for(replace(TALL, heads=(("s", 7.0),)), run, GRADING, party, 0.6) is not None


def test_by_boat_only_is_for_a_boat():
    run = made_water("Run", 0, 50, way="boat", dry_way=False)
    assert offer_for(TALL, run, GRADING, made_party(), 0.6) is None
    assert offer_for(TALL, run, GRADING, made_party(boat=True), 0.6) is not None


def test_a_run_that_is_beyond_one_rod_is_the_other_s():
    deep = made_water("Deep", 600, 90, depth_m=0.6, zone_depth_m=0.7, zone_speed_m_s=0.3)
    plan = make_guide_plan(made_inputs((RUNS[0], deep), made_party(TALL, SMALL)))
    assert "Deep" in plan.names[0]
    assert "Deep" not in plan.names[1]
    nobody = make_guide_plan(made_inputs((RUNS[0], deep), made_party(SMALL)))
    assert why(nobody, "Deep") is Why.BEYOND


# rules, ways back, what does not serve


def test_a_closed_run_is_never_planned_however_good():
    shut = Rule(RuleKind.CLOSED, DAY, DAY, runs=("Middle",))
    plan = make_guide_plan(made_inputs(RUNS, day=made_day(rules=Rules((shut,)))))
    assert why(plan, "Middle") is Why.CLOSED
    assert "Middle" not in fished(plan)
    assert all(
        "Middle"
        not in {plan.layout.frame.spots[s].name for way in one.spots for s in way if s >= 0}
        for one in plan.backups
        if one.spots is not None
    )


def test_hours_of_a_rule_close_turns():
    noon = Rule(RuleKind.CLOSED, DAY, DAY, hours=(time(11), time(23)), runs=("Middle",))
    plan = make_guide_plan(made_inputs(RUNS, day=made_day(rules=Rules((noon,)))))
    for way in plan.rods:
        for one in way:
            if one.spot != IDLE and plan.layout.frame.spots[one.spot].name == "Middle":
                # sunrise is about eight; eleven on that clock is 19:00 UTC
                assert one.end <= np.datetime64("2031-01-14T19:00:00")
    assert "Middle" in fished(plan)


@pytest.mark.parametrize(("until", "planned"), [(49.0, True), (47.0, False)])
def test_a_run_whose_way_back_may_close_is_not_planned(until, planned):
    cut = made_water("Bar", 600, 90, open_until=until)
    plan = make_guide_plan(made_inputs((RUNS[0], cut)))
    assert ("Bar" in fished(plan)) is planned
    if not planned:
        left = next(one for one in plan.left_out if one.run.name == "Bar")
        assert (left.why, left.until) == (Why.CUT_OFF, until)
        assert not np.isnat(left.when)


def test_an_unknown_flow_counts_as_above():
    day = made_day()
    high = day.high.copy()
    high[-1] = math.nan
    cut = made_water("Bar", 600, 90, open_until=1000.0)
    plan = make_guide_plan(made_inputs((RUNS[0], cut), day=replace(day, high=high)))
    assert why(plan, "Bar") is Why.CUT_OFF


@pytest.mark.parametrize(
    ("run", "reason"),
    [
        (made_water("X", 600, 90, shut="no room"), Why.SHUT),
        (made_water("X", 600, 90, shut="no way in", way="boat"), Why.SHUT),
        (made_water("X", 600, 90, side="island"), Why.ISLAND),
        (made_water("X", 600, 90, way="boat"), Why.BOAT),
        (made_water("X", 600, 90, minutes=math.nan), Why.UNKNOWN),
        (made_water("X", 600, math.nan), Why.UNKNOWN),
        (made_water("X", 600, 1, side="right"), Why.OTHER_BANK),
    ],
)
def test_each_run_without_a_part_has_its_reason(run, reason):
    plan = make_guide_plan(made_inputs((RUNS[0], run)))
    assert why(plan, "X") is reason
    assert "X" not in fished(plan)


def test_all_keep_to_one_bank_unless_they_get_across():
    runs = (RUNS[0], made_water("Over", 600, 90, side="right"))
    assert fished(make_guide_plan(made_inputs(runs))) in ({"Upper"}, {"Over"})
    assert fished(make_guide_plan(made_inputs(runs, made_party(crossing=True)))) == {
        "Upper",
        "Over",
    }
    kept = make_guide_plan(made_inputs(runs, made_party(bank="left")))
    assert fished(kept) == {"Upper"}


# the day


def test_the_day_begins_with_the_sun_and_ends_before_dark():
    layout = lay_out(made_inputs(RUNS, made_party(hours=14.0)))
    up = [np.datetime64(int(one.timestamp()), "s") for one in made_day().light.hours]
    assert up[0] <= layout.begin < up[0] + np.timedelta64(300, "s")
    assert layout.at(layout.frame.turns) <= up[1] - np.timedelta64(30 * 60, "s")


def test_a_late_start_leaves_a_short_day_and_a_later_one_none():
    late = made_party(begin=time(15, 0))
    assert lay_out(made_inputs(RUNS, late)).frame.turns == 1
    plan = make_guide_plan(made_inputs(RUNS, made_party(begin=time(16, 30))))
    assert plan.solved is None
    assert plan.names == ()


def test_room_says_how_many_rods_a_run_holds():
    long = made_water("Long", 200, 60, length=150.0)
    layout = lay_out(made_inputs((long, RUNS[1])))
    assert [spot.holds for spot in layout.frame.spots] == [3, 2]
    wide = lay_out(made_inputs((long, RUNS[1]), made_party(room_m=80.0)))
    assert [spot.holds for spot in wide.frame.spots] == [1, 1]


def test_a_boat_goes_downstream_and_stays_between_its_landings():
    gates = (DrawnAccess("landing", "", 500.0, 0, 0), DrawnAccess("landing", "", 1200.0, 0, 0))
    runs = (*RUNS, made_water("Below", 1500, 80))
    plan = make_guide_plan(made_inputs(runs, made_party(TALL, TALL, boat=True), gates=gates))
    assert why(plan, "Upper") is Why.OFF_FLOAT
    assert why(plan, "Below") is Why.OFF_FLOAT
    for way in plan.rods:
        stops = [plan.layout.frame.spots[one.spot].stop for one in way if one.spot != IDLE]
        assert stops == sorted(stops)


def test_float_minutes_are_length_over_speed():
    water = made_flow((), speed=0.5)
    assert water.float_minutes(300, 600) == pytest.approx(10)
    assert water.float_minutes(600, 300) == 0


# plan B and small changes


@pytest.mark.parametrize("boat", [False, True])
def test_plan_b_changes_nothing_before_one_sees_that_a_run_is_taken(boat):
    runs = (*RUNS, made_water("Foot", 1400, 50))
    free = GuideSettings(change_share=0.0)  # so that only the turns that are over hold it back
    party = made_party(TALL, TALL, boat=boat)
    plan = make_guide_plan(made_inputs(runs, party, settings=free))
    spots = plan.layout.frame.spots
    for backup in plan.backups:
        gone = next(n for n, spot in enumerate(spots) if spot.name == backup.run)
        first = min(way.index(gone) for way in plan.solved.spots if gone in way)
        assert backup.spots is not None
        for before, now in zip(plan.solved.spots, backup.spots, strict=True):
            assert before[:first] == now[:first]
            assert gone not in now
        assert backup.worth <= plan.solved.worth + 1e-9


def test_plan_b_goes_on_from_where_the_rod_stands():
    runs = (made_water("A", 200, 50), made_water("B", 600, 60), made_water("C", 1000, 90))
    free = GuideSettings(change_share=0.0)
    plan = make_guide_plan(made_inputs(runs, made_party(hours=2.6), settings=free))
    assert plan.names == (("B", "C"),)
    late = next(one for one in plan.backups if one.run == "C")
    # from the start one would go down from A to B; at the second turn one is at B
    assert late.spots == ((1, 0),)
    early = next(one for one in plan.backups if one.run == "B")
    assert early.spots == ((0, 2),)


def test_a_run_that_is_taken_leaves_as_much_of_the_plan_as_it_can():
    runs = (*RUNS, made_water("Foot", 1400, 50))
    party = made_party(TALL, TALL)
    plan = make_guide_plan(made_inputs(runs, party))
    gone = make_guide_plan(made_inputs(runs, party, taken=frozenset({"Middle"})), plan.names)
    assert why(gone, "Middle") is Why.TAKEN
    assert "Middle" not in fished(gone)
    same = sum(
        a == b
        for one, other in zip(plan.names, gone.names, strict=True)
        for a, b in zip(one, other, strict=True)
    )
    assert same > 0


def test_small_changes_of_odds_never_shuffle_the_rods():
    draw = np.random.default_rng(7)
    runs = tuple(made_water(f"Run {n}", 300.0 * n, float(draw.uniform(20, 90))) for n in range(6))
    party = made_party(TALL, TALL, TALL)
    first = make_guide_plan(made_inputs(runs, party))
    for _ in range(6):
        moved = tuple(replace(run, rate=run.rate * draw.uniform(0.98, 1.02)) for run in runs)
        again = make_guide_plan(made_inputs(moved, party), first.names)
        assert again.names == first.names
        assert again.kept


def test_a_plan_that_has_become_much_worse_does_not_stay():
    first = make_guide_plan(made_inputs(RUNS))
    worse = tuple(replace(run, rate=2.0) if run.name == "Middle" else run for run in RUNS)
    more = (*worse, made_water("Foot", 1400, 95), made_water("End", 1800, 95))
    again = make_guide_plan(made_inputs(more), first.names)
    assert not again.kept
    assert again.names != first.names


def test_odds_within_the_tie_count_as_the_same():
    runs = (made_water("A", 200, 50), made_water("B", 600, 51))
    layout = lay_out(made_inputs(runs))
    assert layout.frame.spots[0].rate == layout.frame.spots[1].rate


def test_facts_come_back_from_their_json():
    facts = made_facts((made_water("Run", 0, 50, open_until=60.0),))
    again = facts_from(facts_text(facts))
    assert again.flows[0].runs[0].stands[0].open_until == 60.0
    assert facts_text(again) == facts_text(facts)
    assert facts_from(facts_text(facts).replace('"version": 1', '"version": 0')) is None


def test_the_flow_read_is_the_next_at_or_above():
    facts = made_facts(RUNS)
    assert facts.at(40.0).flow == 40.0
    assert facts.at(41.0).flow == 50.0
    assert facts.at(51.0) is None
    assert facts.at(39.0) is None
    assert facts.at(math.nan) is None
