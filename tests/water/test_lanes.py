"""Travel lanes: exact shortest ways, an analytic channel, and where rising water moves them."""

from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.words import Wet
from reachmap.water.lanes import (
    Current,
    cover_depth_in,
    effort_per_metre,
    exposure_factor,
    find_lanes,
    step_costs,
    swimming_speed,
)
from reachmap.water.mesh import cheapest_route, mesh_of
from reachmap.water.settings import LaneSettings
from tests.made import made_flows, made_ground
from tests.water.scenes import as_field, from_mask, with_speed

RULES = LaneSettings()


@pytest.mark.parametrize("against", [0.0, 0.5, 1.0, 1.5])
def test_the_best_ground_speed_is_one_over_k_whatever_the_current(against):
    # Castro-Santos 2005 (J. Exp. Biol. 208:421, abstract): constant best ground speed; with k = 2
    # it is 0.5 m/s at Uw = 0, 0.5, 1 and 1.5 m/s (worked out from P ~ exp(k Us))
    ground_speed = np.linspace(0.05, 3, 59001)
    cost = np.exp(2.0 * (ground_speed + against)) / ground_speed
    assert ground_speed[cost.argmin()] == pytest.approx(0.5, abs=1e-4)
    still = (np.exp(2.0 * ground_speed) / ground_speed).min()
    assert effort_per_metre(against, 0.0, 2.0) == pytest.approx(cost.min() / still, rel=1e-6)


@given(u=st.floats(-3, 3), k=st.floats(0.5, 4))
def test_a_helping_current_never_costs_more_than_a_hindering_one(u, k):
    assert effort_per_metre(-abs(u), 0.0, k) <= effort_per_metre(abs(u), 0.0, k)
    assert swimming_speed(u, 0.0, k) == pytest.approx(abs(u + 1 / k))


@given(depth=st.floats(0, 3))
def test_deeper_water_never_exposes_more(depth):
    assert (
        exposure_factor(depth, 0.9, 0.18, 9.0)
        >= exposure_factor(depth + 0.1, 0.9, 0.18, 9.0)
        >= 1.0
    )
    assert exposure_factor(0.1, 0.9, 0.18, 9.0) == pytest.approx(10.0)


def test_coloured_water_covers_fish_in_a_third_of_the_depth():
    assert cover_depth_in(1.2, 1.2, RULES) == pytest.approx(0.9)
    assert cover_depth_in(0.1, 1.2, RULES) == pytest.approx(0.3)


def random_water(seed, shape=(18, 30)):
    """Return the field of a pond with holes, of random depth and speed."""
    random = np.random.default_rng(seed)
    wet = random.random(shape) < 0.85
    wet[[0, -1]] = False
    ground, flow = from_mask(wet)
    flow["depth"][0] = np.where(wet, random.uniform(0.05, 1.5, shape), np.nan)
    for name in ("east_speed", "north_speed"):
        flow[name][0] = np.where(wet, random.uniform(-0.6, 1.2, shape), np.nan)
    return as_field(ground, flow)


@pytest.mark.parametrize("seed", range(6))
def test_the_cheapest_way_is_that_of_an_exact_graph_search(seed):
    field = random_water(seed)
    mesh = mesh_of(field.wet)
    forth, back = step_costs(Current.of(field, RULES.swim_height_m), mesh, RULES, 0.9)
    graph = nx.DiGraph()
    for a, b, there, here in zip(mesh.a.tolist(), mesh.b.tolist(), forth, back, strict=True):
        graph.add_edge(a, b, weight=there)
        graph.add_edge(b, a, weight=here)
    foot = np.flatnonzero(mesh.cols >= mesh.cols.max() - 2).astype(np.int32)
    top = np.flatnonzero(mesh.cols <= mesh.cols.min() + 2).astype(np.int32)
    reached = nx.multi_source_dijkstra_path_length(graph, set(foot.tolist()) & set(graph))
    cost, way, total = cheapest_route(mesh, forth, back, foot, top)
    assert total == pytest.approx(min(reached[t] for t in top.tolist() if t in reached), rel=1e-9)
    for node, value in reached.items():
        assert cost[node] == pytest.approx(value, rel=1e-9, abs=1e-6)
    along = sum(graph.edges[a, b]["weight"] for a, b in pairwise(way))
    assert along == pytest.approx(total, rel=1e-9)


def test_steps_never_cut_a_corner_of_dry_ground():
    wet = np.ones((5, 5), bool)
    wet[2, 1:4] = False
    mesh = mesh_of(wet)
    pairs = {
        (int(mesh.rows[a]), int(mesh.cols[a]), int(mesh.rows[b]), int(mesh.cols[b]))
        for a, b in zip(mesh.a, mesh.b, strict=True)
    }
    assert not any({r1, r2} == {1, 3} and 1 <= c1 <= 3 for r1, c1, r2, c2 in pairs)
    assert mesh.size == wet.sum()
    assert mesh_of(np.eye(4, dtype=bool)).length.size == 0  # corners alone let nothing through


