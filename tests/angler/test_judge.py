"""What a swing did, and what that is worth."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.angler._kernels_swing import HANGS, STALLS, TIMEOUT, UNKNOWN
from reachmap.angler.judge import TRACK, depth_quality, judge, pace_quality, swing_worth
from reachmap.angler.swing import COLUMNS, LEAVES, Swings, current_of
from tests.angler.planned import PACE, SETTINGS, river

RECORDED = replace(SETTINGS, line=replace(SETTINGS.line, record_s=1.0))
BANDS = SETTINGS.swing.depth_share_low, SETTINGS.swing.depth_share_high


def track(seconds=20, *, end=HANGS, fly=1.0, pace=0.4, bend=0.0, records=40, water=2.0):
    """Return one swing towards the bank over so many seconds, a record a second.

    `fly` is the depth of the fly [m], `pace` its way across [m/s], one number or one a second.
    """
    rows = np.full((1, records, len(COLUMNS)), np.nan)
    time = np.arange(1, seconds + 1)
    rows[0, :seconds, 0] = time
    rows[0, :seconds, 1] = 500_030.0
    rows[0, :seconds, 2] = 5_116_950.0 - np.cumsum(np.broadcast_to(pace, seconds))
    rows[0, :seconds, 3] = -np.broadcast_to(fly, seconds)
    rows[0, :seconds, 4] = np.broadcast_to(pace, seconds)
    rows[0, :seconds, 5] = water
    rows[0, :seconds, 6:9] = [1.0, 0.0, 0.5]
    rows[0, :seconds, 9] = bend
    known = float(seconds) if end not in (UNKNOWN, TIMEOUT) else np.nan
    return Swings(np.array([known]), np.array([end], np.int32), rows, np.array([seconds], np.int32))


def judged(swings, inside=None, *, width=8.0):
    """Return the judgement of one swing in even water."""
    inside = np.isfinite(swings.column("t")) if inside is None else inside
    current = current_of(river(depth=2.0))
    return judge(swings, current, inside, np.array([width]), RECORDED, PACE)


def worth(**how):
    """Return what a swing through a strip 8 m wide is worth."""
    return float(swing_worth(judged(track(**how))[0], RECORDED)[0])


def test_a_strip_crossed_at_the_wanted_pace_and_depth_counts_whole():
    got, _ = judged(track(pace=0.4, fly=1.0))
    # 20 s at 0.4 m/s are the 8 m of the strip
    for name in ("covered", "in_depth", "in_pace", "in_bands", "quality"):
        assert getattr(got, name)[0] == pytest.approx(1.0)
    assert got.pace[0] == pytest.approx(0.4)
    assert got.share[0] == pytest.approx(0.5)
    assert got.above[0] == pytest.approx(1.0)


def test_half_a_strip_at_the_wanted_depth_counts_half_whatever_the_time():
    slow_and_high = np.where(np.arange(30) < 20, 0.2, 0.4)
    depth = np.where(np.arange(30) < 20, 0.1, 1.0)
    got, _ = judged(track(30, pace=slow_and_high, fly=depth))
    # 20 s at 0.2 m/s too high, 10 s at 0.4 m/s as wanted: half the way each
    assert got.in_depth[0] == pytest.approx(0.5)
    assert got.in_bands[0] == pytest.approx(0.5)


def test_water_the_fly_never_swims_counts_against_it():
    got, _ = judged(track(10), width=8.0)
    assert got.covered[0] == pytest.approx(0.5)
    assert got.in_bands[0] == pytest.approx(0.5)


def test_both_bands_are_asked_for_at_once():
    high = np.where(np.arange(20) < 10, 0.1, 1.0)
    quick = np.where(np.arange(20) < 10, 0.4, 0.7)
    got, _ = judged(track(fly=high, pace=quick))
    assert got.in_depth[0] > 0.3
    assert got.in_pace[0] > 0.3
    assert got.in_bands[0] == 0.0


def test_quality_is_one_within_the_bands_and_falls_off_outside():
    low, high = PACE
    stops = np.array([0.12, 0.9])
    got = pace_quality(np.array([0.12, low, 0.4, high, 0.75, 0.9, np.nan]), PACE, stops)
    assert got == pytest.approx([0.0, 1.0, 1.0, 1.0, 0.5, 0.0, 0.0])
    shares = np.array([0.0, BANDS[0] / 2, 0.75 * BANDS[0], *BANDS, 1.0, np.nan])
    want = [0.0, 0.0, 0.5, 1.0, 1.0, 0.5, 0.0]
    assert depth_quality(shares, BANDS, 0.5) == pytest.approx(want)


def test_a_tick_in_the_last_part_costs_little_and_dragging_through_the_strip_much():
    clear = np.full(20, 1.6)
    tick, drag, early = clear.copy(), np.full(20, 1.99), clear.copy()
    tick[18:], early[2:4] = 1.99, 1.99
    clean, ticked, dragged, touched = (worth(fly=one) for one in (clear, tick, drag, early))
    assert clean > ticked > touched > dragged
    assert clean - ticked < 0.1
    assert clean - dragged > 1.0
    # the same two seconds on the bottom cost several times more before the last part
    assert clean - touched > 2 * (clean - ticked)


def test_dragging_and_ticking_are_told_apart_by_when():
    fly = np.full(20, 1.0)
    fly[[3, 18]] = 1.99
    got, _ = judged(track(fly=fly))
    assert got.drag[0] == pytest.approx(1 / 20)
    assert got.tick[0] == pytest.approx(1 / 20)
    assert got.touches[0]


def test_water_nobody_knows_costs_and_gives_no_seconds():
    got, _ = judged(track(end=UNKNOWN))
    assert np.isnan(got.swim_s[0])
    assert np.isnan(got.seconds[0])
    assert worth(end=UNKNOWN) == pytest.approx(worth() - RECORDED.plan.blind_cost)
    stalled, _ = judged(track(10, end=STALLS))
    assert stalled.seconds[0] == 10.0


def test_a_strip_never_swum_is_worth_nothing_at_all():
    swings = track()
    got, _ = judged(swings, np.zeros((1, 40), bool))
    assert np.isnan(got.pace[0])
    assert swing_worth(got, RECORDED)[0] == -np.inf


def test_the_wait_is_from_floating_line_straight_to_fly_straight():
    got, _ = judged(track(bend=np.where(np.arange(1, 21) >= 14, 0.05, 0.6)))
    assert got.wait_s[0] == pytest.approx(6.0)


def test_a_swing_that_outlasts_its_water_ends_when_it_leaves_it():
    swings = track(40, end=TIMEOUT)
    inside = np.zeros((1, 40), bool)
    inside[0, 4:12] = True
    got, _ = judged(swings, inside)
    assert got.end[0] == LEAVES
    assert got.seconds[0] == 12.0
    still, _ = judged(swings)
    assert still.end[0] == TIMEOUT
    assert np.isnan(still.seconds[0])


def test_the_track_tells_place_depth_and_both_qualities():
    _, way = judged(track(fly=0.525, pace=0.4))
    assert way.shape == (1, 40, len(TRACK))
    row = dict(zip(TRACK, way[0, 5], strict=True))
    assert row["t"] == 6.0
    assert row["depth"] == pytest.approx(0.525)
    assert row["pace_quality"] == pytest.approx(1.0)
    # 0.525 m of 2 m are 0.2625 of the depth, three quarters of what is wanted at least
    assert row["depth_quality"] == pytest.approx(0.5)
    assert row["inside"] == 1.0
    assert np.isnan(way[0, 20:]).all()


def test_seconds_in_the_water_and_at_the_pace_are_counted():
    quick = np.where(np.arange(20) < 5, 0.8, 0.4)
    got, _ = judged(track(pace=quick))
    assert got.swim_s[0] == 20.0
    assert got.zone_s[0] == 15.0
    assert got.slows_s[0] == 6.0


def test_arcs_lie_a_whole_step_apart_where_the_fly_swims_straight_across():
    got, _ = judged(track(pace=0.4))
    assert got.widest[0] == pytest.approx(1.0)
