"""The channel graph on water whose channels are known."""

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from reachmap.base.words import Wet
from reachmap.water.channels import channel_graph, channels_layer
from reachmap.water.follow import follow_channels
from reachmap.water.settings import ChannelSettings
from reachmap.water.skeleton import filled, skeleton_graph
from reachmap.water.thalwegs import find_thalwegs
from tests.made import made_flows, made_ground
from tests.water.scenes import as_field, from_mask

RULES = ChannelSettings()


def graph_of(wet, **plan):
    ground, flow = from_mask(wet, **plan)
    field = as_field(ground, flow)
    return field, channel_graph(field, RULES)


def plain(rows=40, cols=250):
    wet = np.zeros((rows, cols), bool)
    wet[5:-5] = True
    return wet


def loops(graph):
    return (
        graph.number_of_edges()
        - graph.number_of_nodes()
        + nx.number_weakly_connected_components(graph)
    )


def kinds(graph):
    return sorted(spot["kind"] for _, spot in graph.nodes(data=True))


def test_one_channel_is_one_edge_from_head_to_foot():
    _, graph = graph_of(plain())
    assert kinds(graph) == ["foot", "head"]
    ((_, _, channel),) = graph.edges(data=True)
    assert channel["kind"] == "main"
    assert channel["share"] == pytest.approx(30 * 2 * 0.8 / 50.0, rel=0.05)  # width depth speed / Q
    assert channel["width_m"] == pytest.approx(60.0, abs=2.0)
    assert channel["length_m"] == pytest.approx(498.0, abs=4.0)  # from cell centre to centre


def test_an_island_makes_a_split_and_a_junction():
    wet = plain()
    wet[14:20, 90:160] = False
    _, graph = graph_of(wet)
    assert kinds(graph) == ["foot", "head", "junction", "split"]
    assert loops(graph) == 1
    split = next(n for n, s in graph.nodes(data=True) if s["kind"] == "split")
    junction = next(n for n, s in graph.nodes(data=True) if s["kind"] == "junction")
    assert graph.number_of_edges(split, junction) == 2
    shares = sorted(c["share"] for _, _, c in graph.out_edges(split, data=True))
    assert shares == pytest.approx([9 * 1.6 / 50, 15 * 1.6 / 50], rel=0.15)
    assert sorted(c["kind"] for _, _, c in graph.out_edges(split, data=True)) == ["main", "side"]


def test_braids_have_as_many_loops_as_islands():
    wet = plain(60, 400)
    for row, col in ((15, 60), (35, 90), (20, 170), (40, 180), (28, 270)):
        wet[row : row + 6, col : col + 50] = False
    _, graph = graph_of(wet)
    assert loops(graph) == 5
    assert nx.is_directed_acyclic_graph(graph)
    assert "end" not in kinds(graph)


@given(seed=st.integers(0, 500))
def test_the_skeleton_has_a_loop_for_every_hole(seed):
    # the number of independent loops of a skeleton is that of the holes it was thinned from
    random = np.random.default_rng(seed)
    wet = ndimage.binary_opening(
        ndimage.gaussian_filter(random.random((40, 80)), 2.0) > 0.5, np.ones((3, 3))
    )
    wet = filled(wet, 9)
    graph = skeleton_graph(wet)
    holes = ndimage.label(~np.pad(wet, 1))[1] - 1
    pieces = ndimage.label(wet, np.ones((3, 3)))[1]
    found = nx.number_connected_components(graph)
    assert found == pieces
    assert graph.number_of_edges() - graph.number_of_nodes() + found == holes


def test_a_dead_arm_ends_and_carries_nothing():
    wet = plain(70, 250)
    wet[:35] = False
    wet[5:40, 100:108] = True  # an arm that leaves at right angles
    ground, flow = from_mask(wet)
    still = np.zeros(wet.shape, bool)
    still[5:34, 100:108] = True
    for name in ("east_speed", "north_speed"):
        flow[name][0] = np.where(still, 0.0, flow[name].values[0])
    graph = channel_graph(as_field(ground, flow), RULES)
    arms = [c for _, _, c in graph.edges(data=True) if c["kind"] == "dead arm"]
    assert len(arms) == 1
    assert arms[0]["share"] < 0.002
    assert kinds(graph) == ["arm", "end", "foot", "head"]
    assert sum(c["kind"] == "main" for _, _, c in graph.edges(data=True)) == 2


