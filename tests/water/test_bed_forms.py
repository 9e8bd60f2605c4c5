"""Forms of the bed against surfaces whose slope and curvature are known exactly."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.patches import cells_of
from reachmap.water.bed_forms import find_bed_forms
from reachmap.water.structure_settings import BedFormSettings
from reachmap.water.surfaces import fitted
from tests.made import made_flows, made_ground
from tests.water.scenes import as_field, from_mask

TERM = st.floats(-0.5, 0.5)
MIDDLE_M = 60.0
"""Station of what is planted [m]."""


def surface(terms, shape=(15, 17), cell=2.0):
    """Return a quadratic surface on a raster, and x, y of its cells from the middle one [m]."""
    row, col = np.mgrid[: shape[0], : shape[1]]
    x, y = (col - shape[1] // 2) * cell, (row - shape[0] // 2) * cell
    c, p, q, r, s, t = terms
    return c + p * x + q * y + r * x**2 + s * y**2 + t * x * y, x, y


@given(terms=st.tuples(st.floats(-900, 900), *[TERM] * 5), half=st.sampled_from([2.0, 4.0, 8.0]))
def test_a_quadratic_surface_is_found_exactly(terms, half):
    height, x, y = surface(terms)
    inner = np.zeros(height.shape, dtype=bool)
    inner[1:-1, 1:-1] = True  # at a raster's very edge three by three cells tell no curvature
    cells = cells_of(inner)
    found = fitted(height, np.ones(height.shape, dtype=bool), cells, 2.0, half, 0.0)
    x, y = x[cells], y[cells]
    _, p, q, r, s, t = terms
    np.testing.assert_allclose(found.height, height[cells], atol=1e-6)
    np.testing.assert_allclose(found.p, p + 2 * r * x + t * y, atol=1e-6)
    np.testing.assert_allclose(found.q, q + 2 * s * y + t * x, atol=1e-6)
    angle = 0.7
    way = np.full(x.shape, np.sin(angle)), np.full(x.shape, np.cos(angle))
    # d2z/dl2 along a unit vector (cos, sin) of x and y
    exact = 2 * (
        r * np.cos(angle) ** 2 + s * np.sin(angle) ** 2 + t * np.sin(angle) * np.cos(angle)
    )
    np.testing.assert_allclose(found.curvature(*way), exact, atol=1e-6)


def test_known_cells_alone_count():
    height, _, _ = surface((100.0, 0.1, -0.2, 0.01, 0.02, 0.005))
    known = np.ones(height.shape, dtype=bool)
    known[:, 10:] = False
    spoiled = np.where(known, height, 777.0)
    cells = cells_of(known)
    found = fitted(spoiled, known, cells, 2.0, 4.0, 0.0)
    np.testing.assert_allclose(found.height, height[known], atol=1e-6)
    np.testing.assert_allclose(found.curvature(*np.eye(2)[:, :1]), 0.04, atol=1e-6)


def test_too_few_cells_tell_no_surface():
    height = np.full((9, 9), 5.0)
    known = np.zeros((9, 9), dtype=bool)
    known[4, 2:7] = True
    found = fitted(height, known, cells_of(known), 2.0, 4.0, 1e-3)
    assert np.isnan(found.height).all()


def test_a_line_of_cells_gets_no_curvature_across_itself():
    height = np.full((9, 15), 5.0)
    known = np.zeros(height.shape, dtype=bool)
    known[4, 1:14] = True
    found = fitted(height, known, cells_of(known), 2.0, 6.0, 1e-3)
    inner = np.isfinite(found.height)
    assert inner.sum() >= 5
    np.testing.assert_allclose(found.height[inner], 5.0, atol=1e-6)
    np.testing.assert_allclose(found.s[inner], 0.0, atol=1e-6)


def forms_of(ground, flow, **scales):
    return find_bed_forms(as_field(ground, flow), ground, BedFormSettings(**scales))


def channel(**more):
    ground = made_ground(**{"length": 500, "half_width": 30, "deep": 1.5} | more)
    return ground, made_flows(ground, {60.0: -0.1})


@pytest.mark.parametrize("turn_deg", [0.0, 40.0])
def test_a_plain_parabolic_channel_has_its_curvature_and_no_hollow(turn_deg):
    ground, flow = channel(turn_deg=turn_deg)
    forms = forms_of(ground, flow)
    deep = flow["depth"][0].to_numpy()[cells_of(flow["wet"][0].to_numpy() == 1)] > 0.8
    # z = deep (n / half width)^2: second derivative 2 deep / half width^2
    across = forms.curvature_across[deep]
    assert np.median(across) == pytest.approx(2 * 1.5 / 30**2, rel=0.1)
    assert abs(np.median(forms.curvature_along[deep])) < 2e-4
    assert np.median(forms.slope_along[deep]) == pytest.approx(-0.002, abs=3e-4)
    assert np.nanmax(forms.closed) < 0.1
    # a quadratic bed lies nowhere off its quadratic surface, at the banks neither
    assert np.nanmax(np.abs(forms.residual)) < (0.02 if turn_deg == 0 else 0.09)


def hollow_in():
    wet = np.zeros((36, 60), dtype=bool)
    wet[4:32] = True
    return from_mask(wet)


def planted(ground, *, along, across, deep=0.8):
    """Return a ground with a bell-shaped hollow in the middle, of half widths along and across."""
    station, offset = ground["station"].to_numpy(), ground["offset"].to_numpy()
    bell = np.exp(-(((station - MIDDLE_M) / along) ** 2) - (offset / across) ** 2)
    return ground.assign(bed=ground["bed"] - deep * bell)


def at_middle(ground, forms, values):
    row = int(np.argmin(np.abs(ground["offset"].to_numpy()[:, 0])))
    col = int(np.argmin(np.abs(ground["station"].to_numpy()[0] - MIDDLE_M)))
    return forms.raster(values)[row - 2, col]  # the field's window begins two rows above the water


def test_a_bucket_is_closed_both_ways_a_slot_across_alone():
    ground, flow = hollow_in()
    bucket = planted(ground, along=6.0, across=6.0)
    forms = forms_of(bucket, flow)
    assert at_middle(bucket, forms, forms.rise_along) > 0.4
    assert at_middle(bucket, forms, forms.rise_across) > 0.4
    assert at_middle(bucket, forms, forms.curvature_along) > 0.01
    slot = planted(ground, along=1e4, across=5.0)
    forms = forms_of(slot, flow)
    assert at_middle(slot, forms, forms.rise_across) > 0.4
    assert at_middle(slot, forms, forms.rise_along) < 0.05
    assert at_middle(slot, forms, forms.closed) > 0.2


def test_the_outer_pool_of_a_bend_is_no_hollow():
    # deep along one bank all the way, rising evenly to the other
    ground, flow = hollow_in()
    offset = ground["offset"].to_numpy()
    forms = forms_of(ground.assign(bed=ground["bed"] + 0.03 * (offset - offset.min())), flow)
    assert np.nanmax(forms.closed) < 0.05
    np.testing.assert_allclose(forms.residual, 0.0, atol=0.02)


def test_where_the_ground_is_not_known_a_hollow_is_not_closed():
    ground, flow = hollow_in()
    bucket = planted(ground, along=6.0, across=6.0)
    bed = bucket["bed"].to_numpy().copy()
    middle = int(np.argmin(np.abs(ground["offset"].to_numpy()[:, 0])))
    bed[: middle - 1] = np.nan  # all that lies to river left of it
    forms = forms_of(bucket.assign(bed=(("y", "x"), bed)), flow)
    assert at_middle(bucket, forms, forms.rise_right) > 0.4
    assert at_middle(bucket, forms, forms.rise_across) < 0.15  # the next cell is the last known


def shelf(fall, over):
    """Return the bed's drops where a shelf falls by `fall` over a width of `over` [m]."""
    ground, flow = hollow_in()
    offset = ground["offset"].to_numpy()
    step = fall * np.clip(offset / over + 0.5, 0.0, 1.0)
    made = ground.assign(bed=ground["bed"] + step)
    return made, forms_of(made, flow)


def test_a_shelf_has_a_drop_a_plain_slope_has_none():
    made, forms = shelf(0.6, 3.0)
    assert at_middle(made, forms, forms.drop) == pytest.approx(0.6, abs=0.1)
    _, forms = shelf(1.5, 60.0)
    assert forms.drop.max() == 0.0


def test_stones_stand_above_the_bed_on_all_sides():
    ground, flow = hollow_in()
    station, offset = ground["station"].to_numpy(), ground["offset"].to_numpy()
    lump = 0.7 * (np.hypot(station - MIDDLE_M, offset) < 3.0)
    forms = forms_of(ground.assign(bed=ground["bed"] + lump), flow)
    assert forms.stone.max() == pytest.approx(0.7, abs=0.03)
    ridge = 0.7 * (np.abs(offset) < 3.0)
    assert forms_of(ground.assign(bed=ground["bed"] + ridge), flow).stone.max() < 0.05
