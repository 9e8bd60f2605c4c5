from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from shapely import Point, box

from reachmap.angler import AnglerSettings, assess, ways_back, when_cut_off, with_closings
from reachmap.angler.settings import LineSettings, RoomSettings, WadingSettings
from reachmap.base.fields import check_fields
from reachmap.base.grid import Grid
from tests.angler.hand import band, hand_markup, hand_water, noted
from tests.made import made_flows, made_ground

# the bed is known to the centimetre and the current is slow, so that depth alone rules
SURE = WadingSettings(doubt=0.0, smooth_m=0.0, zone_low_m2=4.0)
SETTINGS = AnglerSettings(wading=SURE, line=LineSettings(full=False), room=RoomSettings(rays=3))
TOP, SILL = 0.0, -0.75
"""Top of the bar and deepest of the ford to it, against the bank tops [m]."""


def river():
    """Return a straight, nearly level channel with a bar by river right and a ford to it."""
    ground = made_ground(length=240, slope=0.0001, half_width=20, deep=2.0)
    bed, station = ground["bed"].to_numpy().copy(), ground["station"].to_numpy()
    offset = ground["offset"].to_numpy()
    level = 100 - 0.0001 * station
    bar = (np.abs(station - 120) < 15) & (offset > -12) & (offset < -4)
    ford = (np.abs(station - 120) < 15) & (offset <= -12) & (offset > -22)
    bed[bar] = (level + TOP)[bar]
    bed[ford] = np.maximum(bed[ford], (level + SILL)[ford])
    bed[ford & (offset > -18)] = (level + SILL)[ford & (offset > -18)]
    ground["bed"] = ground["bed"].copy(data=bed)
    ground["surface"] = ground["surface"].copy(data=np.maximum(ground["surface"].to_numpy(), bed))
    return check_fields(ground, "ground")


GROUND = river()
FILLS = {5.0: -0.70, 10.0: -0.40, 20.0: -0.05, 40.0: 0.6}
"""Level against the bank tops at each flow: over the sill 0.05, 0.35, 0.7 and 1.35 m."""
FLOWS = made_flows(GROUND, FILLS)


def layers(settings=SETTINGS):
    """Return the layers of every flow, stacked."""
    found = []
    for index, flow in enumerate(FILLS):
        water = hand_water(
            [band(GROUND, 105, 135, -3, 6)],
            flow=flow,
            label=f"{flow:g}m3s",
            crs=GROUND.attrs["crs"],
            stations=[(105, 135)],
        )
        one = FLOWS.isel(flow=[index])
        found.append(assess(GROUND, one, water, hand_markup(GROUND), settings))
    return {name: pd.concat([one[name] for one in found]) for name in found[0]}


@pytest.fixture(scope="module")
def told():
    return ways_back(GROUND, FLOWS, layers())


def bar_at(told, label):
    bars = noted(told, "bars")
    rows = bars[bars["flow_label"] == label]
    assert len(rows) == 1
    return rows.iloc[0]


def test_one_flow_is_filled_in_where_the_others_are(told):
    """Rows of the flow asked for come out as with all; the others keep what they hold."""
    blank = layers()
    one = ways_back(GROUND, FLOWS, with_closings(blank, told), only="10m3s")
    for name in ("bars", "stations", "wading"):
        assert one[name].equals(told[name]), name
    alone = ways_back(GROUND, FLOWS, blank, only="10m3s")["bars"]
    ten = alone["flow_label"] == "10m3s"
    assert ten.any()
    assert not ten.all()
    whole = told["bars"]["open_until_m3_s"].to_numpy()
    np.testing.assert_array_equal(alone["open_until_m3_s"][ten], whole[ten])
    assert alone["open_until_m3_s"][~ten].isna().all()
    assert not np.isnan(whole[~ten]).all()


def test_the_bar_is_reached_on_foot_while_the_ford_is_shallow(told):
    assert bar_at(told, "5m3s")["on_foot"]
    assert bar_at(told, "10m3s")["on_foot"]


def test_the_way_back_closes_at_the_flow_that_drowns_the_ford(told):
    # by hand: the ford is 0.05, 0.35, 0.70 and 1.35 m deep; by Manning's formula it runs 0.22 m/s
    # at 0.70 m, a product of 0.16 m2/s under the strictest rule's 0.33; 1.35 m is over any limit
    row = bar_at(told, "5m3s")
    assert row["open_until_m3_s"] == 20.0
    assert row["cut_off_m3_s"] == 40.0
    assert row["cut_off_rise_m"] == pytest.approx(1.30, abs=0.01)
    # from -0.70 to 0.60 m the level comes up 1.30 m, 4.3 ft
    assert "Way back cut off by 1,413 cfs, the water 4.3 ft higher than now" in row["note"]
    assert "still open at 706 cfs" in row["note"]
    assert "leave as soon as it rises" in bar_at(told, "20m3s")["note"]


def test_at_the_highest_flow_the_bar_is_under_water(told):
    assert told["bars"][told["bars"]["flow_label"] == "40m3s"].empty


