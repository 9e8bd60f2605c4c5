import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, box

from reachmap.angler.fly import FLIES, fly_for
from reachmap.angler.pace import (
    STAND,
    bank_fished,
    cast_seconds,
    fished_bank,
    pace_runs,
    run_minutes,
    step_length,
)
from reachmap.angler.settings import AnglerSettings, PaceSettings
from reachmap.base.grouped import rows_of
from reachmap.base.units import to_si
from reachmap.base.words import Season, UnitSystem
from reachmap.gauge.flow_clarity import sighted
from reachmap.text.fly import fly_words
from reachmap.text.run_table import NO_STAND, run_note
from reachmap.water.gather import covered_length
from tests.angler.hand import hand_water

PACE = PaceSettings()
FT = to_si(1.0, "ft")


def test_the_step_is_within_what_is_common():
    # common practice, no published source: winter 3-5 ft, summer 5-8 ft
    assert 3 * FT <= step_length(Season.WINTER, PACE) <= 5 * FT
    assert 5 * FT <= step_length(Season.SUMMER, PACE) <= 8 * FT


def test_coloured_water_shortens_the_step_but_not_to_nothing():
    clear = step_length(Season.WINTER, PACE, clarity_m=3.0)
    coloured = step_length(Season.WINTER, PACE, clarity_m=2 * FT)
    assert clear == PACE.step_winter_m
    assert coloured == pytest.approx(clear / 2)
    assert step_length(Season.WINTER, PACE, clarity_m=0.0) == pytest.approx(clear / 2)


def test_seconds_per_cast_add_up():
    # 30 s of swing, the hang, 20 s to cast, half a second for each of 10 ft stripped
    got = cast_seconds(30.0, 10 * FT, PACE)
    assert got == pytest.approx(30 + PACE.hang_s + 20 + 5)
    assert cast_seconds(30.0, -5.0, PACE) == pytest.approx(30 + PACE.hang_s + 20)
    assert cast_seconds(math.nan, 0.0, PACE) == pytest.approx(PACE.swing_s + PACE.hang_s + 20)


def test_a_run_of_a_hundred_steps_takes_a_hundred_and_one_casts():
    assert run_minutes(100 * 1.2, 60.0, 1.2) == pytest.approx(101.0)
    assert run_minutes(0.0, 60.0, 1.2) == pytest.approx(1.0)


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 50)), max_size=8))
def test_the_length_covered_is_never_more_than_the_sum_nor_less_than_the_longest(pairs):
    spans = [(a, a + b) for a, b in pairs]
    got = covered_length(spans)
    each = [b for _, b in pairs]
    assert got <= sum(each) + 1e-9
    assert got >= max(each, default=0.0) - 1e-9
    grid = np.arange(0, 150, 0.01)
    inside = np.zeros(grid.shape, bool)
    for low, high in spans:
        inside |= (grid >= low) & (grid < high)
    assert got == pytest.approx(inside.mean() * 150, abs=0.1)


def _stations(water, side, swing):
    rows = [
        {
            "flow": 20.0,
            "flow_label": "20m3s",
            "water": water,
            "side": side,
            "cast": "double spey",
            "access": "foot",
            "swing_s": swing,
            "cast_m": 60 * FT,
            "step_m": np.nan,
            "odds": np.nan,
            "geometry": Point(i, 0),
        }
        for i in range(5)
    ]
    return gpd.GeoDataFrame(rows, geometry="geometry", crs="EPSG:32607")


@pytest.mark.parametrize(
    ("left", "right", "better"),
    [
        # places that have room to cast, and the way to them
        ((3, "foot"), (2, "foot"), "left"),
        ((3, "boat"), (2, "foot"), "right"),
        ((5, "boat"), (2, "foot"), "left"),
        ((4, "boat"), (2, "foot"), "left"),  # as good: the first by name
        ((0, "foot"), (1, "boat"), "right"),
    ],
)
def test_one_fishes_from_the_bank_with_more_room_and_by_boat_it_counts_half(left, right, better):
    bank = pd.concat([_stations("E1", "left", 25.0), _stations("E1", "right", 25.0)])
    for side, (able, way) in (("left", left), ("right", right)):
        mine = (bank["side"] == side).to_numpy()
        bank.loc[mine, "access"] = way
        bank.loc[mine, "cast"] = ["overhead"] * able + [None] * (5 - able)
    chosen = fished_bank(rows_of(bank, STAND))
    assert chosen["side"].tolist() == [better] * 5
    assert not len(fished_bank(rows_of(bank.iloc[:0], STAND)))


def test_the_bank_whose_places_give_a_run_its_odds_is_the_one_fished():
    bank = pd.concat([_stations("E1", "left", 25.0), _stations("E1", "right", 25.0)])
    bank.loc[(bank["side"] == "right").to_numpy(), "cast"] = ["overhead"] * 2 + [None] * 3
    assert bank_fished(rows_of(bank, STAND))["side"].tolist() == ["left"] * 5
    bank["odds"] = [np.nan] * 5 + [0.2] + [np.nan] * 4  # one place of the right bank
    assert bank_fished(rows_of(bank, STAND))["side"].tolist() == ["right"] * 5


