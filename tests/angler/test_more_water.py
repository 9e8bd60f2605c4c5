"""A hand's breadth more water: what it shuts, and at which flow."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from reachmap.angler import AnglerSettings, assess, ways_back
from reachmap.angler.more_water import NEAR_M, Surface, closed_by_rise, flows_of_rise, raised_view
from reachmap.angler.settings import LineSettings, RoomSettings, WadingSettings
from reachmap.angler.stations import Stands, find_ground
from reachmap.angler.view import view_of
from reachmap.angler.wading import grade_water
from reachmap.base.fields import check_fields
from reachmap.base.listed import CellList
from reachmap.base.words import AccessKind
from reachmap.markup.model import Access
from tests.angler.hand import access_at, band, card_lines, hand_markup, hand_water, noted
from tests.made import made_flows, made_ground

# the bed is known to the centimetre and the current is slow, so that depth alone rules
SURE = WadingSettings(doubt=0.0, smooth_m=0.0, zone_low_m2=4.0)
SETTINGS = AnglerSettings(wading=SURE, line=LineSettings(full=False), room=RoomSettings(rays=3))
FILLS = {5.0: -0.70, 10.0: -0.40, 20.0: -0.15}
"""Level against the bank tops at each flow: over the ford 0.25, 0.55 and 0.80 m. The deepest a man
of 1.78 m wades is half of that, 0.89 m: 0.1 m more shuts the ford at the highest flow only."""


def river():
    """Return a straight, nearly level channel with a high bar by river right and a ford to it."""
    ground = made_ground(length=240, slope=0.0001, half_width=20, deep=2.0)
    bed, station = ground["bed"].to_numpy().copy(), ground["station"].to_numpy()
    offset, level = ground["offset"].to_numpy(), 100 - 0.0001 * ground["station"].to_numpy()
    near = np.abs(station - 120) < 15
    bar, ford = near & (offset > -12) & (offset < -4), near & (offset <= -12) & (offset > -22)
    bed[bar] = (level + 0.4)[bar]
    bed[ford] = np.maximum(bed[ford], (level - 0.95)[ford])
    bed[ford & (offset > -18)] = (level - 0.95)[ford & (offset > -18)]
    ground["bed"] = ground["bed"].copy(data=bed)
    ground["surface"] = ground["surface"].copy(data=np.maximum(ground["surface"].to_numpy(), bed))
    return check_fields(ground, "ground")


GROUND = river()
FLOWS = made_flows(GROUND, FILLS)
X0, Y = float(GROUND["line_x"][0]), float(GROUND["line_y"][0])
RIGHT, LEFT = (access_at(X0 + 120, Y + side * 45) for side in (-1, 1))


def told(*access):
    """Return the layers of every flow, stacked, ways back filled in, and the drawing."""
    mark, found = hand_markup(GROUND, access=access), []
    for index, flow in enumerate(FILLS):
        water = hand_water(
            [band(GROUND, 105, 135, -3, 6)],
            flow=flow,
            label=f"{flow:g}m3s",
            crs=GROUND.attrs["crs"],
            stations=[(105, 135)],
        )
        found.append({"water": water, **assess(GROUND, FLOWS.isel(flow=[index]), water, mark,
                                               SETTINGS)})  # fmt: skip
    layers = {name: pd.concat([one[name] for one in found]) for name in found[0]}
    return {**layers, **ways_back(GROUND, FLOWS, layers)}, mark


LAYERS, MARK = told(RIGHT, LEFT)


def at(label, side="island"):
    rows = LAYERS["stations"]
    return rows[(rows["flow_label"] == label) & (rows["side"] == side)]


def test_raised_water_is_the_water_of_the_higher_level():
    # uniform flow: level parallel to the slope and Manning's speed, both as made for that level
    ground = made_ground(length=120, slope=0.001)
    low, high = (view_of(ground, made_flows(ground, {20.0: fill})) for fill in (-0.4, -0.3))
    up = raised_view(low, 0.1)
    assert (up.wet == high.wet).all()
    assert (up.dry == high.dry).all()
    assert (up.land == high.land).all()
    assert up.depth == pytest.approx(high.depth, nan_ok=True)
    deep = low.wet & (low.depth > 0.1)
    assert up.speed[deep] == pytest.approx(high.speed[deep], rel=1e-6)


def test_ground_low_but_not_joined_to_water_stays_dry():
    ground = made_ground(length=120, slope=0.001)
    bed = ground["bed"].to_numpy().copy()
    pit = (np.abs(ground["offset"].to_numpy()) > 26) & (np.abs(ground["station"] - 60) < 4)
    bed[pit.to_numpy()] = 99.0
    ground["bed"] = ground["bed"].copy(data=bed)
    flow = made_flows(ground, {20.0: -0.4})
    wet = flow["wet"].to_numpy()
    wet[0][pit.to_numpy()] = 0
    view = raised_view(view_of(ground, flow), 0.1)
    assert not view.wet[pit.to_numpy()].any()


def test_land_behind_a_channel_that_fills_is_land_no_more():
    # a dry channel right across the left bank's foot cuts off what lies between it and the river
    ground = made_ground(length=120, slope=0.0)
    bed, offset = ground["bed"].to_numpy().copy(), ground["offset"].to_numpy()
    station = ground["station"].to_numpy()
    ring = (offset > 16) & (offset < 30) & (np.abs(station - 60) < 20)
    inner = (offset > 16) & (offset < 26) & (np.abs(station - 60) < 14)
    bed[ring], bed[inner] = 99.75, 100.5
    ground["bed"] = ground["bed"].copy(data=bed)
    flow = made_flows(ground, {20.0: -0.3})
    view = view_of(ground, flow)
    assert view.land[inner].all()
    assert not raised_view(view, 0.1).land[inner].any()
    assert raised_view(view, 0.02).land[inner].all()


def test_places_on_a_bar_are_shut_when_the_ford_would_be_too_deep():
    assert len(at("10m3s"))
    assert not at("10m3s")["hand_shuts"].any()
    assert len(at("20m3s"))
    assert at("20m3s")["hand_shuts"].all()


def test_dry_places_by_land_are_not_shut_by_it():
    assert len(at("20m3s", "left"))
    assert not at("20m3s", "left")["hand_shuts"].any()


def test_a_place_in_the_water_is_shut_where_it_grows_too_deep():
    view = view_of(GROUND, FLOWS.isel(flow=[2]))
    higher = raised_view(view, 0.1)
    grade = grade_water(higher, (), MARK.plan.kit.angler, SURE)
    more = find_ground(higher, grade.grade, (RIGHT, LEFT))
    # on the ford, 0.80 m deep, and by river left where it is shallow
    depth = view.depth.copy()
    depth[np.abs(view.station[...] - 120) > 10] = np.nan
    ford = np.argwhere(np.isclose(depth, 0.80, atol=0.005) & (view.offset[...] < -12))[0]
    edge = np.argwhere((depth < 0.3) & (view.offset[...] > 12))[0]
    none, one = np.zeros(2), np.zeros(2, np.int32)
    pair = np.zeros((2, 2))
    rows, cols = np.array([ford, edge]).T
    stands = Stands(
        one, one - 1, view.grid.points(rows, cols), none, depth[rows, cols],
        none, none, pair, pair, none, np.ones(2, bool), one - 1,
    )  # fmt: skip
    assert closed_by_rise(higher, more, stands, 8.0).tolist() == [True, False]


def test_a_bank_reached_by_boat_alone_is_not_shut_for_that():
    landing = Access(RIGHT.place, AccessKind.LANDING, "")
    rows = told(landing)[0]["stations"]
    left = rows[(rows["side"] == "left") & (rows["flow_label"] == "5m3s")]
    assert set(left["access"]) == {"boat"}
    assert not left["hand_shuts"].any()


def test_the_flow_of_a_hand_more_is_read_between_mapped_flows():
    # from -0.70 to -0.40 m the level comes up 0.30 m: a third of it, over the logarithm of flow
    expected = 5.0 * 2.0 ** (1 / 3)
    assert at("5m3s")["hand_flow_m3_s"].to_numpy() == pytest.approx(expected, rel=1e-6)
    assert at("10m3s")["hand_flow_m3_s"].to_numpy() == pytest.approx(10 * 2**0.4, rel=1e-6)


def test_above_the_highest_mapped_flow_it_is_not_known():
    assert at("20m3s")["hand_flow_m3_s"].isna().all()


def surface(grid, flow, wet, level):
    """Return the water at one flow, every cell of the raster in the list."""
    every = CellList.of(np.ones(grid.shape, dtype=bool))
    return Surface(grid, every, flow, f"{flow:g}", wet.ravel(), level.ravel())


def surface_of(view):
    """Return the water of a view."""
    return surface(view.grid, view.flow, view.wet, view.level[...])


def test_a_rise_may_take_more_than_one_mapped_flow():
    views = [view_of(GROUND, FLOWS.isel(flow=[index])) for index in range(3)]
    surfaces = [surface_of(one) for one in views]
    place = np.array([[X0 + 120, Y + 10]])
    # 0.40 m: 0.30 m at 10 m3/s and 0.10 of the next 0.25 m
    assert flows_of_rise(surfaces, place, 0.4) == pytest.approx([10 * 2**0.4])
    assert np.isnan(flows_of_rise(surfaces, place, 0.6)).all()


def test_the_rise_about_a_place_is_the_median_of_what_is_wet_at_both_flows():
    chance = np.random.default_rng(4)
    grid = view_of(GROUND, FLOWS.isel(flow=[0])).grid
    low, high = (
        surface(grid, flow, chance.random(grid.shape) < 0.3, level)
        for flow, level in ((5.0, np.zeros(grid.shape)), (10.0, chance.random(grid.shape)))
    )
    # in the middle, in a corner, where cells are missing; 25 cells or fewer, odd and even counts
    points = grid.points(np.array([20, 21, 0, 22]), np.array([40, 41, 0, 90]))
    margin = int(np.ceil(NEAR_M / grid.cell))
    for point in points:
        row, col, _ = grid.index(*point[:, None])
        part = (
            slice(max(row[0] - margin, 0), row[0] + margin + 1),
            slice(max(col[0] - margin, 0), col[0] + margin + 1),
        )
        wet_low, wet_high, level = (
            one.reshape(grid.shape)[part] for one in (low.wet, high.wet, high.level)
        )
        rise = float(np.median(level[wet_low & wet_high]))
        just, over = (flows_of_rise([low, high], point[None], rise + d)[0] for d in (0.0, 1e-9))
        assert just == pytest.approx(10.0)
        assert np.isnan(over)


def test_where_the_water_is_not_known_at_a_flow_between_nothing_is_read_above_it():
    views = [view_of(GROUND, FLOWS.isel(flow=[index])) for index in range(3)]
    surfaces = [surface_of(one) for one in views]
    place = np.array([[X0 + 120, Y + 10]])
    assert np.isfinite(flows_of_rise(surfaces, place, 0.4)).all()
    surfaces[1] = replace(surfaces[1], wet=np.zeros_like(surfaces[1].wet))
    assert np.isnan(flows_of_rise(surfaces, place, 0.4)).all()


def test_a_level_that_is_not_known_gives_no_flow():
    views = [view_of(GROUND, FLOWS.isel(flow=[index])) for index in range(2)]
    low, high = (surface_of(one) for one in views)
    place = np.array([[X0 + 120, Y + 10]])
    assert np.isfinite(flows_of_rise([low, high], place, 0.2)).all()
    row, col, _ = low.grid.index(*place.T)
    level = high.level.copy().reshape(low.grid.shape)
    level[row, col] = np.nan
    assert np.isnan(flows_of_rise([low, replace(high, level=level.ravel())], place, 0.2)).all()


def test_the_card_says_what_a_hand_more_does():
    shut = card_lines("run 1", "20m3s", LAYERS, MARK, SETTINGS)[4]
    open_ = card_lines("run 1", "10m3s", LAYERS, MARK, SETTINGS)[4]
    more = "A hand's breadth more water (0.3 ft, "
    assert f"{more}at a flow not mapped) shuts all 6 places, or the way in or back." in shut
    assert f"{more}about 470 cfs) leaves its places and the way back within your limits." in open_


def test_the_note_of_a_shut_place_says_it_before_the_way_back():
    rows = noted(LAYERS, "stations")
    mine = rows[(rows["flow_label"] == "20m3s") & (rows["side"] == "island")]
    assert len(mine)
    for note in mine["note"]:
        assert note.index("0.3 ft more water shuts it") < note.index("Way back ")


def test_a_way_back_cut_off_by_less_than_a_hand_shuts_the_place():
    flows = made_flows(GROUND, {10.0: -0.40, 11.0: -0.35})
    mark = hand_markup(GROUND, access=(RIGHT, LEFT))
    layers = {}
    for index, flow in enumerate((10.0, 11.0)):
        water = hand_water(
            [band(GROUND, 105, 135, -3, 6)], flow=flow, label=f"{flow:g}m3s",
            crs=GROUND.attrs["crs"], stations=[(105, 135)],
        )  # fmt: skip
        one = assess(GROUND, flows.isel(flow=[index]), water, mark, SETTINGS)
        for name, frame in one.items():
            layers.setdefault(name, []).append(frame)
    layers = {name: pd.concat(frames, ignore_index=True) for name, frames in layers.items()}
    # say that at 11 m3/s, only 0.05 m up, all the ford is out of bounds
    wading = layers["wading"]
    layers["wading"] = wading.assign(
        grade=wading["grade"].mask(wading["flow_label"] == "11m3s", "no")
    )
    flows = made_flows(GROUND, {10.0: -0.40, 11.0: -0.35, 20.0: -0.15})
    rows = ways_back(GROUND, flows, layers)["stations"]
    mine = rows[(rows["flow_label"] == "10m3s") & (rows["side"] == "island")]
    assert (mine["cut_off_m3_s"] == 11.0).all()
    assert mine["hand_shuts"].all()


def test_water_with_no_dry_ground_beside_it_just_stands_higher():
    view = view_of(GROUND, FLOWS.isel(flow=[2]))
    alone = replace(view, dry=np.zeros_like(view.dry))
    higher = raised_view(alone, 0.1)
    assert (higher.wet == view.wet).all()
    assert np.allclose(higher.depth[view.wet], view.depth[view.wet] + 0.1)
