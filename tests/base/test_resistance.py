"""Resistance of stones in shallow water: the law as published, its limits, and where it holds.

Outside values: the variable-power law as the published source of the model sedFlow has it, named
there equation 10a of Rickenmann and Recking (2011) with a1 = 6.5 and a2 = 2.5, and their equation
22 for the speed of a known unit flow, which is an approximation of it in closed form.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base._kernels_resistance import shallow_excess as compiled_excess
from reachmap.base.physics import GRAVITY
from reachmap.base.resistance import (
    Stones,
    resistance_at,
    shallow_excess,
    unit_conveyance,
)
from reachmap.base.words import COVER_CODES, Cover
from tests.made import made_ground

DEPTHS = np.array([0.05, 0.1, 0.2, 0.35, 0.5, 1.0, 2.0, 4.0])


def published_speed(depth, size, slope):
    """Return V by 16.25 (h/D) / sqrt(42.25 + 6.25 (h/D)^(5/3)) = V / sqrt(g h S) [m/s]."""
    submerged = depth / size
    shear = np.sqrt(GRAVITY * depth * slope)
    return shear * 16.25 * submerged / np.sqrt(42.25 + 6.25 * submerged ** (5 / 3))


@pytest.mark.parametrize("size", [0.045, 0.13, 0.3])
def test_the_law_is_the_published_one_with_its_own_roughness_of_deep_water(size):
    deep = size ** (1 / 6) / (6.5 * np.sqrt(GRAVITY))
    speed = unit_conveyance(DEPTHS, deep, Stones(size).term) * np.sqrt(0.003) / DEPTHS
    assert speed == pytest.approx(published_speed(DEPTHS, size, 0.003), rel=1e-12)


@pytest.mark.parametrize("size", [0.045, 0.13, 0.3])
def test_a_unit_flow_runs_as_fast_as_the_published_closed_form_says(size):
    slope = 0.004
    deep = size ** (1 / 6) / (6.5 * np.sqrt(GRAVITY))
    q = unit_conveyance(DEPTHS, deep, Stones(size).term) * np.sqrt(slope)
    scaled = q / np.sqrt(GRAVITY * slope * size**3)
    speed = 1.443 * np.sqrt(GRAVITY * slope * size) * scaled**0.6
    speed *= (1 + (scaled / 43.78) ** 0.821) ** -0.2435
    assert q / DEPTHS == pytest.approx(speed, rel=0.02)


@given(
    size=st.floats(0.01, 0.4), at=st.floats(0.2, 3), n=st.floats(0.02, 0.1), h=st.floats(0.01, 9)
)
def test_the_roughness_given_is_that_of_its_depth_and_falls_with_depth(size, at, n, h):
    stones = Stones(size, at)
    assert stones.carried(np.array([at]), n)[0] == pytest.approx(at ** (5 / 3) / n, rel=1e-12)
    less, more = (d ** (5 / 3) / stones.carried(np.array([d]), n)[0] for d in (h, 1.5 * h))
    assert less >= more * (1 - 1e-12)
    assert more >= stones.deep(n) * (1 - 1e-12)


def test_without_stones_it_is_mannings_formula_to_the_last_digit():
    plain = DEPTHS ** (5 / 3) / 0.035
    for stones in (Stones(), Stones(0.0, 0.4)):
        assert (stones.carried(DEPTHS, 0.035) == plain).all()
        assert stones.speed_power == pytest.approx(2 / 3)
    assert (unit_conveyance(DEPTHS, 0.035, None) == plain).all()
    assert Stones(1e-6, 0.5).carried(DEPTHS, 0.035) == pytest.approx(plain, rel=1e-6)


def test_speed_goes_with_the_power_of_depth_that_the_law_has():
    stones = Stones(0.13, 0.4)
    speed = [stones.carried(np.array([h]), 0.03)[0] / h for h in (0.4 * 0.999, 0.4 * 1.001)]
    assert np.log(speed[1] / speed[0]) / np.log(1.001 / 0.999) == pytest.approx(
        stones.speed_power, abs=1e-5
    )
    assert Stones(0.4, 0.2).speed_power == pytest.approx(1.5, abs=0.05)


def test_in_thinner_water_than_the_law_was_compared_with_it_is_held():
    term = Stones(0.2).term
    held = float(shallow_excess(term, 0.02))
    assert held == pytest.approx(6.76 * 10 ** (5 / 3), rel=1e-9)
    assert float(shallow_excess(term, 1e-6)) == pytest.approx(held)
    assert float(shallow_excess(term, 0.021)) < held


@given(size=st.floats(0, 0.4), depth=st.floats(1e-4, 9))
def test_kernels_have_the_same_law(size, depth):
    term = Stones(size).term
    got = compiled_excess(term, depth, float(np.cbrt(depth)))
    assert got == pytest.approx(float(shallow_excess(term, depth)), rel=1e-9)


def test_stones_lie_on_gravel_alone():
    ground = made_ground(length=60).assign_attrs(stone_size=0.13, stone_depth=0.5)
    cover = ground["cover"].to_numpy().ravel()
    deep, term = resistance_at(ground, np.arange(cover.size))
    stony = cover == COVER_CODES[Cover.GRAVEL]
    assert stony.any()
    assert (~stony).any()
    assert (deep[~stony] == 0.035).all()
    assert (term[~stony] == 0).all()
    assert term[stony] == pytest.approx(Stones(0.13).term)
    assert (deep[stony] < 0.035).all()
    plain, none = resistance_at(made_ground(length=60), np.arange(cover.size))
    assert none is None
    assert (plain == 0.035).all()


@pytest.mark.parametrize("wrong", [(-0.1, 1.0), (float("nan"), 1.0), (0.1, 0.0)])
def test_sizes_that_make_no_sense_are_refused(wrong):
    with pytest.raises(ValueError, match="stones of"):
        Stones(*wrong)
