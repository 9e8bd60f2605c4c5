import time
from dataclasses import replace

import numpy as np
import pytest

from reachmap.angler._kernels_swing import AGROUND, HANGS, STALLS, TIMEOUT, UNKNOWN, mend_line
from reachmap.angler.line import build_line, lay_out, sink_rate
from reachmap.angler.settings import LineSettings, SwingSettings
from reachmap.angler.swing import (
    COLUMNS,
    ENDS,
    Current,
    Throw,
    across_speed,
    swing_many,
    touching,
)
from reachmap.angler.swing_closed import closed_depth, closed_pace, closed_time
from tests.angler.hand import FT, KIT

LINE, SWING = LineSettings(), SwingSettings()
compiled = pytest.mark.compiled
FLOATING, TYPE_3, T_8, T_14 = range(4)


def even(speed=0.9, depth=1.8, size=120):
    """Return even water running east, 1 m cells, corner at (-40, -60)."""
    shape = (size, size)
    return Current(np.full(shape, speed), np.zeros(shape), np.full(shape, depth), -40.0, -60.0, 1.0)


TIP = np.array([[0.0, 4.0, 1.2]])


def throw(*, cast=60 * FT, angle=30.0, tip=T_8, head=0, line=LINE, north=1.0):
    """Return a cast from the origin, north across water that runs east."""
    rod = 13 * FT
    made = build_line(cast - rod, KIT.heads[head], KIT.tips[tip], 4 * FT, line)
    target = north * np.radians(90.0 - angle)
    return Throw(np.zeros(2), 1.2, rod, made, target, 0.0)


def middle(swings):
    """Return mean speed and depth of the fly while the line points 45 to 15 degrees off."""
    angle = swings.column("angle")[0]
    use = (angle < np.radians(45)) & (angle > np.radians(15))
    return swings.column("speed")[0][use].mean(), -swings.column("z")[0][use].mean()


@compiled
@pytest.mark.parametrize("speed", [0.4, 0.7, 1.0, 1.3])
@pytest.mark.parametrize("angle", [0.0, 20.0, 40.0, 60.0])
def test_even_water_swings_as_the_closed_form_says_within_15_percent(speed, angle):
    long = replace(LINE, longest_s=150.0)
    slow = replace(SWING, stall_m_s=0.0)
    got = swing_many([throw(angle=angle)], even(speed), long, slow)
    assert got.end[0] == HANGS
    assert got.seconds[0] == pytest.approx(
        float(closed_time(60 * FT, speed, angle, SWING)), rel=0.15
    )


@compiled
@pytest.mark.parametrize(("tip", "speed"), [(TYPE_3, 0.6), (T_8, 0.9), (T_8, 1.2), (T_14, 1.2)])
def test_at_the_hang_the_fly_is_as_deep_as_the_closed_form_says(tip, speed):
    # near the hang-down only: on the way there the line pulls the fly up. Leader and fly add a
    # little, so a quarter
    got = swing_many([throw(angle=70.0, tip=tip)], even(speed, 4.0), LINE, SWING)
    depth = -got.column("z")[0, got.counts[0] - 1]
    one = KIT.tips[tip]
    assert depth == pytest.approx(
        float(closed_depth(one.length_m, sink_rate(one, LINE), speed, SWING)), rel=0.25
    )


@compiled
def test_half_the_time_step_changes_next_to_nothing():
    fine = replace(LINE, step_s=LINE.step_s / 4, record_s=0.1)
    coarse = replace(LINE, record_s=0.1)
    a, b = (swing_many([throw()], even(), one, SWING) for one in (coarse, fine))
    assert a.seconds[0] == pytest.approx(b.seconds[0], rel=0.02)
    assert middle(a) == pytest.approx(middle(b), rel=0.03)


