"""Odds of a lie: each limit on both sides, and what shelter is worth."""

import numpy as np
import pytest

from reachmap.base.near_bed import near_bed_share
from reachmap.base.words import Season
from reachmap.markup.model import LieLimits
from reachmap.water.lies import clearness_in, lie_odds
from reachmap.water.structure_settings import LieSettings
from tests.water.scenes import as_field, from_mask

LIMITS = LieLimits(Season.WINTER, 0.7, 3.0, 0.45)
RULES = LieSettings(limits=LIMITS)
SHAPE = (40, 100)


def wide():
    """Return the cells of a straight river 60 m wide."""
    wet = np.zeros(SHAPE, dtype=bool)
    wet[5:35] = True
    return wet


def lies_of(*, depth, speed, wet=None, rules=RULES, **more):
    """Return the lies of a river of such depth [m] and speed [m/s], numbers or rasters."""
    ground, flow = from_mask(wide() if wet is None else wet, depth=depth, speed=speed)
    field = as_field(ground, flow)
    return field, lie_odds(field, ground, rules, **more)


def middle(field, lies, values):
    """Return a value in the middle of the river."""
    return float(lies.forms.raster(values)[field.wet.shape[0] // 2, field.wet.shape[1] // 2])


def odds_at(depth, speed, **more):
    field, lies = lies_of(depth=depth, speed=speed, **more)
    return middle(field, lies, lies.odds)


@pytest.mark.compiled
def test_odds_halve_at_the_limits_of_depth():
    well = odds_at(1.6, 0.1)
    assert odds_at(LIMITS.depth_low_m, 0.1) == pytest.approx(well / 2, rel=0.02)
    assert odds_at(LIMITS.depth_high_m, 0.1) == pytest.approx(well / 2, rel=0.03)
    assert odds_at(0.3, 0.1) < 0.05 * well
    assert odds_at(4.5, 0.1) < 0.05 * well


@pytest.mark.compiled
def test_odds_halve_where_the_speed_near_the_bed_is_the_limit():
    depth = 1.6
    share = float(near_bed_share(np.array([depth]), np.array([0.035]), RULES.near_bed_m)[0])
    well, at = odds_at(depth, 0.0), odds_at(depth, LIMITS.speed_high_m_s / share)
    assert at == pytest.approx(well / 2, rel=0.05)
    assert odds_at(depth, 2.5 * LIMITS.speed_high_m_s / share) < 0.05 * well


@pytest.mark.compiled
def test_in_coloured_water_fish_lie_shallower():
    assert clearness_in(0.6, 1.2) == 0.5
    assert clearness_in(3.0, 1.2) == 1.0
    well = odds_at(1.6, 0.1, clearness=0.5)
    assert odds_at(0.5 * LIMITS.depth_low_m, 0.1, clearness=0.5) == pytest.approx(
        well / 2, rel=0.02
    )
    # nobody sees a hand: no thinner than four tenths of the limit
    assert odds_at(0.1, 0.1, clearness=0.0) < 0.2 * well


@pytest.mark.compiled
def test_a_hollow_holds_fish_and_is_slower_near_the_bed_than_its_depth_says():
    rows, cols = np.mgrid[: SHAPE[0], : SHAPE[1]]
    bell = np.exp(-((np.hypot(rows - 19.5, cols - 49.5) / 3.5) ** 2))
    field, lies = lies_of(depth=1.2 + 0.9 * bell, speed=0.8)
    plain, hollow = odds_at(1.2, 0.8), float(np.nanmax(lies.odds))
    assert hollow > 8 * plain
    row, col = np.unravel_index(np.nanargmax(lies.forms.raster(lies.odds)), field.wet.shape)
    depth = np.array([field.depth[row, col]])
    by_depth = 0.8 * near_bed_share(depth, np.array([0.035]), RULES.near_bed_m)[0]
    here = float(lies.forms.raster(lies.near_bed)[row, col])
    assert here == pytest.approx(by_depth * (1 - RULES.hollow_shelter), rel=0.05)


def slack_patch(*, sheltered):
    """Return lies beside quick water, below a block that stands out of the water or below none."""
    wet, speed = wide(), np.full(SHAPE, 1.0)
    speed[14:20, 40:60] = 0.1
    if sheltered:
        wet[14:20, 36:40] = False
    _, lies = lies_of(depth=1.2, speed=speed, wet=wet)
    return lies.forms.raster(lies.odds)[15, 43:50].mean()


def test_slack_water_counts_for_more_where_something_holds_the_current_off():
    open_, held = slack_patch(sheltered=False), slack_patch(sheltered=True)
    assert held > 0.5
    assert held > 2 * open_


def test_the_rim_of_a_bank_is_no_slack_water():
    # thin water at one slope runs slower by Manning: as quick as its depth lets it
    rows = np.mgrid[: SHAPE[0], : SHAPE[1]][0]
    depth = np.clip(0.2 * np.minimum(rows - 4, 35 - rows), 0.2, 1.4)
    _, lies = lies_of(depth=depth, speed=depth ** (2 / 3))
    np.testing.assert_allclose(lies.slack, 1.0, rtol=1e-6)
    assert np.nanmax(lies.odds) < 0.06


@pytest.mark.compiled
def test_unknown_water_has_no_odds_and_no_raster_value():
    field, lies = lies_of(depth=1.2, speed=0.5)
    raster = lies.raster[...]
    assert raster.shape == field.wet.shape
    assert np.isnan(raster[~field.wet]).all()
    assert (raster[field.wet] == lies.odds).all()
    assert ((lies.odds >= 0) & (lies.odds <= 1)).all()


@pytest.mark.compiled
def test_a_season_of_other_limits_moves_the_odds():
    deep = LieSettings(limits=LieLimits(Season.SUMMER, 1.5, 4.0, 0.45))
    assert odds_at(1.1, 0.1, rules=deep) < 0.1 * odds_at(1.1, 0.1)
