"""The line: stations, offsets and curvature against exact shapes."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import j0
from shapely import LineString

from reachmap.base.centreline import Centreline
from reachmap.ground.laying import smoothed
from tests.ground.scenes import drawing, straight_trapezoid
from tests.made import made_ground, wavy_line

OMEGA, METRES = np.radians(70.0), 1000.0


def circle(radius, turn_deg, step):
    angle = np.radians(np.linspace(0, turn_deg, int(radius * np.radians(turn_deg) / step) + 1))
    return radius * np.sin(angle), radius * (1 - np.cos(angle))


def test_station_and_offset_are_exact_along_a_straight_line():
    line = Centreline.along(LineString([(10, 5), (10 + 300 * 0.6, 5 + 300 * 0.8)]), 2.0)
    rng = np.random.default_rng(0)
    s, n = rng.uniform(-20, 320, 500), rng.uniform(-80, 80, 500)
    x = 10 + 0.6 * s - 0.8 * n
    y = 5 + 0.8 * s + 0.6 * n
    station, offset = line.to_station_offset(x, y)
    assert station == pytest.approx(s, abs=1e-9)
    assert offset == pytest.approx(n, abs=1e-9)


def test_offset_is_positive_to_river_left():
    line = Centreline.along(LineString([(0, 0), (100, 0)]), 2.0)  # runs east: left is north
    assert line.to_station_offset(np.array([50.0]), np.array([7.0]))[1][0] == pytest.approx(7.0)


@pytest.mark.parametrize("radius", [50.0, 150.0])
def test_station_and_offset_hold_in_a_circular_bend(radius):
    line = Centreline.through(*circle(radius, 170, 0.5), 1.0)
    angle = np.radians(np.linspace(5, 165, 60))
    for n in (-20.0, 0.0, 20.0, 0.9 * radius):  # a left turn: the centre lies at offset +radius
        x, y = (radius - n) * np.sin(angle), radius - (radius - n) * np.cos(angle)
        station, offset = line.to_station_offset(x, y)
        sagitta = line.step**2 / (8 * radius)
        assert offset == pytest.approx(np.full(60, n), abs=1.1 * sagitta + 1e-6)
        slack = line.step if n > 0.5 * radius else 0.02
        assert station == pytest.approx(radius * angle, abs=slack)


def test_where_the_normals_of_a_tight_bend_cross_the_nearest_point_counts():
    """Beyond the centre of the bend the straight before and after it are nearer than the bend."""
    x, y = circle(20, 180, 0.25)
    line = Centreline.through(np.r_[-100, x, -100], np.r_[0, y, 40], 1.0)
    station, offset = line.to_station_offset(np.array([-30.0, -30.0]), np.array([15.0, 25.0]))
    assert station[0] == pytest.approx(70, abs=0.01)
    assert offset == pytest.approx([15.0, 15.0], abs=0.01)
    assert station[1] == pytest.approx(100 + 20 * np.pi + 30, abs=0.1)


@pytest.mark.parametrize("turn_deg", [120.0, -120.0])
def test_direction_and_curvature_of_a_circle_are_exact(turn_deg):
    """A circle of radius R turns by s/R over a length s and curves by 1/R throughout."""
    radius, sign = 60.0, np.sign(turn_deg)
    x, y = circle(radius, abs(turn_deg), 0.05)
    line = Centreline.through(x, sign * y, 0.5)
    station = np.linspace(2.0, line.length - 2.0, 70)
    assert line.direction(station) == pytest.approx(sign * station / radius, abs=1e-4)
    assert line.curvature(station) == pytest.approx(sign / radius, rel=2e-3)


def test_stations_are_those_of_shapely_near_a_gentle_line():
    x, y, _, _ = wavy_line(800, 400, 40)
    line = Centreline.through(x, y, 1.0)
    rng = np.random.default_rng(3)
    px, py = np.array([x, y])[:, 50:-50] + rng.uniform(-5, 5, (2, x.size - 100))
    station, offset = line.to_station_offset(px, py)
    places = shapely.points(px, py)
    assert station == pytest.approx(shapely.line_locate_point(line.line(), places), abs=0.05)
    assert np.abs(offset) == pytest.approx(shapely.distance(line.line(), places), abs=0.005)


def test_the_line_of_a_ground_has_its_stations_and_width():
    ground = made_ground(length=300, turn_deg=30, half_width=15)
    width = np.where(ground["line_station"] % 2 == 0, 50.0, 30.0)
    width[5] = np.nan
    ground["line_width"] = ("vertex", width)
    line = Centreline.of(ground)
    assert (line.head, line.foot) == (0.0, 300.0)
    assert line.width(np.array([10.0, 10.5, 11.0])) == pytest.approx([50.0, 40.0, 30.0])
    assert line.median_width == line.width(5.0) == 50.0  # the median where none is known
    station, offset = line.to_station_offset(*(ground[n].to_numpy() for n in ("line_x", "line_y")))
    assert station == pytest.approx(ground["line_station"].to_numpy(), abs=1e-6)
    assert offset == pytest.approx(0, abs=1e-6)


def test_stations_may_begin_anywhere():
    """A part of a river keeps the stations of the whole."""
    whole = Centreline.along(LineString([(0, 0), (200, 0)]), 2.0)
    part = Centreline(*(one[30:] for one in (whole.x, whole.y, whole.station, whole.widths)))
    assert (part.head, part.foot, part.length, part.step) == pytest.approx((60, 200, 140, 2))
    x, y = np.array([50.0, 75.0, 230.0]), np.array([3.0, -4.0, 5.0])
    station, offset = part.to_station_offset(x, y)
    assert station == pytest.approx(x)
    assert offset == pytest.approx(y)
    assert np.array(part.from_station_offset(station, offset)) == pytest.approx(np.array([x, y]))
    assert part.vertex(np.array([0.0, 60.9, 61.1, 999.0])).tolist() == [0, 0, 1, 70]


def test_one_place_is_no_line():
    with pytest.raises(ValueError, match="two places"):
        Centreline.through(np.zeros(3), np.ones(3), 1.0)


def test_from_station_offset_is_the_inverse_of_to_station_offset():
    x, y, _, _ = wavy_line(800, 400, 60)
    line = Centreline.through(x, y, 1.0)
    rng = np.random.default_rng(1)
    s, n = rng.uniform(5, line.length - 5, 300), rng.uniform(-15, 15, 300)
    station, offset = line.to_station_offset(*line.from_station_offset(s, n))
    assert station == pytest.approx(s, abs=0.02)
    assert offset == pytest.approx(n, abs=0.005)


@pytest.mark.table
def test_curvature_of_the_sine_generated_curve():
    """C(s) = (2 pi omega / M) cos(2 pi s / M): Langbein & Leopold (1966), USGS PP 422-H."""
    x, y, _, _ = wavy_line(2 * METRES, METRES, np.degrees(OMEGA), step=1.0)
    line = Centreline.through(x, y, 1.0)
    exact = 2 * np.pi * OMEGA / METRES * np.cos(2 * np.pi * line.station / METRES)
    inner = slice(5, -5)
    assert line.curvatures[inner] == pytest.approx(exact[inner], abs=1e-6)
    assert 1 / np.abs(line.curvatures).max() == pytest.approx(130.270, rel=2e-3)  # M / (2 pi omega)


@pytest.mark.table
@pytest.mark.parametrize(
    ("turn_deg", "sinuosity"),
    [(30, 1.07224), (40, 1.13402), (60, 1.34396), (70, 1.51459), (90, 2.11864)],
)
def test_sinuosity_of_the_sine_generated_curve(turn_deg, sinuosity):
    """K = M / lambda = 1 / J0(omega), exact; the figures computed from the Bessel function."""
    x, y, _, _ = wavy_line(METRES, METRES, turn_deg, step=0.5)
    line = Centreline.through(x, y, 0.5)
    crow = np.hypot(line.x[-1] - line.x[0], line.y[-1] - line.y[0])
    assert line.length / crow == pytest.approx(sinuosity, rel=1e-4)
    assert sinuosity == pytest.approx(1 / j0(np.radians(turn_deg)), rel=1e-5)


@pytest.mark.slow
def test_curvature_agrees_with_a_meander_library():
    """meanderpy 0.2.0, compute_curvature: the same sign and size on the same points."""
    meanderpy = pytest.importorskip("meanderpy")
    x, y, _, _ = wavy_line(METRES, METRES, 70, step=0.25)
    line = Centreline.through(x, y, 0.25)
    theirs = meanderpy.compute_curvature(line.x, line.y)
    inner = slice(10, -10)
    assert line.curvatures[inner] == pytest.approx(theirs[inner], abs=1e-7)


@given(length=st.floats(1, 60), seed=st.integers(0, 50))
def test_smoothing_holds_the_ends_and_shortens_a_wobble(length, seed):
    rng = np.random.default_rng(seed)
    x = np.arange(0, 500, 10.0)
    line = Centreline.through(x, rng.normal(0, 3, x.size), 2.0)
    calm = smoothed(line, length)
    assert (calm.x[0], calm.y[0]) == pytest.approx((line.x[0], line.y[0]), abs=1e-6)
    assert (calm.x[-1], calm.y[-1]) == pytest.approx((line.x[-1], line.y[-1]), abs=1e-6)
    assert calm.length <= line.length + 1e-6


def test_the_trapezoid_scene_has_the_width_it_was_given():
    """The scene itself: normal depth of a trapezoid, so that later tests stand on firm ground."""
    river = straight_trapezoid()
    level = river.section_level(20.0)
    left, right = river.edges(level)
    depth = level - river.bed.min(axis=1)
    assert np.ptp(depth) < 0.01  # uniform
    assert left - right == pytest.approx(20 + 2 * depth / 0.5, abs=0.01)
    drawn = drawing(river, 20.0)
    assert drawn.main.line.length == pytest.approx(600, rel=0.02)