def _runs(name="run 1", best=20.0):
    row = {"run": name, "best_flow_m3_s": best, "places": 1, "left_out": 0}
    row["geometry"] = box(0, 0, 1, 1)
    return gpd.GeoDataFrame([row], geometry="geometry", crs="EPSG:32607")


def _paced(water, stations, settings, best=20.0):
    """Return the run as a row of the layer and as one of the table."""
    table = pd.DataFrame(
        {"run": ["run 1"], "flow": [20.0], "flow_label": ["20m3s"], "in_shape": [True], "score": 50}
    )
    runs, table = pace_runs(_runs(best=best), table, water, stations, settings)
    return runs.iloc[0].to_dict(), table


def test_minutes_of_a_run_are_steps_times_seconds():
    water = hand_water(
        [box(0, 0, 60, 5), box(40, 0, 90, 5)],
        flow=20.0,
        label="20m3s",
        crs="EPSG:32607",
        stations=[(0, 60), (40, 90)],
    ).assign(run="run 1")
    stations = gpd.GeoDataFrame(
        [row for code in ("E1", "E2") for row in _stations(code, "left", 25.0).to_dict("records")],
        geometry="geometry",
        crs="EPSG:32607",
    )
    settings = AnglerSettings(clarity_m=3.0)
    run, table = _paced(water, stations, settings)
    seconds = cast_seconds(25.0, 60 * FT - PACE.held_m, PACE)
    assert run["minutes"] == pytest.approx(run_minutes(90.0, seconds, PACE.step_winter_m))
    assert run["length_m"] == pytest.approx(90.0)
    assert table[["minutes", "length_m"]].iloc[0].tolist() == [run["minutes"], run["length_m"]]


def test_a_run_without_water_at_its_best_flow_stays_unknown():
    water = hand_water(
        [box(0, 0, 60, 5)], flow=20.0, label="20m3s", crs="EPSG:32607", stations=[(0, 60)]
    )
    run, _ = _paced(water, _stations("E1", "left", 25.0), AnglerSettings(), best=99.0)
    assert np.isnan(run["minutes"])


def test_the_fly_follows_the_clarity():
    assert fly_for(0.0) is FLIES[0]
    assert fly_for(to_si(100.0, "ft")) is FLIES[-1]
    assert fly_for(math.nan) is None
    lengths = [row.long_m for row in FLIES]
    assert lengths == sorted(lengths, reverse=True)
    with pytest.raises(ValueError, match="rise"):
        fly_for(1.0, FLIES[::-1])


def test_words_on_the_fly_say_what_is_not_known():
    assert "not known" in fly_words(None, math.nan, UnitSystem.US)
    assert " in," in fly_words(fly_for(1.0), 1.0, UnitSystem.US)
    assert " cm," in fly_words(fly_for(1.0), 1.0, UnitSystem.METRIC)


def test_a_run_nobody_can_cast_to_has_no_minutes_and_says_so():
    water = hand_water(
        [box(0, 0, 60, 5)], flow=20.0, label="20m3s", crs="EPSG:32607", stations=[(0, 60)]
    )
    stands = _stations("E1", "left", 25.0).assign(cast=None)
    run, table = _paced(water, stands, AnglerSettings())
    assert np.isnan(run["minutes"])
    assert run["length_m"] == 60.0
    assert NO_STAND in run_note(run, table, UnitSystem.US)


def test_the_step_of_a_run_is_that_of_its_middle_place():
    water = hand_water(
        [box(0, 0, 60, 5)], flow=20.0, label="20m3s", crs="EPSG:32607", stations=[(0, 60)]
    )
    usual, _ = _paced(water, _stations("E1", "left", 25.0), AnglerSettings())
    short = _stations("E1", "left", 25.0).assign(step_m=[0.5, 0.6, 0.6, 0.6, np.nan])
    stepped, _ = _paced(water, short, AnglerSettings())
    step = AnglerSettings().pace.step_winter_m
    assert stepped["minutes"] / usual["minutes"] == pytest.approx(step / 0.6, rel=0.05)


def test_coloured_water_by_the_rivers_law_shortens_the_step_of_high_flows():
    water = hand_water(
        [box(0, 0, 60, 5)], flow=20.0, label="20m3s", crs="EPSG:32607", stations=[(0, 60)]
    )
    stands = _stations("E1", "left", 25.0)
    clear, _ = _paced(water, stands, AnglerSettings())
    law = sighted((20.0, 0.6096), (80.0, 0.3048))  # two feet at 20 m3/s: half the step
    coloured, _ = _paced(water, stands, AnglerSettings(clarity_law=law))
    assert coloured["minutes"] == pytest.approx(2 * clear["minutes"], rel=0.05)
