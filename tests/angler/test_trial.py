from dataclasses import replace

import numpy as np
import pytest
from reachmap.angler.trial import Scene, closed_trial, try_swings

from reachmap.angler import AnglerSettings
from reachmap.angler import trial as trial_module
from reachmap.angler._kernels_swing import HANGS, STALLS, TIMEOUT, UNKNOWN
from reachmap.angler.choose import Aims, Choice, choose_closed, find_aims, shortest_cast
from reachmap.angler.judge import judge
from reachmap.angler.settings import StationSettings
from reachmap.angler.stations import Piece, Stands
from reachmap.angler.swing import COLUMNS, LEAVES, Swings
from tests.angler.hand import FT, KIT, flat_view

SETTINGS = AnglerSettings()
ANGLES = np.array(SETTINGS.stations.angles_deg)
WANTED, PACE = 0.45, (0.25, 0.6)


def river(depth=2.0, speed=0.8):
    """Return a view of even water running east, land along its south rim."""
    view = flat_view(size=61, cell=2.0)
    wet = np.ones(view.wet.shape, bool)
    wet[-4:] = False
    return replace(
        view,
        wet=wet,
        dry=~wet,
        depth=np.where(wet, depth, np.nan),
        level=np.where(wet, 100.0, np.nan),
        east=np.where(wet, speed, np.nan),
        north=np.where(wet, 0.0, np.nan),
        bed=np.where(wet, 100.0 - depth, 100.0),
        land=~wet,
    )


def stand(view, col=15):
    """Return one place on the south bank and the water off it."""
    point = view.grid.points(np.array([57]), np.array([col]))
    stands = Stands(
        water=np.zeros(1, np.int32),
        side=-np.ones(1, np.int32),
        point=point,
        level=np.array([100.0]),
        wade=np.array([0.0]),
        speed=np.array([0.0]),
        station=np.array([30.0]),
        across=np.array([[0.0, 1.0]]),
        down=np.array([[1.0, 0.0]]),
        away=np.array([4.0]),
        entered=np.array([True]),
        barred=-np.ones(1, np.int32),
    )
    cells = np.zeros(view.wet.shape, bool)
    cells[44:55, 5:55] = True
    piece = Piece(0, (slice(0, 61), slice(0, 61)), cells)
    return stands, [piece]


def scene(view, settings=SETTINGS):
    """Return the scene of one place with room behind at every angle."""
    stands, pieces = stand(view)
    aims = find_aims(view, stands, pieces, KIT, settings.stations)
    return Scene(
        view=view,
        stands=stands,
        pieces=pieces,
        aims=aims,
        worth=np.ones(aims.cast_m.shape),
        rod=np.zeros(1, np.int32),
        head=np.zeros(1, np.int32),
        kit=KIT,
        settings=settings,
        wanted=WANTED,
        pace=PACE,
    )


def straight_swing(pace_of, depth_of):
    """Return a stand-in for the line model: a straight line that turns as fast as it is told to.

    `pace_of` gives the fly's speed for an angle down from straight across [degrees], `depth_of` the
    fly's depth for a sinking weight of the line [N].
    """

    def swing_many(throws, _, line, swing):
        records = int(line.longest_s / line.record_s) + 1
        tracks = np.full((len(throws), records, len(COLUMNS)), np.nan)
        counts, ends = np.zeros(len(throws), np.int32), np.zeros(len(throws), np.int32)
        for i, throw in enumerate(throws):
            reach = throw.reach_m + throw.line.length_m
            pace = pace_of(90.0 - np.degrees(throw.target_rad))
            turn = pace / reach
            time = np.arange(1, records + 1) * line.record_s
            angle = throw.target_rad - turn * time
            use = angle > np.radians(swing.hang_deg)
            counts[i] = use.sum()
            ends[i] = HANGS if counts[i] < records else TIMEOUT
            tracks[i, use, 0] = time[use]
            tracks[i, use, 1] = throw.stand[0] + reach * np.cos(angle[use])
            tracks[i, use, 2] = throw.stand[1] + reach * np.sin(angle[use])
            tracks[i, use, 3] = -depth_of(float(throw.line.heavy[throw.line.floats == 0].sum()))
            tracks[i, use, 4:] = [pace, 2.0, 1.0, 0.0, 1.0, 1.0]
        seconds = np.where(ends == HANGS, counts * line.record_s, np.nan)
        return Swings(seconds, ends, tracks, counts)

    return swing_many


