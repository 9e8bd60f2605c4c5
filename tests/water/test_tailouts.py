"""Tailouts: residual depth against the worked example, lips where they were put."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from reachmap.ground.sources import TRUST, Source
from reachmap.water.candidates import Features, tailout_tags
from reachmap.water.channels import channel_graph
from reachmap.water.known_bed import known_bed, known_bed_shares
from reachmap.water.read_water import read_water
from reachmap.water.runs import follow_runs
from reachmap.water.settings import ChannelSettings, TailoutSettings, WaterSettings
from reachmap.water.stretches import Sections
from reachmap.water.tailouts import (
    Pool,
    find_pools,
    find_tailouts,
    residual_depth,
    tailout_start,
)
from reachmap.water.thalwegs import find_thalwegs
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
        field, find_thalwegs(field, graph, ChannelSettings()), TailoutSettings()
    )


@pytest.mark.parametrize("turn_deg", [0.0, 45.0])
def test_lips_are_found_where_the_bars_crest(turn_deg):
    # bed = riffle cos(4 pi s/M) - slope s: crests where the sine's slope is the river's
    _, tailouts = scene(turn_deg=turn_deg)
    back = np.arcsin(0.002 * 500 / (4 * np.pi * 0.5)) * 500 / (4 * np.pi)
    lips = [t.thalweg.station[t.lip] for t in tailouts]
    np.testing.assert_allclose(lips, 250.0 * np.arange(1, 5) - back, atol=8.0)
    for tailout in tailouts:
        assert tailout.start_depth_m > tailout.lip_depth_m
        assert tailout.start_speed_m_s < tailout.lip_speed_m_s
        assert tailout.thalweg.station[tailout.start] < tailout.thalweg.station[tailout.lip]


def test_the_residual_depth_is_that_of_the_bars():
    # from crest to trough of riffle cos(4 pi s/M) - slope s, by its extremes
    _, tailouts = scene()
    s = np.linspace(0, 250, 100001)
    bed = 0.5 * np.cos(4 * np.pi * s / 500) - 0.002 * s
    low = int(bed.argmin())
    expected = bed[low:].max() - bed[low]
    for tailout in tailouts:
        assert tailout.residual_m == pytest.approx(expected, rel=0.1)


def hollow(across):
    """Return tailouts of a plain reach with a hollow 0.8 m deep, of a width across [m]."""
    ground = made_ground(length=600, half_width=20, deep=1.2)
    station, offset = ground["station"].to_numpy(), ground["offset"].to_numpy()
    deep = 0.8 * np.exp(-(((station - 300) / 16) ** 2)) * (np.abs(offset) < across)
    ground["bed"] = ground["bed"] - deep
    field = as_field(ground, steered(ground, made_flows(ground, {20.0: -0.3})))
    graph = channel_graph(field, ChannelSettings())
    return find_tailouts(field, find_thalwegs(field, graph, ChannelSettings()), TailoutSettings())


def test_a_lip_that_does_not_span_the_channel_is_no_tailout():
    assert len(hollow(across=20.0)) == 1
    assert hollow(across=3.0) == []


def test_a_plane_bed_has_no_tailout():
    assert scene(riffle=0.0)[1] == []


def test_where_the_water_does_not_quicken_there_is_no_tailout():
    ground = made_ground(length=1250, wavelength=500, half_width=20, deep=1.6, riffle=0.5)
    field = as_field(ground, made_flows(ground, {15.0: -0.4}))  # thin water slower: no such river
    thalwegs = find_thalwegs(field, channel_graph(field, ChannelSettings()), ChannelSettings())
    assert find_tailouts(field, thalwegs, TailoutSettings()) == []


def test_water_that_hardly_moves_has_no_tailout():
    ground = made_ground(length=1250, wavelength=500, half_width=20, deep=1.6, riffle=0.5)
    flows = steered(ground, made_flows(ground, {15.0: -0.4}))
    for name in ("east_speed", "north_speed"):
        flows[name] = 0.1 * flows[name]  # it quickens in proportion, but by centimetres a second
    field = as_field(ground, flows)
    thalwegs = find_thalwegs(field, channel_graph(field, ChannelSettings()), ChannelSettings())
    assert find_tailouts(field, thalwegs, TailoutSettings()) == []


def guessed(confidence, **attrs):
    """Return the tailouts of the river with bars, its bed known as well as `confidence` says."""
    ground = made_ground(length=1250, wavelength=500, half_width=20, deep=1.6, riffle=0.5)
    ground["confidence"] = ground["confidence"] * 0 + confidence
    ground = ground.assign_attrs(attrs)
    field = as_field(ground, steered(ground, made_flows(ground, {15.0: -0.4})))
    graph = channel_graph(field, ChannelSettings())
    return find_tailouts(field, find_thalwegs(field, graph, ChannelSettings()), TailoutSettings())


@pytest.mark.parametrize("how", ["drawing", "edges", ""])
def test_no_tailout_is_offered_on_a_bed_that_is_a_form_between_banks(how):
    assert guessed(TRUST[Source.FORM_DRAWN], low_how=how) == []


def test_a_measured_water_surface_is_enough_for_a_tailout():
    assert len(guessed(TRUST[Source.FORM_SURFACE], low_how="surface")) == 4
    assert guessed(TRUST[Source.FORM_SURFACE], low_how="drawing") == []
    assert guessed(TRUST[Source.UNDRAWN], low_how="surface") == []


def test_known_enough_is_at_the_threshold_and_unknown_never_is():
    rules = TailoutSettings()
    sure = np.array([rules.known_low, rules.known_low - 1e-6, np.nan])
    assert known_bed(sure, rules, levelled=False).tolist() == [True, False, False]
    assert known_bed(sure, rules, levelled=True).tolist() == [True, True, False]


def test_a_tailout_is_offered_only_where_its_own_bed_was_measured():
    ground = made_ground(length=1250, wavelength=500, half_width=20, deep=1.6, riffle=0.5)
    near = np.abs(ground["station"].to_numpy() - 450) < 150  # the second lip and its pool
    ground["confidence"] = (("y", "x"), np.where(near, 0.7, TRUST[Source.FORM_DRAWN]))
    flows = steered(ground, made_flows(ground, {15.0: -0.4}))
    layers = read_water(ground, flows.isel(flow=[0]), WaterSettings()).layers
    lips = layers["tailouts"]["lip_station_m"].to_numpy()
    assert lips == pytest.approx([500 - 20], abs=15)
    water = layers["water"]
    inner = (water["station_m"] > 320) & (water["station_end_m"] < 580)
    outer = (water["station_end_m"] < 290) | (water["station_m"] > 620)
    assert not water.loc[inner, "tailout_untold"].any()
    assert water.loc[outer, "tailout_untold"].all()
    shares = known_bed_shares(ground, flows, TailoutSettings())
    assert shares["15m3s"] == pytest.approx(300 / 1250, abs=0.02)


def test_without_a_tailout_the_rest_of_the_water_is_read_as_ever():
    ground = made_ground(length=1250, wavelength=500, turn_deg=45, deep=1.6, riffle=0.5)
    flows = steered(ground, made_flows(ground, {15.0: -0.4})).isel(flow=[0])
    known = read_water(ground, flows, WaterSettings()).layers
    ground["confidence"] = ground["confidence"] * 0 + TRUST[Source.FORM_DRAWN]
    guessed_at = read_water(ground, flows, WaterSettings()).layers
    assert len(known["tailouts"]) > 0
    assert len(guessed_at["tailouts"]) == 0
    assert (guessed_at["water"]["kind"] != "tailout").all()
    for name in ("lanes", "seams", "wetted"):
        assert guessed_at[name].geometry.geom_equals(known[name].geometry).all()
    claimed, before = (one["water"].geometry.union_all() for one in (guessed_at, known))
    lost = before.difference(claimed)
    assert lost.area < known["water"].query("kind == 'tailout'").area.sum()
    water, runs = follow_runs(guessed_at["water"], ground, (), WaterSettings())
    assert len(runs)
    assert (water["run"] != "").any()


def test_a_tailout_is_drowned_where_little_of_it_is_expected_to_suit():
    """What counts is the mean of the odds, so that no single cell's crossing of the line does."""
    field, tailouts = scene()
    features = Features(
        [], [], tailouts, np.zeros(field.wet.shape, np.int32), ["main"], Sections(())
    )
    share = TailoutSettings().soft_share_low

    def tagged(odds):
        return tailout_tags(field, features, np.where(field.wet, odds, np.nan), share)

    assert set(np.unique(tagged(share + 0.01))) == {*range(len(tailouts) + 1)}
    assert tagged(share - 0.01).max() == 0
    assert tagged(np.nan).max() == 0
    half = np.where(field.offset[...] > 0, 2 * share + 0.1, 0.0)
    assert tagged(half).max() > 0
    unknown = np.where(field.offset[...] > 0, 2 * share - 0.1, np.nan)
    assert tagged(unknown).max() == 0