@compiled
def test_links_half_as_long_change_next_to_nothing():
    fine = replace(
        LINE,
        running_link_m=LINE.running_link_m / 2,
        head_link_m=LINE.head_link_m / 2,
        tip_link_m=LINE.tip_link_m / 2,
        step_s=0.02,
        record_s=0.1,
    )
    coarse = replace(LINE, step_s=0.02, record_s=0.1)
    a, b = (swing_many([throw(line=one)], even(), one, SWING) for one in (coarse, fine))
    assert a.seconds[0] == pytest.approx(b.seconds[0], rel=0.02)
    assert middle(a) == pytest.approx(middle(b), rel=0.03)


@compiled
def test_no_link_stretches_by_more_than_a_hundredth():
    got = swing_many([throw(angle=a) for a in (0, 30, 60)], even(1.2), LINE, SWING)
    assert np.nanmax(got.column("stretch")) < 0.01


@compiled
def test_a_mirrored_river_mirrors_the_swing():
    rng = np.random.default_rng(3)
    rows = np.cumsum(rng.normal(0, 0.03, 120)) + 0.9
    shear = Current(
        np.repeat(rows[:, None], 120, axis=1),
        np.full((120, 120), 0.05),
        np.full((120, 120), 1.5),
        -40.0,
        -59.5,
        1.0,
    )
    other = replace(shear, east=shear.east[::-1].copy(), north=-shear.north)
    a = swing_many([throw()], shear, LINE, SWING)
    b = swing_many([throw(north=-1.0)], other, LINE, SWING)
    assert a.end[0] == b.end[0]
    assert b.column("y") == pytest.approx(-a.column("y"), abs=1e-3, nan_ok=True)
    assert b.column("x") == pytest.approx(a.column("x"), abs=1e-3, nan_ok=True)


@compiled
def test_a_longer_cast_takes_longer_but_swims_no_quicker():
    short, long = (swing_many([throw(cast=c * FT)], even(), LINE, SWING) for c in (55, 75))
    assert long.seconds[0] > short.seconds[0]
    assert middle(long)[0] == pytest.approx(middle(short)[0], rel=0.12)


@compiled
def test_a_heavier_tip_swims_deeper_in_about_the_same_time():
    light, heavy = (swing_many([throw(tip=t)], even(), LINE, SWING) for t in (TYPE_3, T_14))
    assert middle(heavy)[1] > 1.5 * middle(light)[1]
    assert heavy.seconds[0] == pytest.approx(light.seconds[0], rel=0.2)


@compiled
def test_the_floating_line_hangs_straight_before_the_fly_does():
    got = swing_many([throw(tip=T_14)], even(0.7), LINE, SWING)
    hang = np.radians(SWING.hang_deg)
    floating = np.argmax(got.column("bend")[0] <= hang)
    assert got.column("t")[0, floating] < got.seconds[0]


@compiled
def test_slack_water_stalls_the_fly():
    water = even(0.8)
    edge = np.clip((np.arange(120) - 60 - 9) / 2.0, 0.02, 1.0)
    slack = replace(water, east=water.east * edge[:, None])
    got = swing_many([throw()], slack, LINE, SWING)
    assert got.end[0] == STALLS
    assert got.column("y")[0, got.counts[0] - 1] < 12


@compiled
def test_a_fly_that_swings_into_a_skin_of_water_is_aground():
    water = even(0.8)
    ramp = np.clip(0.2 * (np.arange(120) - 60 - 6), 0.05, 1.8)[:, None]
    thin = replace(water, depth=np.broadcast_to(ramp, water.depth.shape).copy())
    got = swing_many([throw(tip=FLOATING)], thin, LINE, SWING)
    assert got.end[0] == AGROUND
    assert got.column("depth")[0, got.counts[0] - 1] < 0.1


@compiled
def test_thin_water_lets_the_tip_touch_bottom():
    got = swing_many([throw(tip=T_14)], even(0.4, 0.35), LINE, SWING)
    assert touching(got, LINE.touch_m)[0, : got.counts[0]].any()
    assert not touching(
        swing_many([throw(tip=FLOATING)], even(0.9, 2.0), LINE, SWING), LINE.touch_m
    ).any()


