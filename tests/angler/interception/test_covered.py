"""The water that casts cover, as outlines."""

from types import SimpleNamespace

import numpy as np
import pytest
from affine import Affine

from reachmap.angler.interception.settings import InterceptionSettings
from reachmap.angler.interception.swept import Swept, no_swept
from reachmap.angler.interception.swings import covered_rows
from reachmap.base.grid import Grid

RULES = InterceptionSettings()
SHAPE = (40, 60)


def view(wet=None):
    """Return a flow on cells of 2 m, all of it wet if not said otherwise."""
    grid = Grid(Affine(2.0, 0, 0, 0, -2.0, 80.0), SHAPE, "EPSG:32610")
    wet = np.ones(SHAPE, dtype=bool) if wet is None else wet
    return SimpleNamespace(grid=grid, wet=wet, flow=50.0, label="50m3s")


def swept(*blocks):
    """Return what places cover: (rows, columns, seconds), one block a place."""
    grid = np.arange(np.prod(SHAPE)).reshape(SHAPE)
    cells = [grid[slice(*rows), slice(*cols)].ravel() for rows, cols, _ in blocks]
    place = np.concatenate([np.full(one.size, k) for k, one in enumerate(cells)])
    seconds = np.concatenate(
        [np.full(one.size, s) for one, (_, _, s) in zip(cells, blocks, strict=True)]
    )
    return Swept(place, np.concatenate(cells), seconds, len(blocks))


def test_water_with_enough_seconds_is_covered():
    (row,) = covered_rows(view(), swept(((5, 15), (5, 25), 2.0)), RULES)
    assert row["area_m2"] == pytest.approx(10 * 20 * 4.0, rel=0.03)
    assert row["seconds"] == pytest.approx(2.0)
    assert row["flow_label"] == "50m3s"


def test_the_casts_of_several_places_add_up():
    half = 0.6 * RULES.covered_s
    assert covered_rows(view(), swept(((5, 15), (5, 25), half)), RULES) == []
    both = swept(((5, 15), (5, 25), half), ((5, 15), (5, 25), half))
    assert len(covered_rows(view(), both, RULES)) == 1


def test_dry_ground_and_nothing_are_not_covered():
    dry = np.zeros(SHAPE, dtype=bool)
    assert covered_rows(view(dry), swept(((5, 15), (5, 25), 9.0)), RULES) == []
    assert covered_rows(view(), no_swept(), RULES) == []
