"""Seams against the mixing layer's closed form, and what must not be taken for one."""

from dataclasses import replace

import networkx as nx
import numpy as np
import pytest

from reachmap.base.words import Side, Wet
from reachmap.water.channels import channel_graph
from reachmap.water.field import packed_by_mask
from reachmap.water.read_water import read_water
from reachmap.water.seams import find_seams, seam_chance, seam_lasts, shear
from reachmap.water.settings import ChannelSettings, SeamSettings, WaterSettings
from reachmap.water.thin_lines import order_cells
from tests.made import made_flows, made_ground
from tests.water.scenes import as_field, from_mask, mixing_layer, with_speed

FINE = pytest.mark.compiled  # a raster of 1 m is slow with the kernels as plain Python

NOTHING: nx.MultiDiGraph = nx.MultiDiGraph()


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 60.0])
@pytest.mark.parametrize(
    ("thickness", "cell"),
    [
        pytest.param(5.0, 1.0, marks=FINE),
        pytest.param(6.0, 1.0, marks=FINE),
        (8.0, 2.0),
        (9.0, 2.0),
    ],
)
def test_a_mixing_layer_is_found_where_and_as_thick_as_it_is(turn_deg, thickness, cell):
    # U(n) = Uc + dU/2 tanh(2 (n - n0)/d): the largest change dU/d lies at n0, d is the vorticity
    # thickness (computed from the definition)
    ground, flow = mixing_layer(thickness=thickness, turn_deg=turn_deg, cell=cell)
    field = as_field(ground, flow)
    (seam,) = find_seams(field, NOTHING, SeamSettings())
    rows, cols = field.grid.index(*seam.points.T)[:2]
    assert np.median(field.offset[rows, cols]) == pytest.approx(3.7, abs=0.1 * thickness)
    assert seam.thickness_m == pytest.approx(thickness, rel=0.10)
    assert seam.strength == pytest.approx(0.6 / thickness, rel=0.10)
    assert seam.fast_m_s == pytest.approx(1.2, abs=0.02)
    assert seam.slow_m_s == pytest.approx(0.6, abs=0.02)
    assert seam.slow_side is Side.RIGHT
    assert seam.length_m > 550


@pytest.mark.compiled
def test_the_change_of_speed_at_the_middle_is_the_printed_one():
    ground, flow = mixing_layer(thickness=6.0, cell=1.0)
    field = as_field(ground, flow)
    near = (
        (np.abs(field.offset[...] - 3.7) < 0.6)
        & (field.station[...] > 100)
        & (field.station[...] < 500)
    )
    assert np.nanmax(shear(field, 2)[near]) == pytest.approx(0.1, rel=0.03)


def test_how_far_a_seam_lasts():
    # h/(2 cf): h = 0.8, cf = 0.006 -> 67 m (van Prooijen and Uijttewaal 2002, from memory)
    assert seam_lasts(0.8, 0.006) == pytest.approx(66.667, abs=0.01)


@FINE
def test_water_that_runs_back_along_a_bank_is_a_current_of_its_own():
    # the eddy is too narrow for the change of speed to be known until it has fallen by half: the
    # last cell has water on one side alone. A rim that only runs slowly stays what it is.
    eddy, rim = (
        find_seams(
            as_field(*mixing_layer(thickness=6, middle=28, mean=m, difference=-1.2, cell=1.0)),
            NOTHING,
            SeamSettings(),
        )
        for m in (0.4, 0.65)
    )
    assert rim == []
    (seam,) = eddy
    assert seam.slow_side is Side.LEFT
    assert seam.slow_m_s < 0
    assert seam.length_m > 550


def test_a_short_seam_at_a_tributarys_mouth_is_kept():
    field = seam_between(290, 312)
    assert find_seams(field, NOTHING, SeamSettings()) == []
    (seam,) = find_seams(replace(field, mouths=(285.0,)), NOTHING, SeamSettings())
    assert seam.from_junction
    assert find_seams(replace(field, mouths=(100.0,)), NOTHING, SeamSettings()) == []


def test_mirrored_water_has_the_same_seam_on_the_other_side():
    plain, mirrored = (
        find_seams(
            as_field(*mixing_layer(thickness=7.0, middle=m, difference=d)), NOTHING, SeamSettings()
        )
        for m, d in ((5.0, 0.6), (-5.0, -0.6))
    )
    assert (plain[0].slow_side, mirrored[0].slow_side) == (Side.RIGHT, Side.LEFT)
    assert plain[0].strength == pytest.approx(mirrored[0].strength, rel=0.02)


