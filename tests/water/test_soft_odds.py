"""Odds that water suits: smooth limits averaged over a spread, in closed form, and their line."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from reachmap.base.grid import Grid
from reachmap.base.near_bed import near_bed_share
from reachmap.base.words import Wet
from reachmap.uncertainty.model_error import ModelError
from reachmap.water.candidates import away_from_ends, soft_water
from reachmap.water.field import field_of
from reachmap.water.read_water import read_water
from reachmap.water.settings import WINTER, SuitSettings, WaterSettings
from reachmap.water.soft_odds import membership, soft_odds
from reachmap.water.zones import outline_of_odds
from tests.water.scenes import as_field
from tests.water.test_candidates import RULES, barred
from tests.water.test_even_run import straight

SHARP = SuitSettings(
    thin_m=0.0, deep_m=0.0, slow_m_s=0.0, quick_m_s=0.0, model=ModelError(0.0, 0.0, 0.0)
)
GRID = Grid.at_corner(499_999.0, 5_117_001.0, 2.0, (60, 70), "EPSG:32607")


@pytest.mark.parametrize("mean", [0.1, 0.45, 0.6, 0.9, 1.3])
@pytest.mark.parametrize("spread", [0.02, 0.15, 0.4])
def test_the_average_over_a_spread_is_that_of_numerical_quadrature(mean, spread):
    """The mean of F((x - low)/w1) - F((x - high)/w2) over x ~ N(mean, spread), by quadrature."""
    low, high, widths = 0.3, 0.9, (0.06, 0.1)

    def weighed(x):
        soft = norm.cdf((x - low) / widths[0]) - norm.cdf((x - high) / widths[1])
        return soft * norm.pdf(x, mean, spread)

    places = [low, high]
    exact, _ = quad(weighed, mean - 9 * spread, mean + 9 * spread, points=places, epsabs=1e-10)
    found = membership(np.array(mean), (low, high), widths, spread)
    assert found == pytest.approx(exact, abs=1e-8)


def test_at_a_limit_half_suits_and_one_softness_beyond_a_sixth():
    values = np.array([0.45, 0.45 - 0.12, 0.45 + 0.12])
    found = membership(values, (0.45, 9.0), (0.12, 0.25))
    assert found == pytest.approx([0.5, 0.158655, 0.841345], abs=1e-6)  # tables of the normal law


@given(
    mean=st.floats(0, 3), more=st.floats(0, 1), spread=st.floats(0, 1), wide=st.floats(0.01, 0.5)
)
def test_wider_limits_never_suit_less_and_odds_stay_odds(mean, more, spread, wide):
    one = membership(np.array(mean), (0.4, 1.2), (wide, wide), spread)
    other = membership(np.array(mean), (0.4 - more, 1.2 + more), (wide, wide), spread)
    assert 0 <= one <= other + 1e-12
    assert other <= 1


def test_ends_of_unlike_softness_that_cross_give_nothing_below_zero():
    assert membership(np.array(-3.0), (0.4, 0.5), (0.01, 2.0)).min() == 0


def test_without_softness_and_spread_it_is_the_plain_limits():
    ground, flow = barred()
    field = field_of(ground, flow, island_low_m2=60.0, pool_low_m2=400.0, model=SHARP.model)
    odds = soft_odds(field, WINTER, SHARP)
    with np.errstate(invalid="ignore"):
        inside = (field.depth > WINTER.depth_low_m) & (field.depth < WINTER.depth_high_m)
        inside &= (field.speed > WINTER.speed_low_m_s) & (field.speed < WINTER.speed_high_m_s)
    assert 0 < inside.sum() < field.wet.sum()
    assert (soft_water(odds, 0.5) == inside).all()
    assert np.isnan(odds[~field.wet]).all()


def doubt_of(flow, depth_spread, speed_spread):
    """Return a doubt Dataset with the same spread in all wet cells."""
    wet = flow["wet"].values == Wet.YES
    dims = ("flow", "y", "x")
    spreads = {"depth_spread": depth_spread, "speed_spread": speed_spread}
    fields = {name: (dims, np.where(wet, value, np.nan)) for name, value in spreads.items()}
    return xr.Dataset(fields, coords={name: flow[name] for name in ("flow", "x", "y")})


def test_the_spread_of_the_ensemble_is_what_the_odds_are_averaged_over():
    ground, flow = straight(depth=0.68, speed=0.64)
    doubt = doubt_of(flow, 0.3, 0.2)
    field = field_of(ground, flow, island_low_m2=60.0, pool_low_m2=400.0, uncertainty=doubt)
    odds = soft_odds(field, WINTER, SuitSettings())[field.wet]
    # by the normal law, worked out here: sqrt(0.12^2 + 0.3^2), sqrt(0.25^2 + 0.3^2), and so on
    deep = norm.cdf(0.23 / np.hypot(0.12, 0.3)) - norm.cdf(-1.12 / np.hypot(0.25, 0.3))
    quick = norm.cdf(0.34 / np.hypot(0.06, 0.2)) - norm.cdf(-0.26 / np.hypot(0.1, 0.2))
    assert odds == pytest.approx(np.full(odds.shape, deep * quick), abs=1e-3)


def test_where_there_is_no_ensemble_the_flow_models_own_error_is_taken():
    ground, flow = straight(depth=0.68, speed=0.64)
    field = as_field(ground, flow)
    model = ModelError()
    assert field.depth_spread.values == pytest.approx(model.depth_m)
    assert field.speed_spread.values == pytest.approx(np.hypot(0.08, 0.2 * 0.64), abs=1e-6)


def test_water_whose_spread_is_unknown_is_never_good_water():
    ground, flow = straight()
    unknown = doubt_of(flow, 0.1, np.nan)
    known = doubt_of(flow, 0.1, 0.1)
    assert len(read_water(ground, flow, RULES, uncertainty=known).layers["water"])
    assert read_water(ground, flow, RULES, uncertainty=unknown).layers["water"].empty


def test_a_doubt_of_several_flows_or_another_raster_is_refused():
    ground, flow = straight()
    doubt = doubt_of(flow, 0.1, 0.1)
    with pytest.raises(ValueError, match="different rasters"):
        read_water(ground, flow, RULES, uncertainty=doubt.isel(x=slice(0, -3)))
    with pytest.raises(ValueError, match="one flow at a time"):
        read_water(ground, flow, RULES, uncertainty=xr.concat([doubt, doubt], "flow"))


def test_less_is_sure_where_more_is_in_doubt():
    ground, flow = barred()
    sure, unsure = (
        read_water(ground, flow, RULES, uncertainty=doubt_of(flow, deep, quick)).layers["water"]
        for deep, quick in ((0.05, 0.05), (0.3, 0.3))
    )
    assert unsure.area.sum() < sure.area.sum()
    mean = [float(np.average(one["odds"], weights=one.area)) for one in (sure, unsure)]
    assert 0.5 <= mean[1] < mean[0] <= 1


def test_the_line_may_be_set():
    ground, flow = barred()
    loose, strict = (
        read_water(ground, flow, WaterSettings(suits=replace(RULES.suits, line=line))).layers[
            "water"
        ]
        for line in (0.35, 0.65)
    )
    assert strict.area.sum() < 0.9 * loose.area.sum()
    assert strict["odds"].min() > 0.65
    assert loose["odds"].min() > 0.35


def test_a_greatest_speed_near_the_bed_counts_as_one_of_the_mean_speed():
    ground, flow = straight(depth=1.2, speed=0.7)
    field = as_field(ground, flow)
    share = float(near_bed_share(1.2, 0.035, 0.1))
    assert 0.3 < share < 0.9
    exact = replace(SuitSettings(), bed_quick_m_s=0.7 * share)
    odds = soft_odds(field, WINTER, exact)[field.wet]
    deep = soft_odds(field, replace_limits(speed_high_m_s=99.0), SuitSettings())[field.wet]
    assert odds == pytest.approx(0.5 * deep, abs=0.01)  # half at the limit, as at any other
    loose = replace(SuitSettings(), bed_quick_m_s=5.0)
    plain = soft_odds(field, WINTER, SuitSettings())
    np.testing.assert_array_equal(soft_odds(field, WINTER, loose), plain)


def test_the_line_is_that_of_the_claim_too():
    ground, flow = barred()
    field = as_field(ground, flow)
    odds = soft_odds(field, WINTER, RULES.suits)
    x, y = np.meshgrid(field.grid.x, field.grid.y)
    for line in (0.35, 0.65):
        rules = WaterSettings(suits=replace(RULES.suits, line=line))
        water = read_water(ground, flow, rules).layers["water"].geometry.union_all()
        held = shapely.contains_xy(water, x, y)
        good = soft_water(odds, line) & away_from_ends(field, 1.0)
        assert (held & good).sum() > 0.7 * good.sum()
        assert (held & ~soft_water(odds, line - 0.03)).sum() < 0.03 * held.sum()


def test_the_least_speed_is_scaled_where_a_fly_swings_in_from_quicker_water():
    ground, flow = straight(depth=1.0, speed=0.2)
    field = as_field(ground, flow)
    plain, scaled = (
        soft_odds(field, WINTER, RULES.suits, slow_share=share)[field.wet] for share in (1.0, 0.5)
    )
    assert plain.max() < 0.5 < scaled.min()


def replace_limits(**changes):
    return replace(WINTER, **changes)


def cone(radius, *, row=30.0, col=35.0, steep=0.08):
    """Return odds that fall evenly from a middle, at one half a radius [cells] off."""
    rows, cols = np.mgrid[:60, :70]
    away = np.hypot(rows - row, cols - col)
    return np.clip(0.5 + steep * (radius - away), 0.0, 1.0)


def test_the_line_runs_where_the_odds_are_one_half_between_the_cells():
    for radius in (9.3, 9.8):
        odds = cone(radius)
        mask = odds >= 0.5
        shape = outline_of_odds(mask, (slice(0, 60), slice(0, 70)), odds, 0.5, GRID)
        assert shape.area == pytest.approx(np.pi * (2 * radius) ** 2, rel=0.01)
        middle = GRID.points(np.array([30.0]), np.array([35.0]))[0]
        away = np.hypot(*(np.asarray(shape.exterior.coords) - middle).T)
        assert np.abs(away - 2 * radius).max() < 0.3  # a sixth of a cell


def test_in_a_small_window_the_line_is_the_same():
    odds = cone(9.3)
    mask = odds >= 0.5
    place = (slice(20, 41), slice(25, 46))
    whole = outline_of_odds(mask, (slice(0, 60), slice(0, 70)), odds, 0.5, GRID)
    part = outline_of_odds(mask[place], place, odds, 0.5, GRID)
    assert part.symmetric_difference(whole).area < 1e-6 * whole.area


@pytest.mark.parametrize("line", [0.3, 0.5, 0.7])
def test_two_zones_of_one_good_water_meet_without_a_gap_and_hardly_overlap(line):
    odds = cone(12.0)
    mask = odds >= line
    left = np.arange(70)[None, :] < 33
    whole = (slice(0, 60), slice(0, 70))
    parts = [outline_of_odds(mask & half, whole, odds, line, GRID) for half in (left, ~left)]
    both = outline_of_odds(mask, whole, odds, line, GRID)
    assert parts[0].intersection(parts[1]).area < 0.01 * both.area
    assert parts[0].union(parts[1]).area == pytest.approx(both.area, rel=0.02)
    x, y = GRID.points(np.array([30.0]), np.array([32.5]))[0]
    middle = [part.intersection(shapely.box(x - 99, y - 6, x + 99, y + 6)) for part in parts]
    assert middle[0].bounds[2] == pytest.approx(x, abs=0.2)
    assert middle[1].bounds[0] == pytest.approx(x, abs=0.2)


def test_unknown_odds_count_as_none_at_the_outline():
    odds = np.full((60, 70), 0.9)
    odds[:, 40:] = np.nan
    mask = np.zeros((60, 70), dtype=bool)
    mask[20:40, 20:40] = True
    edge = outline_of_odds(mask, (slice(0, 60), slice(0, 70)), odds, 0.5, GRID).bounds[2]
    last, beyond = (GRID.points(np.array([30.0]), np.array([c]))[0][0] for c in (39.0, 39.5))
    assert last < edge <= beyond
    assert outline_of_odds(~mask & mask, (slice(0, 60), slice(0, 70)), odds, 0.5, GRID) is None
