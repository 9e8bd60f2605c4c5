"""Short pieces of water go with what they touch."""

from typing import NamedTuple

import numpy as np

from reachmap.base.words import Side, WaterKind
from reachmap.water.fold import folded, merged_zone, zone_length
from reachmap.water.zones import Zone

LOW = 36.6


class Flat(NamedTuple):
    """A field whose station is the column, cells of 1 m."""

    station: np.ndarray
    wet: np.ndarray


FIELD = Flat(np.tile(np.arange(300.0), (40, 1)), np.ones((40, 300), dtype=bool))


ODDS = np.ones(FIELD.wet.shape)


def zone(rows, cols, kind=WaterKind.SOFT_EDGE, side=Side.LEFT, section=0):
    """Return a block of cells."""
    place = slice(*rows), slice(*cols)
    shape = rows[1] - rows[0], cols[1] - cols[0]
    return Zone(kind, place, np.ones(shape, dtype=bool), side, ODDS, section)


def fold(*zones):
    return folded(list(zones), FIELD, lambda kind: 12.0 if kind is WaterKind.TAILOUT else LOW)


def cells(zones):
    """Return the number of cells of each zone."""
    return [int(one.mask.sum()) for one in zones]


def test_a_short_piece_goes_with_the_longer_one_it_touches_and_takes_its_kind():
    long, short = zone((0, 5), (0, 100)), zone((0, 5), (100, 120), kind=WaterKind.SEAM)
    for order in ((long, short), (short, long)):
        made = fold(*order)
        assert cells(made) == [600]
        assert made[0].kind is WaterKind.SOFT_EDGE
        assert zone_length(FIELD, made[0]) > 115


def test_it_goes_where_it_shares_most_border():
    beside, end = zone((5, 10), (90, 200)), zone((0, 5), (120, 220), kind=WaterKind.SEAM)
    made = fold(beside, end, zone((0, 5), (95, 119), kind=WaterKind.EVEN_RUN))
    assert cells(made) == [5 * 110 + 5 * 24, 500]


def test_pieces_of_another_stretch_or_out_of_touch_take_nothing_in():
    short = zone((0, 5), (100, 120))
    for other in (
        zone((0, 5), (0, 100), side=Side.RIGHT),
        zone((0, 5), (0, 100), section=1),
        zone((0, 5), (0, 90)),
    ):
        assert sorted(cells(fold(other, short))) == sorted(cells((other, short)))


def test_short_pieces_grow_together_until_they_are_long_enough():
    parts = [zone((0, 5), (20 * k, 20 * k + 20)) for k in range(3)]
    made = fold(*parts)
    assert len(made) == 1
    assert cells(made) == [300]


def test_no_cell_is_lost_and_a_short_tailout_stays():
    tail = zone((0, 20), (100, 130), kind=WaterKind.TAILOUT)
    made = fold(zone((0, 5), (0, 99)), tail)
    assert cells(made) == [495, 600]
    assert fold() == []


def test_a_zone_with_another_covers_both():
    one, other = zone((0, 2), (0, 3)), zone((4, 6), (5, 9))
    both = merged_zone(one, other)
    whole = np.zeros((40, 300), dtype=bool)
    whole[both.place] = both.mask
    assert whole[0:2, 0:3].all()
    assert whole[4:6, 5:9].all()
    assert whole.sum() == 6 + 8
