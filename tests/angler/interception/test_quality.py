"""How rightly the fly swims."""

import numpy as np
import pytest

from reachmap.angler.interception.quality import swim_quality, view_radius
from reachmap.angler.interception.settings import InterceptionSettings

RULES = InterceptionSettings()
PACE = (0.45, 0.25, 0.6)


def quality(across=0.45, fly=0.7, water=1.0, clarity=1.2):
    """Return the quality of one moment."""
    values = (np.array([float(one)]) for one in (across, fly, water))
    return float(swim_quality(*values, PACE, clarity, RULES)[0])


def test_the_wanted_pace_just_above_the_fish_is_best():
    best = quality(fly=1.0 - RULES.lie_height_m)
    assert best == pytest.approx(1.0)
    assert quality(across=0.9) < quality(across=0.6) < quality() <= best
    assert quality(fly=0.1) < quality(fly=0.4) < quality(fly=0.7)


def test_a_slow_fly_keeps_something_and_a_quick_one_does_not():
    assert quality(across=0.05) == pytest.approx(RULES.slow_worth * quality(), rel=1e-6)
    assert quality(across=2.0) < 0.05


def test_a_fly_on_the_bed_is_worth_less():
    assert quality(fly=0.97) == pytest.approx(RULES.touch_worth)
    assert quality(fly=0.9) == pytest.approx(1.0)


def test_in_clear_water_a_fish_comes_up_farther():
    assert quality(fly=0.2, clarity=3.0) > quality(fly=0.2, clarity=0.5)


def test_what_is_not_known_is_worth_nothing():
    for name in ("across", "fly", "water"):
        assert quality(**{name: np.nan}) == 0.0


def test_the_view_is_a_share_of_how_far_one_sees_within_limits():
    assert view_radius(0.1, RULES) == RULES.view_low_m
    assert view_radius(2.0, RULES) == pytest.approx(RULES.view_share * 2.0)
    assert view_radius(30.0, RULES) == RULES.view_high_m