def test_a_bay_of_the_bank_is_no_channel():
    wet = plain()
    wet[35:40, 120:128] = True
    _, graph = graph_of(wet)
    assert graph.number_of_edges() == 1


def test_boulders_are_no_islands():
    wet = plain()
    wet[18:20, 100:102] = False
    wet[22, 150] = False
    _, graph = graph_of(wet)
    assert graph.number_of_edges() == 1
    assert filled(wet, 15)[18, 100]
    assert not filled(wet, 2)[18, 100]


def test_edges_point_downstream_whichever_way_the_river_runs():
    ground = made_ground(length=500, half_width=20, deep=1.8, turn_deg=40)
    turned = made_flows(ground, {40.0: -0.2})
    _, graph = as_field(ground, turned), channel_graph(as_field(ground, turned), RULES)
    for a, b in graph.edges():
        assert graph.nodes[a]["station"] < graph.nodes[b]["station"]


def test_a_river_cut_by_unknown_water_is_two_pieces():
    wet = plain()
    ground, flow = from_mask(wet)
    for name in ("depth", "level", "east_speed", "north_speed"):
        flow[name][0, :, 120:130] = np.nan
    flow["wet"][0, :, 120:130] = Wet.UNKNOWN
    graph = channel_graph(as_field(ground, flow), RULES)
    assert nx.number_weakly_connected_components(graph) == 2


def test_no_water_is_an_empty_graph_and_an_empty_layer():
    field, graph = graph_of(np.zeros((30, 60), bool))
    assert graph.number_of_nodes() == 0
    assert len(channels_layer(graph, field)) == 0


def test_a_thalweg_runs_through_the_deepest_water_and_a_side_channel_has_its_own():
    wet = plain(40, 300)
    wet[14:20, 90:210] = False
    ground, flow = from_mask(wet)
    depth = np.where(wet, 0.5, np.nan)
    depth[27:30] = 2.0
    depth[8] = np.where(wet[8], 1.0, np.nan)
    flow["depth"][0] = depth
    field = as_field(ground, flow)
    thalwegs = find_thalwegs(field, channel_graph(field, RULES), RULES)
    assert [t.channel for t in thalwegs].count("main") == 1
    assert len(thalwegs) == 2
    main = next(t for t in thalwegs if t.channel == "main")
    rows = [(field.grid.y[0] - t.points[:, 1]) / 2 + 3 for t in (main,)]  # the window starts at 3
    assert np.abs(rows[0][30:-30] - 28).max() < 1.5
    side = next(t for t in thalwegs if t.channel != "main")
    assert (side.rows + 3 < 14).all()


def test_a_side_channel_wakes_at_the_flow_from_which_it_runs():
    import geopandas as gpd
    import pandas as pd

    layers = []
    for flow, state in ((10.0, "dry"), (20.0, "dead"), (30.0, "runs"), (40.0, "runs")):
        wet = plain(50, 250)
        wet[:22] = False
        if state != "dry":
            wet[8:24, 80:86] = wet[8:24, 160:166] = True
            wet[6:14, 80:166] = True
        if state == "dead":
            wet[6:24, 80:92] = False
            wet[22:24, 80:92] = True
        ground, one = from_mask(wet)
        if state == "dead":
            still = np.zeros(wet.shape, bool)
            still[:20] = True
            one["east_speed"][0] = np.where(still & wet, 0.0, one["east_speed"].values[0])
        one = one.assign_coords(flow=[flow], asked=("flow", [f"{flow:g}"]))
        field = as_field(ground, one)
        layers.append(channels_layer(channel_graph(field, RULES), field))
    assert "dead arm" in set(layers[1]["kind"])
    stacked = gpd.GeoDataFrame(pd.concat(layers, ignore_index=True), crs=layers[0].crs)
    followed = follow_channels(stacked, 40.0)
    assert set(followed.loc[followed["kind"] == "main", "wakes_at_m3_s"]) == {10.0}
    assert set(followed.loc[followed["kind"] == "side", "wakes_at_m3_s"]) == {30.0}
    assert set(followed.loc[followed["kind"] == "dead arm", "wakes_at_m3_s"]) == {20.0}