def tried(monkeypatch, pace_of, depth_of, *, angle=3, tip=1, settings=SETTINGS, view=None):
    """Return what is found from a first angle and tip."""
    monkeypatch.setattr(trial_module, "swing_many", straight_swing(pace_of, depth_of))
    first = Choice(
        np.array([angle], np.int32),
        np.array([tip], np.int32),
        *(np.full(1, np.nan) for _ in range(3)),
    )
    return try_swings(scene(river() if view is None else view, settings), first)


def as_wanted(_):
    """Return the wanted pace, whatever the angle."""
    return WANTED


def good_depth(_):
    """Return a depth in the middle of the water, whatever the tip."""
    return 1.2


def on_the_bottom(_):
    """Return the depth of the water, whatever the tip."""
    return 2.0


def near_the_top(_):
    """Return a depth too small, whatever the tip."""
    return 0.05


TIPS_ONLY = replace(SETTINGS, swing=replace(SETTINGS.swing, near=5.0))
"""Settings under which no pace is worth another angle."""


def test_a_fly_at_the_wanted_pace_is_left_alone(monkeypatch):
    got = tried(monkeypatch, as_wanted, good_depth)
    assert got.angle[0] == 3
    assert got.tip[0] == 1
    assert got.wants[0] == 0
    assert got.judged.pace[0] == pytest.approx(WANTED, rel=0.35)


def test_a_fly_too_quick_is_cast_farther_down(monkeypatch):
    got = tried(monkeypatch, lambda a: 1.4 - a / 60.0, good_depth)
    assert got.angle[0] > 3


def test_a_fly_too_slow_is_cast_more_across(monkeypatch):
    got = tried(monkeypatch, lambda a: 0.5 - a / 200.0, good_depth)
    assert got.angle[0] < 3


def test_a_fly_too_high_gets_a_heavier_tip(monkeypatch):
    got = tried(monkeypatch, as_wanted, lambda heavy: 0.1 + 20 * heavy, settings=TIPS_ONLY)
    assert KIT.tips[got.tip[0]].sink_m_s > KIT.tips[1].sink_m_s


def test_a_fly_on_the_bottom_with_the_lightest_tip_asks_for_a_lighter_one_still(monkeypatch):
    got = tried(monkeypatch, as_wanted, on_the_bottom, settings=TIPS_ONLY)
    assert got.judged.touches[0]
    lighter = tried(monkeypatch, as_wanted, on_the_bottom, tip=0, settings=TIPS_ONLY)
    assert lighter.tip[0] == 0
    assert lighter.wants[0] == -1


def test_no_tip_owned_that_is_heavy_enough_is_said(monkeypatch):
    got = tried(monkeypatch, as_wanted, near_the_top, tip=3)
    assert got.tip[0] == 3
    assert got.wants[0] == 1


def test_no_more_swings_are_tried_than_allowed(monkeypatch):
    calls = []

    def pace_of(angle):
        calls.append(angle)
        return 2.0

    settings = replace(SETTINGS, swing=replace(SETTINGS.swing, rounds=2))
    tried(monkeypatch, pace_of, good_depth, angle=0, settings=settings)
    assert len(calls) == 2


def test_a_place_without_a_cast_is_left_out(monkeypatch):
    got = tried(monkeypatch, as_wanted, good_depth, angle=-1)
    assert got.angle[0] == -1
    assert np.isnan(got.judged.seconds[0])
    assert got.judged.end[0] == UNKNOWN


def test_seconds_in_the_water_and_at_the_pace_are_counted(monkeypatch):
    got = tried(monkeypatch, as_wanted, good_depth, angle=2).judged
    assert 0 < got.zone_s[0] <= got.swim_s[0] <= got.seconds[0]
    assert got.slows_s[0] > 0


def _track(seconds, *, end, y, bend, records=30):
    """Return one swing eastward at `y` [m] that lasts so many seconds, a record a second."""
    track = np.full((1, records, len(COLUMNS)), np.nan)
    time = np.arange(1, seconds + 1)
    track[0, :seconds, 0] = time
    track[0, :seconds, 1] = 500_060.0
    track[0, :seconds, 2] = y - 0.4 * time
    track[0, :seconds, 3:] = [-1.0, 0.4, 2.0, 1.0, 0.0, 0.5, 0.0]
    track[0, :seconds, 9] = bend(time)
    ends = np.array([end], np.int32)
    known = float(seconds) if end not in (UNKNOWN, TIMEOUT) else np.nan
    return Swings(np.array([known]), ends, track, np.array([seconds], np.int32))


