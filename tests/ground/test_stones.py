"""A bed whose stones hold shallow water back: given by a word, by a size, or not at all.

The law is the published one (tests/base/test_resistance.py); here it is written out once more,
n^2(h) ~ 1 + 6.76 (D/h)^(5/3), as the judge of what the ground makes.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.packed import packed_raster
from reachmap.base.resistance import Stones, resistance_at
from reachmap.flow import FlowSettings, solve
from reachmap.ground import GroundSettings, build_ground, grid_of
from reachmap.ground.bed import make_bed
from reachmap.ground.edges import EdgePair
from reachmap.ground.ensemble import members
from reachmap.ground.evidence import reach_levels
from reachmap.ground.fit import scaled
from reachmap.ground.form import closing_depth
from reachmap.ground.layout import lay_out
from reachmap.ground.level_rise import shifts_at_edges
from reachmap.ground.levels import TABLE_M, profile, tabled
from reachmap.ground.low_water import find_low_water
from reachmap.ground.settings import StoneSettings
from reachmap.ground.stones import given_size
from reachmap.uncertainty.coarse import Coarse
from tests.ground.flown_river import DRAWN, FLOWN, GROUND, SETTINGS
from tests.ground.said import said_of
from tests.ground.scenes import drawing, flown, straight_trapezoid
from tests.ground.stony_river import FLOWS, gaps, stony_river


def of_bed(bed, stones_m=math.nan, markup=DRAWN):
    return replace(markup, plan=replace(markup.plan, bed=bed, stones_m=stones_m))


def rougher(depth, size, at):
    """Return n at a depth over n at the depth it is given for."""
    return np.sqrt((1 + 6.76 * (size / depth) ** (5 / 3)) / (1 + 6.76 * (size / at) ** (5 / 3)))


@given(
    depths=st.lists(st.floats(0.05, 2), min_size=5, max_size=40),
    size=st.floats(0.005, 0.25),
    flow=st.floats(1, 200),
)
def test_depths_over_stones_close_the_discharge_exactly(depths, size, flow):
    shape, at = np.array([depths]), 0.5
    n = np.full(shape.shape, 0.035)
    one = np.array([0.002]), np.array([flow]), 2.0
    scale = closing_depth(shape, n, *one, Stones(size, at))
    depth = scale[0] * shape
    if depth.min() < 0.1 * size:
        return  # there n is held
    carried = (depth ** (5 / 3) / (n * rougher(depth, size, at))).sum() * 2 * np.sqrt(0.002)
    assert carried == pytest.approx(flow, rel=1e-8)
    assert closing_depth(shape, n, *one, Stones()) == closing_depth(shape, n, *one)


STONY = build_ground(of_bed("cobble"), FLOWN, SETTINGS)


def depth_below_low(ground):
    low = np.interp(
        ground["station"].to_numpy(),
        ground.attrs["low_line_station"],
        ground.attrs["low_line_level"],
    )
    form = ground["confidence"].to_numpy() < 0.85
    return np.where(form, low - ground["bed"].to_numpy(), np.nan)


def test_the_form_closes_the_discharge_over_stones_on_the_raster():
    river = straight_trapezoid()
    drawn = of_bed("cobble", markup=drawing(river, 20.0, jitter=0.0))
    settings = GroundSettings(cell=1.0, least_depth_m=0.0)
    ground = build_ground(drawn, flown(river, drawn, 20.0, cell=1.0), settings)
    size, at = ground.attrs["stone_size"], ground.attrs["stone_depth"]
    assert size == pytest.approx(0.09)
    depth = np.maximum(np.nan_to_num(depth_below_low(ground)), 0)
    deep = np.maximum(depth, 1e-6)
    unit = np.where(depth > 0.013, depth ** (5 / 3) / (0.035 * rougher(deep, size, at)), 0.0)
    carried = unit.sum(axis=0)[80:-80] * np.sqrt(0.002)
    assert carried.mean() == pytest.approx(20.0, rel=0.015)


def test_the_roughness_is_that_of_the_mean_depth_so_the_mean_bed_moves_little():
    plain, stony = (depth_below_low(one) for one in (GROUND, STONY))
    wet = (plain > 0.06) & (stony > 0.06)
    assert STONY.attrs["stone_depth"] == pytest.approx(float(plain[plain > 0].mean()), rel=0.1)
    assert stony[wet].mean() == pytest.approx(plain[wet].mean(), rel=0.06)
    # the deep parts let more pass than by one n, so less depth carries the flow
    deep = wet & (plain > 1.5 * np.nanmean(plain[wet]))
    assert stony[deep].mean() < plain[deep].mean()
    assert np.array_equal(STONY["roughness"], GROUND["roughness"], equal_nan=True)


@pytest.mark.parametrize("bed", ["", "sand", "silt", "bedrock"])
def test_without_stones_the_ground_is_as_it_was(bed):
    same = build_ground(of_bed(bed), FLOWN, SETTINGS)
    assert same.attrs["stone_size"] == 0.0
    for name in GROUND.data_vars:
        assert np.array_equal(same[name], GROUND[name], equal_nan=True), name
    assert said_of(same) == said_of(GROUND)


def test_a_size_measured_counts_before_the_word():
    rules = StoneSettings()
    sizes = [given_size(of_bed(bed).plan, rules) for bed in ("gravel", "cobble", "boulder")]
    assert sizes == sorted(sizes)
    assert 0.002 < sizes[0] < 0.064 < sizes[1] < 0.256 < sizes[2]  # Wentworth's limits
    assert given_size(of_bed("boulder", 0.07).plan, rules) == 0.07
    assert given_size(of_bed("", 0.07).plan, rules) == 0.07
    assert given_size(of_bed("bedrock").plan, rules) == 0.0


def test_stones_too_large_for_the_water_are_counted_in_part_and_told():
    ground = build_ground(of_bed("", 0.9), FLOWN, SETTINGS)
    size, depth = ground.attrs["stone_size"], ground.attrs["stone_depth"]
    assert size == pytest.approx(0.3 * depth)
    assert "Stones of 90 cm are large for water so shallow" in said_of(ground)
    assert f"Manning's n is that of water {depth:.1f} m deep" in said_of(ground)
    assert "for a bed of cobble" in said_of(STONY)
    assert "are large for water" not in said_of(STONY)


def test_a_dem_that_saw_the_bed_gives_the_depth_itself():
    river = straight_trapezoid()
    drawn = of_bed("cobble", markup=drawing(river, 20.0, jitter=0.0))
    dem = flown(river, drawn, 20.0)
    grid = grid_of(drawn, SETTINGS.cell, SETTINGS.margin_m)
    x, y = np.meshgrid(grid.x, grid.y)
    seen = replace(dem, height=river.at(x, y).astype(dem.height.dtype))
    ground = build_ground(drawn, seen, SETTINGS)
    level = river.section_level(20.0)[100]
    true = level - river.bed[100]
    assert ground.attrs["stone_depth"] == pytest.approx(true[true > 0].mean(), rel=0.15)


def test_the_levels_over_stones_are_normal_depth_by_their_law():
    size, at, n, slope, depth = 0.13, 0.5, 0.035, 0.002, 0.8
    offset = np.arange(-20, 20, 0.5) + 0.25
    station = np.arange(0.25, 800, 0.5)
    wide = np.abs(offset) < 15
    bed = np.where(wide, 0.0, 10.0)[None, :] + 50 - slope * station[:, None]
    low = (np.array([0.0, 800.0]), 50 - slope * np.array([0.0, 800.0]))
    stones = Stones(size, at)
    tables = tabled(
        np.repeat(station, offset.size), bed.ravel(), np.full(bed.size, stones.deep(n)),
        np.ones(bed.size, dtype=bool), low, (0.5, 30.0), np.full(bed.size, stones.term),
    )  # fmt: skip
    unit = depth ** (5 / 3) * np.sqrt(slope) / (n * rougher(depth, size, at))
    found = profile(tables, float(unit * wide.sum() * 0.5))
    assert found == pytest.approx(np.full(found.shape, depth), rel=0.02)


def test_edges_at_a_higher_flow_stand_as_high_as_the_law_of_stones_carries_it():
    river = straight_trapezoid(bottom=24.0, bank_slope=5.0)
    drawn = drawing(river, 12.0, jitter=0.0)
    sections = lay_out(drawn, SETTINGS).sections[0]
    rows = len(sections.station)
    slope, n, size, at = np.full(rows, 0.002), 0.035, 0.13, 0.4
    left, right = np.full(rows, 12.1), np.full(rows, -12.1)
    inside = np.abs(sections.offset) < 12.1
    depth = np.where(inside, 0.4, 0.0)[None, :] * np.ones((rows, 1))

    def carried(h):
        return (
            (inside.sum() * sections.spacing)
            * h ** (5 / 3)
            * np.sqrt(0.002)
            / (n * rougher(h, size, at))
        )

    pairs = [EdgePair(carried(0.4), left, right), EdgePair(carried(0.9), left, right)]
    _, rise = shifts_at_edges(sections, depth, slope, pairs, np.ones(rows), (n, Stones(size, at)))
    assert rise == pytest.approx(np.full(rows, 0.5), rel=0.02)


def test_what_members_draw_of_the_depth_follows_the_closing_over_stones():
    # roughness alone is doubted: depth ~ n^(1/(1 + p)), p the power of speed with depth
    rules = replace(
        SETTINGS,
        reach_doubt=1e-9, section_doubt=0.0, pool_doubt=0.0, local_doubt_m=0.0,
        spread=replace(SETTINGS.spread, flow_doubt=1e-9, dem_doubt_m=0.0, bank_doubt=0.0),
    )  # fmt: skip
    for ground, markup in ((GROUND, DRAWN), (STONY, of_bed("cobble"))):
        power = 1 / (1 + Stones.of(ground).speed_power)
        depth = depth_below_low(ground)
        use = depth > 0.3
        for bed, rough in members(ground, markup, rules, 4, 3):
            both = (slice(None), slice(None))
            n = (rough.window(*both) / ground["roughness"].to_numpy())[use][0]
            deeper = 1 + (ground["bed"].to_numpy() - bed.window(*both))[use] / depth[use]
            assert deeper == pytest.approx(np.full(deeper.shape, 1 + power * np.log(n)), abs=1e-3)
    assert Stones.of(GROUND).speed_power == pytest.approx(2 / 3)


def test_levels_of_the_reach_are_those_its_stones_carry():
    markup = of_bed("cobble")
    layout = lay_out(markup, SETTINGS)
    low = find_low_water(layout, markup, FLOWN, SETTINGS)
    seen = FLOWN.height[layout.corridor.row, layout.corridor.col].astype(float)
    bed = make_bed(layout, markup, low, seen, SETTINGS)
    levels, _ = reach_levels(layout, markup, low, bed, SETTINGS)
    # one section by hand: the cells about it, two metres above the low water
    row, height = 8, 2.0
    column = int(np.argmin(np.abs(TABLE_M - height)))
    node = levels.tables.station
    share = 1 - np.abs(layout.main_station - node[row]) / (node[1] - node[0])
    depth = np.interp(layout.main_station, node, levels.tables.low) + TABLE_M[column] - bed.height
    use = layout.along & (share > 0) & (depth > 0)
    depth, share = depth[use], share[use]
    stony = bed.under | layout.water | (layout.bank > 0)  # banks of this drawing are gravel
    assert stony[use].all()
    unit = depth ** (5 / 3) / (0.035 * rougher(depth, bed.stones.size_m, bed.stones.depth_m))
    held = depth > 0.1 * bed.stones.size_m
    carried = (unit * share)[held].sum() * SETTINGS.cell**2 / (node[1] - node[0])
    assert levels.tables.conveyance[row, column] == pytest.approx(carried, rel=1e-3)


def test_a_fit_and_larger_cells_keep_the_stones():
    moved = scaled(STONY, 1.2, 0.9, SETTINGS)
    assert Stones.of(moved) == Stones.of(STONY)
    coarse = Coarse.of(STONY, 3)
    same = coarse.with_bed(packed_raster(STONY["bed"]), packed_raster(STONY["roughness"]))
    stony = []
    for ground in (STONY, same):
        cells = np.flatnonzero(np.isfinite(ground["roughness"].to_numpy()))
        stony.append(float((resistance_at(ground, cells)[1] > 0).mean()))
    assert min(stony) > 0.5  # the rest is ground beyond the banks, whose cover nobody said


def test_a_river_over_cobbles_is_mapped_better_when_its_bed_is_said():
    truth, drawn, dem = stony_river()
    true = solve(truth, FLOWS, FlowSettings())
    off = {}
    for bed in ("", "gravel", "cobble"):
        ground = build_ground(of_bed(bed, markup=drawn), dem, SETTINGS)
        got = solve(ground, FLOWS, FlowSettings())
        off[bed] = [gaps(got.isel(flow=k), true.isel(flow=k)) for k in range(len(FLOWS))]
    for plain, gravel, cobble in zip(off[""], off["gravel"], off["cobble"], strict=True):
        assert cobble[0] < gravel[0] < plain[0]
        assert plain[1] > 0.05  # one n shows edges quicker than they run
        assert abs(cobble[1]) < 0.35 * plain[1]
        assert cobble[3] < plain[3]
    assert off["cobble"][2][0] < 0.7 * off[""][2][0]
