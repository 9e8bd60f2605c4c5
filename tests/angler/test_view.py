"""One flow over the ground: where land begins is found once, the ground is shared by flows."""

from dataclasses import fields

import numpy as np
import pytest
import xarray as xr

from reachmap.angler.view import LAND_ENDS, ground_view, land_ends, marked_ends, view_of, with_flow
from reachmap.base.centreline import Centreline
from reachmap.base.packed import PackedRaster
from tests.made import made_flows, made_ground

GROUND = made_ground(length=120)
FLOWS = made_flows(GROUND, {10.0: -0.8, 20.0: -0.3})


def with_rim_unknown():
    """Return the ground with a corner that nobody mapped."""
    bed = GROUND["bed"].to_numpy().copy()
    bed[:6, :9] = np.nan
    return GROUND.assign(bed=GROUND["bed"].copy(data=bed))


@pytest.fixture(params=[GROUND, with_rim_unknown()], ids=["whole", "corner unknown"])
def ground(request) -> xr.Dataset:
    return request.param


def assert_same(one, other):
    for field in fields(one):
        a, b = (
            held[...] if isinstance(held, PackedRaster) else held
            for held in (getattr(one, field.name), getattr(other, field.name))
        )
        if isinstance(a, np.ndarray):
            assert np.array_equal(a, b, equal_nan=a.dtype.kind == "f"), field.name
        elif isinstance(a, tuple):
            assert all(np.array_equal(mine, its) for mine, its in zip(a, b, strict=True))
        elif field.name == "line":
            assert np.array_equal(a.station, b.station)
            assert np.array_equal(a.curvatures, b.curvatures)
        else:
            assert a == b, field.name


def test_land_begins_at_mapped_cells_of_the_rim_beyond_half_the_drawn_width(ground):
    ends = land_ends(ground)
    bed, offset, station = (ground[name].to_numpy() for name in ("bed", "offset", "station"))
    off = np.pad(~np.isfinite(bed), 1, constant_values=True)
    beside = np.zeros(bed.shape, dtype=bool)
    for row, col in np.argwhere(np.isfinite(bed)):
        beside[row, col] = off[row : row + 3, col : col + 3].any()
    half = 0.5 * Centreline.of(ground).width(station)
    assert (ends.rim == np.flatnonzero(beside)).all()
    assert (ends.left == np.flatnonzero(beside & (offset > half))).all()
    assert (ends.right == np.flatnonzero(beside & (offset < -half))).all()
    assert ends.left.size
    assert ends.right.size


def test_a_ground_with_its_ends_marked_gives_the_same_view(ground):
    marked = marked_ends(ground)
    assert LAND_ENDS in marked
    assert marked_ends(marked) is marked
    assert_same(land_ends(marked), land_ends(ground))
    for index in range(2):
        one = FLOWS.isel(flow=[index])
        assert_same(view_of(marked, one), view_of(ground, one))


def test_another_flow_over_the_ground_of_a_view_is_the_view_of_that_flow(ground):
    low, high = (FLOWS.isel(flow=[index]) for index in range(2))
    view = view_of(ground, low, terrain_day=high)
    assert view.speed.shape == view.wet.shape  # what is worked out of one flow stays with it
    other = with_flow(view, ground, high)
    assert_same(other, view_of(ground, high, terrain_day=high))
    assert np.array_equal(other.speed, np.hypot(other.east, other.north), equal_nan=True)
    assert other.bed is view.bed
    assert_same(with_flow(ground_view(ground, high), ground, high), other)


def test_another_flow_over_a_view_wants_the_same_raster():
    view = view_of(GROUND, FLOWS.isel(flow=[0]))
    with pytest.raises(ValueError, match="different rasters"):
        with_flow(view, GROUND, FLOWS.isel(flow=[1], x=slice(1, None)))


def test_a_view_knows_what_the_ground_says_of_its_bed_and_line():
    told = GROUND.assign_attrs(bed_doubt=2.5, bed_seen=1)
    view = view_of(told, FLOWS.isel(flow=0))
    assert (view.bed_doubt, view.bed_seen) == (2.5, True)
    assert view.line is not None
    assert view_of(GROUND, FLOWS.isel(flow=0)).bed_doubt >= 1.0
    assert view_of(GROUND.assign_attrs(bed_doubt=0.5), FLOWS.isel(flow=0)).bed_doubt == 1.0
    assert not view_of(GROUND, FLOWS.isel(flow=0)).bed_seen
