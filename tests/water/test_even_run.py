"""Even water at walking speed is a kind of its own, and nothing within the limits goes unsaid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy import ndimage

from reachmap.base.words import Lack, Side, WaterKind, Wet
from reachmap.water.candidates import away_from_ends, half_tags
from reachmap.water.read_water import read_water
from reachmap.water.settings import WINTER, WaterSettings
from tests.made import made_flows, made_ground
from tests.water.scenes import as_field, suiting, with_speed
from tests.water.test_candidates import RULES, barred


def straight(*, depth=0.68, speed=0.64, length=700.0, half_width=20.0, cell=2.0):
    """Return ground and flow of a straight river of one depth [m] and speed [m/s]."""
    ground = made_ground(length=length, half_width=half_width, deep=1.2, cell=cell)
    flow = made_flows(ground, {30.0: -0.2})
    wet = flow["wet"].values[0] == Wet.YES
    flow["depth"][0] = np.where(wet, depth, np.nan)
    return ground, with_speed(ground, flow, np.full(wet.shape, speed))


def covered(field, *layers):
    """Return the cells whose centres lie in any of the layers' outlines."""
    x, y = np.meshgrid(field.grid.x, field.grid.y)
    whole = shapely.union_all([shape for layer in layers for shape in layer.geometry])
    shapely.prepare(whole)
    return shapely.contains_xy(whole, x, y)


def test_a_straight_river_at_walking_speed_is_fished_from_both_banks():
    """.68 m deep at .64 m/s: within the winter's limits everywhere, and no edge is softer."""
    ground, flow = straight()
    water = read_water(ground, flow, RULES).layers["water"]
    assert set(water["kind"]) == {WaterKind.EVEN_RUN}
    assert set(water["side"]) == {Side.LEFT, Side.RIGHT}
    field = as_field(ground, flow)
    soft = suiting(field, WINTER) & away_from_ends(field, 1.0)
    assert (covered(field, water) & soft).sum() > 0.9 * soft.sum()
    assert water["code"].str.startswith("G").all()


def creek(cell):
    """Return field, layers and the cells that suit of a creek 12 m wide at walking speed."""
    ground, flow = straight(half_width=6.0, length=400.0, cell=cell)
    field = as_field(ground, flow)
    soft = suiting(field, WINTER) & away_from_ends(field, 1.0)
    return field, read_water(ground, flow, RULES).layers, soft


def test_a_creek_at_walking_speed_has_pieces_too():
    field, layers, soft = creek(1.0)
    assert set(layers["water"]["side"]) == {Side.LEFT, Side.RIGHT}
    assert (covered(field, layers["water"]) & soft).sum() > 0.9 * soft.sum()


def test_a_strip_too_thin_for_the_cells_is_left_over_and_not_unsaid():
    field, layers, soft = creek(2.0)  # the left half is two cells wide
    assert set(layers["water"]["side"]) == {Side.RIGHT}
    assert set(layers["left_over"]["why"]) == {Lack.SMALL}
    assert (covered(field, layers["water"], layers["left_over"]) & soft).sum() > 0.9 * soft.sum()
    common = layers["water"].union_all().intersection(layers["left_over"].union_all()).area
    assert common < 0.1 * layers["left_over"].area.sum()


def test_each_bank_has_its_own_half():
    ground, flow = straight()
    field = as_field(ground, flow)
    tags = half_tags(field)
    assert set(np.unique(tags[~field.wet])) == {0}
    left, right = field.offset[tags == 1], field.offset[tags == 2]
    assert left.min() > -3
    assert right.max() < 3
    for row in read_water(ground, flow, RULES).layers["water"].itertuples():
        middle = row.geometry.representative_point()
        col = np.argmin(np.abs(field.grid.x - middle.x))
        offset = field.offset[np.argmin(np.abs(field.grid.y - middle.y)), col]
        assert (offset > 0) == (row.side == Side.LEFT)


@pytest.mark.parametrize(("depth", "speed"), [(0.3, 0.64), (2.4, 0.64), (0.68, 1.6), (0.68, 0.1)])
def test_water_beyond_the_limits_is_no_run(depth, speed):
    ground, flow = straight(depth=depth, speed=speed)
    layers = read_water(ground, flow, RULES).layers
    assert layers["water"].empty
    assert layers["left_over"].empty


def test_all_water_within_the_limits_is_in_a_piece_or_left_over_with_a_reason():
    """But for crumbs: spits no wider than a cell, and patches under the least area."""
    ground, flow = barred()
    layers = read_water(ground, flow, RULES).layers
    field = as_field(ground, flow)
    soft = suiting(field, WINTER) & away_from_ends(field, 1.0)
    held = covered(field, layers["water"], layers["left_over"])
    assert (held & soft).sum() > 0.75 * soft.sum()
    rest = ndimage.binary_opening(soft & ~held, np.ones((3, 3)))
    labels, _ = ndimage.label(rest)
    most = np.bincount(labels.ravel())[1:].max(initial=0) * field.grid.cell**2
    assert most < 1.5 * RULES.score.area_low_m2  # outlines cut corners
    assert set(layers["left_over"]["why"]) <= set(Lack)


@pytest.mark.parametrize(
    ("rules", "why"),
    [
        ({"length_low_m": 2000.0, "length_low_widths": 99.0}, Lack.SMALL),
        ({"cast_high_m": 1.0}, Lack.REACH),
    ],
)
def test_what_is_left_over_says_what_it_lacks(rules, why):
    ground, flow = straight()
    settings = WaterSettings(score=replace(RULES.score, **rules))
    layers = read_water(ground, flow, settings).layers
    assert layers["water"].empty
    over = layers["left_over"]
    assert set(over["why"]) == {why}
    field = as_field(ground, flow)
    inner = suiting(field, WINTER) & away_from_ends(field, 1.0)
    area = inner.sum() * field.grid.cell**2
    assert over["area_m2"].sum() == pytest.approx(area, rel=0.1)


def test_a_softer_edge_beside_too_quick_a_current_stays_an_edge():
    ground, flow = straight()
    offset = np.abs(ground["offset"].values)
    flow = with_speed(ground, flow, np.where(offset < 8, 1.5, 0.6))
    water = read_water(ground, flow, RULES).layers["water"]
    assert WaterKind.EVEN_RUN not in set(water["kind"])
    assert set(water["kind"]) <= {WaterKind.SOFT_EDGE, WaterKind.SEAM}


def test_no_water_is_offered_where_the_mapped_water_begins_and_ends():
    ground, flow = straight()
    water = read_water(ground, flow, RULES).layers["water"]
    field = as_field(ground, flow)
    station = field.station[field.wet]
    assert water["station_m"].min() >= station.min() + field.width - field.grid.cell
    assert water["station_end_m"].max() <= station.max() - field.width + field.grid.cell
    loose = WaterSettings(score=replace(RULES.score, ends_widths=0.0))
    wider = read_water(ground, flow, loose).layers["water"]
    assert wider["station_m"].min() < station.min() + 4 * field.grid.cell
