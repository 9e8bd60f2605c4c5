"""A day's list of runs: time, wind at each place, and when to be back."""

import math

import numpy as np
import pytest

from reachmap.angler import (
    AnglerSettings,
    assess,
    fishable_runs,
    read_wind,
    run_cut_off,
    run_minutes,
    wind_from_forecast,
    with_wading,
)
from reachmap.angler.settings import LineSettings, RoomSettings
from reachmap.base.schema import table_frame
from tests.angler.hand import access_at, band, hand_markup, hand_water
from tests.made import made_flows, made_ground

SETTINGS = AnglerSettings(line=LineSettings(full=False), room=RoomSettings(rays=3))
GROUND = made_ground(length=320, slope=0.0006)
FLOW = made_flows(GROUND, {20.0: -0.3})
X, Y = float(GROUND["line_x"][160]), float(GROUND["line_y"][160])


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


def test_each_run_has_its_minutes_and_an_unknown_one_none(layers):
    each = run_minutes(["run 1", "run 2", "nowhere"], "20m3s", layers, SETTINGS)
    assert each["run 2"] > each["run 1"] > 10
    assert math.isnan(each["nowhere"])


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
    assert low.open_until_m3_s == 30.0
    dry = run_cut_off("run 1", "20m3s", layers, TIMES, np.array([99.0, 99, 99]))
    assert np.isnat(dry.when)
    assert dry.place == ""


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
