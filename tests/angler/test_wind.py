import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.angler.wind import (
    Wind,
    WindWord,
    clear_of_wind,
    downwind_side,
    natural_hand,
    wind_from_forecast,
)
from reachmap.base.words import Cast, Hand, LoopSide

# common practice, no published source: the loop goes on the side the wind blows to
UPSTREAM_WIND = {Cast.SINGLE_SPEY, Cast.SNAP_T, Cast.CIRCLE_C, Cast.PERRY_POKE}
DOWNSTREAM_WIND = {Cast.DOUBLE_SPEY, Cast.SNAKE_ROLL}


def test_an_upstream_wind_wants_the_loop_upstream():
    side = downwind_side(Wind(WindWord.UPSTREAM), 1.0, 0.0)
    assert side is LoopSide.UPSTREAM
    able = {cast for cast in Cast if clear_of_wind(cast, side)}
    assert able >= UPSTREAM_WIND
    assert not able & DOWNSTREAM_WIND


def test_a_downstream_wind_wants_the_loop_downstream():
    side = downwind_side(Wind(WindWord.DOWNSTREAM), 1.0, 0.0)
    able = {cast for cast in Cast if clear_of_wind(cast, side)}
    assert able >= DOWNSTREAM_WIND
    assert not able & UPSTREAM_WIND


@pytest.mark.parametrize("word", [WindWord.CALM, WindWord.LEFT, WindWord.RIGHT])
def test_calm_and_cross_winds_leave_the_side_open(word):
    side = downwind_side(Wind(word), 1.0, 0.0)
    assert side is LoopSide.EITHER
    assert all(clear_of_wind(cast, side) for cast in Cast)


def test_a_west_wind_blows_down_a_river_that_runs_east():
    wind = wind_from_forecast(270.0, 6.0)
    assert math.cos(wind.towards_rad) == pytest.approx(1.0)
    assert downwind_side(wind, 1.0, 0.0) is LoopSide.DOWNSTREAM
    assert downwind_side(wind, -1.0, 0.0) is LoopSide.UPSTREAM
    assert downwind_side(wind, 0.0, 1.0) is LoopSide.EITHER


def test_a_light_air_is_calm():
    assert downwind_side(wind_from_forecast(270.0, 1.0), 1.0, 0.0) is LoopSide.EITHER


@given(towards=st.floats(0, 359), down=st.floats(-3.1, 3.1))
def test_turning_the_river_round_swaps_the_side(towards, down):
    wind = wind_from_forecast(towards, 8.0)
    here = downwind_side(wind, math.cos(down), math.sin(down))
    there = downwind_side(wind, -math.cos(down), -math.sin(down))
    swap = {LoopSide.UPSTREAM: LoopSide.DOWNSTREAM, LoopSide.DOWNSTREAM: LoopSide.UPSTREAM}
    assert there is swap.get(here, LoopSide.EITHER)


def test_a_right_handed_single_spey_is_natural_from_river_left():
    # common practice: the upstream shoulder is the right one when one faces across from river left
    assert natural_hand(LoopSide.UPSTREAM, river_left=True, hand=Hand.RIGHT)
    assert not natural_hand(LoopSide.UPSTREAM, river_left=False, hand=Hand.RIGHT)
    assert natural_hand(LoopSide.DOWNSTREAM, river_left=False, hand=Hand.RIGHT)
    assert natural_hand(LoopSide.UPSTREAM, river_left=False, hand=Hand.LEFT)


@given(
    upstream=st.booleans(),
    left=st.booleans(),
    right_hand=st.booleans(),
)
def test_the_natural_hand_changes_with_each_of_side_bank_and_hand(upstream, left, right_hand):
    def natural(up, bank, right):
        loop = LoopSide.UPSTREAM if up else LoopSide.DOWNSTREAM
        return natural_hand(loop, river_left=bank, hand=Hand.RIGHT if right else Hand.LEFT)

    here = natural(upstream, left, right_hand)
    assert natural(not upstream, left, right_hand) != here
    assert natural(upstream, not left, right_hand) != here
    assert natural(upstream, left, not right_hand) != here


def test_a_loop_on_either_side_is_made_on_the_natural_one():
    assert natural_hand(LoopSide.EITHER, river_left=False, hand=Hand.RIGHT)
