"""Levels by flow, the water a DEM shows, the form beneath it: parts of the stage by themselves."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.errors import BuildError
from reachmap.gauge.model import Gauge, RatingSegment
from reachmap.ground import GroundSettings, build_ground
from reachmap.ground.edges import edge_pairs
from reachmap.ground.form import closing_depth, section_shape, through_pools
from reachmap.ground.layout import lay_out
from reachmap.ground.level_evidence import rating_points, rating_rises
from reachmap.ground.levels import Levels, profile, tabled
from reachmap.ground.low_water import drawn_slope
from reachmap.ground.notes import GroundNoteKind
from reachmap.ground.profiles import falling, smoothed_along
from reachmap.ground.sections import runs_of
from reachmap.ground.water_surface import find_water_surface
from reachmap.markup.model import Level
from tests.ground.scenes import drawing, flown, pool_riffle, straight_trapezoid

SETTINGS = GroundSettings()


@pytest.mark.table
def test_the_profile_of_a_prismatic_channel_is_normal_depth():
    """Rectangular, 100 ft, S = 0.001, n = 0.045, Q = 250 cfs: yn = 1.7113010 ft.

    Koohafkan & Younis (2015), R Journal 7(2):249-262, worked example of the package rivr. Strips
    side by side know no friction on the walls, worth 1.5 % of the depth here.
    """
    width, slope, n, flow = 30.48, 0.001, 0.045, 7.0792118
    offset = np.arange(-25, 25, 0.5) + 0.25
    section = np.where(np.abs(offset) < width / 2, 0.0, 10.0)
    station = np.arange(0.25, 800, 0.5)
    bed = section[None, :] + 50 - slope * station[:, None]
    low = (np.array([0.0, 800.0]), 50 - slope * np.array([0.0, 800.0]))
    tables = tabled(
        np.repeat(station, offset.size), bed.ravel(), np.full(bed.size, n),
        np.ones(bed.size, dtype=bool), low, (0.5, width),
    )  # fmt: skip
    cells_wide = (np.abs(offset) < width / 2).sum() * 0.5
    depth = profile(tables, flow * cells_wide / width) / 0.3048
    assert depth == pytest.approx(np.full(depth.shape, 1.7113010), rel=0.02)


def test_levels_by_flow_follow_the_true_river():
    river = pool_riffle(length=900)
    drawn = drawing(river, 20.0)
    ground = build_ground(drawn, flown(river, drawn, 15.0), SETTINGS)
    layout = lay_out(drawn, SETTINGS)
    cells = layout.corridor
    line = layout.main.line
    low = river.level_at(river.section_level(15.0), line.x, line.y)
    bed = ground["bed"].to_numpy()[cells.row, cells.col]
    tables = tabled(
        layout.main_station, bed, np.full(bed.shape, 0.033), layout.along, (line.station, low),
        (2.0, layout.main.median_width),
    )  # fmt: skip
    levels = Levels(tables, 15.0)
    for flow in (60.0, 140.0):
        true = river.level_at(river.section_level(flow), line.x, line.y) - low
        got = levels.rise(flow, line.station)
        assert got.mean() == pytest.approx(true.mean(), rel=0.08)
    known = levels.anchored([(60.0, line.station, 1.1 * levels.rise(60.0, line.station))])
    assert known.ratio(60.0) == pytest.approx(1.1, rel=1e-6)


@given(flow=st.floats(5, 80), more=st.floats(1.05, 2.0))
def test_more_water_never_stands_lower(flow, more):
    river = straight_trapezoid(length=200)
    offset = np.tile(river.offset, len(river.bed))
    station = np.repeat(river.line.station, river.offset.size)
    low = (river.line.station, river.bed.min(axis=1))
    tables = tabled(
        station, river.bed.ravel(), np.full(offset.shape, 0.035), np.ones(offset.shape, dtype=bool),
        low, (1.0, 20.0),
    )  # fmt: skip
    assert (profile(tables, more * flow) >= profile(tables, flow) - 1e-9).all()


def test_the_dems_water_is_found_to_a_centimetre_in_noise():
    river = pool_riffle(length=900)
    drawn = drawing(river, 20.0)
    dem = flown(river, drawn, 15.0, noise=0.03)
    layout = lay_out(drawn, SETTINGS)
    height = dem.height[layout.corridor.row, layout.corridor.col].astype(np.float64)
    found = find_water_surface(
        layout.sections[0], height, SETTINGS.water_tolerance_m, SETTINGS.surface
    )
    line = layout.main.line
    true = river.level_at(river.section_level(15.0), line.x, line.y)
    assert found is not None
    assert found.seen > 0.9
    assert np.sqrt(np.mean((found.level - true)[10:-10] ** 2)) < 0.02
    assert (np.diff(found.level) <= 1e-6).all()


def test_ground_without_water_is_not_taken_for_water():
    river = pool_riffle(length=900, bumps=0.3)
    drawn = drawing(river, 20.0)
    layout = lay_out(drawn, SETTINGS)
    bed = river.at(layout.corridor.x, layout.corridor.y)
    assert find_water_surface(layout.sections[0], bed, 0.04, SETTINGS.surface) is None


@given(
    depths=st.lists(st.floats(0, 2), min_size=5, max_size=40),
    flow=st.floats(1, 200),
    slope=st.floats(1e-4, 0.02),
)
def test_closing_depth_closes_the_discharge_exactly(depths, flow, slope):
    shape = np.array([depths])
    if shape.max() < 1e-3:
        return
    n = np.full(shape.shape, 0.035)
    scale = closing_depth(shape, n, np.array([slope]), np.array([flow]), 2.0)
    carried = ((scale[0] * shape) ** (5 / 3) / n).sum() * 2.0 * np.sqrt(slope)
    assert carried == pytest.approx(flow, rel=1e-9)


@pytest.mark.table
def test_conveyance_splits_as_in_the_worked_example():
    """d = .5, .9, 1.2, .8, .4 m, panels 2 m, n = .03, S = .002: Q = 10.18334 m3/s, computed."""
    shape = np.array([[0.5, 0.9, 1.2, 0.8, 0.4]])
    scale = closing_depth(
        shape, np.full(shape.shape, 0.03), np.array([0.002]), np.array([10.18334]), 2.0
    )
    assert scale[0] == pytest.approx(1.0, rel=1e-6)


def test_branches_of_a_section_are_forms_of_their_own():
    wet = np.array([[0, 1, 1, 1, 0, 1, 1, 1, 1, 1, 1, 1, 0]], dtype=bool)
    first, last = runs_of(wet)
    assert first[0, 2] == 1
    assert last[0, 2] == 3
    assert (first[0, 5], last[0, 11]) == (5, 11)
    shape = section_shape(wet, np.arange(13.0), np.zeros(1), 2.0, 0.6)
    assert shape[0, [0, 4, 12]] == pytest.approx(0)
    assert shape[0, 2] < shape[0, 8]  # the narrow branch is the shallower
    assert shape[0, 5:12] == pytest.approx(shape[0, 5:12][::-1])


def test_a_still_pool_runs_deeper_than_its_ends():
    scale = np.r_[np.linspace(0.5, 1.2, 30), np.full(40, 1.0), np.linspace(1.2, 0.5, 30)]
    still = np.zeros(100, dtype=bool)
    still[30:70] = True
    filled = through_pools(scale, still, 5, deepest=2.5)
    assert filled[50] > 1.3
    assert (filled >= scale - 1e-12).all()
    assert filled[:30] == pytest.approx(scale[:30])


def test_a_pool_across_a_long_level_reach_is_held_to_what_rivers_have():
    scale = np.r_[np.linspace(2.0, 3.0, 60), np.full(200, 7.0), np.linspace(3.0, 2.0, 60)]
    still = np.zeros(scale.size, dtype=bool)
    still[60:260] = True
    assert through_pools(scale, still, 5, deepest=2.5).max() >= 7.0
    held = through_pools(scale, still, 5, deepest=2.5, most=2.0)
    usual = np.median(scale[~still])
    assert held.max() == pytest.approx(max(2.0 * usual, 3.0))
    assert held[~still] == pytest.approx(scale[~still])
    assert through_pools(scale, still, 5, deepest=2.5, most=0.5)[still].max() == pytest.approx(
        3.0, abs=0.05
    )


def test_easing_keeps_a_slope_and_falling_never_rises():
    line = 10 - 0.3 * np.arange(50.0)
    assert smoothed_along(line, 4.0) == pytest.approx(line, abs=1e-9)
    rough = line + np.random.default_rng(0).normal(0, 1, 50)
    assert (np.diff(falling(rough, np.ones(50))) <= 1e-12).all()


def test_edges_at_several_flows_are_ordered_and_bridged():
    river = pool_riffle(length=900)
    drawn = drawing(river, 20.0, edge_flows=(60.0, 140.0))
    channel = lay_out(drawn, SETTINGS).main
    pairs = edge_pairs(channel, drawn.edges, 20.0)
    assert [pair.flow for pair in pairs] == [20.0, 60.0, 140.0]
    for lower, higher in pairwise(pairs):
        assert not (higher.left < lower.left).any()
        assert not (higher.right > lower.right).any()
    true_left, true_right = river.edges(river.section_level(140.0))
    assert np.nanmedian(pairs[2].left - pairs[2].right) == pytest.approx(
        float(np.median(true_left - true_right)), abs=1.0
    )


@pytest.mark.table
def test_rating_points_are_read_across_segments_with_rising_flow():
    """USGS 12323720 Willow Creek at Opportunity MT, rating 3.0: points printed in ft and cfs."""
    gauge = Gauge(
        "made",
        (
            RatingSegment(
                np.array([3.66, 4.87]) * 0.3048, np.array([0.78, 61.27]) * 0.0283168, 1.09
            ),
            RatingSegment(
                np.array([4.87, 6.59]) * 0.3048, np.array([61.27, 243.71]) * 0.0283168, 1.0
            ),
        ),
        np.empty(0, dtype="datetime64[s]"),
        np.empty(0),
        np.nan,
    )
    stage, _ = rating_points(gauge.segments)
    assert stage / 0.3048 == pytest.approx([3.66, 4.87, 6.59])
    rises = rating_rises(gauge, 61.27 * 0.0283168, np.array([0.0, 100.0]))
    assert rises[-1][0] == pytest.approx(243.71 * 0.0283168)
    assert rises[-1][2] == pytest.approx(np.full(2, (6.59 - 4.87) * 0.3048), rel=1e-3)


def test_a_slope_can_come_from_noted_levels():
    river = straight_trapezoid()
    drawn = drawing(river, 20.0, say_slope=False)
    channel = lay_out(drawn, SETTINGS).main
    x, y = channel.line.from_station_offset(np.array([50.0, 300.0, 550.0]), np.zeros(3))
    from shapely import Point

    levels = [
        Level(Point(a, b), 60 - 0.003 * s, 20.0)
        for a, b, s in zip(x, y, (50, 300, 550), strict=True)
    ]
    slope, notes = drawn_slope(channel, levels, np.nan)
    assert slope == pytest.approx(0.003, rel=1e-3)
    assert notes[0].kind is GroundNoteKind.SLOPE_OF_LEVELS
    with pytest.raises(BuildError, match="neither a DEM nor a slope"):
        drawn_slope(channel, [], np.nan)
