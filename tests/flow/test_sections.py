"""Cells of the ground as a list against the raster they are of."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import uniform_filter

from reachmap.flow import FlowSettings
from reachmap.flow._kernels import sill_ranks
from reachmap.flow.carry import SidedCells
from reachmap.flow.sections import STRETCH_HIGH, STRETCH_LOW, _gradient, sections_of
from tests.made import made_ground

pytestmark = pytest.mark.compiled


def limited(east, north):
    size = np.hypot(east, north)
    scale = np.clip(size, STRETCH_LOW, STRETCH_HIGH) / np.maximum(size, 1e-9)
    return east * scale, north * scale


def test_the_gradient_of_the_station_is_that_of_the_raster():
    """numpy's differences and scipy's mean over squares, on a raster with holes and all its rim."""
    rng = np.random.default_rng(3)
    x, y = np.meshgrid(np.arange(30.0), np.arange(24.0))
    station = 40 * np.sin(x / 9) + 30 * np.cos(y / 7) + x
    for row, col in rng.integers(0, 22, (14, 2)):
        station[row : row + 2, col : col + 3] = np.nan
    down, right = np.gradient(station, 2.0)
    known = np.isfinite(down) & np.isfinite(right)
    east, north = limited(np.where(known, right, 0.0), np.where(known, -down, 0.0))
    share = np.maximum(uniform_filter(known.astype(float), 5, mode="nearest"), 1e-6)
    true = limited(*(uniform_filter(one, 5, mode="nearest") / share for one in (east, north)))
    cells = np.flatnonzero(np.isfinite(station)).astype(np.int32)
    wanted = rng.random(cells.size) < 0.8
    listed = SidedCells.of(cells, station.shape)
    got = _gradient(station.ravel()[cells], listed, wanted, 2.0)
    for one, other in zip(got, true, strict=True):
        assert one == pytest.approx(other.ravel()[cells[wanted]], abs=1e-9)


def test_a_cell_floods_over_the_lowest_of_the_highest_sills():
    """Two ways into a pool: 5 over the short one, 3 over the long one; a shut cell stays shut."""
    rank = np.array([[0, 5, 1], [2, 9, 0], [3, 1, 1], [9, 9, 2]], dtype=np.int32)
    cells = np.arange(rank.size, dtype=np.int32)
    listed = SidedCells.of(cells, rank.shape)
    found = sill_ranks(rank.ravel(), listed.neighbours, np.array([0]), 9).reshape(rank.shape)
    assert found.tolist() == [[0, 5, 3], [2, 9, 3], [3, 3, 3], [9, 9, 3]]


def test_ground_about_the_river_does_not_change_its_sections():
    ground = made_ground()
    ground = ground.drop_vars(["cover", "surface", "confidence"])
    wide = ground.pad(x=(7, 9), y=(5, 11), constant_values=np.nan)
    step = float(ground.attrs["cell"])
    for axis, before, sign in (("x", 7, 1), ("y", 5, -1)):
        first = float(ground[axis][0]) - sign * before * step
        wide[axis] = first + sign * step * np.arange(wide.sizes[axis])
    narrow, broad = (sections_of(one, FlowSettings()) for one in (ground, wide))
    assert np.array_equal(narrow.tables.level, broad.tables.level)
    # the rim's one-sided differences are all that changes
    assert broad.tables.area == pytest.approx(narrow.tables.area, rel=0.02, abs=0.5)
    assert broad.cells.size == narrow.cells.size