@compiled
def test_water_nobody_knows_ends_the_swing_unknown():
    water = even()
    blind = replace(water, east=np.where(np.arange(120)[None, :] > 52, np.nan, water.east))
    got = swing_many([throw()], blind, LINE, SWING)
    assert got.end[0] == UNKNOWN
    assert np.isnan(got.seconds[0])
    assert np.isfinite(got.tracks[0, : got.counts[0]]).all()


def random_case(rng):
    """Return a current with shear, shallows, eddies, dry ground and blind spots, and a cast."""
    size = 120
    rows, cols = np.mgrid[0:size, 0:size] / size
    east = rng.uniform(0, 2.5) * np.sin(np.pi * rows) ** rng.uniform(0.2, 3)
    east = east + rng.normal(0, 0.3) * np.sin(rng.uniform(1, 30) * cols + rng.uniform(0, 6))
    north = rng.normal(0, 0.3) * np.sin(rng.uniform(1, 20) * (rows + cols))
    depth = np.clip(rng.uniform(-0.3, 3) + rng.normal(0, 1) * np.cos(9 * rows), 0.0, None)
    wet = depth > 0
    east, north = np.where(wet, east, 0.0), np.where(wet, north, 0.0)
    if rng.random() < 0.3:
        north[rng.integers(0, size, 40), rng.integers(0, size, 40)] = np.nan
    line = replace(
        LINE,
        fly_heavy_kg=rng.uniform(0, 3e-3),
        fly_area_m2=rng.uniform(0, 1e-3),
        longest_s=25.0,
    )
    cast = throw(
        cast=rng.uniform(8, 32),
        angle=rng.uniform(-30, 90),
        tip=int(rng.integers(0, 4)),
        head=int(rng.integers(0, 3)),
        line=line,
    )
    cast = replace(
        cast,
        mends=tuple((rng.uniform(0, 10), rng.uniform(-2, 3)) for _ in range(rng.integers(0, 4))),
        fed_m=float(rng.choice([0.0, 2.0])),
    )
    return Current(east, north, depth, -40.0, -60.0, 1.0), cast, line


@compiled
@pytest.mark.slow
def test_no_number_goes_astray_in_a_thousand_random_cases():
    rng = np.random.default_rng(7)
    for _ in range(1000):
        current, cast, line = random_case(rng)
        got = swing_many([cast], current, line, SWING)
        count = got.counts[0]
        assert int(got.end[0]) in ENDS
        assert np.isfinite(got.tracks[0, :count]).all()
        assert np.isnan(got.tracks[0, count:]).all()
        assert (got.column("speed")[0, :count] <= 6.5).all()
        assert np.isfinite(got.seconds[0]) == (got.end[0] not in (UNKNOWN, TIMEOUT))


@compiled
@pytest.mark.slow
def test_a_swing_takes_less_than_ten_milliseconds_of_one_core():
    casts = [throw(cast=c * FT) for c in np.linspace(50, 85, 40)]
    swing_many(casts[:1], even(), LINE, SWING)
    before = time.process_time()
    swing_many(casts, even(0.6), LINE, SWING)
    assert (time.process_time() - before) / len(casts) < 0.010


def test_a_short_swing_in_plain_python_moves_the_fly_down_the_current():
    # few nodes and a second of time, so that it also runs with the kernels uncompiled
    line = replace(
        LINE,
        running_link_m=20,
        head_link_m=8,
        tip_link_m=4,
        longest_s=1.0,
        record_s=0.25,
        step_s=0.05,
    )
    got = swing_many([throw(line=line)], even(), line, SWING)
    assert got.end[0] == TIMEOUT
    assert got.counts[0] == 4
    assert got.column("x")[0, 3] > got.column("x")[0, 0]
    across = across_speed(got, even())
    assert np.isfinite(across[0, :4]).all()
    assert len(COLUMNS) == got.tracks.shape[2]


