"""Bends: exact on curves whose bends are known, none where there is none."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.words import Side
from reachmap.water.bends import bends_of, find_bends, inflections, smoothed_direction
from reachmap.water.settings import BendSettings
from tests.made import made_ground, wavy_line

RULES = BendSettings()


def whole_bends(turn_deg, *, length=2250.0, wavelength=500.0, width=40.0, mirror=False):
    """Return the bends of a sine-generated curve from one inflection to another: 8 half waves."""
    x, y, _, _ = wavy_line(length, wavelength, turn_deg)
    keep = slice(int(wavelength / 4), int(wavelength / 4 + 4 * wavelength) + 1)
    x, y = x[keep], (-y if mirror else y)[keep]
    return find_bends(x, y, width, RULES)


@pytest.mark.parametrize("turn_deg", [30.0, 40.0, 60.0, 70.0, 90.0, 110.0])
def test_a_sine_generated_curve_has_one_bend_a_half_wave_on_alternating_sides(turn_deg):
    # Langbein and Leopold (1966), USGS PP 422-H: theta = omega sin(2 pi s/M), C ~ cos: its sign
    # alternates every half wave, negative (a right turn) from M/4 to 3M/4
    bends = whole_bends(turn_deg)
    assert [b.inside for b in bends] == [Side.RIGHT, Side.LEFT] * 4
    middles = np.array([(b.station_m + b.station_end_m) / 2 for b in bends])
    np.testing.assert_allclose(middles, 125.0 + 250.0 * np.arange(8), atol=6.0)


@pytest.mark.parametrize("turn_deg", [60.0, 90.0])
def test_a_bend_turns_nearly_twice_the_largest_angle(turn_deg):
    # the whole half wave turns 2 omega; the stretch that curves tightly turns most of it
    for bend in whole_bends(turn_deg):
        assert 0.85 * 2 * turn_deg < bend.turn_deg < 2 * turn_deg


def test_the_mean_radius_lies_between_the_least_one_and_the_half_wave_over_its_turning():
    # R_min = M/(2 pi omega) (Langbein and Leopold 1966)
    omega = np.radians(70.0)
    for bend in whole_bends(70.0, width=20.0):
        assert 500 / (2 * np.pi * omega) < bend.radius_m < 250 / (2 * omega) * 1.1


def test_a_straight_line_has_no_bend():
    assert find_bends(np.linspace(0, 2000, 50), np.zeros(50), 40.0, RULES) == []


def test_a_curve_too_gentle_for_its_width_is_no_bend():
    turn = np.linspace(0, np.pi / 2, 400)  # a quarter of a circle of 15 widths
    x, y = 600 * np.sin(turn), 600 * (1 - np.cos(turn))
    assert find_bends(x, y, 40.0, RULES) == []
    assert len(find_bends(x, y, 80.0, RULES)) == 1


def test_mirrored_bends_lie_on_the_other_side():
    swap = {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT}
    plain, mirrored = whole_bends(60.0), whole_bends(60.0, mirror=True)
    assert [swap[b.inside] for b in plain] == [b.inside for b in mirrored]
    assert [b.station_m for b in plain] == pytest.approx([b.station_m for b in mirrored])


@given(seed=st.integers(0, 10_000))
def test_ten_percent_of_a_width_of_noise_makes_no_false_bend_and_loses_none(seed):
    random = np.random.default_rng(seed)
    x = np.linspace(0, 2000, 51)
    assert find_bends(x, random.normal(0, 4.0, x.size), 40.0, RULES) == []
    wx, wy, _, _ = wavy_line(2250.0, 500.0, 60.0)
    rough = np.arange(125, 2126, 40)
    bends = find_bends(
        wx[rough] + random.normal(0, 4.0, rough.size),
        wy[rough] + random.normal(0, 4.0, rough.size),
        40.0,
        RULES,
    )
    assert [b.inside for b in bends] == [Side.RIGHT, Side.LEFT] * 4


def test_a_line_drawn_off_the_channel_is_moved_back_to_it():
    ground = made_ground(length=1500, wavelength=500, turn_deg=60, half_width=20)
    moved = ground.copy(deep=True)
    turn = np.arctan2(np.gradient(ground.line_y.values), np.gradient(ground.line_x.values))
    # the drawing wanders by a quarter of a width; stations and offsets follow it
    stray = 10 * np.sin(2 * np.pi * ground.line_station.values / 190)
    moved["line_x"] = ground.line_x - np.sin(turn) * stray
    moved["line_y"] = ground.line_y + np.cos(turn) * stray
    station = ground.station.values
    moved["offset"] = ground.offset - np.interp(station, ground.line_station, stray)
    whole = [
        [b for b in bends_of(g, RULES) if b.station_m > 140 and b.station_end_m < 1400]
        for g in (ground, moved)
    ]  # the half bends at the ends are cut by the map
    plain, found = whole
    assert len(plain) == 5
    assert [b.inside for b in found] == [b.inside for b in plain]
    for a, b in zip(plain, found, strict=True):
        assert b.station_m == pytest.approx(a.station_m, abs=25)


def test_inflections_leave_out_small_turns():
    direction = np.array([0.0, 0.5, 0.45, 1.0, 0.2, 0.25, -1.0])
    assert inflections(direction, 0.3) == [0, 3, 6]
    assert inflections(np.zeros(9), 0.3) == []


def test_smoothing_keeps_the_direction_of_a_straight_line():
    along, turn = smoothed_direction(np.linspace(0, 300, 7), np.linspace(0, 400, 7), 20.0)
    assert along[-1] == pytest.approx(500.0)
    np.testing.assert_allclose(turn, np.arctan2(4, 3), atol=1e-9)
