import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from reachmap.angler.casts import CASTS, FULL_CASTS
from reachmap.angler.dloop import (
    cast_reach,
    longest_head,
    loop_frame,
    loop_reach,
    overhang,
    string_for,
    string_length,
)
from reachmap.angler.settings import RoomSettings
from reachmap.base.units import to_si
from reachmap.base.words import Cast

ROOM = RoomSettings()
FT = to_si(1.0, "ft")
full = st.sampled_from(FULL_CASTS)
rods, heads, wades = st.floats(3.0, 5.0), st.floats(5.0, 25.0), st.floats(-1.5, 1.0)


@given(cast=full, rod=rods, head=heads, wade=wades)
def test_the_apex_lies_on_the_ellipse_about_rod_tip_and_anchor(cast, rod, head, wade):
    frame = loop_frame(rod, CASTS[cast], wade, ROOM)
    string = string_length(head, CASTS[cast], ROOM)
    reach = loop_reach(string, frame)
    assume(np.isfinite(reach))
    to_tip = np.hypot(reach - frame.tip_x, frame.apex_z - frame.tip_z)
    to_water = np.hypot(reach + ROOM.anchor_m, frame.apex_z)
    assert to_tip + to_water == pytest.approx(float(string), rel=1e-9)
    assert reach >= frame.tip_x


@given(cast=full, rod=rods, head=st.floats(8.0, 25.0), wade=wades)
def test_the_closed_root_is_the_one_a_root_finder_finds(cast, rod, head, wade):
    # scipy.optimize.brentq as the outside judge: one crossing behind the rod tip
    frame = loop_frame(rod, CASTS[cast], wade, ROOM)
    string = float(string_length(head, CASTS[cast], ROOM))
    assume(float(string_for(frame.tip_x, frame)) < string)
    found = brentq(lambda b: float(string_for(b, frame)) - string, float(frame.tip_x), 60.0)
    assert float(loop_reach(string, frame)) == pytest.approx(found, abs=1e-6)


def test_a_loop_straight_up_from_its_anchor_is_a_right_triangle():
    # tip above the anchor, apex at tip height: legs z and B', string B' + hypot(B', z): 3-4-5
    frame = loop_frame(4.0, CASTS[Cast.DOUBLE_SPEY], 0.0, ROOM)
    frame = type(frame)(np.asarray(0.0), np.asarray(4.0), 0.0, np.asarray(4.0))
    assert float(loop_reach(3.0 + 5.0, frame)) == pytest.approx(3.0)


@given(cast=full, rod=rods, head=heads, wade=wades)
def test_the_longest_head_for_a_reach_is_the_head_that_made_it(cast, rod, head, wade):
    reach = float(cast_reach(cast, rod, head, wade, ROOM))
    frame = loop_frame(rod, CASTS[cast], wade, ROOM)
    assume(reach > float(frame.tip_x) + 1e-6)
    assert float(longest_head(cast, rod, reach, wade, ROOM)) == pytest.approx(head, rel=1e-6)


@given(cast=full, rod=rods, room=st.floats(0.5, 15.0), wade=wades)
def test_the_longest_head_fits_and_a_foot_more_does_not(cast, rod, room, wade):
    head = float(longest_head(cast, rod, room, wade, ROOM))
    assume(np.isfinite(head))
    assert float(cast_reach(cast, rod, head, wade, ROOM)) <= room + 1e-6
    assert float(cast_reach(cast, rod, head + FT, wade, ROOM)) > room - 1e-9


@given(cast=full, rod=rods, head=st.floats(8.0, 20.0), wade=wades, more=st.floats(0.1, 5.0))
def test_a_longer_head_never_takes_less_room(cast, rod, head, wade, more):
    short = cast_reach(cast, rod, head, wade, ROOM)
    assert float(cast_reach(cast, rod, head + more, wade, ROOM)) >= float(short) - 1e-9


def test_a_string_too_short_for_a_loop_is_not_given_one():
    frame = loop_frame(4.0, CASTS[Cast.SINGLE_SPEY], 0.0, ROOM)
    assert np.isnan(loop_reach(1.0, frame))
    assert float(cast_reach(Cast.SINGLE_SPEY, 4.0, 1.0, 0.0, ROOM)) == float(frame.tip_x)


def test_long_heads_hang_out_more_line():
    assert overhang(24 * FT, ROOM) == ROOM.overhang_short_m
    assert overhang(34 * FT, ROOM) == ROOM.overhang_long_m


def test_a_static_roll_wants_least_and_an_overhead_cast_most():
    reach = {
        cast: float(cast_reach(cast, 13 * FT, 24 * FT, 2 * FT, ROOM, tail_m=14 * FT))
        for cast in Cast
    }
    assert min(reach, key=reach.__getitem__) is Cast.STATIC_ROLL
    assert max(reach, key=reach.__getitem__) is Cast.OVERHEAD
    assert reach[Cast.PERRY_POKE] < reach[Cast.DOUBLE_SPEY] < reach[Cast.SINGLE_SPEY]


def test_only_casts_with_a_loop_can_be_turned_round():
    with pytest.raises(ValueError, match="no D-loop"):
        longest_head(Cast.OVERHEAD, 4.0, 5.0, 0.0, ROOM)
