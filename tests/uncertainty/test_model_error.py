"""The flow model's own error and the gauge's, in spreads and odds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from reachmap.uncertainty.model_error import ModelError, chance_between
from reachmap.uncertainty.settings import UncertaintySettings
from reachmap.water.settings import WINTER
from tests.uncertainty.test_estimate import (
    BED,
    FLOWS,
    GROUND,
    MAPPED,
    ROUGH,
    RUN,
    SETTINGS,
    weighed,
)

MODEL = ModelError(0.1, 0.12, 0.25)
SAME = [(BED, ROUGH)] * 3
"""Members that are the map's own ground: what is left is the model's error."""


def fields(index, **changes):
    made = weighed(SAME, settings=replace(SETTINGS, model=MODEL, **changes)).isel(flow=index)
    water = MAPPED.isel(flow=index)
    depth = water["depth"].to_numpy()
    return made, depth, np.hypot(water["east_speed"], water["north_speed"]).to_numpy()


def test_a_chance_between_bounds_is_the_normal_laws():
    at = np.array([0.0, 0.4, 2.0, np.nan])
    got = chance_between(at, 0.3, 1.1, 0.25)
    assert got == pytest.approx(norm.cdf(1.1, at, 0.25) - norm.cdf(0.3, at, 0.25), nan_ok=True)
    assert chance_between(at[:3], 0.3, np.inf, 0.25) == pytest.approx(norm.sf(0.3, at[:3], 0.25))
    assert chance_between(at[:3], 0.3, 1.1, 0.0).tolist() == [0.0, 1.0, 0.0]


def test_negative_deviations_are_refused():
    with pytest.raises(ValueError, match=r"speed_share must be >= 0"):
        ModelError(0.1, 0.1, -0.2)


def test_members_alike_leave_the_models_own_error():
    made, depth, speed = fields(1)
    wet = np.isfinite(depth)
    assert made["depth_spread"].to_numpy()[wet] == pytest.approx(0.1, abs=0.005)
    share = made["speed_spread"].to_numpy()[wet] / np.hypot(0.12, 0.25 * speed[wet])
    assert share == pytest.approx(1.0, abs=0.03)


def test_odds_of_soft_water_are_those_of_two_normal_errors():
    made, depth, speed = fields(1)
    deep = norm.cdf(WINTER.depth_high_m, depth, 0.1) - norm.cdf(WINTER.depth_low_m, depth, 0.1)
    error = np.hypot(0.12, 0.25 * speed)
    quick = norm.cdf(WINTER.speed_high_m_s, speed, error)
    quick = quick - norm.cdf(WINTER.speed_low_m_s, speed, error)
    wet = depth > 0.2
    assert made["suits_chance"].to_numpy()[wet] == pytest.approx((deep * quick)[wet], abs=0.03)


def test_the_edge_is_even_odds_and_fades_as_the_levels_error_says():
    made, depth, _ = fields(1)
    middle = (GROUND["station"].to_numpy() > 100) & (GROUND["station"].to_numpy() < 400)
    level = np.nanmedian(MAPPED["level"].to_numpy()[1] + 0.002 * GROUND["station"].to_numpy())
    above = BED + 0.002 * GROUND["station"].to_numpy() - level
    near = middle & (np.abs(above) < 0.25)
    assert near.sum() > 50
    got = made["wet_chance"].to_numpy()[near]
    assert got == pytest.approx(norm.sf(above[near] + SETTINGS.dry_m, 0, 0.1), abs=0.06)
    assert np.nanmin(made["wet_chance"].to_numpy()[np.nan_to_num(depth) > 0.5]) > 0.999


def test_agreement_falls_with_the_models_error():
    made, depth, speed = fields(1)
    shallow = (depth > 0.3) & (depth < 0.5)
    here = 0.15 / 0.1
    quick = np.maximum(0.15, 0.25 * speed[shallow]) / np.hypot(0.12, 0.25 * speed[shallow])
    wanted = (2 * norm.cdf(here) - 1) * (2 * norm.cdf(quick) - 1)
    assert made["agreement"].to_numpy()[shallow] == pytest.approx(wanted, abs=0.03)


def test_a_hollow_that_nothing_joins_stays_dry_whatever_the_error():
    bed = BED.copy()
    pit = (GROUND["offset"].to_numpy() > 34) & (GROUND["offset"].to_numpy() < 40)
    bed[pit] = np.nanmin(BED)
    ground = GROUND.assign(bed=(("y", "x"), bed, GROUND["bed"].attrs))
    settings = replace(SETTINGS, model=MODEL)
    doubt = weighed([(bed, ROUGH)] * 3, mapped=RUN(ground, FLOWS), ground=ground, settings=settings)
    assert np.nanmax(doubt["wet_chance"].to_numpy()[1][pit]) == 0
    assert np.nanmax(doubt["suits_chance"].to_numpy()[1][pit]) == 0


def test_the_gauges_error_moves_a_rivers_depth_as_mannings_formula_says():
    """A parabola carries Q ~ h^(13/6), so ln h spreads by 6/13 of ln Q (Manning's formula)."""
    settings = replace(SETTINGS, gauge_sd=0.1)
    doubt = weighed([(BED, ROUGH)] * 16, settings=settings).isel(flow=1)
    drawn = np.random.default_rng(settings.seed).normal(0, 0.1, 16).std(ddof=1)
    middle = np.abs(GROUND["offset"].to_numpy()) < 4
    middle &= (GROUND["station"].to_numpy() > 100) & (GROUND["station"].to_numpy() < 400)
    depth = MAPPED["depth"].to_numpy()[1][middle]
    got = np.median(doubt["depth_spread"].to_numpy()[middle] / depth)
    assert got == pytest.approx(6 / 13 * drawn, rel=0.15)


def test_the_defaults_carry_both_errors():
    """Without them two spreads held 63 to 83 % of what was measured on real sections."""
    settings = UncertaintySettings()
    assert settings.gauge_sd > 0
    assert settings.model.depth_m > 0
    assert settings.model.of_speed(np.zeros(1))[0] > 0
