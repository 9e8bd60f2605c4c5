"""Drawn rocks stand on the bed with their own bulk, and only where no terrain model saw them."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point

from reachmap.ground import GroundSettings
from reachmap.ground.layout import lay_out
from reachmap.ground.surface_model import ROCK_HEIGHT_M, raise_rocks
from reachmap.markup.model import Standing
from tests.ground.scenes import drawing, pool_riffle

RIVER = pool_riffle(length=200)
MARKUP = drawing(RIVER, 20.0)


def laid(cell):
    """Return a corridor, a level bed, and a place in midstream."""
    corridor = lay_out(MARKUP, GroundSettings(cell=cell)).corridor
    x, y = RIVER.line.from_station_offset(np.array([100.3]), np.array([5.4]))
    return corridor, np.full(corridor.row.size, 90.0), Point(x[0], y[0])


@pytest.mark.parametrize("cell", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("radius", [1.2, 2.0, 5.0])
def test_a_rock_has_the_bulk_of_half_an_ellipsoid_on_cells_of_any_size(cell, radius):
    corridor, bed, place = laid(cell)
    nothing = np.full(bed.shape, np.nan)
    raised = raise_rocks(corridor, bed, [Standing(place, 1.5, radius)], nothing) - bed
    # volume of an ellipsoid 4/3 pi a b c; half of one of width 2 r and height h
    assert raised.sum() * cell**2 == pytest.approx(2 / 3 * np.pi * radius**2 * 1.5, rel=0.02)
    assert raised.min() == 0.0
    assert raised.max() <= 1.5 * 1.1  # a cell may hold a row of points more than its share
    away = np.hypot(corridor.x - place.x, corridor.y - place.y)
    assert (raised[away > radius + cell] == 0).all()


def test_a_rock_is_highest_in_its_middle():
    corridor, bed, place = laid(1.0)
    nothing = np.full(bed.shape, np.nan)
    raised = raise_rocks(corridor, bed, [Standing(place, float("nan"), 5.0)], nothing) - bed
    away = np.hypot(corridor.x - place.x, corridor.y - place.y)
    assert raised[away < 1.5].min() > 0.9 * ROCK_HEIGHT_M
    rim = raised[(away > 4.2) & (away < 4.6)]
    # sqrt(1 - 0.88^2) = 0.47 of the height
    assert rim.mean() == pytest.approx(0.47 * ROCK_HEIGHT_M, rel=0.15)


def test_what_a_terrain_model_saw_is_not_raised_again():
    corridor, bed, place = laid(1.0)
    seen = np.where(corridor.x < place.x, 90.0, np.nan)
    raised = raise_rocks(corridor, bed, [Standing(place, 1.0, 4.0)], seen) - bed
    assert (raised[corridor.x < place.x] == 0).all()
    assert (raised > 0).any()


@pytest.mark.parametrize("radius", [float("nan"), 0.4])
def test_a_rock_of_unknown_size_or_narrower_than_a_cell_leaves_the_bed(radius):
    corridor, bed, place = laid(1.0)
    nothing = np.full(bed.shape, np.nan)
    assert (raise_rocks(corridor, bed, [Standing(place, 1.0, radius)], nothing) == bed).all()