def judged(swings, inside):
    """Return the judgement of one swing in even water, a record a second."""
    view = river()
    current = trial_module.current_of(view)
    settings = replace(SETTINGS, line=replace(SETTINGS.line, record_s=1.0))
    return judge(swings, current, inside, settings, PACE)


def test_the_wait_is_from_floating_line_straight_to_fly_straight():
    swings = _track(20, end=HANGS, y=5_117_000.0 - 30, bend=lambda t: np.where(t >= 14, 0.05, 0.6))
    got = judged(swings, np.ones((1, 30), bool) & np.isfinite(swings.column("t")))
    assert got.wait_s[0] == pytest.approx(6.0)
    assert got.pace[0] == pytest.approx(0.4)
    assert got.share[0] == pytest.approx(0.5)


def test_a_swing_that_outlasts_its_water_ends_when_it_leaves_it():
    swings = _track(30, end=TIMEOUT, y=5_117_000.0 - 30, bend=lambda t: 0.5 + 0 * t)
    inside = np.zeros((1, 30), bool)
    inside[0, 4:12] = True
    got = judged(swings, inside)
    assert got.end[0] == LEAVES
    assert got.seconds[0] == 12.0
    assert np.isnan(got.wait_s[0])
    still = judged(swings, np.ones((1, 30), bool))
    assert still.end[0] == TIMEOUT
    assert np.isnan(still.seconds[0])


def test_a_swing_nobody_can_follow_has_no_seconds_in_the_water():
    swings = _track(10, end=UNKNOWN, y=5_117_000.0 - 30, bend=lambda t: 0.5 + 0 * t)
    got = judged(swings, np.isfinite(swings.column("t")))
    assert np.isnan(got.swim_s[0])
    assert np.isnan(got.seconds[0])
    stalled = _track(10, end=STALLS, y=5_117_000.0 - 30, bend=lambda t: 0.5 + 0 * t)
    assert judged(stalled, np.isfinite(stalled.column("t"))).seconds[0] == 10.0


def test_the_closed_trial_tells_only_what_it_knows():
    one = scene(river())
    first = choose_closed(one.aims, one.worth, KIT, SETTINGS, WANTED)
    got = closed_trial(one, first)
    assert got.angle[0] == first.angle[0]
    assert got.judged.seconds[0] == first.seconds[0]
    assert np.isnan(got.judged.swim_s[0])
    assert got.judged.end[0] == UNKNOWN


def test_the_closed_choice_takes_slow_water_more_across_than_quick():
    def angle(speed):
        one = scene(river(speed=speed))
        first = choose_closed(one.aims, one.worth, KIT, SETTINGS, WANTED)
        return ANGLES[first.angle[0]]

    assert angle(0.5) < angle(0.8) < angle(1.2)


def test_the_closed_choice_goes_where_there_is_room():
    one = scene(river())
    open_at = choose_closed(one.aims, one.worth, KIT, SETTINGS, WANTED).angle[0]
    shut = one.worth.copy()
    shut[:, open_at] = 0.0
    assert choose_closed(one.aims, shut, KIT, SETTINGS, WANTED).angle[0] != open_at


def test_unknown_speed_chooses_nothing():
    blank = Aims(*(np.full((1, len(ANGLES)), np.nan) for _ in range(5)))
    got = choose_closed(blank, np.ones((1, len(ANGLES))), KIT, SETTINGS, WANTED)
    assert got.angle[0] == -1
    assert got.tip[0] == -1
    assert np.isnan(got.seconds[0])


def test_the_shortest_cast_of_the_common_rig_is_53_feet():
    # common practice, no published source: 24 ft head, 10 ft tip and 4 ft leader on a 13 ft rod,
    # two feet of overhang: about 53 ft to the fly
    assert shortest_cast(KIT)[0] == pytest.approx(53 * FT, abs=2.5 * FT)


def test_casts_reach_just_beyond_what_is_fished_on_one_pass():
    view = river()
    stands, pieces = stand(view)
    wide = find_aims(view, stands, pieces, KIT, StationSettings(band_m=100.0))
    band = find_aims(view, stands, pieces, KIT, StationSettings(band_m=4.0))
    assert (band.cast_m <= wide.cast_m + 1e-9).all()
    assert np.nanmin(band.cast_m) >= float(shortest_cast(KIT).min()) - view.cell
