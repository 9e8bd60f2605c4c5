import numpy as np
import pytest

from reachmap.angler.casts import CASTS
from reachmap.angler.clearance import FITS
from reachmap.angler.picks import Ranks, pick_cast, room_worth
from reachmap.base.words import Cast, CastFit, Hand, LoopSide
from tests.angler.hand import KIT

ORDER = tuple(CASTS)
SHAPE = (len(KIT.rods), len(KIT.heads), len(ORDER))
ANY = Ranks(np.arange(SHAPE[0]), np.arange(SHAPE[1]), np.ones(SHAPE[1], bool))


def codes(**fits):
    """Return codes with `no` everywhere but for the casts named, with every rod and head."""
    found = np.full(SHAPE, FITS.index(CastFit.NO), dtype=np.uint8)
    for name, fit in fits.items():
        found[:, :, ORDER.index(Cast[name])] = FITS.index(fit)
    return found


def pick(found, *, left=True, sinking=True, wind=LoopSide.EITHER, liked=(), ranks=ANY):
    """Return the pick for a right-handed angler."""
    how = {"river_left": left, "sinking": sinking, "wind": wind, "liked": liked}
    return pick_cast(found, ranks, hand=Hand.RIGHT, **how)


def test_what_fits_comes_before_what_is_tight():
    got = pick(codes(PERRY_POKE=CastFit.TIGHT, SINGLE_SPEY=CastFit.FITS))
    assert ORDER[got.cast] is Cast.SINGLE_SPEY
    assert got.fit_of[Cast.SINGLE_SPEY] is CastFit.FITS
    assert got.fit_of[Cast.PERRY_POKE] is CastFit.TIGHT
    assert got.fit_of[Cast.OVERHEAD] is CastFit.NO


def test_a_loop_the_wind_leaves_clear_comes_before_the_usual_one():
    found = codes(DOUBLE_SPEY=CastFit.FITS, SNAP_T=CastFit.FITS)
    assert ORDER[pick(found, wind=LoopSide.UPSTREAM).cast] is Cast.SNAP_T
    assert ORDER[pick(found, wind=LoopSide.DOWNSTREAM).cast] is Cast.DOUBLE_SPEY


def test_sinking_tips_want_a_sustained_anchor_and_floating_ones_do_not():
    found = codes(SNAP_T=CastFit.FITS, SINGLE_SPEY=CastFit.FITS)
    assert ORDER[pick(found, sinking=True).cast] is Cast.SNAP_T
    assert ORDER[pick(found, sinking=False).cast] is Cast.SINGLE_SPEY


def test_the_natural_hand_decides_where_nothing_else_does():
    found = codes(SNAP_T=CastFit.FITS, DOUBLE_SPEY=CastFit.FITS)
    assert ORDER[pick(found, left=True).cast] is Cast.SNAP_T
    assert ORDER[pick(found, left=False).cast] is Cast.DOUBLE_SPEY
    assert pick(found, left=False).natural


def test_the_poke_is_for_where_nothing_else_fits():
    found = codes(PERRY_POKE=CastFit.FITS, SNAP_T=CastFit.FITS, DOUBLE_SPEY=CastFit.FITS)
    for left in (True, False):
        assert ORDER[pick(found, left=left).cast] is not Cast.PERRY_POKE
    # even where the other is on the off hand
    only = codes(PERRY_POKE=CastFit.FITS, DOUBLE_SPEY=CastFit.FITS)
    assert ORDER[pick(only, left=True).cast] is Cast.DOUBLE_SPEY
    assert ORDER[pick(codes(PERRY_POKE=CastFit.FITS, SNAP_T=CastFit.TIGHT)).cast] is Cast.PERRY_POKE


def test_the_anglers_own_order_of_casts_decides_between_casts_that_serve_alike():
    found = codes(SNAP_T=CastFit.FITS, CIRCLE_C=CastFit.FITS, PERRY_POKE=CastFit.FITS)
    assert ORDER[pick(found).cast] is Cast.SNAP_T
    assert ORDER[pick(found, liked=(Cast.CIRCLE_C,)).cast] is Cast.CIRCLE_C
    assert ORDER[pick(found, liked=(Cast.PERRY_POKE, Cast.SNAP_T)).cast] is Cast.PERRY_POKE


@pytest.mark.parametrize("rod", range(SHAPE[0]))
@pytest.mark.parametrize("head", range(SHAPE[1]))
def test_rod_and_head_are_taken_by_rank_never_by_their_place(rod, head):
    ranks = Ranks(
        np.where(np.arange(SHAPE[0]) == rod, 0, 5),
        np.where(np.arange(SHAPE[1]) == head, 0, 5),
        np.ones(SHAPE[1], bool),
    )
    got = pick(codes(SNAP_T=CastFit.FITS), ranks=ranks)
    assert (got.rod, got.head) == (rod, head)


def test_a_head_that_does_not_turn_the_tip_over_is_taken_only_where_no_other_has_room():
    ranks = Ranks(ANY.rods, ANY.heads, np.array([False, True, True]))
    assert pick(codes(SNAP_T=CastFit.FITS), ranks=ranks).head == 1
    found = codes()
    found[0, 0, ORDER.index(Cast.SNAP_T)] = FITS.index(CastFit.FITS)
    assert pick(found, ranks=ranks).head == 0


def test_no_underhand_cast_carries_a_sinking_tip_where_something_else_has_room():
    found = codes(UNDERHAND=CastFit.FITS, PERRY_POKE=CastFit.TIGHT)
    assert ORDER[pick(found, sinking=True).cast] is Cast.PERRY_POKE
    assert ORDER[pick(found, sinking=False).cast] is Cast.UNDERHAND
    assert ORDER[pick(codes(UNDERHAND=CastFit.FITS), sinking=True).cast] is Cast.UNDERHAND


def test_a_static_roll_is_kept_for_where_no_loop_has_room():
    found = codes(STATIC_ROLL=CastFit.FITS, PERRY_POKE=CastFit.FITS)
    assert ORDER[pick(found).cast] is Cast.PERRY_POKE
    assert ORDER[pick(codes(STATIC_ROLL=CastFit.FITS)).cast] is Cast.STATIC_ROLL


def test_an_overhead_cast_comes_last():
    found = codes(OVERHEAD=CastFit.FITS, STATIC_ROLL=CastFit.FITS)
    assert ORDER[pick(found).cast] is Cast.STATIC_ROLL


def test_where_nothing_fits_no_cast_is_named():
    got = pick(codes())
    assert got.cast == -1
    assert set(got.fit_of.values()) == {CastFit.NO}
    assert not got.unknown
    blind = pick(codes(SNAP_T=CastFit.UNKNOWN))
    assert blind.cast == -1
    assert blind.fit_of[Cast.SNAP_T] is CastFit.UNKNOWN
    assert blind.unknown


def test_room_is_worth_what_the_best_loop_makes_of_it():
    assert room_worth(codes(SNAP_T=CastFit.FITS)) == 1.0
    assert room_worth(codes(SNAP_T=CastFit.TIGHT)) == 0.5
    assert room_worth(codes(SNAP_T=CastFit.UNKNOWN)) == 0.0
    assert room_worth(codes(OVERHEAD=CastFit.FITS)) == 0.0
