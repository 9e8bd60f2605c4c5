"""The corridor: where fish pass, over fish of many habits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reachmap.base.packed import PackedRaster
from reachmap.base.words import COVER_CODES, Cover, Side, WaterKind, Wet
from reachmap.water.bands import densest
from reachmap.water.corridor import find_corridor, fish_of
from reachmap.water.field import packed_by_mask
from reachmap.water.passage import Order
from reachmap.water.read_water import read_water
from reachmap.water.rows import passing_side
from reachmap.water.settings import CorridorSettings, LaneSettings, WaterSettings
from tests.made import made_flows, made_ground
from tests.water.scenes import as_field, with_speed
from tests.water.test_candidates import barred

LANE = LaneSettings()
FISH = CorridorSettings(fish=6, cell_m=2.0)


def straight(speed_of_offset, *, depth=1.2, length=400.0, half_width=15.0):
    """Return a straight river as a field: one depth [m], speed [m/s] as a function of offset."""
    ground = made_ground(length=length, half_width=half_width, deep=1.2, margin=12.0)
    flow = made_flows(ground, {30.0: -0.2})
    flow["depth"][0] = np.where(flow["wet"].values[0] == Wet.YES, depth, np.nan)
    return as_field(ground, with_speed(ground, flow, speed_of_offset(ground["offset"].values)))


def corridor(field, *, settings=FISH, lane=LANE, travelled=None):
    cells = np.ones(field.wet.shape, dtype=bool) if travelled is None else travelled
    return find_corridor(field, cells, lane, settings, 0.9)


def even(offset):
    return np.full(offset.shape, 0.6)


def test_in_even_water_both_banks_are_alike_and_every_fish_comes_through():
    field = straight(even)
    found = corridor(field)
    assert found.arrived == pytest.approx(1.0, abs=1e-6)
    middle = found.left[3:-3]
    assert np.nanmean(middle) == pytest.approx(0.5, abs=0.06)
    assert np.isnan(found.passes[~field.wet]).all()
    assert np.nanmax(found.passes) <= 1


def test_at_least_one_passage_crosses_every_section():
    """Water in between: what starts at the foot crosses each column of cells on its way up."""
    field = straight(even)
    across = np.nansum(corridor(field).passes, axis=0)
    inner = across[8:-8]
    assert inner.min() > 0.999
    assert inner.max() < 2.0  # net, so that a sideways step counts little


def test_fish_go_up_the_slower_side():
    field = straight(lambda offset: np.where(offset > 0, 0.3, 1.2))
    assert np.nanmean(corridor(field).left[3:-3]) > 0.8


def test_fish_that_keep_to_a_bank_are_found_along_it():
    field = straight(even)
    pulled = replace(FISH, bank_pull=6.0)
    one = [fish for fish in fish_of(pulled, LANE.effort_per_m_s) if fish.side]
    assert {fish.side for fish in one} == {-1, 1}
    free, kept = (corridor(field, settings=replace(FISH, bank_pull=pull)) for pull in (0.0, 6.0))
    edge = np.abs(field.offset[...]) > 9
    assert np.nansum(kept.passes[edge]) > 1.2 * np.nansum(free.passes[edge])


def test_the_inside_of_bends_leads():
    ground, flow = barred(length=1000.0)
    field = as_field(ground, flow)
    found = corridor(field)
    turn = np.cos(2 * np.pi * field.station[...] / 500.0)
    inner = np.sign(turn) * field.offset[...] > 0
    bend = (np.abs(turn) > 0.7) & field.wet
    share = np.nansum(found.passes[bend & inner]) / np.nansum(found.passes[bend])
    assert share > 0.6


def test_dead_water_is_no_free_road():
    field = straight(lambda offset: np.where(offset > 0, 0.02, 0.3))
    lured, wise = (corridor(field, settings=replace(FISH, dead_pull=pull)) for pull in (0.0, 4.0))
    assert np.nanmean(wise.left[3:-3]) < np.nanmean(lured.left[3:-3]) - 0.15


def test_water_that_leads_nobody_in_is_left_out():
    field = straight(even)
    right = field.offset[...] < 0
    found = corridor(field, travelled=right)
    assert np.nansum(found.passes[field.wet & ~right]) == 0
    assert found.arrived == pytest.approx(1.0, abs=1e-6)
    nothing = corridor(field, travelled=np.zeros(field.wet.shape, dtype=bool))
    assert nothing.arrived == 0
    assert np.nansum(nothing.passes) == 0


def test_the_fish_span_the_ranges_and_are_the_same_each_time():
    settings = CorridorSettings(fish=8)
    crowd = fish_of(settings, 1.5)
    assert crowd == fish_of(settings, 1.5)
    for name, (low, high) in (
        ("effort_per_m_s", (1.0, 2.5)),
        ("theta", settings.theta_range),
        ("cover", settings.cover_range),
    ):
        values = sorted(getattr(fish, name) for fish in crowd)
        assert len(set(values)) == 8
        assert low < values[0] < values[-1] < 1.01 * high
    pairs = np.corrcoef([[fish.effort_per_m_s for fish in crowd], [fish.theta for fish in crowd]])
    assert abs(pairs[0, 1]) < 0.6


def test_the_densest_cells_hold_the_share_and_no_fewer_would():
    rng = np.random.default_rng(2)
    passes = rng.random((12, 40))
    station = np.broadcast_to(np.arange(40.0) * 2, (12, 40))
    every = np.arange(passes.size, dtype=np.int32)
    held = PackedRaster(passes.shape, np.asarray(np.nan), every, passes.ravel())
    mask = densest(held, station, 0.5, 8.0)
    for first in range(0, 40, 4):
        part = (slice(None), slice(first, first + 4))
        values, inside = passes[part], mask[part]
        assert values[inside].sum() >= 0.5 * values.sum()
        assert values[inside].sum() - values[inside].min() < 0.5 * values.sum()
        assert values[inside].min() >= values[~inside].max()


def test_bands_lie_one_within_the_other_and_the_lane_within_both():
    ground, flow = barred(length=1000.0)
    layers = read_water(ground, flow, WaterSettings(corridor=FISH)).layers
    bands, (lane,) = layers["bands"], layers["lanes"].geometry
    half, most = (bands.loc[bands["share"] == share].geometry.union_all() for share in (0.5, 0.8))
    assert half.area < most.area
    assert half.difference(most).area < 0.05 * half.area
    # it leaves the band only where it crosses from one inside to the next
    assert lane.intersection(most).length > 0.75 * lane.length


def with_cover(field, mask, cover, *, roughness=None):
    """Return a field with other cover, and roughness if given, in some cells."""
    cells = np.where(mask[field.wet], COVER_CODES[cover], COVER_CODES[Cover.GRAVEL])
    changed = {"cover": packed_by_mask(field.wet, cells.astype(np.uint8), 0)}
    if roughness is not None:
        changed["roughness"] = packed_by_mask(field.wet, np.where(mask[field.wet], roughness, 0.03))
    return replace(field, **changed)


@pytest.mark.parametrize("cover", [Cover.BRUSH, Cover.TREES])
def test_flooded_brush_and_trees_are_passable_at_a_cost(cover):
    plain = straight(even)
    field = with_cover(plain, plain.offset[...] < 0, cover)
    free, dear = (
        corridor(field, lane=replace(LANE, brush_pull=pull)) for pull in (0.0, LANE.brush_pull)
    )
    assert np.nanmean(free.left[3:-3]) == pytest.approx(0.5, abs=0.06)
    assert np.nanmean(dear.left[3:-3]) > 0.7
    whole = with_cover(plain, np.ones(plain.wet.shape, dtype=bool), cover)
    assert corridor(whole).arrived == pytest.approx(1.0, abs=1e-6)
    inside = np.nansum(corridor(whole).passes, axis=0)[8:-8]
    assert inside.min() > 0.999


def test_other_cover_costs_nothing():
    plain = straight(even)
    field = with_cover(plain, plain.offset[...] < 0, Cover.ROCK)
    assert np.nanmean(corridor(field).left[3:-3]) == pytest.approx(0.5, abs=0.06)


def test_a_fish_pays_for_the_speed_near_the_bed():
    """The same mean speed over a rough and a smooth half: near the rough bed it is slower."""
    plain = straight(lambda offset: np.full(offset.shape, 1.1), depth=2.0)
    field = with_cover(plain, plain.offset[...] < 0, Cover.GRAVEL, roughness=0.07)
    low, mean = (corridor(field, lane=replace(LANE, swim_height_m=z)) for z in (0.15, 9.0))
    assert np.nanmean(mean.left[3:-3]) == pytest.approx(0.5, abs=0.06)
    assert np.nanmean(low.left[3:-3]) < 0.35


def test_the_order_of_the_cells_is_found_once_for_all_fish(monkeypatch):
    made = []
    usual = Order.of

    def counted(*given):
        made.append(given[0])
        return usual(*given)

    monkeypatch.setattr(Order, "of", counted)
    field = straight(even)
    counts = []
    for fish in (2, 7):
        made.clear()
        corridor(field, settings=replace(FISH, fish=fish))
        counts.append(len(made))
    assert counts[0] == counts[1] > 2


def test_a_piece_is_told_the_share_that_passes_on_its_side():
    left = np.array([0.9, 0.6, 0.8, np.nan, np.nan])
    row = {"side": Side.LEFT, "station_m": 25.0, "station_end_m": 59.0}
    assert passing_side(left, 20.0, row) == pytest.approx(0.7)
    assert passing_side(left, 20.0, row | {"side": Side.RIGHT}) == pytest.approx(0.3)
    assert np.isnan(passing_side(left, 20.0, row | {"side": Side.ISLAND}))
    nobody = row | {"station_m": 61.0, "station_end_m": 95.0}
    assert np.isnan(passing_side(left, 20.0, nobody))
    beyond = row | {"station_m": 200.0, "station_end_m": 260.0}
    assert np.isnan(passing_side(left, 20.0, beyond))


def test_most_fish_pass_on_the_side_of_a_bends_inside():
    ground, flow = barred(length=1000.0)
    water = read_water(ground, flow, WaterSettings(corridor=FISH)).layers["water"]
    inside = water[water["kind"] == WaterKind.INSIDE_BEND]
    assert len(inside) >= 3
    assert inside["passing"].mean() > 0.6
    assert inside["passing"].between(0, 1).all()
