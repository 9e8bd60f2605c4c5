"""What trips saw of edges and depths: in the ground where it was seen, and nowhere far away."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import Point

from reachmap.ground import build_ground
from reachmap.ground.levels import TABLE_M, Levels, SectionTables
from reachmap.ground.rises import MOST_PROFILES, rises_at
from reachmap.ground.spots import ALIKE_FLOWS, alike
from reachmap.ground.used import Kind, Why, facts_of
from reachmap.markup.model import Edge, Origin, Sounding
from tests.ground.flown_river import DRAWN, FLOWN, GROUND, RIVER, SETTINGS
from tests.ground.said import said_of
from tests.ground.scenes import with_soundings

DAY = "2031-01-05"
LEVEL = RIVER.section_level(20.0)
BARE = build_ground(DRAWN, None, SETTINGS)
SOUNDED = with_soundings(DRAWN, RIVER, 20.0, 25)
GROUND_SOUNDED = build_ground(SOUNDED, FLOWN, SETTINGS)


def place(station, offset):
    x, y = RIVER.line.from_station_offset(np.array([float(station)]), np.array([float(offset)]))
    return Point(x[0], y[0])


def depth(station, offset, metres, origin=Origin.LOG, flow=20.0):
    return Sounding("", place(station, offset), metres, flow, np.nan, origin, DAY)


def true_depth(station, offset):
    there = place(station, offset)
    bed = RIVER.at(np.array([there.x]), np.array([there.y]))[0]
    return float(np.interp(station, RIVER.line.station, LEVEL) - bed)


def edge_at(station, flow, *, side=0, out=0.0):
    """The left (0) or right (1) edge of the water at a flow, `out` metres further off."""
    edge = RIVER.edges(RIVER.section_level(flow))[side]
    sign = 1 if side == 0 else -1
    offset = float(np.interp(station, RIVER.line.station, edge)) + sign * out
    return Edge(place(station, offset), flow, DAY, Origin.LOG)


def change(ground, before, station, offset):
    """How far the bed moved at a place, and at places 400 m or more along the river."""
    there = place(station, offset)
    x, y = np.meshgrid(ground["x"].to_numpy(), ground["y"].to_numpy())
    moved = np.abs((ground["bed"] - before["bed"]).to_numpy())
    near = np.hypot(x - there.x, y - there.y) < 3
    far = np.abs(ground["station"].to_numpy() - station) > 400
    return float(np.nanmax(moved[near])), float(np.nanmax(moved[far]))


def fact(ground, kind):
    (one,) = [one for one in facts_of(ground.attrs) if one.kind is kind]
    return one


def test_a_logged_depth_moves_the_bed_there_and_hardly_anything_far_away():
    """Where soundings have said already how deep the reach is as a whole."""
    more = replace(SOUNDED, soundings=(*SOUNDED.soundings, depth(200, 0, true_depth(200, 0) + 0.5)))
    near, far = change(build_ground(more, FLOWN, SETTINGS), GROUND_SOUNDED, 200, 0)
    assert near > 0.1
    assert far < 0.15 * near


def test_a_logged_depth_keeps_its_origin_and_day():
    ground = build_ground(replace(DRAWN, soundings=(depth(200, 0, 1.0),)), FLOWN, SETTINGS)
    one = fact(ground, Kind.SOUNDING)
    assert (one.origin, one.date, one.why) == (Origin.LOG, DAY, Why.USED)


def test_a_logged_depth_counts_less_than_a_drawn_one_as_a_phones_place_is_off():
    moved = []
    for origin in (Origin.DRAWN, Origin.LOG):
        told = depth(200, 0, true_depth(200, 0) + 0.5, origin)
        ground = build_ground(replace(DRAWN, soundings=(told,)), FLOWN, SETTINGS)
        moved.append(change(ground, GROUND, 200, 0)[0])
    assert 0.4 * moved[0] < moved[1] < moved[0]
    exact = replace(SETTINGS, logged_place_m=0.0)
    told = replace(DRAWN, soundings=(depth(200, 0, true_depth(200, 0) + 0.5),))
    assert change(build_ground(told, FLOWN, exact), GROUND, 200, 0)[0] == pytest.approx(moved[0])


def test_a_wrong_depth_of_the_log_is_set_aside_as_a_drawn_one_would_be():
    good = tuple(depth(s, 0, true_depth(s, 0)) for s in (100, 300, 500, 700))
    wild = depth(400, 0, 10 * true_depth(400, 0))
    with_wild = build_ground(replace(DRAWN, soundings=(*good, wild)), FLOWN, SETTINGS)
    without = build_ground(replace(DRAWN, soundings=good), FLOWN, SETTINGS)
    told = [one.why for one in facts_of(with_wild.attrs) if one.kind is Kind.SOUNDING]
    assert told == [Why.USED] * 4 + [Why.TOO_DEEP]
    assert with_wild["bed"].to_numpy() == pytest.approx(without["bed"].to_numpy(), nan_ok=True)


def test_a_height_that_the_dem_saw_dry_checks_it_and_is_told_so():
    left = RIVER.edges(RIVER.section_level(60.0))[0]
    there = place(400, float(np.interp(400, RIVER.line.station, left)) + 6)
    height = float(RIVER.at(np.array([there.x]), np.array([there.y]))[0])
    known = Sounding("peg", there, np.nan, np.nan, height)
    ground = build_ground(replace(DRAWN, soundings=(known,)), FLOWN, SETTINGS)
    assert fact(ground, Kind.SOUNDING).why is Why.SEEN_DRY
    assert ground["bed"].to_numpy() == pytest.approx(GROUND["bed"].to_numpy(), nan_ok=True)


def test_an_edge_logged_at_a_higher_flow_makes_the_bank_known_there_without_a_dem():
    spot = edge_at(400, 60.0)
    ground = build_ground(replace(DRAWN, edges=(spot,)), None, SETTINGS)
    x, y = np.meshgrid(ground["x"].to_numpy(), ground["y"].to_numpy())
    new = np.isfinite(ground["bed"].to_numpy()) & ~np.isfinite(BARE["bed"].to_numpy())
    away = np.hypot(x - spot.shape.x, y - spot.shape.y)[new]
    assert new.sum() > 5
    assert away.max() < 25
    assert fact(ground, Kind.EDGE).why is Why.USED


def test_an_edge_logged_within_the_low_water_makes_the_bed_shallow_there():
    spot = Edge(place(400, 0), 8.0, DAY, Origin.LOG)  # a bar that dries in the middle
    ground = build_ground(replace(DRAWN, edges=(spot,)), None, SETTINGS)
    there = ground["bed"].interp(x=spot.shape.x, y=spot.shape.y, method="nearest").item()
    before = BARE["bed"].interp(x=spot.shape.x, y=spot.shape.y, method="nearest").item()
    assert there > before + 0.1
    assert ground.attrs["low_flow"] == BARE.attrs["low_flow"]  # one place is no lower water
    assert fact(ground, Kind.EDGE).why is Why.USED


def test_an_edge_logged_on_a_dems_ground_says_how_high_the_water_stood():
    spots = tuple(edge_at(s, 60.0) for s in (150, 300, 450, 600, 750))
    plain = "was computed from the sections themselves"
    assert plain in said_of(GROUND_SOUNDED)
    told = said_of(build_ground(replace(SOUNDED, edges=spots), FLOWN, SETTINGS))
    assert plain not in told
    assert "where the water's edge was logged" in told


@pytest.mark.parametrize(
    ("spot", "why"),
    [
        (Edge(place(400, 0), 60.0, DAY, Origin.LOG), Why.WITHIN_LOWER),
        (edge_at(400, 12.0, out=20.0), Why.DRY_GROUND),
        (Edge(place(400, 900), 60.0, DAY, Origin.LOG), Why.OUTSIDE),
    ],
)
def test_a_logged_edge_that_cannot_be_is_left_out_with_its_reason(spot, why):
    ground = build_ground(replace(DRAWN, edges=(spot,)), FLOWN, SETTINGS)
    assert fact(ground, Kind.EDGE).why is why
    assert ground["bed"].to_numpy() == pytest.approx(GROUND["bed"].to_numpy(), nan_ok=True)


def test_a_logged_edge_is_not_taken_for_the_flow_of_the_terrain_models_day():
    unsaid = replace(FLOWN, flow=np.nan)
    spot = Edge(place(400, 0), 8.0, DAY, Origin.LOG)
    ground = build_ground(replace(DRAWN, edges=(spot,)), unsaid, SETTINGS)
    assert ground.attrs["low_flow"] == 20.0


def test_flows_of_trips_that_are_nearly_one_are_taken_as_one():
    assert alike([20.0, 60.0, 21.0]) == pytest.approx([np.sqrt(420), 60.0, np.sqrt(420)])
    apart = [20.0, 20.0 * ALIKE_FLOWS * 1.01]
    assert alike(apart) == pytest.approx(apart)


def even_levels():
    """Levels of a wide even channel, a metre deep at low water."""
    station = np.array([0.0, 300.0, 600.0])
    depth = np.maximum(TABLE_M + 1.0, 0.0)
    area = np.tile(40 * depth, (3, 1))
    carry = np.tile(40 * depth ** (5 / 3) / 0.035, (3, 1))
    tables = SectionTables(station, 100 - 0.002 * station, carry, area, 0.002)
    return Levels(tables, float(np.interp(0.0, TABLE_M, carry[0]) * np.sqrt(0.002))), station


def test_a_rise_seen_at_one_logged_place_is_believed_by_half_and_at_many_nearly_whole():
    levels, station = even_levels()
    flow = 2 * levels.low_flow
    rise = levels.rise(flow, station)

    def ratio(count, *, rough):
        told = (flow, np.resize(station, count), 1.5 * np.resize(rise, count))
        known = levels.anchored((), [told]) if rough else levels.anchored([told])
        return known.ratio(flow)

    assert ratio(1, rough=False) == pytest.approx(1.5, rel=0.01)
    assert 1.05 < ratio(1, rough=True) < 1.4
    assert ratio(1, rough=True) < ratio(9, rough=True) < 1.5
    assert ratio(400, rough=True) == pytest.approx(1.5, abs=0.02)


def test_rises_of_many_flows_are_read_between_a_few_to_millimetres(monkeypatch):
    levels, _ = even_levels()
    plain, asked = Levels.rise, []
    monkeypatch.setattr(Levels, "rise", lambda *args: asked.append(1) or plain(*args))
    flows = levels.low_flow * np.geomspace(0.5, 6.0, 200)
    stations = np.linspace(20, 580, 200)
    got = rises_at(levels, flows, stations)
    assert len(asked) == MOST_PROFILES
    each = [levels.rise(q, np.array([s]))[0] for q, s in zip(flows, stations, strict=True)]
    assert got == pytest.approx(each, abs=0.005)
    few = rises_at(levels, flows[::50], stations[::50])
    assert few == pytest.approx(each[::50], abs=1e-12)
