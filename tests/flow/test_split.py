import numpy as np
import pandas as pd
import pytest
import xarray as xr

from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, solve
from reachmap.flow.engine.settings import EngineSettings
from reachmap.flow.notes import NoteKind
from tests.flow.made_channels import TABLES, island_ground, prismatic
from tests.flow.noted import kinds, the_note
from tests.made import made_ground

SPLIT = pd.read_csv(TABLES / "lateral_split.csv", comment="#")
PROFILE = FlowSettings(method="profile")


def size(one):
    return np.hypot(one["east_speed"], one["north_speed"])


@pytest.mark.table
def test_the_split_by_conveyance_matches_the_worked_section():
    heights = [2.0, *(-SPLIT["depth_m"]), 2.0]
    flow = float((SPLIT["unit_flow_m2_s"] * 2).sum())
    one = solve(prismatic(heights), [flow], PROFILE).isel(flow=0)
    column = one.isel(x=one.sizes["x"] // 2, y=slice(1, -1))
    assert column["depth"].to_numpy() == pytest.approx(SPLIT["depth_m"].to_numpy(), abs=1e-3)
    assert column["east_speed"].to_numpy() == pytest.approx(SPLIT["speed_m_s"].to_numpy(), abs=2e-3)
    unit = (column["depth"] * column["east_speed"]).to_numpy()
    assert unit == pytest.approx(SPLIT["unit_flow_m2_s"].to_numpy(), abs=2e-3)
    assert np.abs(column["north_speed"]).max() < 1e-5


@pytest.mark.parametrize("method", ["profile", "engine"])
def test_over_stones_the_thread_takes_what_their_law_gives_it(method):
    # two depths side by side; the law in closed form as published (see tests/base/test_resistance)
    size, slope, at = 0.13, 0.002, 0.6
    depth = np.repeat([0.3, 0.9], [15, 15])
    deep = size ** (1 / 6) / (6.5 * np.sqrt(9.80665))
    given_n = deep * np.sqrt(1 + 6.76 * (size / at) ** (5 / 3))
    submerged = depth / size
    speed = np.sqrt(9.80665 * depth * slope) * 16.25 * submerged
    speed /= np.sqrt(42.25 + 6.25 * submerged ** (5 / 3))
    flow = float((speed * depth).sum() * 2)
    ground = prismatic([2.0, *-depth, 2.0], slope=slope, roughness=given_n)
    ground = ground.assign_attrs(stone_size=size, stone_depth=at)
    still = FlowSettings(method=method, engine=EngineSettings(eddy_share=0.0))
    one = solve(ground, [flow], still).isel(flow=0)
    column = one.isel(x=one.sizes["x"] // 2, y=slice(1, -1))
    assert column["depth"].to_numpy() == pytest.approx(depth, abs=4e-3)
    for row in (3, -4):
        assert float(column["east_speed"][row]) == pytest.approx(speed[row], rel=0.02)
    ratio = float(column["east_speed"][-4] / column["east_speed"][3])
    assert ratio > 1.3 * (0.9 / 0.3) ** (2 / 3)


def transect_flow(ground, one, station):
    """Return the discharge across a line over the river, sampled every half metre [m3/s]."""
    line = ground["line_station"].to_numpy()
    x, y = (np.interp(station, line, ground[name].to_numpy()) for name in ("line_x", "line_y"))
    dx, dy = (
        np.interp(station + 1, line, ground[name].to_numpy())
        - np.interp(station - 1, line, ground[name].to_numpy())
        for name in ("line_x", "line_y")
    )
    tx, ty = np.array([dx, dy]) / np.hypot(dx, dy)
    across = np.arange(-45, 45.25, 0.5)
    places = {
        "x": xr.DataArray(x - across * ty, dims="n"),
        "y": xr.DataArray(y + across * tx, dims="n"),
    }
    unit = [(one["depth"] * one[name]).fillna(0) for name in ("east_speed", "north_speed")]
    east, north = (part.interp(places, kwargs={"fill_value": 0.0}).to_numpy() for part in unit)
    return float((east * tx + north * ty).sum() * 0.5)


@pytest.mark.compiled
@pytest.mark.parametrize("flow", [8.0, 60.0])
def test_every_line_across_a_bending_river_carries_the_flow(flow):
    ground = made_ground(length=800, wavelength=400, turn_deg=50, half_width=25, riffle=0.3)
    result = solve(ground, [flow], PROFILE)
    one = result.isel(flow=0)
    found = [transect_flow(ground, one, station) for station in range(60, 741, 20)]
    assert np.array(found) == pytest.approx(flow, rel=0.06)
    assert np.mean(found) == pytest.approx(flow, rel=0.015)
    assert float(one["imbalance"]) < 2e-3


@pytest.mark.compiled
def test_a_side_channel_wakes_only_when_water_can_reach_it():
    ground = island_ground()
    low, high = (solve(ground, [q], PROFILE).isel(flow=0) for q in (9.0, 30.0))
    arm = (ground["station"] > 250) & (ground["station"] < 350) & (abs(ground["offset"] - 30) < 5)
    head = arm & (ground["station"] > 220)
    assert (low["wet"].where(arm) == Wet.YES).sum() == 0 or float(
        size(low).where(head).max()
    ) < 0.05
    assert bool((high["wet"].where(arm, Wet.YES) == Wet.YES).all())
    assert float(size(high).where(arm).mean()) > 0.2
    bar = (ground["station"] > 250) & (ground["station"] < 350) & (abs(ground["offset"] - 18) < 2)
    assert bool((high["wet"].where(bar, Wet.NO) == Wet.NO).all())


@pytest.mark.compiled
def test_both_arms_of_an_island_carry_the_whole_flow_and_each_the_same_all_along():
    ground = island_ground()
    one = solve(ground, [30.0], PROFILE).isel(flow=0)
    unit = (one["depth"] * one["east_speed"]).fillna(0).to_numpy() * 2.0
    side = (ground["offset"] > 20).to_numpy()
    columns = [
        int(np.argmin(abs(ground["x"].to_numpy() - 500_000 - s))) for s in range(230, 380, 15)
    ]
    arm = np.array([unit[:, c][side[:, c]].sum() for c in columns])
    whole = np.array([unit[:, c].sum() for c in columns])
    assert whole == pytest.approx(30.0, rel=0.03)
    assert arm.min() > 1.0
    assert np.ptp(arm) < 0.06 * arm.mean()


@pytest.mark.compiled
def test_a_blind_arm_holds_water_that_stands():
    ground = island_ground(blind=True)
    one = solve(ground, [30.0], PROFILE).isel(flow=0)
    arm = (ground["station"] > 220) & (ground["station"] < 350) & (abs(ground["offset"] - 30) < 5)
    assert bool((one["wet"].where(arm, Wet.YES) == Wet.YES).all())
    assert float(size(one).where(arm).max()) < 0.05


def test_a_pit_without_a_way_in_stays_dry():
    ground = made_ground(length=400, half_width=15, margin=40)
    pit = (abs(ground["station"] - 200) < 10) & (abs(ground["offset"] - 35) < 8)
    ground["bed"] = ground["bed"].where(~pit, 98.0)
    one = solve(ground, [20.0], PROFILE).isel(flow=0)
    assert bool((one["level"].max("y").isel(x=100) > 98.2).all())
    assert bool((one["wet"].where(pit, Wet.NO) == Wet.NO).all())


def test_low_ground_behind_unknown_ground_is_unknown():
    ground = made_ground(length=400, half_width=15, margin=40)
    pit = (abs(ground["station"] - 200) < 10) & (abs(ground["offset"] - 35) < 8)
    gap = (abs(ground["station"] - 200) < 4) & (ground["offset"] > 8) & (ground["offset"] < 28)
    ground["bed"] = ground["bed"].where(~pit, 98.0).where(~gap)
    result = solve(ground, [20.0], PROFILE)
    wet = result["wet"].isel(flow=0)
    assert bool((wet.where(pit, Wet.UNKNOWN) == Wet.UNKNOWN).all())
    assert bool((wet.where(gap, Wet.UNKNOWN) == Wet.UNKNOWN).all())
    note = the_note(result, NoteKind.UNKNOWN_GROUND)
    assert (
        note.value("area_m2")
        >= float((pit & np.isfinite(ground["bed"])).sum()) * result.attrs["cell"] ** 2
    )


def test_water_narrower_than_a_cell_still_carries_the_flow_and_says_so():
    heights = np.full((9,), 1.0)
    ground = prismatic(heights, length=200.0)
    bed = ground["bed"].to_numpy()
    for column in range(ground.sizes["x"]):
        bed[4 + (column // 10) % 2, column] -= 1.6
    ground["bed"] = (("y", "x"), bed)
    result = solve(ground, [0.4], PROFILE)
    assert NoteKind.NARROW in kinds(result)
    assert float(result["imbalance"][0]) < 0.05


@pytest.mark.compiled
def test_a_general_sparse_solver_agrees(monkeypatch):
    ground = island_ground()
    own = solve(ground, [30.0], PROFILE)
    monkeypatch.setattr("reachmap.flow.split.SKYLINE_MOST", 0.0)
    other = solve(ground, [30.0], PROFILE)
    for name in ("east_speed", "north_speed"):
        np.testing.assert_allclose(own[name], other[name], atol=1e-6)


@pytest.mark.compiled
def test_more_flow_is_never_shallower_where_a_side_channel_wakes():
    result = solve(island_ground(), np.arange(10.0, 31.0, 1.0), PROFILE)
    depth = result["depth"].fillna(0.0)
    wet = result["wet"] == Wet.YES
    assert float(depth.diff("flow").where(wet.shift(flow=1, fill_value=False)).min()) > -1e-6
    assert bool((wet.astype(int).diff("flow") >= 0).all())
    assert int(wet.isel(flow=-1).sum()) > int(wet.isel(flow=0).sum()) + 300
