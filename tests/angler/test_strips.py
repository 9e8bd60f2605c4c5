"""Strips: the near water of a piece, and the water outside it."""

import numpy as np
import pytest

from reachmap.angler.strips import AHEAD_M, find_strips
from reachmap.base.words import Strip
from tests.angler.hand import mirrored
from tests.angler.planned import BANK_ROW, SETTINGS, piece, places, river

BAND = SETTINGS.plan.band_m


def strips_of(view, water, band=BAND):
    """Return the strips of one place."""
    return find_strips(view, places(view), [water], band)


def rows_in(view, strips, strip, col=30):
    """Return how far off the bank the cells of a strip reach, in one column."""
    rows = np.arange(view.wet.shape[0])
    held = strips.holds(view, 0, strip, rows, np.full(rows.size, col))
    off = BANK_ROW - rows[held]
    return int(off.min()), int(off.max())


def test_a_piece_narrower_than_the_band_is_the_near_strip_whole():
    view = river()
    strips = strips_of(view, piece(1, 6))
    assert strips.inner_m[0] == pytest.approx(5.0)
    assert rows_in(view, strips, Strip.INSIDE) == (2, 6)


def test_of_a_wide_piece_the_near_strip_is_one_band_and_the_next_lies_outside_it():
    view = river()
    strips = strips_of(view, piece(1, 30))
    assert strips.inner_m[0] == pytest.approx(BAND)
    assert rows_in(view, strips, Strip.INSIDE) == (2, 2 + BAND - 1)
    assert rows_in(view, strips, Strip.OUTSIDE) == (2 + BAND, 2 + 2 * BAND - 1)


def test_outside_a_narrow_piece_lies_other_wet_water():
    view = river()
    strips = strips_of(view, piece(1, 6))
    assert strips.outer_m[0] == pytest.approx(BAND)
    assert rows_in(view, strips, Strip.OUTSIDE) == (7, 6 + BAND)


def test_where_dry_ground_lies_outside_there_is_no_outer_strip():
    view = river()
    far = np.arange(view.wet.shape[0]) < BANK_ROW - 6
    for name in ("wet",):
        getattr(view, name)[far] = False
    assert np.isnan(strips_of(view, piece(1, 6)).outer_m[0])


def test_a_strip_goes_on_below_its_piece_as_far_as_a_swing_but_not_above_it():
    view = river()
    water = piece(1, 9, length=30)
    strips = strips_of(view, water)
    row = np.full(view.wet.shape[1], BANK_ROW - 5)
    cols = np.arange(view.wet.shape[1])
    held = np.flatnonzero(strips.holds(view, 0, Strip.INSIDE, row, cols))
    assert held[0] == 5
    assert held[-1] == pytest.approx(34 + AHEAD_M, abs=2)
    assert not water.holds(row, cols)[held[-1]]


def test_the_mirrored_river_has_the_same_strips():
    view, water = river(), piece(1, 30)
    other = mirrored(view)
    flipped = type(water)(0, water.window, water.cells[::-1].copy())
    stands = places(view)
    back = view.grid.y[0] + view.grid.y[-1]
    stands.point[:, 1] = back - stands.point[:, 1]
    here, there = strips_of(view, water), find_strips(other, stands, [flipped], BAND)
    assert there.inner_m[0] == here.inner_m[0]
    assert there.outer_m[0] == here.outer_m[0]
    assert there.edges[0].sign == -here.edges[0].sign