def test_a_plain_channel_has_no_seam_for_all_that_its_banks_are_slow():
    ground = made_ground(length=500, half_width=25, deep=1.8)
    flow = made_flows(ground, {50.0: -0.3})
    field = as_field(ground, flow)
    assert np.nanmax(np.abs(shear(field, 2))) > SeamSettings().strength_low
    assert find_seams(field, NOTHING, SeamSettings()) == []


def test_even_water_has_no_seam_and_noise_makes_none():
    ground = made_ground(length=500, half_width=25, deep=1.8)
    flow = made_flows(ground, {50.0: 0.5})
    random = np.random.default_rng(3)
    speed = 0.9 + random.normal(0, 0.05, ground["bed"].shape)
    assert (
        find_seams(as_field(ground, with_speed(ground, flow, speed)), NOTHING, SeamSettings()) == []
    )


def test_five_percent_of_noise_hides_no_seam():
    ground, flow = mixing_layer(thickness=6.0)
    random = np.random.default_rng(4)
    noisy = flow.copy(deep=True)
    for name in ("east_speed", "north_speed"):
        noisy[name] = flow[name] + random.normal(0, 0.03, flow[name].shape)
    seams = find_seams(as_field(ground, noisy), NOTHING, SeamSettings())
    assert sum(seam.length_m for seam in seams) > 300
    assert {seam.slow_side for seam in seams} == {Side.RIGHT}


def test_unknown_water_bears_no_seam():
    ground, flow = mixing_layer(thickness=6.0)
    unknown = (ground["station"].values > 200) & (ground["station"].values < 400)
    for name in ("depth", "level", "east_speed", "north_speed"):
        flow[name][0] = np.where(unknown, np.nan, flow[name].values[0])
    flow["wet"][0] = np.where(unknown, Wet.UNKNOWN, flow["wet"].values[0]).astype(np.uint8)
    seams = find_seams(as_field(ground, flow), NOTHING, SeamSettings())
    assert len(seams) == 2
    for seam in seams:
        x = seam.points[:, 0] - 500_000
        assert not ((x > 202) & (x < 398)).any()


def test_a_seam_below_an_island_starts_at_the_junction():
    wet = np.zeros((40, 300), bool)
    wet[5:35] = True
    wet[18:21, 80:150] = False
    ground, flow = from_mask(wet)
    speed = np.where(np.arange(40)[:, None] < 19, 1.3, 0.6) + np.zeros((40, 300))
    for k in range(12):  # the step spreads over a few cells
        smooth = speed.copy()
        smooth[1:-1] = 0.25 * speed[:-2] + 0.5 * speed[1:-1] + 0.25 * speed[2:]
        speed = smooth if k < 6 else speed
    flow["east_speed"][0] = np.where(wet, speed, np.nan)
    field = as_field(ground, flow)
    graph = channel_graph(field, ChannelSettings())
    seams = find_seams(field, graph, SeamSettings())
    below = [s for s in seams if s.points[0, 0] > 500_000 + 290]
    assert len(below) == 1
    assert below[0].from_junction
    assert below[0].slow_side is Side.RIGHT
    above = [s for s in seams if s.points[-1, 0] < 500_000 + 200]
    assert not any(s.from_junction for s in above)


def test_cells_are_ordered_along_the_longest_line():
    rows = np.array([3, 0, 1, 2, 4, 5, 2], np.int32)
    cols = np.array([3, 0, 1, 2, 4, 5, 3], np.int32)  # a diagonal with one twig
    order = order_cells(rows, cols)
    assert order[0] < order[-1]  # from the end that is listed first
    assert sorted({rows[order][0], rows[order][-1]}) == [0, 5]
    assert np.abs(np.diff(rows[order])).max() == 1


def test_the_thin_rim_of_a_bank_is_no_current_of_its_own():
    ground, flow = mixing_layer(thickness=6.0, middle=-14.0)
    assert len(find_seams(as_field(ground, flow), NOTHING, SeamSettings())) == 1
    offset = ground["offset"].values
    wet = flow["wet"].values[0] == Wet.YES
    shelf = 0.15 + 1.05 / (1 + np.exp(-(offset + 14.0) / 0.7))  # slow water is a thin shelf
    flow["depth"][0] = np.where(wet, shelf, np.nan)
    assert find_seams(as_field(ground, flow), NOTHING, SeamSettings()) == []


def seam_between(low, high, *, fade=4.0, **plan):
    """Return the seams of a mixing layer that is there only between two stations."""
    ground, flow = mixing_layer(thickness=8.0, **plan)
    station, offset = ground["station"].values, ground["offset"].values
    inside = 0.5 * (np.tanh((station - low) / fade) - np.tanh((station - high) / fade))
    speed = 0.9 + 0.3 * inside * np.tanh(2 * (offset - 3.7) / 8.0)
    return as_field(ground, with_speed(ground, flow, speed))


