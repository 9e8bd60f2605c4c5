"""The plan's worth against every assignment there is, counted one by one."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest

from reachmap.planner.guide.boat import boat_days
from reachmap.planner.guide.solve import Group, best_ways, plan_worth
from reachmap.planner.guide.ways import IDLE, fished_worth, ways_of
from tests.planner.guide.made import made_frame, made_offers, made_spot


def may_be(day, frame):
    """Return whether the runs hold the rods in every turn, and one boat serves them all."""
    for turn in range(frame.turns):
        here = [way[turn] for way in day if way[turn] != IDLE]
        if any(here.count(spot) > frame.spots[spot].holds for spot in here):
            return False
        if frame.boat and len({frame.spots[spot].stop for spot in here}) > 1:
            return False
    return all(goes_on(way, frame) for way in day)


def goes_on(way, frame):
    """Return whether a rod never comes back to a run it left, nor goes back up twice."""
    fished = [spot for spot in way if spot != IDLE]
    entered = [spot for at, spot in enumerate(fished) if not at or fished[at - 1] != spot]
    up = sum(b < a for a, b in pairwise(fished))
    return len(set(entered)) == len(entered) and (frame.boat or up <= 1)


def worth_by_hand(day, frame, offers):
    """Return what an assignment is worth, reckoned turn by turn; None where it may not be."""
    asked = frame.settings
    if not may_be(day, frame):
        return None
    best = max(spot.rate for spot in frame.spots) / 6000
    whole = best * frame.turn_min * frame.turns
    total = 0.0
    for way in day:
        worth, unrest, last, done, up = 0.0, 0.0, None, 0.0, 0
        for turn, spot in enumerate(way):
            if spot == IDLE:
                unrest += asked.wait_min
                continue
            move = 0.0
            if last is None:
                move = frame.spots[spot].way_in_min
            elif spot != last:
                move = frame.move_min(last, spot)
                up += spot < last
                done = 0.0
            if not np.isfinite(move) or frame.turn_min - move < asked.least_min:
                return None
            fish = frame.turn_min - move
            value = fished_worth(offers[spot], done, fish, asked.follow_share)
            worth += value * (1 - asked.crowd_share) ** turn
            done, last, unrest = done + fish, spot, unrest + move
        unrest += 0.0 if frame.boat else asked.upstream_min * up
        fair = whole * (worth / whole) ** asked.fair_power
        total += fair - asked.move_share * best * unrest
    for number, spot in enumerate(frame.spots):
        passes = sum(number in way for way in day)
        total -= (1 - asked.follow_share) * spot.pass_worth * max(passes - 1, 0)
    return total


def by_hand(frame, offers, rods, *, rest):
    """Return the most that any assignment of rods to runs is worth, all of them tried."""
    options = [*range(len(frame.spots)), *([IDLE] if rest else [])]
    ways = list(product(options, repeat=frame.turns))
    found = [worth_by_hand(day, frame, offers) for day in product(ways, repeat=rods)]
    return max(one for one in found if one is not None)


def planned(frame, offers, rods, *, rest):
    may = np.full(frame.turns, rest)
    ways = tuple(ways_of(offers, frame, may_wait=may))
    return best_ways([Group(tuple(range(rods)), ways)], frame)


@pytest.mark.parametrize("seed", range(4))
def test_no_assignment_of_two_rods_on_foot_is_worth_more(seed):
    draw = np.random.default_rng(seed)
    spots = tuple(made_spot(n, float(draw.uniform(10, 90))) for n in range(3))
    frame = made_frame(spots, 3)
    offers = made_offers(spots, minutes=float(draw.choice([60, 120])))
    found = planned(frame, offers, 2, rest=False)
    assert found.worth == pytest.approx(by_hand(frame, offers, 2, rest=False))


@pytest.mark.parametrize("seed", range(3))
def test_nor_where_rods_must_rest(seed):
    draw = np.random.default_rng(seed)
    spots = tuple(made_spot(n, float(draw.uniform(10, 90))) for n in range(2))
    frame = made_frame(spots, 2)
    offers = made_offers(spots)
    found = planned(frame, offers, 3, rest=True)
    assert found.worth == pytest.approx(by_hand(frame, offers, 3, rest=True))


@pytest.mark.parametrize("seed", range(3))
def test_nor_with_a_boat_that_lies_at_one_stop_at_a_time(seed):
    draw = np.random.default_rng(seed)
    spots = tuple(made_spot(n, float(draw.uniform(10, 90)), stop=n // 2) for n in range(4))
    frame = made_frame(spots, 2, boat=True)
    offers = made_offers(spots)
    best = max(
        one.worth
        for day in boat_days([offers, offers], frame, 99)
        if (one := planned(day, offers, 2, rest=True)) is not None
    )
    assert best == pytest.approx(by_hand(frame, offers, 2, rest=True))


def test_rods_apart_or_in_one_group_find_the_same():
    spots = tuple(made_spot(n, rate) for n, rate in enumerate((70.0, 20.0, 55.0, 40.0)))
    frame, offers = made_frame(spots, 3), made_offers(spots)
    ways = tuple(ways_of(offers, frame, may_wait=np.zeros(3, dtype=bool)))
    one = best_ways([Group((0, 1), ways)], frame)
    two = best_ways([Group((0,), ways), Group((1,), ways)], frame)
    assert one.worth == pytest.approx(two.worth)


def test_a_run_holds_no_more_rods_than_have_room():
    spots = (made_spot(0, 90.0), made_spot(1, 10.0))
    frame = made_frame(spots, 2)
    found = planned(frame, made_offers(spots), 2, rest=False)
    assert all(len({way[turn] for way in found.spots}) == 2 for turn in range(2))
    roomy = replace(frame, spots=(replace(spots[0], holds=2), spots[1]))
    both = planned(roomy, made_offers(spots), 2, rest=False)
    assert any(len({way[turn] for way in both.spots}) == 1 for turn in range(2))


def test_rods_share_the_best_water_by_swapping():
    spots = (made_spot(0, 90.0), made_spot(1, 30.0))
    frame = made_frame(spots, 2)
    found = planned(frame, made_offers(spots), 2, rest=False)
    assert sorted(found.spots) == [(0, 1), (1, 0)]


def test_where_all_is_the_same_nobody_moves_more_than_need_be():
    spots = tuple(made_spot(n, 50.0) for n in range(4))
    frame = made_frame(spots, 2)
    found = planned(frame, made_offers(spots), 1, rest=False)
    first, second = found.spots[0]
    assert second - first == 1


def test_a_price_on_changes_keeps_an_earlier_plan():
    spots = tuple(made_spot(n, rate) for n, rate in enumerate((50.0, 51.0, 52.0)))
    frame = made_frame(spots, 2)
    ways = tuple(ways_of(made_offers(spots), frame, may_wait=np.zeros(2, dtype=bool)))
    group = [Group((0,), ways)]
    free = best_ways(group, frame)
    near = best_ways(group, frame, near=((0, 1),))
    assert near.spots == ((0, 1),) != free.spots
    assert near.value <= free.worth


def test_worth_is_that_of_the_ways():
    spots = (made_spot(0, 90.0), made_spot(1, 30.0))
    frame = made_frame(spots, 2)
    found = planned(frame, made_offers(spots), 2, rest=False)
    assert found.worth == pytest.approx(plan_worth(found.ways, frame))
    assert found.value == pytest.approx(found.worth)
