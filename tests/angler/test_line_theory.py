import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from reachmap.angler._kernels_line import column_factor, normal_drag, water_at
from reachmap.angler.line import Part, head_wide, join_parts, sinking_mass
from reachmap.angler.settings import LineSettings
from reachmap.base.physics import GRAVITY, WATER_DENSITY
from reachmap.markup.kit import Head
from tests.angler.towed import (
    HEAVY_M,
    MASS_M,
    NU,
    WIDE,
    chain,
    drag,
    even_water,
    hold,
    sinking_speed,
    steady_cable,
)

compiled = pytest.mark.compiled


@compiled
@pytest.mark.parametrize("speed", [0.3, 0.6, 1.0, 1.5])
def test_a_towed_cable_lies_at_its_critical_angle(speed):
    # where weight across the cable balances the drag across it: w cos a = 0.5 rho Cd d (U sin a)^2
    # (the critical angle of towed-cable theory; Pode 1951, from memory), root by scipy
    line = chain(3.05, 12)
    place = np.zeros((13, 3))
    place[:, 0], place[:, 2] = np.linspace(0, 3.05, 13) * 0.8, -np.linspace(0, 3.05, 13) * 0.6
    end, _ = hold(line, place, even_water(speed, 20.0), seconds=30, skin=0.004)
    got = math.atan2(end[5, 2] - end[6, 2], end[6, 0] - end[5, 0])

    def balance(a):
        u = speed * math.sin(a)
        return HEAVY_M * math.cos(a) - 0.5 * WATER_DENSITY * drag(u) * WIDE * u * u

    assert math.degrees(got) == pytest.approx(math.degrees(brentq(balance, 1e-3, 1.57)), abs=0.01)


@compiled
@pytest.mark.parametrize(
    ("speed", "length", "heavy_kg", "power"),
    [(0.8, 3.05, 0.45e-3, 0.0), (0.8, 3.05, 0.45e-3, 1 / 6), (1.34, 4.57, 1.0e-3, 1 / 6)],
)
def test_a_steady_cable_agrees_with_an_ode_solver(speed, length, heavy_kg, power):
    line = chain(length, 20, fly_heavy_kg=heavy_kg)
    along = np.linspace(0, length, 21)
    place = np.column_stack([along * 0.9, np.zeros(21), -along * 0.436])
    water = even_water(speed, 2.2)
    end, track = hold(line, place, water, seconds=30, power=power, area=3e-4)
    depth, pull = steady_cable(speed, 2.2, length, 3e-4, heavy_kg, 0.015, power)
    assert -end[-1, 2] == pytest.approx(depth, rel=0.01)
    assert track[-1, 6] == pytest.approx(pull, rel=0.02)


@compiled
def test_a_level_line_let_go_sinks_at_its_terminal_speed():
    line = chain(3.05, 12)
    loose = type(line)(np.r_[50.0, line.link[1:]], line.wide, line.mass, line.heavy, line.floats)
    place = np.zeros((13, 3))
    place[:, 0], place[:, 2] = np.linspace(0, 3.05, 13), -0.05
    early, _ = hold(loose, place, even_water(0.0, 20.0), seconds=2.0)
    late, _ = hold(loose, place, even_water(0.0, 20.0), seconds=3.0)
    # the free ends of a falling line dive: the middle is what theory speaks of
    fell = (early[7:10, 2] - late[7:10, 2]).mean()
    assert fell == pytest.approx(sinking_speed(), rel=0.005)


@compiled
def test_a_slack_line_in_still_water_hangs_in_a_catenary():
    length, span, links = 6.0, 4.5, 40
    line = chain(length, links)
    line.mass[-1], line.heavy[-1] = 1e12, 0.0
    step = length / links
    down = math.sqrt(step**2 - (span / links) ** 2)
    order = np.arange(links + 1)
    place = np.zeros((links + 1, 3))
    place[:, 0] = np.linspace(0, span, links + 1)
    place[:, 2] = -0.5 - np.minimum(order, links - order) * down
    end, track = hold(line, place, even_water(0.0, 20.0), seconds=60)
    a = brentq(lambda a: 2 * a * math.sinh(span / 2 / a) - length, 0.3, 50)
    assert -0.5 - end[:, 2].min() == pytest.approx(a * (math.cosh(span / 2 / a) - 1), rel=0.002)
    assert track[-1, 6] == pytest.approx(HEAVY_M * a * math.cosh(span / 2 / a), rel=0.02)


