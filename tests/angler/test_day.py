"""A day's list of runs: time, wind at each place, and when to be back."""

import math

import numpy as np
import pytest

from reachmap.angler import (
    AnglerSettings,
    Wind,
    WindOnRun,
    WindWord,
    assess,
    day_total,
    fishable_runs,
    read_wind,
    run_cut_off,
    wind_by_station,
    wind_from_forecast,
    wind_on_run,
    wind_word,
    with_wading,
)
from reachmap.angler.settings import LineSettings, RoomSettings
from reachmap.base.schema import table_frame
from reachmap.base.words import Cast, UnitSystem
from reachmap.text.wind import cut_off_words, wind_on_run_words
from tests.angler.hand import access_at, band, hand_markup, hand_water
from tests.made import made_flows, made_ground

SETTINGS = AnglerSettings(line=LineSettings(full=False), room=RoomSettings(rays=3))
GROUND = made_ground(length=320, slope=0.0006)
FLOW = made_flows(GROUND, {20.0: -0.3})
X, Y = float(GROUND["line_x"][160]), float(GROUND["line_y"][160])
EAST = 0.0
"""The made river runs east."""


@pytest.fixture(scope="module")
def layers():
    water = hand_water(
        [band(GROUND, 60, 120, -16, -6), band(GROUND, 150, 250, -16, -6)],
        flow=20.0,
        label="20m3s",
        crs=GROUND.attrs["crs"],
        stations=[(60, 120), (150, 250)],
    )
    mark = hand_markup(GROUND, access=[access_at(X, Y - 45)])
    return {"water": water, **assess(GROUND, FLOW, water, mark, SETTINGS)}


@pytest.mark.parametrize(
    ("from_deg", "word"),
    [(90, "upstream"), (270, "downstream"), (0, "left"), (180, "right"), (100, "upstream")],
)
def test_a_forecast_wind_is_named_by_where_the_river_runs(from_deg, word):
    # compass degrees a wind comes from; the river runs east: river left is north
    assert wind_word(wind_from_forecast(from_deg, 6.0), EAST) == word


@pytest.mark.parametrize("turn", range(0, 360, 15))
def test_turning_river_and_wind_together_changes_nothing(turn):
    for from_deg in range(3, 360, 30):
        here = wind_word(wind_from_forecast(from_deg, 6.0), EAST)
        there = wind_word(wind_from_forecast(from_deg - turn, 6.0), EAST + math.radians(turn))
        assert here is there


def test_light_air_and_a_river_of_unknown_course_are_calm():
    assert wind_word(wind_from_forecast(90, 1.0), EAST) is WindWord.CALM
    assert wind_word(wind_from_forecast(90, math.nan), EAST) is WindWord.CALM
    assert wind_word(wind_from_forecast(90, 6.0), math.nan) is WindWord.CALM
    assert wind_word(Wind(WindWord.LEFT), EAST) is WindWord.LEFT


@pytest.mark.parametrize(
    ("text", "from_deg", "speed"),
    [
        ("SW 12 mph", 225.0, 12 * 1609.344 / 3600),
        ("from 225 at 5 m/s", 225.0, 5.0),
        ("nnw 10 kn", 337.5, 10 * 1852 / 3600),
        ("0 36 km/h", 0.0, 10.0),
    ],
)
def test_a_typed_forecast_is_read(text, from_deg, speed):
    got, wanted = read_wind(text), wind_from_forecast(from_deg, speed)
    assert got.towards_rad == pytest.approx(wanted.towards_rad)
    assert got.speed_m_s == pytest.approx(speed)


@pytest.mark.parametrize(
    "text", ["", "sideways", "SW", "SW 12", "XYZ 3 mph", "400 3 m/s", "W 99 m/s"]
)
def test_what_is_no_wind_is_refused(text):
    with pytest.raises(ValueError, match="no wind"):
        read_wind(text)


def test_stations_know_where_their_current_runs(layers):
    assert len(layers["stations"]) > 10
    assert layers["stations"]["down_deg"].abs().max() < 10


def test_each_station_is_told_the_casts_whose_loop_stays_downwind(layers):
    # common practice, no published source: upstream wind, loop upstream
    told = wind_by_station(layers["stations"], wind_from_forecast(90, 6.0))
    assert (told.index == layers["stations"].index).all()
    assert (told["wind"] == "upstream").all()
    assert (told["loop_side"] == "upstream").all()
    named = {cast for casts in told["casts"] for cast in casts}
    assert not named & {Cast.DOUBLE_SPEY, Cast.SNAKE_ROLL}
    assert named & {Cast.SNAP_T, Cast.PERRY_POKE}
    for row, own in zip(told.itertuples(), layers["stations"]["cast"], strict=True):
        assert row.clear == (row.cast == own)
        assert row.cast in row.casts or (row.cast is None and not row.casts)


