"""Signed depth and grades as bytes: what is told back, what is not known, and the way between."""

import geopandas as gpd
import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely import box

from reachmap.base.grid import Grid
from reachmap.base.words import Wet
from reachmap.outputs.webmap.grades import GRADES, grade_codes
from reachmap.outputs.webmap.signed import (
    DRY,
    DRY_STEPS,
    EDGE_STEP_M,
    PAST_EDGE,
    TOP,
    UNKNOWN,
    depth_codes,
    depth_values,
    signed_depth,
)
from tests.made import CRS

heights = arrays(np.float64, 40, elements=st.one_of(st.just(np.nan), st.floats(-3, 20)))
wets = arrays(np.uint8, 40, elements=st.sampled_from([int(w) for w in Wet]))


def valley(levels, *, slope=0.05, cells=60, cell=2.0):
    """Return ground and flows of a straight bank that rises to the east at one slope.

    Level water on a plane: the edge lies where the level meets it, exactly.
    """
    x = cell * (np.arange(cells) + 0.5)
    bed = np.broadcast_to(slope * x, (12, cells))
    level = np.stack([np.where(bed < one, one, np.nan) for one in levels])
    depth = level - bed
    wet = np.where(np.isfinite(depth), Wet.YES, Wet.NO).astype(np.uint8)
    dims = ("flow", "y", "x")
    flows = xr.Dataset(
        {"level": (dims, level), "depth": (dims, depth), "wet": (dims, wet)},
        coords={
            "flow": [10.0 * 2**k for k in range(len(levels))],
            "x": x,
            "y": -cell * np.arange(12),
        },
        attrs={"crs": CRS, "cell": cell},
    )
    return xr.Dataset({"bed": (("y", "x"), bed)}), flows


@given(heights, wets)
def test_no_water_is_told_too_shallow_or_dry_and_unknown_stays_unknown(signed, wet):
    codes, values = depth_codes(signed, wet), depth_values()
    known = np.isfinite(signed)
    water = (wet == Wet.YES) & known
    assert (codes[wet == Wet.UNKNOWN] == UNKNOWN).all()
    assert (codes[(wet == Wet.YES) & ~known] == UNKNOWN).all()
    assert ((codes[water] > DRY_STEPS) & (codes[water] <= TOP)).all()
    assert (values[codes[water]] >= signed[water] - 1e-6).all()
    assert (codes[(wet == Wet.NO) & ~known] == DRY).all()
    assert (codes[wet == Wet.NO] <= DRY_STEPS).all()


@given(st.floats(-0.9, 15))
def test_a_depth_comes_back_within_one_step_that_grows_with_it(depth):
    wet = np.array([Wet.YES if depth > 0 else Wet.NO], dtype=np.uint8)
    told = depth_values()[depth_codes(np.array([depth]), wet)][0]
    # the step of a hyperbolic sine: even about nought, in proportion to what is large
    assert -1e-6 <= told - depth <= EDGE_STEP_M * np.hypot(1, max(abs(depth), told) / 0.8) + 1e-6


def test_codes_rise_with_the_depth_and_nought_is_the_edge():
    values = depth_values()
    assert (np.diff(values) > 0).all()
    assert values[DRY_STEPS] == 0
    assert values[DRY_STEPS + 1] == pytest.approx(EDGE_STEP_M, rel=1e-3)
    assert values[TOP] > 20


def test_dry_ground_by_the_water_lies_as_high_above_it_as_the_bank_rises():
    ground, flows = valley([2.0, 3.0])
    signed = signed_depth(ground, flows, 0)
    bed = ground["bed"].to_numpy()
    kept = np.isfinite(signed)
    assert signed[kept] == pytest.approx((2.0 - bed)[kept], abs=1e-9)
    # the water itself, what the higher flow wets, and no more than a few cells past that
    assert kept[bed < 3.0].all()
    assert not kept[:, np.flatnonzero(bed[0] >= 3.0)[0] + PAST_EDGE :].any()
    past = np.isfinite(signed_depth(ground, flows, 1)) & (bed >= 3.0)
    assert past.sum(axis=1).tolist() == [PAST_EDGE] * 12


def test_dry_ground_below_the_level_beside_it_stays_dry():
    ground, flows = valley([2.0])
    hollow = ground["bed"].to_numpy().copy()
    first = np.flatnonzero(hollow[0] >= 2.0)[0]
    hollow[:, first + 1] = 1.0  # behind a sill
    signed = signed_depth(ground.assign(bed=(("y", "x"), hollow)), flows, 0)
    assert (signed[:, first + 1] == 0).all()


def test_dry_ground_whose_bed_nobody_knows_has_no_height():
    ground, flows = valley([2.0])
    bed = ground["bed"].to_numpy().copy()
    first = np.flatnonzero(bed[0] >= 2.0)[0]
    bed[:, first] = np.nan
    signed = signed_depth(ground.assign(bed=(("y", "x"), bed)), flows, 0)
    assert np.isnan(signed[:, first]).all()
    assert (depth_codes(signed, flows["wet"].to_numpy()[0])[:, first] == DRY).all()


def test_halfway_between_two_levels_the_edge_is_halfway_up_the_bank():
    """On a plane bank the edge of a level is exactly level / slope away."""
    ground, flows = valley([2.0, 3.0])
    values = depth_values()
    wet = flows["wet"].to_numpy()
    low, high = (values[depth_codes(signed_depth(ground, flows, k), wet[k])][5] for k in (0, 1))
    mixed = (low + high) / 2
    last = np.flatnonzero(mixed > 0)[-1]
    edge = 2.0 * (last + 0.5 + mixed[last] / (mixed[last] - mixed[last + 1]))
    assert edge == pytest.approx(2.5 / 0.05, abs=2 * EDGE_STEP_M / 0.05)


def test_grades_are_told_cell_by_cell_the_stricter_where_two_overlap():
    grid = Grid.at_corner(0.0, 20.0, 2.0, (10, 10), CRS)
    zones = gpd.GeoDataFrame(
        {"grade": ["no", "easy", "careful", "unknown"]},
        geometry=[box(0, 16, 20, 20), box(0, 8, 20, 18), box(0, 8, 20, 12), box(0, 8, 4, 10)],
        crs=CRS,
    )
    wet = np.full((10, 10), Wet.YES, dtype=np.uint8)
    wet[9], wet[8, 0], wet[3, 9] = Wet.NO, Wet.UNKNOWN, Wet.NO
    codes = grade_codes(grid, zones, wet)
    told = {0: "dry"} | {k: grade.value for k, grade in enumerate(GRADES, start=1)}
    assert [told[code] for code in codes[:, 5].tolist()] == [
        "no", "no", "easy", "easy", "careful", "careful", "no", "no", "no", "dry",
    ]  # fmt: skip
    assert told[codes[5, 0]] == "unknown"
    assert told[codes[8, 0]] == "unknown"
    assert told[codes[3, 9]] == "dry"


def test_water_that_nobody_graded_is_beyond_the_limits():
    grid = Grid.at_corner(0.0, 20.0, 2.0, (10, 10), CRS)
    wet = np.full((10, 10), Wet.YES, dtype=np.uint8)
    for zones in (None, gpd.GeoDataFrame({"grade": []}, geometry=[], crs=CRS)):
        assert (grade_codes(grid, zones, wet) == GRADES.index("no") + 1).all()