def test_the_mass_of_a_tip_is_the_one_that_sinks_as_told():
    mass = sinking_mass(sinking_speed(), WIDE, NU)
    assert mass == pytest.approx(MASS_M, rel=1e-6)
    assert sinking_mass(0.0, WIDE, NU) == pytest.approx(WATER_DENSITY * math.pi / 4 * WIDE**2)


def test_a_line_keeps_its_mass_and_weight_whatever_its_links():
    part = Part(3.0, WIDE, MASS_M, floats=False)
    for size in (0.1, 0.5, 3.0):
        line = join_parts([(part, size)], fly_mass=1e-3, fly_heavy=2e-3)
        assert line.length_m == pytest.approx(3.0)
        assert line.mass.sum() == pytest.approx(3.0 * MASS_M + 1e-3)
        assert line.heavy.sum() == pytest.approx(3.0 * HEAVY_M + 2e-3)


def test_the_profile_over_depth_keeps_its_mean():
    # (1 + p) zeta^p averages to one over the depth, exactly; the surface of the 1/6 power is 7/6
    heights = np.linspace(-2.0, 0.0, 20_001)
    mean = np.trapezoid([column_factor(z, 2.0, 1 / 6) for z in heights], heights) / 2.0
    assert mean == pytest.approx(1.0, abs=2e-3)
    assert column_factor(0.0, 2.0, 1 / 6) == pytest.approx(7 / 6)
    assert column_factor(-1.0, 2.0, 0.0) == 1.0


@pytest.mark.table
@pytest.mark.parametrize(("reynolds", "measured"), [(10.0, 2.8), (100.0, 1.45), (1000.0, 1.0)])
def test_the_drag_of_a_cylinder_is_near_the_measured_curve(reynolds, measured):
    # standard drag curve of a circular cylinder (Schlichting, Boundary-Layer Theory, figure 1.4),
    # read off from memory: within a quarter
    assert normal_drag(reynolds) == pytest.approx(measured, rel=0.25)


def test_water_between_cells_is_linear_and_off_the_map_unknown():
    rows, cols = np.mgrid[0:5, 0:6].astype(float)
    east, north, depth = 1 + 0.5 * cols, rows - cols, 2 + 0.1 * rows
    got = water_at(east, north, depth, 10.0, 20.0, 2.0, 13.0, 25.0)
    assert got == pytest.approx((1 + 0.5 * 1.5, 2.5 - 1.5, 2.25))
    assert np.isnan(water_at(east, north, depth, 10.0, 20.0, 2.0, 9.9, 25.0)).all()
    east[2, 2] = np.nan
    assert np.isnan(water_at(east, north, depth, 10.0, 20.0, 2.0, 13.0, 25.0)[0])


def test_gravity_is_the_standard_one_within_a_thousandth():
    assert pytest.approx(9.80665, rel=1e-3) == GRAVITY


def test_a_heads_thickness_follows_from_its_weight():
    # 540 grains in 24 ft at density 0.85: a round line of 2.7 mm (geometry; weights from memory)
    head = Head("short", 24 * 0.3048, "skagit", 540 * 64.79891e-6)
    settings = LineSettings()
    wide = head_wide(head, settings)
    volume = np.pi / 4 * wide**2 * head.length_m
    assert volume * settings.floating_density * 1000.0 == pytest.approx(head.mass_kg)
    assert wide == pytest.approx(settings.head_wide_m["skagit"], rel=0.03)
    assert head_wide(replace(head, mass_kg=float("nan")), settings) == 2.7e-3
