"""Patches of a cell list against scipy's labels of the raster."""

import numpy as np
import pytest
from scipy import ndimage

from reachmap.base.listed import CellList
from reachmap.base.patches import FOUR, joined_to

SHAPES = [(23, 31), (1, 40), (40, 1), (7, 7)]


@pytest.fixture(params=SHAPES, ids=str)
def listed(request):
    """Return a list of cells of a raster and its mask; borders and corners are in it."""
    chance = np.random.default_rng(sum(request.param))
    mask = chance.random(request.param) < 0.8
    mask[[0, 0, -1, -1], [0, -1, 0, -1]] = True
    return CellList.of(mask), mask, chance


def test_each_cell_has_its_place_and_no_other_cell_has_one(listed):
    cells, mask, _ = listed
    places = cells.places(np.arange(-1, mask.size + 1))
    assert (places[1:-1][mask.ravel()] == np.arange(mask.sum())).all()
    assert (places[1:-1][~mask.ravel()] == -1).all()
    assert places[0] == places[-1] == -1


def test_every_shared_side_is_a_pair_once(listed):
    cells, mask, _ = listed
    number = np.arange(mask.size).reshape(mask.shape)
    wanted = set()
    for one, two in ((number[:, :-1], number[:, 1:]), (number[:-1], number[1:])):
        both = mask.ravel()[one] & mask.ravel()[two]
        wanted |= set(zip(one[both].tolist(), two[both].tolist(), strict=True))
    found = cells.cells[cells.adjacent]
    assert found.shape[1] == len(wanted)
    assert set(map(tuple, found.T.tolist())) == wanted


def test_patches_are_those_of_the_raster(listed):
    cells, mask, chance = listed
    some = mask & (chance.random(mask.shape) < 0.6)
    expected = ndimage.label(some, FOUR)[0].ravel()[cells.cells]
    assert (cells.patches(some.ravel()[cells.cells]) == expected).all()


def test_what_is_joined_is_what_is_joined_on_the_raster(listed):
    cells, mask, chance = listed
    some = mask & (chance.random(mask.shape) < 0.6)
    seeds = mask & (chance.random(mask.shape) < 0.05)
    seeds[-1, -1] = True
    expected = joined_to(seeds, some).ravel()[cells.cells]
    found = cells.joined_to(*(one.ravel()[cells.cells] for one in (seeds, some)))
    assert (found == expected).all()


def test_a_list_of_no_cells_has_no_patches():
    none = CellList.of(np.zeros((3, 4), dtype=bool))
    assert none.places(np.array([0, 5])).tolist() == [-1, -1]
    assert none.patches(np.zeros(0, dtype=bool)).size == 0