def test_a_seam_too_short_to_swing_a_fly_down_is_left_out():
    # 100 feet: our choice
    assert find_seams(seam_between(290, 312), NOTHING, SeamSettings()) == []
    (seam,) = find_seams(seam_between(280, 330), NOTHING, SeamSettings())
    assert 30 <= seam.length_m < 60


def test_a_short_seam_where_channels_meet_is_kept():
    field = seam_between(290, 312)
    meeting: nx.MultiDiGraph = nx.MultiDiGraph()
    spot = field.grid.points(*np.argwhere(np.abs(field.station[...] - 290) < 1.5)[0][:, None])[0]
    middle = np.nanargmin(np.abs(field.station[...] - 290) + np.abs(field.offset[...] - 3.7))
    row, col = np.unravel_index(middle, field.station.shape)
    spot = field.grid.points(np.array([row]), np.array([col]))[0]
    meeting.add_node(0, x=float(spot[0]), y=float(spot[1]), station=290.0, kind="junction")
    meeting.add_node(1, x=0.0, y=0.0, station=0.0, kind="head")
    meeting.add_edge(1, 0, width_m=20.0)
    (seam,) = find_seams(field, meeting, SeamSettings())
    assert seam.from_junction


def test_a_seam_where_the_mapped_water_begins_tells_of_the_inlet_only():
    assert find_seams(seam_between(-50, 60), NOTHING, SeamSettings()) == []
    assert len(find_seams(seam_between(200, 310), NOTHING, SeamSettings())) == 1


def test_two_crests_of_one_mixing_layer_are_one_seam():
    ground, flow = mixing_layer(thickness=24.0, middle=0.0)
    offset = ground["offset"].values
    # the same rise in two steps 8 m apart: each is a crest, both lie within one layer
    speed = 0.9 + 0.2 * np.tanh((offset + 4) / 3.0) + 0.2 * np.tanh((offset - 4) / 3.0)
    field = as_field(ground, with_speed(ground, flow, speed))
    rules = SeamSettings()
    assert len(find_seams(field, NOTHING, rules)) == 1


def layer(slow, **plan):
    """Return a mixing layer whose slower current has a speed [m/s] and the other 1.2 m/s."""
    found = mixing_layer(thickness=7.0, mean=0.5 * (1.2 + slow), difference=1.2 - slow, **plan)
    return as_field(*found)


def test_the_rim_of_dead_water_is_no_seam_and_water_that_runs_back_makes_an_eddy_line():
    living, dead, back = (
        find_seams(layer(slow), NOTHING, SeamSettings()) for slow in (0.3, 0.04, -0.25)
    )
    assert [seam.eddy for seam in living] == [False]
    assert dead == []
    assert [seam.eddy for seam in back] == [True]


def test_a_change_of_speed_over_a_third_of_the_river_is_a_slope_and_no_line():
    wide = as_field(*mixing_layer(thickness=19.0, difference=1.3))
    assert find_seams(wide, NOTHING, SeamSettings()) == []
    loose = SeamSettings(thickness_high_widths=1.0)
    assert len(find_seams(wide, NOTHING, loose)) == 1


def test_the_preview_draws_no_seam():
    ground, flow = mixing_layer(thickness=7.0)
    seams = [
        read_water(ground, flow.assign_attrs(method=method), WaterSettings()).layers["seams"]
        for method in ("engine", "profile")
    ]
    assert [len(one) for one in seams] == [1, 0]


def test_the_chance_of_a_seam_is_that_of_its_difference():
    # by tables of the normal law: 0.25 + 0.3 at a spread of 0.3 is one deviation off
    rules = SeamSettings()
    spread = np.array([0.3, np.nan, 0.3, 0.3])
    assert seam_chance(0.55, spread, rules) == pytest.approx(0.841345, abs=1e-6)
    assert seam_chance(0.25, spread, rules) == pytest.approx(0.5)
    assert seam_chance(0.10, spread, rules) < 0.5
    assert np.isnan(seam_chance(0.55, np.full(3, np.nan), rules))


def test_a_seam_that_few_of_the_likely_rivers_have_is_left_out():
    field = as_field(*mixing_layer(thickness=7.0))  # 0.6 m/s apart

    def found(spread):
        unsure = np.full(field.speed_spread.values.shape, spread)
        known = replace(field, speed_spread=packed_by_mask(field.wet, unsure))
        return find_seams(known, NOTHING, SeamSettings())

    (seam,) = found(0.2)  # 0.35 over 0.2: chance 0.96
    assert seam.chance == pytest.approx(0.96, abs=0.01)
    assert found(0.6) == []  # 0.35 over 0.6: chance 0.72
    assert found(np.nan) == []