def test_in_a_uniform_channel_the_lane_runs_where_the_closed_form_is_least():
    # along a straight channel the cost per metre is a function of the offset alone: its least
    # value times the length is the least cost, at the offset where it lies
    ground = made_ground(length=400, half_width=20, deep=2.0)
    flow = made_flows(ground, {50.0: -0.1})
    field = as_field(ground, flow)
    (lane,) = find_lanes(field, np.ones_like(field.wet), RULES, 0.9)
    depth, mean = field.depth[:, 100], field.speed[:, 100]
    # the fish pays for the speed 0.25 m over the bed, by the law of the wall with n = 0.035
    law = 1 + np.sqrt(9.80665) * 0.035 / (0.41 * depth ** (1 / 6)) * (1 + np.log(0.25 / depth))
    speed = mean * np.minimum(law, 1.0)
    assert np.nanmin(law) < 0.9
    cost = exposure_factor(depth, 0.9, RULES.depth_low_m, RULES.exposure) * effort_per_metre(
        speed, 0.0, RULES.effort_per_m_s
    )
    best = np.nanargmin(np.where(depth >= RULES.depth_low_m, cost, np.nan))
    expected = abs(field.offset[best, 100])
    middle = slice(len(lane.rows) // 4, -len(lane.rows) // 4)
    found = np.abs(field.offset[lane.rows[middle], lane.cols[middle]])
    np.testing.assert_allclose(found, expected, atol=field.grid.cell)
    assert lane.effort == pytest.approx(np.nanmin(cost), rel=0.05)


def bar_river(fill):
    """Return the field of a river with a bar on its left, at a level over the bank tops [m]."""
    ground = made_ground(length=500, half_width=30, deep=2.2)
    offset, station = ground["offset"].values, ground["station"].values
    shelf = 100 - 0.002 * station - 1.25  # a wide flat bar, 1.25 m below the banks
    bar = (offset > 5) & (offset < 26)
    ground["bed"][:] = np.where(bar, np.maximum(ground["bed"].values, shelf), ground["bed"].values)
    flow = made_flows(ground, {60.0: fill})
    rough = np.where(offset > 5, 1.6, 1.0)  # the bar is rougher than the thalweg
    speed = np.hypot(flow["east_speed"].values[0], flow["north_speed"].values[0])
    return as_field(ground, with_speed(ground, flow, speed / rough))


def test_rising_water_moves_the_lane_from_mid_channel_to_the_inside_edge():
    offsets = []
    for fill in (-1.3, -0.6, -0.1, 0.4):
        field = bar_river(fill)
        (lane,) = find_lanes(field, np.ones_like(field.wet), RULES, 0.9)
        middle = slice(len(lane.rows) // 4, -len(lane.rows) // 4)
        offsets.append(float(np.median(field.offset[lane.rows[middle], lane.cols[middle]])))
    assert abs(offsets[0]) < 5  # low: the middle of the channel, the bar is bare
    assert offsets[-1] > 20  # high: over the bar, along the inside edge
    assert offsets[-1] > offsets[0] + 15


def test_a_lane_breaks_where_the_water_is_too_thin():
    wet = np.ones((12, 150), bool)
    ground, flow = from_mask(wet)
    flow["depth"][0, :, 70:76] = 0.10
    field = as_field(ground, flow)
    (lane,) = find_lanes(field, np.ones_like(field.wet), RULES, 0.9)
    blocked = lane.cols[lane.blocked]
    assert blocked.min() >= 68
    assert blocked.max() <= 78
    assert blocked.max() - blocked.min() >= 5


def test_no_lane_crosses_unknown_water():
    wet = np.ones((12, 150), bool)
    ground, flow = from_mask(wet)
    for name in ("depth", "level", "east_speed", "north_speed"):
        flow[name][0, :, 70:76] = np.nan
    flow["wet"][0, :, 70:76] = Wet.UNKNOWN
    field = as_field(ground, flow)
    lanes = find_lanes(field, np.ones_like(field.wet), RULES, 0.9)
    assert len(lanes) == 2
    assert not any(((lane.cols >= 70) & (lane.cols < 76)).any() for lane in lanes)


def test_a_lane_follows_the_most_of_what_passes():
    ground = made_ground(length=400.0, half_width=20.0, deep=1.5)
    flow = made_flows(ground, {40.0: -0.2})
    field = as_field(ground, with_speed(ground, flow, np.full(ground["offset"].shape, 0.5)))
    everywhere = np.ones_like(field.wet)
    for side in (-1, 1):
        passes = np.where(np.abs(field.offset[...] - side * 8) < 3, 0.5, 0.003)
        (lane,) = find_lanes(field, everywhere, RULES, 0.9, passes)
        inner = field.offset[lane.rows, lane.cols][10:-10]
        assert np.abs(inner - side * 8).max() < 4
