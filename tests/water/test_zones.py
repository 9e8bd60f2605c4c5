"""Outlines of zones: smooth to read, and still the area of the cells they stand for."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from reachmap.base.grid import Grid
from reachmap.water.zones import outline

GRID = Grid.at_corner(499_999.0, 5_117_001.0, 2.0, (50, 60), "EPSG:32607")
WHOLE = (slice(0, 50), slice(0, 60))


def traced(mask):
    shape = outline(mask, WHOLE, GRID)
    assert shape is not None
    assert shape.is_valid
    return shape


def cells_of(mask):
    """Return the cells' own outline, corners and all."""
    rows, cols = np.nonzero(mask)
    middle = GRID.points(rows, cols)
    return shapely.union_all(
        shapely.box(middle[:, 0] - 1.0, middle[:, 1] - 1.0, middle[:, 0] + 1.0, middle[:, 1] + 1.0)
    )


def test_a_round_zone_is_traced_as_a_circle():
    # a circle's roundness 4 pi A / P^2 = 1: exact geometry
    row, col = np.mgrid[:50, :60]
    mask = (row - 25.0) ** 2 + (col - 30.0) ** 2 <= 12.0**2
    shape = traced(mask)
    assert shape.area == pytest.approx(4.0 * mask.sum(), rel=0.02)
    assert 4 * np.pi * shape.area / shape.length**2 == pytest.approx(1.0, abs=0.02)
    assert shape.centroid.distance(shapely.Point(GRID.points(25.0, 30.0)[0])) < 0.1


def test_a_slanting_band_has_no_stairs():
    row, col = np.mgrid[:50, :60]
    mask = (np.abs(row - 0.5 * col - 8) < 4) & (col > 6) & (col < 54)
    shape = traced(mask)
    stairs = cells_of(mask)
    assert shape.area == pytest.approx(stairs.area, rel=0.03)
    assert shape.length < 0.85 * stairs.length


@given(seed=st.integers(0, 10_000))
def test_any_zone_keeps_its_area_and_its_place(seed):
    rng = np.random.default_rng(seed)
    rough = ndimage.gaussian_filter(rng.normal(size=(50, 60)), 3.0) > 0
    mask = ndimage.binary_opening(rough, np.ones((3, 3), bool))
    labels, count = ndimage.label(mask)
    if not count:
        return
    mask = labels == 1 + int(np.argmax(np.bincount(labels.ravel())[1:]))
    if mask.sum() < 20:
        return
    shape, stairs = traced(mask), cells_of(mask)
    holes = sum(shapely.Polygon(r).area for r in stairs.interiors)
    assert abs(shape.area - stairs.area) <= 0.08 * stairs.area + holes
    assert shapely.difference(shape, stairs.buffer(1.5 * GRID.cell)).area < 1e-6 + holes


def test_a_window_full_of_cells_and_an_empty_one():
    full = np.ones((4, 5), dtype=bool)
    place = (slice(10, 14), slice(20, 25))
    shape = outline(full, place, GRID)
    assert shape is not None
    assert shape.area == pytest.approx(80.0, rel=0.06)
    assert shape.centroid.distance(shapely.Point(GRID.points(11.5, 22.0)[0])) < 0.2
    assert outline(~full, place, GRID) is None