def test_stands_by_land_are_not_cut_off(told):
    stands = told["stations"]
    assert (stands[stands["side"] != "island"]["cut_off_m3_s"].isna()).all()


def test_stands_on_the_bar_are_cut_off_with_it(told):
    stands = told["stations"]
    on_bar = stands[(stands["side"] == "island") & (stands["flow_label"] == "5m3s")]
    assert len(on_bar)
    assert (on_bar["cut_off_m3_s"] == bar_at(told, "5m3s")["cut_off_m3_s"]).all()


def test_zones_that_touch_land_are_left_as_they_were(told):
    before, after = (noted(one, "wading") for one in (layers(), told))
    by_land = before["note"].str.contains("from river").to_numpy()
    assert by_land.any()
    assert (after["note"].to_numpy()[by_land] == before["note"].to_numpy()[by_land]).all()
    assert after["cut_off_m3_s"].isna()[by_land].all()


def with_a_zone_beside_the_bar(made):
    """Return layers with a zone of one deep cell on the river's side of the bar at 5 m3/s first."""
    station, offset = (GROUND[name].to_numpy() for name in ("station", "offset"))
    on_bar = (np.abs(station - 120) < 10) & (offset > -12) & (offset < -4)
    row, col = np.argwhere(on_bar)[np.argmax(offset[on_bar])]
    grid = Grid.of(GROUND)
    x, y = grid.points(np.array([row - 1]), np.array([col]))[0]  # the river runs east: left is up
    wading, half = made["wading"], grid.cell / 2
    zone = (
        wading[wading["grade"] == "careful"]
        .iloc[:1]
        .assign(flow=5.0, flow_label="5m3s", geometry=[box(x - half, y - half, x + half, y + half)])
    )
    return {**made, "wading": pd.concat([zone, wading])}


def test_the_way_back_from_a_zone_beside_a_bar_leads_over_the_bar(told):
    # the cell itself is soon too deep to stand in, the bar stays open up to 20 m3/s
    back = ways_back(GROUND, FLOWS, with_a_zone_beside_the_bar(layers()))["wading"].iloc[0]
    assert back["open_until_m3_s"] == bar_at(told, "5m3s")["open_until_m3_s"]
    assert back["cut_off_m3_s"] == bar_at(told, "5m3s")["cut_off_m3_s"]


def test_unknown_water_cuts_the_way_back_off():
    blind = FLOWS.copy(deep=True)
    ford = (GROUND["offset"] < -12) & (GROUND["offset"] > -19)
    wet = blind["wet"].to_numpy()
    wet[1:, ford.to_numpy()] = 2
    told = ways_back(GROUND, blind, _graded_anew(blind))
    row = bar_at(told, "5m3s")
    assert row["cut_off_m3_s"] == 10.0
    assert "leave as soon as it rises" in row["note"]


def test_a_bar_one_does_not_get_to_has_no_way_back_to_lose():
    deep = FLOWS.copy(deep=True)
    ford = ((GROUND["offset"] < -12) & (GROUND["offset"] > -19)).to_numpy()
    deep["depth"].to_numpy()[:, ford] = 3.0
    row = bar_at(ways_back(GROUND, deep, _graded_anew(deep)), "5m3s")
    assert not row["on_foot"]
    assert np.isnan(row["open_until_m3_s"])
    assert np.isnan(row["cut_off_m3_s"])


def _graded_anew(flows: xr.Dataset):
    empty = hand_water([], flow=1.0, label="1m3s", crs=GROUND.attrs["crs"], stations=[])
    found = [
        assess(GROUND, flows.isel(flow=[i]), empty, hand_markup(GROUND), SETTINGS)
        for i in range(flows.sizes["flow"])
    ]
    return {name: pd.concat([one[name] for one in found]) for name in found[0]}


def test_a_forecast_says_when_the_way_back_closes():
    times = np.datetime64("2031-01-05T00:00") + np.arange(6) * np.timedelta64(6, "h")
    flow = np.array([20.0, 22.0, 27.0, 35.0, 50.0, 40.0])
    assert when_cut_off(30.0, times, flow) == times[3]
    assert np.isnat(when_cut_off(60.0, times, flow))
    assert when_cut_off(30.0, times, np.where(flow == 22.0, np.nan, flow)) == times[1]


@pytest.mark.parametrize(("below", "lost"), [(40.0, False), (2000.0, True)])
def test_a_drift_that_leaves_the_map_within_the_look_is_told(below, lost):
    settings = replace(SETTINGS, wading=replace(SURE, below_m=below))
    empty = hand_water([], flow=5.0, label="5m3s", crs=GROUND.attrs["crs"], stations=[])
    one = assess(GROUND, FLOWS.isel(flow=[0]), empty, hand_markup(GROUND), settings)
    x, y = float(GROUND["line_x"][120]), float(GROUND["line_y"][120])
    ford = noted(one, "wading")
    ford = ford[ford.contains(Point(x, y - 14))].iloc[0]
    assert ford["grade"] == "easy"
    assert bool(ford["drift_lost"]) is lost
    assert ("leads into water nobody knows, or off the map" in ford["note"]) is lost
