import numpy as np

from reachmap.angler.casts import CASTS
from reachmap.angler.clearance import FITS
from reachmap.angler.picks import pick_cast, room_worth
from reachmap.base.words import Cast, CastFit, LoopSide
from tests.angler.hand import KIT

ORDER = tuple(CASTS)
SHAPE = (len(KIT.rods), len(KIT.heads), len(ORDER))


def codes(**fits):
    """Return codes with `no` everywhere but for the casts named, with every rod and head."""
    found = np.full(SHAPE, FITS.index(CastFit.NO), dtype=np.uint8)
    for name, fit in fits.items():
        found[:, :, ORDER.index(Cast[name])] = FITS.index(fit)
    return found


def pick(found, *, left=True, sinking=True, wind=LoopSide.EITHER):
    """Return the pick for a right-handed angler."""
    return pick_cast(found, KIT, river_left=left, sinking=sinking, wind=wind)


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


def test_the_kit_is_taken_in_the_anglers_order():
    got = pick(codes(SNAP_T=CastFit.FITS))
    assert (got.rod, got.head) == (0, 0)


def test_a_static_roll_is_kept_for_where_no_loop_has_room():
    found = codes(STATIC_ROLL=CastFit.FITS, PERRY_POKE=CastFit.FITS)
    assert ORDER[pick(found).cast] is Cast.PERRY_POKE
    assert ORDER[pick(codes(STATIC_ROLL=CastFit.FITS)).cast] is Cast.STATIC_ROLL


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