def test_a_mend_lays_the_floating_line_up_the_current_and_stretches_no_link():
    line = throw().line
    place = lay_out(line.link[None], TIP, np.full(1, np.pi / 2))[0]
    afloat = int(np.flatnonzero(line.floats > 0.5)[-1])
    bowed = place.copy()
    mend_line(bowed, line.link, afloat, 2.0, -1.0, 0.0)
    steps = np.linalg.norm(np.diff(bowed, axis=0), axis=1)
    assert (steps <= line.link + 1e-9).all()
    # a half sine of that sagitta, its span shortened a little
    assert -2.0 - 1e-9 <= bowed[:, 0].min() < -1.5
    assert bowed[0] == pytest.approx(place[0])
    # a taut line is drawn towards the rod, what hangs below follows as it is
    drawn = bowed[afloat] - place[afloat]
    assert drawn[1] < 0
    assert bowed[afloat:] == pytest.approx(place[afloat:] + drawn)


@compiled
def test_a_mend_up_the_current_slows_and_sinks_the_fly_and_one_down_it_hastens_it():
    # trend of the trade, and of our line model in even water: an upstream mend slows and deepens
    cast = throw(tip=T_14, angle=40.0)
    plain, up, down = (
        swing_many([replace(cast, mends=mends)], even(0.8, 3.0), LINE, SWING)
        for mends in ((), ((0.0, 1.5), (4.0, 1.5)), ((0.0, -1.5),))
    )
    assert middle(up)[0] < middle(plain)[0] < middle(down)[0]
    assert middle(up)[1] > middle(plain)[1]
    assert up.seconds[0] > plain.seconds[0] > down.seconds[0]


@compiled
def test_line_fed_makes_the_swing_longer_and_deeper():
    cast = throw(tip=T_14, angle=40.0)
    plain, fed = (
        swing_many([replace(cast, fed_m=one)], even(0.8, 3.0), LINE, SWING) for one in (0.0, 3.0)
    )
    assert fed.seconds[0] > plain.seconds[0]
    assert middle(fed)[1] > middle(plain)[1]


@compiled
def test_a_tip_sinks_slower_than_its_label_says():
    label = replace(LINE, sink_factor=1.0)
    told, fished = (
        swing_many([throw(tip=T_14, line=one)], even(0.8, 3.0), one, SWING) for one in (label, LINE)
    )
    # the depth at which a tip rides goes with its sinking speed: 0.88 of it, leader and fly aside
    assert 0.8 < middle(fished)[1] / middle(told)[1] < 0.98


def test_the_line_has_the_kit_in_it():
    line = throw(cast=75 * FT, tip=T_14).line
    assert line.length_m == pytest.approx((75 - 13) * FT)
    assert line.floats[0] == 1.0
    assert line.floats[-1] == 0.0
    short = throw(cast=30 * FT).line
    assert short.length_m == pytest.approx((30 - 13) * FT)


def test_the_closed_forms_know_their_ends():
    assert float(closed_time(20.0, 0.9, 90.0 - SWING.hang_deg, SWING)) == 0.0
    assert np.isnan(closed_time(20.0, 0.0, 30.0, SWING))
    assert np.isnan(closed_time(20.0, np.nan, 30.0, SWING))
    assert float(closed_pace(0.9, 20.0, SWING)) > float(closed_pace(0.9, 60.0, SWING))
    assert float(closed_depth(3.0, 0.2, 0.1, SWING)) == 3.0


def test_twice_the_current_halves_the_closed_time():
    one, two = (float(closed_time(20.0, v, 30.0, SWING)) for v in (0.5, 1.0))
    assert one == pytest.approx(2 * two)


def test_a_fly_at_rest_nearly_straight_below_hangs_and_one_held_across_stalls():
    # even slow water: the line comes round, so that standing still there is the hang-down
    slow = swing_many([throw(cast=18.0)], even(0.45), LineSettings(), SwingSettings())
    assert slow.end[0] == HANGS
    angle = np.degrees(slow.column("angle")[0, slow.counts[0] - 1])
    assert angle < 2.5 * SwingSettings().hang_deg
