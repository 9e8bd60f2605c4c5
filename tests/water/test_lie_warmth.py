"""Lies in cold and in warm water: which limits move, how far, and which cells with them."""

import math

import numpy as np
import pytest

from reachmap.base.words import Season, UnitSystem
from reachmap.markup.defaults import LIE_LIMITS
from reachmap.markup.model import LieLimits
from reachmap.text.lie_warmth import lie_words
from reachmap.water.lie_warmth import LieWarmth, Warmth, WarmthFrom, lies_at, newest_warmth
from reachmap.water.lies import lie_odds
from reachmap.water.structure_settings import LieSettings
from tests.water.scenes import as_field, from_mask

WINTER, SUMMER = LIE_LIMITS[Season.WINTER], LIE_LIMITS[Season.SUMMER]
RULES = LieWarmth()


def test_where_no_temperature_is_known_the_limits_are_the_seasons():
    assert lies_at(WINTER, math.nan) is WINTER
    assert lies_at(SUMMER, math.nan) is SUMMER


@pytest.mark.parametrize("limits", [WINTER, SUMMER])
def test_at_the_seasons_usual_temperature_they_hold_as_they_stand(limits):
    at = lies_at(limits, RULES.usual_c[limits.season])
    assert at.speed_high_m_s == pytest.approx(limits.speed_high_m_s)


def test_colder_fish_keep_to_slower_water_and_warmer_ones_do_not_at_any_degree():
    speeds = [lies_at(WINTER, c).speed_high_m_s for c in (0.0, 2.0, 4.0, 6.0, 8.0, 10.0)]
    assert np.all(np.diff(speeds) > 0)
    # two degrees are two degrees anywhere between the two shares
    assert np.diff(np.log(speeds[:5])) == pytest.approx(2 * RULES.per_degree)
    assert lies_at(SUMMER, 16.0) == lies_at(SUMMER, 24.0)  # no quicker in water that stresses


def test_the_speed_stays_within_its_two_shares_and_depth_where_it_is():
    cold, warm = lies_at(SUMMER, -1.0), lies_at(WINTER, 16.0)
    assert cold.speed_high_m_s == pytest.approx(RULES.share_low * SUMMER.speed_high_m_s)
    assert warm.speed_high_m_s == pytest.approx(RULES.share_high * WINTER.speed_high_m_s)
    for one, usual in ((cold, SUMMER), (warm, WINTER)):
        assert (one.depth_low_m, one.depth_high_m) == (usual.depth_low_m, usual.depth_high_m)


def test_the_slope_lies_between_swimming_and_the_habit_it_stands_for():
    """Coho smolts swam 5.5 lengths a second at 23 C and 3.5 at 3 C, early fry 7.2 and 3.5.

    Critical swimming speeds of coho salmon from fry to smolt in relation to salinity and
    temperature, abstract as read.
    """
    young = [math.log(warm / cold) / 20.0 for warm, cold in ((5.5, 3.5), (7.2, 3.5))]
    assert min(young) < RULES.per_degree
    assert lies_at(WINTER, 1.0).speed_high_m_s < WINTER.speed_high_m_s * math.exp(-4.5 * min(young))


@pytest.mark.compiled
def test_in_the_cold_quick_water_loses_its_fish_and_slow_water_does_not():
    wet = np.zeros((40, 100), dtype=bool)
    wet[5:35] = True
    speed = np.where(np.arange(40)[:, None] < 20, 0.2, 0.75) * np.ones((1, 100))
    field = as_field(*(made := from_mask(wet, depth=1.5, speed=speed)))

    def odds(celsius):
        rules = LieSettings(limits=lies_at(WINTER, celsius))
        lies = lie_odds(field, made[0], rules)
        return lies.forms.raster(lies.odds)

    cold, usual, warm = odds(0.5), odds(math.nan), odds(9.0)
    slow, quick = np.s_[8:14, 40:60], np.s_[26:32, 40:60]
    assert np.nanmean(cold[quick]) < 0.7 * np.nanmean(usual[quick])
    assert np.nanmean(warm[quick]) > 1.2 * np.nanmean(usual[quick])
    assert np.nanmean(cold[slow]) == pytest.approx(np.nanmean(usual[slow]), rel=0.1)


LAST = np.datetime64("2030-01-12T12:00:00")


def hours(*back):
    """Return instants so many hours before the gauge's last reading."""
    return LAST - (np.array(back, dtype=float) * 3600).astype("timedelta64[s]")


def test_the_newest_two_days_count_in_whole_degrees():
    times, celsius = hours(1, 13, 25, 37, 60, 90), np.array([4.2, 3.0, 4.4, 3.4, 9.0, 9.0])
    assert newest_warmth(times, celsius, LAST) == Warmth(4.0, WarmthFrom.READINGS, times[0])


def test_old_readings_say_nothing_of_todays_water():
    assert newest_warmth(hours(8 * 24), np.array([4.0]), LAST) is None
    assert newest_warmth(hours(6 * 24), np.array([4.0]), LAST).celsius == 4.0
    assert newest_warmth(hours(), np.zeros(0), LAST) is None


def test_the_map_says_for_which_water_its_lies_are():
    told = lie_words(
        Warmth(2.0, WarmthFrom.READINGS, LAST), lies_at(WINTER, 2.0), WINTER, UnitSystem.US
    )
    assert told == [
        "water of 36 °F, by the record to Sat 12 Jan 2030: fish are looked for where it runs up to "
        "1.2 ft/s near the bed (winter: 1.5 ft/s is usual)"
    ]
    asked = Warmth(5.5, WarmthFrom.ASKED)
    [same] = lie_words(asked, WINTER, WINTER, UnitSystem.METRIC)
    assert "6 °C, as you gave it" in same
    assert same.endswith("(winter: as usual)")
    assert lie_words(None, WINTER, WINTER, UnitSystem.US) == []


def test_own_limits_move_as_the_usual_ones_do():
    own = LieLimits(Season.WINTER, 0.5, 3.0, 0.6)
    share = lies_at(WINTER, 1.0).speed_high_m_s / WINTER.speed_high_m_s
    assert lies_at(own, 1.0).speed_high_m_s == pytest.approx(0.6 * share)
