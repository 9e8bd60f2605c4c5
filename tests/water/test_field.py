"""One flow prepared for the rules: which water counts, and what ends a look across it."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.base.words import Wet
from reachmap.water._kernels import ISLAND, OPEN, UNKNOWN
from reachmap.water.field import field_of
from reachmap.water.lanes import Current, step_costs
from reachmap.water.mesh import mesh_of
from reachmap.water.settings import LaneSettings
from reachmap.water.skeleton import filled
from tests.water.scenes import as_field, from_mask

PLAIN = np.pad(np.ones((20, 60), bool), 6)
"""A river of 40 m on cells of 2 m, dry ground round it."""


def prepared(wet, unknown=(), **limits):
    ground, flow = from_mask(wet)
    for row, col in unknown:
        flow["wet"].to_numpy()[0, row, col] = Wet.UNKNOWN
    return field_of(ground, flow, **{"island_low_m2": 30.0, "pool_low_m2": 100.0} | limits)


def test_pools_cut_off_from_the_river_are_left_out():
    wet = PLAIN.copy()
    wet[1:4, 10:14] = True  # 48 m2, two cells off the river
    assert prepared(wet).wet.sum() == PLAIN.sum()
    assert prepared(wet, pool_low_m2=40.0).wet.sum() == PLAIN.sum() + 12


def test_the_only_water_there_is_stays_however_small():
    wet = np.zeros((12, 16), bool)
    wet[5:8, 5:9] = True
    assert prepared(wet).wet.sum() == 12


def test_a_dry_speck_is_looked_over_an_island_is_not():
    wet = PLAIN.copy()
    wet[15:17, 20:22] = False  # 16 m2
    wet[15:19, 40:44] = False  # 64 m2
    codes = prepared(wet).code
    assert (codes == ISLAND).sum() == 16
    assert (codes == OPEN).sum() == PLAIN.sum() - 16


def test_a_speck_that_is_partly_unknown_is_never_looked_over():
    wet = PLAIN.copy()
    wet[15:17, 20:22] = False
    codes = prepared(wet, unknown=[(15, 20)]).code
    assert (codes == UNKNOWN).sum() == 1
    assert (codes == ISLAND).sum() == 3


def test_small_dry_ground_at_the_edge_of_the_raster_is_no_hole():
    wet = np.ones((10, 12), bool)
    wet[:2, :2] = wet[5:7, 5:7] = False
    kept = filled(wet, 10.0)
    assert kept[5:7, 5:7].all()
    assert not kept[:2, :2].any()


@pytest.mark.parametrize("north", [0.8, -0.8])
def test_a_step_against_a_current_that_runs_north_or_south_costs_more(north):
    field = prepared(PLAIN)
    field = replace(field, east=0 * field.east, north=field.north + north)
    mesh = mesh_of(field.wet)
    forth, back = step_costs(Current.of(field, 0.25), mesh, LaneSettings(), 0.5)
    upright = mesh.d_col == 0
    downstream = mesh.d_row * north < 0  # rows run south
    assert (forth[upright & downstream] < back[upright & downstream]).all()
    assert (forth[upright & ~downstream] > back[upright & ~downstream]).all()


def test_the_water_between_two_stations_holds_both_ends():
    field = prepared(PLAIN)
    low, high = 20.0, float(field.station[field.wet].max())
    found = np.zeros(field.wet.shape, bool)
    found[field.between(low, high)] = True
    assert (found == (field.wet & (field.station[...] >= low) & (field.station[...] <= high))).all()


def test_roughness_is_that_at_the_depth_of_the_water():
    """Where n is given at the water's own depth it is as given; thinner water is rougher."""
    ground, flow = from_mask(np.ones((12, 30), dtype=bool), depth=0.8)
    stony = {"stone_size": 0.2, "stone_depth": 0.8}
    same = as_field(ground.assign_attrs(stony), flow)
    assert same.roughness.values == pytest.approx(0.035)
    thin = as_field(ground.assign_attrs(stony | {"stone_depth": 1.6}), flow)
    law = [1 + (6.5 / 2.5) ** 2 * (0.2 / depth) ** (5 / 3) for depth in (0.8, 1.6)]
    assert thin.roughness.values == pytest.approx(0.035 * np.sqrt(law[0] / law[1]))
    assert as_field(ground, flow).roughness.values == pytest.approx(0.035)
