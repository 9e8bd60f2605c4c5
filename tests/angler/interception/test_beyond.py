"""Swing water that no cast gets to: from one bank alone, or only by boat."""

from types import SimpleNamespace

import numpy as np
import pytest
from affine import Affine
from shapely import Point

from reachmap.angler.interception.beyond import beyond_rows
from reachmap.angler.stations import Piece
from reachmap.base.grid import Grid
from reachmap.base.words import Side, WayIn

CELL, SHAPE, CAST = 2.0, (40, 60), 20.0
GRID = Grid(Affine(CELL, 0, 0, 0, -CELL, SHAPE[0] * CELL), SHAPE, "EPSG:32610")
LENGTH, WIDTH = SHAPE[1] * CELL, SHAPE[0] * CELL


def stand(side, x, y, **more):
    """Return a place with room for a cast, reached on foot."""
    usual = {"cast": "double spey", "access": WayIn.FOOT.value}
    return {"geometry": Point(x, y), "side": side.value, **usual, **more}


def bank_of(side, y, **more):
    """Return places all along a bank at a height of the map [m]."""
    return [stand(side, float(x), y, **more) for x in np.arange(0, LENGTH + 1, 2.0)]


def areas(stations, wet=None):
    """Return the area of each sort of water out of reach; a river of 80 m, all swing water."""
    wet = np.ones(SHAPE, dtype=bool) if wet is None else wet
    view = SimpleNamespace(grid=GRID, wet=wet, flow=50.0, label="50m3s")
    whole = Piece(0, (slice(0, SHAPE[0]), slice(0, SHAPE[1])), np.ones(SHAPE, dtype=bool))
    found = {}
    for row in beyond_rows(view, [whole], stations, CAST):
        found[str(row["only_from"])] = found.get(str(row["only_from"]), 0.0) + row["area_m2"]
    return found


def test_a_wide_river_fished_from_both_banks_leaves_the_middle_to_a_boat():
    got = areas([*bank_of(Side.LEFT, WIDTH), *bank_of(Side.RIGHT, 0.0)])
    assert got["left"] == pytest.approx(LENGTH * CAST, rel=0.03)
    assert got["right"] == pytest.approx(LENGTH * CAST, rel=0.03)
    assert got["boat"] == pytest.approx(LENGTH * (WIDTH - 2 * CAST), rel=0.03)


def test_a_longer_cast_from_one_bank_covers_what_both_get_to():
    # places in the middle, one of either bank: what both reach is of no sort
    both = [*bank_of(Side.LEFT, WIDTH / 2), *bank_of(Side.RIGHT, WIDTH / 2)]
    assert set(areas(both)) == {"boat"}
    assert areas(both)["boat"] == pytest.approx(LENGTH * (WIDTH - 2 * CAST), rel=0.05)


def test_an_islands_places_count_for_both_banks():
    assert set(areas(bank_of(Side.ISLAND, WIDTH / 2))) == {"boat"}
    assert areas(bank_of(Side.ISLAND, WIDTH / 2)) == areas(
        [*bank_of(Side.LEFT, WIDTH / 2), *bank_of(Side.RIGHT, WIDTH / 2)]
    )


def test_a_place_reached_by_boat_counts_as_it_does_for_the_water_covered():
    assert areas(bank_of(Side.LEFT, WIDTH, access=WayIn.BOAT.value)) == areas(
        bank_of(Side.LEFT, WIDTH)
    )


def test_a_place_without_room_gets_to_nothing():
    open_, closed = bank_of(Side.LEFT, WIDTH), bank_of(Side.LEFT, WIDTH, cast=None)
    assert "left" in areas(open_)
    assert set(areas(closed)) == {"boat"}
    assert areas(closed)["boat"] == pytest.approx(LENGTH * WIDTH, rel=0.02)
    assert areas([]) == areas(closed)


def test_dry_ground_and_other_water_are_of_no_sort():
    assert areas([], np.zeros(SHAPE, dtype=bool)) == {}
    view = SimpleNamespace(grid=GRID, wet=np.ones(SHAPE, dtype=bool), flow=50.0, label="50m3s")
    part = Piece(0, (slice(0, 10), slice(0, 20)), np.ones((10, 20), dtype=bool))
    [row] = beyond_rows(view, [part], [], CAST)
    assert row["area_m2"] == pytest.approx(10 * 20 * CELL**2, rel=0.03)
