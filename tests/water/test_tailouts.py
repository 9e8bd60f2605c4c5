"""Tailouts: residual depth against the worked example, lips where they were put."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from reachmap.water.channels import channel_graph
from reachmap.water.settings import ChannelSettings, TailoutSettings
from reachmap.water.tailouts import (
    Pool,
    find_pools,
    find_tailouts,
    residual_depth,
    tailout_start,
)
from reachmap.water.thalwegs import find_threads
from tests.made import made_flows, made_ground
from tests.water.scenes import as_field, steered

TABLE = pd.read_csv(
    Path(__file__).parents[2] / "shared" / "tables" / "residual_depth.csv", comment="#"
)


@pytest.mark.table
def test_residual_depth_is_that_of_the_worked_example():
    bed = TABLE["bed_m"].to_numpy()
    np.testing.assert_allclose(residual_depth(bed), TABLE["residual_m"], atol=1e-9)


@pytest.mark.table
def test_the_worked_example_has_two_pools_with_their_lips():
    bed = TABLE["bed_m"].to_numpy()
    pools = find_pools(np.arange(bed.size, dtype=float), bed, 0.15, 1.0)
    assert [pool.lip for pool in pools] == [5, 9]
    assert [pool.residual_m for pool in pools] == pytest.approx([0.5, 0.6])
    assert [pool.deepest for pool in pools] == [3, 7]


@given(bed=arrays(np.float64, st.integers(2, 60), elements=st.floats(-50, 50)))
def test_residual_depth_is_never_negative_and_nothing_where_the_bed_falls(bed):
    assert (residual_depth(bed) >= 0).all()
    assert residual_depth(np.sort(bed)[::-1]).max() == 0


@given(bed=arrays(np.float64, 40, elements=st.floats(0, 5)), lift=st.floats(-100, 100))
def test_residual_depth_does_not_depend_on_the_datum(bed, lift):
    np.testing.assert_allclose(residual_depth(bed + lift), residual_depth(bed), atol=1e-9)


def test_a_pool_whose_lip_is_off_the_map_is_left_out():
    bed = np.array([5.0, 4.0, 3.0, 4.0, 4.5])
    assert find_pools(np.arange(5.0), bed, 0.1, 0.0) == []


def test_a_tailout_starts_where_it_begins_to_shoal():
    along = np.arange(0.0, 100.0, 2.0)
    depth = np.where(along < 40, 2.0, np.maximum(2.0 - 0.03 * (along - 40), 0.5))
    pool = Pool(head=0, deepest=5, lip=45, residual_m=1.0)
    start = tailout_start(along, depth, 2.0 / depth, pool, 200.0, 0.05)
    assert along[start] <= 40
    assert along[tailout_start(along, depth, 2.0 / depth, pool, 30.0, 0.05)] == pytest.approx(60.0)


def scene(**plan):
    """Return field and tailouts of a river whose bars crest every 250 m."""
    ground = made_ground(
        **{"length": 1250, "wavelength": 500, "half_width": 20, "deep": 1.6, "riffle": 0.5} | plan
    )
    flows = steered(ground, made_flows(ground, {15.0: -0.4}))
    field = as_field(ground, flows)
    graph = channel_graph(field, ChannelSettings())
    return field, find_tailouts(
        field, find_threads(field, graph, ChannelSettings()), TailoutSettings()
    )


@pytest.mark.parametrize("turn_deg", [0.0, 45.0])
def test_lips_are_found_where_the_bars_crest(turn_deg):
    # bed = riffle cos(4 pi s/M) - slope s: crests where the sine's slope is the river's
    _, tailouts = scene(turn_deg=turn_deg)
    back = np.arcsin(0.002 * 500 / (4 * np.pi * 0.5)) * 500 / (4 * np.pi)
    lips = [t.thread.station[t.lip] for t in tailouts]
    np.testing.assert_allclose(lips, 250.0 * np.arange(1, 5) - back, atol=8.0)
    for tailout in tailouts:
        assert tailout.start_depth_m > tailout.lip_depth_m
        assert tailout.start_speed_m_s < tailout.lip_speed_m_s
        assert tailout.thread.station[tailout.start] < tailout.thread.station[tailout.lip]


def test_the_residual_depth_is_that_of_the_bars():
    # from crest to trough of riffle cos(4 pi s/M) - slope s, by its extremes
    _, tailouts = scene()
    s = np.linspace(0, 250, 100001)
    bed = 0.5 * np.cos(4 * np.pi * s / 500) - 0.002 * s
    low = int(bed.argmin())
    expected = bed[low:].max() - bed[low]
    for tailout in tailouts:
        assert tailout.residual_m == pytest.approx(expected, rel=0.1)


def test_a_plane_bed_has_no_tailout():
    assert scene(riffle=0.0)[1] == []


def test_where_the_water_does_not_quicken_there_is_no_tailout():
    ground = made_ground(length=1250, wavelength=500, half_width=20, deep=1.6, riffle=0.5)
    field = as_field(ground, made_flows(ground, {15.0: -0.4}))  # thin water slower: no such river
    threads = find_threads(field, channel_graph(field, ChannelSettings()), ChannelSettings())
    assert find_tailouts(field, threads, TailoutSettings()) == []


def test_water_that_hardly_moves_has_no_tailout():
    ground = made_ground(length=1250, wavelength=500, half_width=20, deep=1.6, riffle=0.5)
    flows = steered(ground, made_flows(ground, {15.0: -0.4}))
    for name in ("east_speed", "north_speed"):
        flows[name] = 0.1 * flows[name]  # it quickens in proportion, but by centimetres a second
    field = as_field(ground, flows)
    threads = find_threads(field, channel_graph(field, ChannelSettings()), ChannelSettings())
    assert find_tailouts(field, threads, TailoutSettings()) == []