def test_a_run_is_told_its_wind_in_one_line(layers):
    found = wind_on_run("run 2", "20m3s", layers, wind_from_forecast(270, 6.0))
    assert found.wind is WindWord.DOWNSTREAM
    assert (
        wind_on_run_words(found) == f"Downstream wind: {found.cast} keeps the loop downwind of you."
    )
    assert wind_on_run("run 2", "20m3s", layers, wind_from_forecast(270, 1.0)) is None
    assert wind_on_run("nowhere", "20m3s", layers, wind_from_forecast(270, 6.0)) is None
    lost = WindOnRun(WindWord.LEFT, None, 3, 3)
    assert wind_on_run_words(lost).startswith("Wind from river left: no cast with room")
    some = WindOnRun(WindWord.UPSTREAM, Cast.SNAP_T, 1, 3)
    assert wind_on_run_words(some).endswith("; at 1 of 3 places none does.")
    assert wind_on_run_words(None) == ""


def test_a_day_is_its_runs_at_that_flow_and_the_ways_between(layers):
    day = day_total(["run 1", "run 2"], "20m3s", layers, SETTINGS)
    assert set(day.each) == {"run 1", "run 2"}
    assert day.each["run 2"] > day.each["run 1"] > 10
    assert day.between_min == SETTINGS.pace.between_min
    assert day.total_min == pytest.approx(day.fishing_min + day.between_min)
    assert day.unknown == ()


def test_a_run_without_time_makes_the_day_unknown_and_is_named(layers):
    day = day_total(["run 1", "nowhere"], "20m3s", layers, SETTINGS)
    assert day.unknown == ("nowhere",)
    assert math.isnan(day.total_min)


def cut(layers):
    """Return the layers with the way back from run 2 open at 30 m3/s and cut off by 45."""
    stations = layers["stations"].copy()
    mine = stations["water"] == "E2"
    stations.loc[mine, ["open_until_m3_s", "cut_off_m3_s"]] = 30.0, 45.0
    return {**layers, "stations": stations}


TIMES = np.array(["2001-01-01T06:00", "2001-01-01T12:00", "2001-01-01T18:00"], "datetime64[s]")


def test_the_way_back_closes_when_the_forecast_leaves_the_last_open_flow(layers):
    told = run_cut_off("run 2", "20m3s", cut(layers), TIMES, np.array([22, 31, 50.0]))
    assert told.when == TIMES[1]  # above 30, the last flow at which it is known open
    assert (told.open_until_m3_s, told.cut_off_m3_s) == (30.0, 45.0)
    words = cut_off_words(told, UnitSystem.METRIC)
    assert "2001-01-01 12:00 UTC" in words
    assert "above 30 m³/s" in words
    gap = run_cut_off("run 2", "20m3s", cut(layers), TIMES, np.array([22, np.nan, 25]))
    assert gap.when == TIMES[1]


def test_the_place_that_closes_first_counts(layers):
    stations = cut(layers)["stations"]
    first = stations.index[stations["water"] == "E2"][2]
    stations.loc[first, ["open_until_m3_s", "cut_off_m3_s"]] = 20.0, 30.0
    told = run_cut_off("run 2", "20m3s", {**layers, "stations": stations}, TIMES, np.full(3, 21.0))
    assert (told.open_until_m3_s, told.place) == (20.0, stations.loc[first, "code"])


def test_a_low_forecast_or_dry_ground_cuts_nobody_off(layers):
    low = run_cut_off("run 2", "20m3s", cut(layers), TIMES, np.array([20, 21, 22.0]))
    assert np.isnat(low.when)
    assert "stays at or below 30 m³/s" in cut_off_words(low, UnitSystem.METRIC)
    dry = run_cut_off("run 1", "20m3s", layers, TIMES, np.array([99.0, 99, 99]))
    assert np.isnat(dry.when)
    assert dry.place == ""
    assert cut_off_words(dry, UnitSystem.US).startswith("No mapped flow")


def in_shape(water):
    """Return a table of runs by flow in which each piece is a run's best."""
    shared = ["run", "flow", "flow_label", "kind", "code", "side", "score", "depth_m", "speed_m_s"]
    more = {"in_shape": True, "why": None, "why_too": None, "prime": False, "instead": ""}
    more |= {"instead_score": np.nan, "instead_m": np.nan}
    return table_frame("runs_by_flow", [row | more for row in water[shared].to_dict("records")])


def test_runs_somebody_can_stand_by_are_named(layers):
    found = fishable_runs(layers["water"], layers["stations"])
    assert found == {("run 1", "20m3s"), ("run 2", "20m3s")}
    none = layers["stations"].assign(cast=None)
    assert fishable_runs(layers["water"], none) == frozenset()


def test_water_says_from_where_it_is_fished(layers):
    table = in_shape(layers["water"])
    water, told = with_wading(layers["water"], table, layers["stations"])
    assert set(water["wade"]) <= {"dry", "easy"}
    assert list(told["wade"]) == list(water["wade"])
    nobody = layers["stations"].assign(cast=None, room_m=3.0)
    assert set(with_wading(layers["water"], table, nobody)[0]["wade"]) == {"no"}
    blind = nobody.assign(room_m=np.nan)
    assert set(with_wading(layers["water"], table, blind)[0]["wade"]) == {"unknown"}
    assert set(with_wading(layers["water"], table, nobody.iloc[:0])[0]["wade"]) == {"no"}
