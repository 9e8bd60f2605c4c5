"""The score and its factors: named numbers that move the way an angler expects."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.words import Season
from reachmap.gauge.flow_clarity import sighted
from reachmap.markup.model import SeasonLimits
from reachmap.water.clarity import clarity_at, limits_in
from reachmap.water.score import Piece, evenness, factors_of, reach_factor, size_factor, suitability
from reachmap.water.settings import SUMMER, WINTER, ScoreSettings, WaterSettings

RULES = ScoreSettings()


def test_suiting_is_half_at_the_limits_and_whole_within():
    low, high = 0.3, 1.1
    slope = RULES.slope_share * (high - low)
    values = np.array([low - slope, low, low + slope, high - slope, high, high + slope])
    np.testing.assert_allclose(
        suitability(values, low, high, RULES.slope_share), [0, 0.5, 1, 1, 0.5, 0], atol=1e-12
    )
    assert np.isnan(suitability(np.array([np.nan]), low, high, RULES.slope_share)).all()


def test_a_piece_that_spans_the_whole_range_suits_fully():
    depth = np.linspace(WINTER.depth_low_m, WINTER.depth_high_m, 1001)
    speed = np.linspace(WINTER.speed_low_m_s, WINTER.speed_high_m_s, 1001)
    piece = Piece(depth, speed, np.zeros(1001), np.full(1001, 10.0), 120.0, 12.0)
    factors = factors_of(piece, WINTER, RULES)
    assert factors.depth == pytest.approx(1.0, abs=0.01)
    assert factors.speed == pytest.approx(1.0, abs=0.01)
    assert factors.size == factors.reach == 1.0
    product = factors.depth * factors.speed * factors.even * factors.size * factors.reach
    assert factors.score == pytest.approx(100 * product)


def test_water_at_the_edge_of_the_limits_scores_less():
    middle, edge = (
        factors_of(
            Piece(np.full(50, 1.2), np.full(50, s), np.arange(50.0), np.full(50, 9.0), 50, 8),
            WINTER,
            RULES,
        ).score
        for s in (0.7, 1.08)
    )
    assert edge < 0.8 * middle


def test_evenness_counts_change_down_the_zone_not_across_it():
    station = np.repeat(np.arange(0.0, 100.0, 2.0), 10)
    across = np.tile(np.linspace(0.4, 1.0, 10), 50)
    assert evenness(across, station, 1.0, RULES.even_bin_m) == pytest.approx(1.0)
    down = np.repeat(np.linspace(0.4, 1.0, 50), 10)
    assert evenness(down, station, 1.0, RULES.even_bin_m) < 0.75
    assert evenness(np.zeros(500), station, 1.0, RULES.even_bin_m) == 0.0
    assert evenness(np.full(500, np.nan), station, 1.0, RULES.even_bin_m) == 0.0


@given(length=st.floats(0, 500), width=st.floats(0, 60))
def test_a_larger_piece_never_counts_less(length, width):
    here = size_factor(length, width, RULES)
    assert 0 <= here <= 1
    assert size_factor(length + 5, width, RULES) >= here
    assert size_factor(length, width + 1, RULES) >= here


def test_reach_is_the_share_within_a_cast_of_a_bank():
    assert reach_factor(np.array([5.0, 20.0, 28.0, np.nan]), 27.0) == pytest.approx(2 / 3)
    assert reach_factor(np.array([np.nan]), 27.0) == 0.0


def test_winter_fish_hold_slower_water_than_summer_fish():
    assert (WINTER.season, SUMMER.season) == (Season.WINTER, Season.SUMMER)
    assert WINTER.speed_low_m_s < SUMMER.speed_low_m_s
    assert WINTER.speed_high_m_s < SUMMER.speed_high_m_s


def test_coloured_water_brings_fish_shallower_but_never_above_a_foot():
    clear = limits_in(WaterSettings(), 2.0)
    thick = limits_in(WaterSettings(), 0.1)
    assert clear == WINTER
    assert thick.depth_low_m == pytest.approx(0.3)
    assert thick.depth_high_m == clear.depth_high_m
    own = SeasonLimits(Season.WINTER, 0.2, 1.0, 0.2, 1.0)
    assert limits_in(WaterSettings(limits=own), 0.1).depth_low_m == pytest.approx(0.2)


def test_two_sightings_give_the_law_of_clarity():
    # form: Davies-Colley 1990 (NZJMFR 24:453, abstract); worked out by hand: 3.0 m at 20 m3/s and
    # 1.0 m at 60 m3/s give beta = ln 3/ln 3 = 1 and alpha = 60
    found = sighted((20.0, 3.0), (60.0, 1.0))
    assert (found.law.scale, found.law.power) == (pytest.approx(60.0), pytest.approx(1.0))
    rules = WaterSettings(clarity_law=found)
    assert clarity_at(30.0, rules) == pytest.approx(2.0)
    assert clarity_at(30.0, WaterSettings(clarity_m=0.8)) == 0.8
    with pytest.raises(ValueError, match="differ"):
        sighted((20.0, 3.0), (20.0, 1.0))
