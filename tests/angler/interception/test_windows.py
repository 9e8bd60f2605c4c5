"""Flow windows of runs."""

import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import Point

from reachmap.angler.interception.windows import WIDE, window_of, with_windows

FLOWS = np.array([10.0, 20.0, 30.0, 45.0, 60.0, 80.0])


def window(odds, rate=None):
    """Return the window of odds at the flows."""
    return window_of(FLOWS, np.array(odds), np.array(odds if rate is None else rate))


def test_a_window_is_the_flows_about_the_best_one_with_half_its_odds():
    found = window([10, 45, 90, 60, 44, 90 * 0.4])
    assert (found.low, found.best, found.high) == (20.0, 30.0, 45.0)
    assert not found.open_low
    assert not found.open_high


def test_it_ends_where_the_run_falls_away_though_it_comes_back():
    found = window([80, 10, 90, 70, 10, 85])
    assert (found.low, found.high) == (30.0, 45.0)


def test_where_nobody_can_fish_it_is_no_window():
    found = window([math.nan, 50, 90, math.nan, 80, 80])
    assert (found.low, found.high) == (20.0, 30.0)
    for odds in ([math.nan] * 6, [0.0] * 6):
        assert math.isnan(window(odds).best)
    assert math.isnan(window_of(np.zeros(0), np.zeros(0), np.zeros(0)).best)


def test_it_says_where_it_may_go_on():
    assert window([90, 80, 10, 10, 10, 10]).open_low
    assert window([1, 1, 1, 1, 80, 90]).open_high


def test_of_flows_at_which_it_leads_the_best_is_that_of_most_odds_an_hour():
    assert window([100, 100, 100, 20, 20, 20], [0.1, 0.3, 0.2, 0, 0, 0]).best == 20.0


@pytest.mark.parametrize(("high", "wide"), [(WIDE * 0.99, False), (WIDE * 1.01, True)])
def test_a_window_over_a_ninefold_range_is_wide(high, wide):
    flows = 10.0 * np.array([1.0, high])
    assert window_of(flows, np.array([90.0, 80.0]), np.ones(2)).wide is wide


def test_the_water_at_the_ends_of_a_window_goes_with_the_run():
    kinds = ["tailout", "tailout", "even_run", "soft_edge", None, None]
    rows = {
        "run": ["a"] * 6 + ["b"] * 6,
        "flow": [*FLOWS, *FLOWS],
        "odds": [10, 60, 90, 80, 20, math.nan] + [math.nan] * 6,
        "odds_hour": [0.1] * 12,
        "kind": kinds * 2,
        "depth_m": [0.5, 0.6, 0.7, 0.8, 0.9, 1.0] * 2,
    }
    table = pd.DataFrame(rows).sample(frac=1.0, random_state=1)  # whatever the order of its rows
    runs = gpd.GeoDataFrame({"run": ["b", "a"]}, geometry=[Point(0, 0)] * 2)
    found = with_windows(runs, table).set_index("run")
    here = found.loc["a"]
    assert (here["window_low_m3_s"], here["window_high_m3_s"]) == (20.0, 45.0)
    assert (here["window_low_kind"], here["window_high_kind"]) == ("tailout", "soft_edge")
    assert (here["window_low_depth_m"], here["window_high_depth_m"]) == (0.6, 0.8)
    assert pd.isna(found.loc["b", "window_low_kind"])
    assert math.isnan(found.loc["b", "window_low_depth_m"])
