"""Candidate water: the right cells, the right side, nothing unknown, nothing lost to noise."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from networkx import MultiDiGraph

from reachmap.base.centreline import Centreline
from reachmap.base.words import Season, Side, WaterKind, Wet
from reachmap.markup.model import SeasonLimits
from reachmap.water._kernels import BANK, UNKNOWN
from reachmap.water.bends import bends_of
from reachmap.water.candidates import inside_tags, seam_tags
from reachmap.water.read_water import read_water
from reachmap.water.seams import find_seams
from reachmap.water.settings import WINTER, WaterSettings
from tests.made import made_flows, made_ground
from tests.water.scenes import as_field, mixing_layer, steered, suiting, with_speed

RULES = WaterSettings()
PLAN = {"length": 1250.0, "wavelength": 500.0, "turn_deg": 60.0, "half_width": 25.0, "deep": 1.6}


def barred(*, fill=-0.2, mirror=False, flow=55.0, **plan):
    """Return ground and flow of a bending river with slow water inside each bend."""
    ground = made_ground(**PLAN | {"mirror": mirror} | plan)
    flows = steered(ground, made_flows(ground, {flow: fill}))
    turn = np.cos(2 * np.pi * ground["station"].values / PLAN["wavelength"])  # + left, - right
    inner = np.sign(turn) * (-1 if mirror else 1) * ground["offset"].values
    slow = 1 - 0.55 / (1 + np.exp(-(inner - 4) / 3)) * np.abs(turn)
    speed = np.hypot(flows["east_speed"].values[0], flows["north_speed"].values[0]) * 1.25 * slow
    return ground, with_speed(ground, flows, speed)


def water_of(**plan):
    ground, flow = barred(**plan)
    return ground, read_water(ground, flow, RULES).layers["water"]


def test_the_inside_of_each_bend_is_proposed_on_the_inner_side():
    ground, water = water_of()
    inside = water[water["kind"] == WaterKind.INSIDE_BEND]
    bends = bends_of(ground, RULES.bends)
    line = Centreline.of(ground)
    # the first and the last bend lie half in the water that is read only where the river is known
    whole = [b for b in bends if line.head + 100 < b.station_m < b.station_end_m < line.foot - 100]
    assert len(whole) >= 4
    for bend in whole:
        end = bend.station_end_m + 25
        mine = inside[
            (inside["station_m"] >= bend.station_m - 5) & (inside["station_end_m"] <= end + 5)
        ]
        assert len(mine) >= 1
        assert set(mine["side"]) == {bend.inside.value}


def test_inside_means_the_side_the_river_turns_to():
    ground, flow = barred()
    field = as_field(ground, flow)
    bends = bends_of(ground, RULES.bends)
    tags = inside_tags(field, bends, 0.5, 0.0)
    for bend in bends:
        offset = field.offset[tags == bend.number]
        assert ((offset > -3) if bend.inside is Side.LEFT else (offset < 3)).all()


def test_zones_keep_to_water_within_the_limits():
    ground, flow = barred()
    field = as_field(ground, flow)
    water = read_water(ground, flow, RULES).layers["water"]
    soft = suiting(field, WINTER, slow_share=0.5)
    gx, gy = np.meshgrid(field.grid.x, field.grid.y)
    for zone in water.geometry:
        inside = shapely.contains_xy(zone.buffer(-field.grid.cell), gx, gy)
        assert soft[inside].mean() > 0.97


def test_no_two_zones_overlap():
    _, water = water_of()
    shapes = list(water.geometry)
    for i, one in enumerate(shapes):
        for other in shapes[i + 1 :]:
            assert one.intersection(other).area < 0.15 * min(one.area, other.area)


def test_a_mirrored_river_has_its_water_on_the_other_side():
    _, plain = water_of()
    _, mirrored = water_of(mirror=True)
    swap = {"left": "right", "right": "left", "island": "island"}
    key = ["kind", "side", "station_m"]
    plain, mirrored = (one.astype({"kind": str, "side": str}) for one in (plain, mirrored))
    a = plain.assign(side=plain["side"].map(swap)).sort_values(key).reset_index(drop=True)
    b = mirrored.sort_values(key).reset_index(drop=True)
    assert list(a["kind"]) == list(b["kind"])
    assert list(a["side"]) == list(b["side"])
    np.testing.assert_allclose(a["station_m"], b["station_m"], atol=6)
    np.testing.assert_allclose(a["score"], b["score"], atol=6)


def test_unknown_water_is_never_good_water():
    ground, flow = barred()
    unknown = (ground["station"].values > 300) & (ground["station"].values < 900)
    for name in ("depth", "level", "east_speed", "north_speed"):
        flow[name][0] = np.where(unknown, np.nan, flow[name].values[0])
    flow["wet"][0] = np.where(unknown, Wet.UNKNOWN, flow["wet"].values[0]).astype(np.uint8)
    layers = read_water(ground, flow, RULES).layers
    field = as_field(ground, flow)
    gx, gy = np.meshgrid(field.grid.x, field.grid.y)
    for name in ("water", "bands"):
        for zone in layers[name].geometry:
            inside = shapely.contains_xy(zone.buffer(-field.grid.cell), gx, gy)
            assert not field.unknown[inside].any()
    for name in ("lanes", "seams", "tailouts"):
        for line in layers[name].geometry:
            rows, cols = field.grid.index(*np.asarray(line.coords).T)[:2]
            assert not field.unknown[rows, cols].any()


def test_a_look_across_ends_at_unknown_water_and_says_so():
    ground, flow = barred(turn_deg=0.0)
    unknown = ground["offset"].values > 10
    flow["depth"][0] = np.where(unknown, np.nan, flow["depth"].values[0])
    flow["wet"][0] = np.where(unknown, Wet.UNKNOWN, flow["wet"].values[0]).astype(np.uint8)
    field = as_field(ground, flow)
    near = field.wet & (np.abs(field.offset[...]) < 2)
    assert (field.end_left[near] == UNKNOWN).all()
    assert (field.end_right[near] == BANK).all()
    gap = field.gap_left.window(slice(None), slice(None))
    np.testing.assert_allclose((gap + field.offset[...])[near], 10.0, atol=1.5)


def test_water_that_scores_too_little_is_not_shown():
    _, water = water_of()
    bar = float(water["score"].median())
    picky = replace(RULES, score=replace(RULES.score, score_low=bar))
    ground, flow = barred()
    shown = read_water(ground, flow, picky).layers["water"]
    assert 0 < len(shown) < len(water)
    assert shown["score"].min() >= bar


def test_water_of_unknown_speed_alone_is_never_good_water():
    ground, flow = barred()
    flow["east_speed"][0] = np.nan
    assert len(read_water(ground, flow, RULES).layers["water"]) == 0


def test_all_unknown_gives_empty_layers_with_their_columns():
    ground, flow = barred()
    for name in ("depth", "level", "east_speed", "north_speed"):
        flow[name][:] = np.nan
    flow["wet"][:] = Wet.UNKNOWN
    reading = read_water(ground, flow, RULES)
    assert {name: len(layer) for name, layer in reading.layers.items()} == dict.fromkeys(
        reading.layers, 0
    )
    assert "score" in reading.layers["water"].columns
    assert reading.graph.number_of_nodes() == 0


def test_wider_limits_never_propose_less_water():
    ground, flow = barred()
    wide = SeasonLimits(Season.WINTER, 0.4, 2.2, 0.2, 1.5)
    field = as_field(ground, flow)
    assert (suiting(field, wide) | ~suiting(field, WINTER)).all()


@pytest.mark.compiled
def test_inside_water_moves_up_the_bar_as_flow_rises():
    # the same river, the water 0.4 m higher and quicker: the soft water lies nearer the inner bank
    rules = WaterSettings(limits=SeasonLimits(Season.WINTER, 0.6, 1.8, 0.3, 1.1))
    places = []
    for fill, flow in ((-0.2, 45.0), (0.4, 110.0)):
        ground, one = barred(fill=fill, flow=flow)
        water = read_water(ground, one, rules).layers["water"]
        inside = water[water["kind"] == WaterKind.INSIDE_BEND]
        x, y = shapely.get_coordinates(shapely.centroid(inside.geometry.values)).T
        gx, gy = ground["x"].values, ground["y"].values
        cols = np.abs(gx[None] - x[:, None]).argmin(axis=1)
        rows = np.abs(gy[None] - y[:, None]).argmin(axis=1)
        places.append(np.average(np.abs(ground["offset"].values[rows, cols]), weights=inside.area))
    assert places[1] > places[0] + 2.0


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_ten_percent_of_noise_on_the_drawing_moves_zones_by_less_than_half_a_width(seed):
    """The line and its stations are drawn anew with a tenth of a width of noise at every vertex."""
    ground, flow = barred()
    water = read_water(ground, flow, RULES).layers["water"]
    random = np.random.default_rng(seed)
    rough = ground.copy(deep=True)
    station = ground["line_station"].values
    knots = np.arange(0, station[-1] + 50, 50.0)
    stray = np.interp(station, knots, random.normal(0, 5.0, knots.size))
    turn = np.arctan2(np.gradient(ground["line_y"].values), np.gradient(ground["line_x"].values))
    rough["line_x"] = ground["line_x"] - np.sin(turn) * stray
    rough["line_y"] = ground["line_y"] + np.cos(turn) * stray
    here = ground["station"].values
    rough["offset"] = ground["offset"] - np.interp(here, station, stray)
    moved = read_water(rough, flow, RULES).layers["water"]
    big = water[(water["score"] > 40) & (water["length_m"] > 30)]
    assert len(big) >= 4
    for zone in big.geometry:
        other = moved.geometry.iloc[moved.geometry.distance(zone.centroid).argmin()]
        overlap = moved.geometry.intersection(zone).area.sum() / zone.area
        assert overlap > 0.6
        assert other.distance(zone.centroid) < 25.0


def test_two_flows_at_once_are_refused():
    ground = made_ground(**PLAN)
    flows = made_flows(ground, {30.0: -0.4, 50.0: -0.1})
    with pytest.raises(ValueError, match="one flow at a time"):
        read_water(ground, flows, RULES)


def test_another_raster_is_refused():
    ground, flow = barred()
    with pytest.raises(ValueError, match="different rasters"):
        read_water(ground.isel(x=slice(0, -3)), flow, RULES)


def seam_cells(**bands):
    """Return a field with one seam 8 m thick at offset 3.7, slow to the right; its own cells."""
    field = as_field(*mixing_layer(thickness=8.0))
    seams = find_seams(field, MultiDiGraph(), RULES.seams)
    rules = replace(RULES.seams, **bands)
    return field, seams, seam_tags(field, seams, rules.slow_layers, rules.fast_layers) == 1


@pytest.mark.parametrize("layers", [0.5, 1.0, 1.5])
def test_a_seams_water_is_its_soft_side_as_wide_as_its_own_shear(layers):
    # U = Uc + dU/2 tanh(2 (n - n0)/d): d = 8 m, so that 0.5, 1 and 1.5 d reach 4, 8 and 12 m
    field, seams, mine = seam_cells(slow_layers=layers, fast_layers=0.0)
    assert len(seams) == 1
    away = 3.7 - field.offset[mine]
    middle = (field.station[mine] > 100) & (field.station[mine] < 500)
    assert away[middle].min() > -0.6  # no cell of the quicker side, but for the line's own
    assert away[middle].max() == pytest.approx(layers * 8.0, abs=1.6)  # a cell is 2 m


def test_the_quicker_side_is_the_seams_as_far_as_the_fly_lands():
    field, _, mine = seam_cells(slow_layers=1.0, fast_layers=0.5)
    away = field.offset[mine] - 3.7
    assert away.max() == pytest.approx(4.0, abs=2.0)  # a cell


def test_a_seam_wider_apart_has_wider_water():
    areas = []
    for thickness in (6.0, 12.0):
        field = as_field(*mixing_layer(thickness=thickness, difference=1.0))
        seams = find_seams(field, MultiDiGraph(), RULES.seams)
        areas.append((seam_tags(field, seams, 1.0, 0.25) > 0).sum())
    assert areas[1] / areas[0] == pytest.approx(2.0, rel=0.2)


def test_the_soft_side_of_a_seam_may_be_slower_than_the_season_wants():
    # 0.2 and 1.1 m/s, within a cast of the right bank
    ground, flow = mixing_layer(thickness=8.0, middle=-12.0, mean=0.65, difference=0.9)
    found = []
    for share in (0.5, 1.0):
        rules = replace(RULES, seams=replace(RULES.seams, slow_share=share))
        water = read_water(ground, flow, rules).layers["water"]
        found.append(water[water["kind"] == WaterKind.SEAM].area.sum())
    assert found[0] > 1.3 * found[1]
