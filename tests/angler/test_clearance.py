import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.angler.casts import CASTS, FULL_CASTS
from reachmap.angler.clearance import (
    FITS,
    Room,
    find_fits,
    find_room,
    grade_fit,
    longest_heads,
    room_length,
)
from reachmap.angler.dloop import cast_reach, loop_frame
from reachmap.angler.settings import RoomSettings
from reachmap.base.words import Cast, CastFit
from tests.angler.hand import FT, KIT, flat_view, mirrored

ROOM = RoomSettings()
AHEAD = replace(ROOM, sweep_deg=0.0, rays=1)
CENTRE = 40
EAST = 0.0
ORDER = tuple(CASTS)


def look(view, target_rad, *, settings=AHEAD, wade=0.0, row=CENTRE, col=CENTRE, level=100.0):
    """Return the room behind one place."""
    where = view.grid.points(np.array([row]), np.array([col]))
    one = np.array([level]), np.array([wade]), np.array([target_rad])
    return find_room(view, where, *one, KIT, settings)


def wall(view, cells, height):
    """Return the view with a wall of so many metres from `cells` cells west of the centre on."""
    top = view.surface.copy()
    top[:, : CENTRE - cells + 1] += height
    return replace(view, surface=top)


def test_level_ground_leaves_all_the_room_there_is():
    room = look(flat_view(), EAST)
    assert (room.reach_m == ROOM.look_m).all()
    code, _ = find_fits(room, np.array([0.0]), KIT, ROOM)
    made = code[code != FITS.index(CastFit.NO)]
    assert set(made.tolist()) <= {FITS.index(CastFit.FITS), FITS.index(CastFit.UNKNOWN)}
    assert code[0, 0, 0, ORDER.index(Cast.DOUBLE_SPEY)] == FITS.index(CastFit.FITS)


@pytest.mark.parametrize("cells", [4, 9, 15])
def test_a_high_wall_leaves_the_distance_to_it_less_the_margin(cells):
    # the wall's face is half a cell nearer than its cell's centre
    room = look(wall(flat_view(), cells, 30.0), EAST)
    expected = max((cells - 0.5) * 1.0 - ROOM.margin_m, 0.0)
    assert room.reach_m == pytest.approx(np.full(room.reach_m.shape, expected))


@pytest.mark.parametrize("height", [0.3, 0.5, 1.2])
def test_a_low_bank_limits_the_loop_where_its_lower_leg_would_touch(height):
    # bare ground of that height from x on: za (x - xp) / (B - xp) = height, solved for B by hand
    view = flat_view()
    top = view.surface.copy()
    top[:, : CENTRE - 4] += height
    bare = replace(view, surface=top, bed=top)
    room = look(bare, EAST)
    apex = float(loop_frame(KIT.rods[0].length_m, CASTS[Cast.DOUBLE_SPEY], 0.0, ROOM).apex_z)
    x = 4.5
    expected = -ROOM.anchor_m + apex * (x + ROOM.anchor_m) / height
    got = room.reach_m[0, 0, ORDER.index(Cast.DOUBLE_SPEY)]
    assert got == pytest.approx(min(expected, ROOM.look_m))


def test_cover_is_cleared_by_two_feet_and_bare_ground_is_not():
    low = wall(flat_view(), 5, 1.0)
    covered = look(low, EAST).reach_m
    bare = look(replace(low, bed=low.surface), EAST).reach_m
    assert (covered <= bare).all()
    assert (covered < bare).any()


def test_a_wall_behind_counts_and_one_in_front_does_not():
    view = wall(flat_view(), 5, 30.0)
    assert look(view, EAST).reach_m.max() < 5
    assert (look(view, np.pi).reach_m == ROOM.look_m).all()


def test_a_tree_beside_the_line_counts_only_within_the_sweep():
    view = flat_view()
    top = view.surface.copy()
    top[CENTRE + 2, CENTRE - 8] += 20.0
    tree = replace(view, surface=top)
    assert (look(tree, EAST).reach_m == ROOM.look_m).all()
    swept = look(tree, EAST, settings=ROOM)
    assert swept.reach_m.max() < 8.0


@given(seed=st.integers(0, 10_000), target=st.floats(-np.pi, np.pi))
def test_unknown_ground_never_makes_room(seed, target):
    rng = np.random.default_rng(seed)
    view = flat_view()
    top = view.surface + np.where(rng.random(view.surface.shape) < 0.02, 3.0, 0.0)
    known = replace(view, surface=top)
    blind = replace(view, surface=np.where(rng.random(top.shape) < 0.01, np.nan, top))
    wade = np.array([0.0])
    code_known, _ = find_fits(look(known, target, settings=ROOM), wade, KIT, ROOM)
    room = look(blind, target, settings=ROOM)
    code_blind, _ = find_fits(room, wade, KIT, ROOM)
    fits = FITS.index(CastFit.FITS)
    assert not ((code_blind == fits) & (code_known != fits)).any()


def test_behind_unmapped_ground_nothing_fits_and_the_room_is_unknown():
    view = flat_view()
    top = view.surface.copy()
    top[:, : CENTRE - 1] = np.nan
    room = look(replace(view, surface=top), EAST)
    assert np.isnan(room_length(room)).all()
    code, _ = find_fits(room, np.array([0.0]), KIT, ROOM)
    assert FITS.index(CastFit.FITS) not in code
    assert FITS.index(CastFit.TIGHT) not in code
    assert code[0, 0, 0, ORDER.index(Cast.DOUBLE_SPEY)] == FITS.index(CastFit.UNKNOWN)
    assert np.isnan(longest_heads(room, np.array([0.0]), KIT, ROOM)).all()


def test_the_edge_of_the_raster_is_unknown_ground():
    room = look(flat_view(), EAST, col=3)
    assert room.known_m == pytest.approx(3.5 - ROOM.margin_m)


@given(seed=st.integers(0, 10_000), target=st.floats(-np.pi, np.pi))
def test_a_mirrored_bank_gives_the_same_room(seed, target):
    rng = np.random.default_rng(seed)
    view = flat_view()
    bushes = rng.random(view.surface.shape)
    view = replace(view, surface=view.surface + np.where(bushes < 0.03, 4.0 * bushes / 0.03, 0.0))
    here = look(view, target, settings=ROOM)
    there = look(mirrored(view), -target, settings=ROOM)
    assert there.reach_m == pytest.approx(here.reach_m, abs=1e-6)


@given(seed=st.integers(0, 10_000), taller=st.floats(0.0, 5.0))
def test_taller_cover_never_makes_room(seed, taller):
    rng = np.random.default_rng(seed)
    view = flat_view()
    height = np.where(
        rng.random(view.surface.shape) < 0.03, 1.0 + rng.random(view.surface.shape), 0.0
    )
    low = look(replace(view, surface=view.surface + height), EAST, settings=ROOM)
    tall = np.where(height > 0, height + taller, 0.0)
    high = look(replace(view, surface=view.surface + tall), EAST, settings=ROOM)
    assert (high.reach_m <= low.reach_m + 1e-9).all()


def test_fits_tight_no_and_unknown_follow_the_doubt():
    reach = np.array([10.0])
    grade = [
        FITS[int(grade_fit(reach, np.array([room]), np.array([known]), 0.2)[0])]
        for room, known in ((12.1, 40.0), (11.9, 40.0), (8.1, 40.0), (7.9, 40.0), (40.0, 11.9))
    ]
    assert grade == [CastFit.FITS, CastFit.TIGHT, CastFit.TIGHT, CastFit.NO, CastFit.UNKNOWN]
    assert FITS[int(grade_fit(np.array([np.nan]), reach, reach, 0.2)[0])] is CastFit.NO


def test_trees_tight_behind_forbid_the_long_belly_and_leave_the_short_head():
    # trees 6 m behind: a 24 ft head's perry poke (7 ft of reach) has room, a 65 ft belly has not
    room = look(wall(flat_view(), 6, 15.0), EAST, settings=ROOM)
    code, reach = find_fits(room, np.array([0.0]), KIT, ROOM)
    poke = ORDER.index(Cast.PERRY_POKE)
    assert code[0, 0, 0, poke] == FITS.index(CastFit.FITS)
    assert code[0, 1, 2, poke] == FITS.index(CastFit.NO)
    head = float(longest_heads(room, np.array([0.0]), KIT, ROOM)[0])
    assert 24 * FT <= head < 65 * FT
    least = min(
        float(cast_reach(cast, rod.length_m, head, 0.0, ROOM))
        for cast in FULL_CASTS
        for rod in KIT.rods
    )
    assert least * (1 + ROOM.doubt) == pytest.approx(float(room_length(room)[0]))
    assert reach[0, 1, 2, poke] > float(room_length(room)[0])


def test_standing_deeper_lowers_the_loop_and_never_adds_room():
    view = wall(flat_view(), 6, 2.0)
    shallow = look(view, EAST, wade=0.0).reach_m
    deep = look(view, EAST, wade=0.8).reach_m
    assert (deep <= shallow + 1e-9).all()


@pytest.mark.slow
@pytest.mark.compiled
def test_ten_thousand_places_are_looked_behind_in_two_seconds():
    """10,000 places x 9 casts x 15 rays, one rod."""
    rng = np.random.default_rng(1)
    view = flat_view(size=600, cell=2.0)
    bushes = np.where(rng.random(view.surface.shape) < 0.03, 3.0, 0.0)
    view = replace(view, surface=view.surface + bushes)
    points = view.grid.points(*rng.integers(50, 550, (2, 10_000)))
    rest = (np.full(10_000, 100.0), np.zeros(10_000), rng.uniform(-np.pi, np.pi, 10_000))
    kit = replace(KIT, rods=KIT.rods[:1])
    find_room(view, points[:1], *(one[:1] for one in rest), kit, ROOM)  # compile outside the clock
    begun = time.process_time()
    room = find_room(view, points, *rest, kit, ROOM)
    assert time.process_time() - begun < 2.0
    assert room.reach_m.shape == (10_000, 1, 9)


def test_own_figures_of_a_cast_change_its_room():
    casts = dict(ROOM.casts)
    casts[Cast.SINGLE_SPEY] = replace(casts[Cast.SINGLE_SPEY], anchored=0.5)
    own = replace(ROOM, casts=casts)
    usual = cast_reach(Cast.SINGLE_SPEY, 4.0, 10.0, 0.0, ROOM)
    assert cast_reach(Cast.SINGLE_SPEY, 4.0, 10.0, 0.0, own) < usual
    assert cast_reach(Cast.SNAP_T, 4.0, 10.0, 0.0, own) == cast_reach(
        Cast.SNAP_T, 4.0, 10.0, 0.0, ROOM
    )


def overhead(view, *, settings=AHEAD, kit=KIT, wade=0.0):
    """Return the codes of the overhead cast (rods, heads) and the room there is for it."""
    here = np.array([100.0]), np.array([wade]), np.array([EAST])
    where = view.grid.points(np.array([CENTRE]), np.array([CENTRE]))
    room = find_room(view, where, *here, kit, settings)
    code, reach = find_fits(room, np.array([wade]), kit, settings)
    place = ORDER.index(Cast.OVERHEAD)
    return code[0, :, :, place], reach[0, :, :, place], room


@pytest.mark.parametrize(("spare", "offered"), [(0.05, True), (-FT, False)])
def test_an_overhead_cast_needs_the_whole_length_behind(spare, offered):
    # by hand: overhang, 24 ft head, 10 ft tip and 4 ft leader behind the tip of a 13 ft rod
    shape = CASTS[Cast.OVERHEAD]
    tip = float(loop_frame(13 * FT, shape, 0.0, ROOM).tip_x)
    needed = tip + (2 + 24 + 10 + 4) * FT
    wall_m = 19.5
    kit = replace(KIT, rods=KIT.rods[:1], heads=KIT.heads[:1])
    settings = replace(AHEAD, margin_m=wall_m - needed - spare)
    code, reach, _ = overhead(wall(flat_view(), 20, 30.0), settings=settings, kit=kit)
    assert reach[0, 0] == pytest.approx(needed)
    assert (code[0, 0] != FITS.index(CastFit.NO)) == offered


def test_an_overhead_cast_never_passes_over_what_its_line_sags_onto():
    # by hand: the tip of a 13 ft rod is at 5.0 m, the line straightens at 3.7 m, its end sags by
    # 2.4 m; a bare ridge of 1.5 m 12.5 m behind leaves a D-loop its 13.5 m and more
    top = flat_view().surface.copy()
    top[:, CENTRE - 15 : CENTRE - 12] += 1.5
    ridge = replace(flat_view(), surface=top, bed=top)
    kit = replace(KIT, rods=KIT.rods[:1], heads=KIT.heads[:1])
    code, reach, room = overhead(ridge, kit=kit)
    assert (reach < float(room_length(room)[0])).all()
    assert (code == FITS.index(CastFit.NO)).all()
    # a line that would not sag would pass over it
    stiff, _, _ = overhead(ridge, settings=replace(AHEAD, sag_s=0.0), kit=kit)
    assert (stiff != FITS.index(CastFit.NO)).all()


def test_a_line_that_sags_to_the_water_has_no_room():
    code, _, _ = overhead(flat_view(), settings=replace(AHEAD, sag_s=1.0))
    assert (code == FITS.index(CastFit.NO)).all()


@given(seed=st.integers(0, 10_000))
def test_no_overhead_cast_is_offered_that_needs_more_room_than_is_printed(seed):
    rng = np.random.default_rng(seed)
    view = flat_view()
    steps = rng.random(view.surface.shape)
    view = replace(view, surface=view.surface + np.where(steps < 0.02, 2.0 * steps / 0.02, 0.0))
    code, reach, room = overhead(view, settings=ROOM)
    offered = code > FITS.index(CastFit.UNKNOWN)
    clear = float(room_length(room)[0])
    assert (reach[offered] <= clear + 1e-9).all()


def test_a_step_close_behind_forbids_the_overhead_cast():
    view = flat_view()
    top = view.surface.copy()
    top[:, CENTRE - 1] += 0.5
    code, _, room = overhead(replace(view, surface=top, bed=top))
    assert float(room_length(room)[0]) < 6.0
    assert (code == FITS.index(CastFit.NO)).all()


@pytest.mark.parametrize(
    ("family", "times"), [("skagit", 2.0), ("scandi", 3.0), ("mid belly", 4.5), ("long belly", 4.5)]
)
def test_a_head_longer_than_the_rod_lifts_does_not_fit(family, times):
    rod = replace(KIT.rods[0], length_m=3.5)
    for spare, fits in ((-0.01, True), (0.01, False)):
        head = replace(KIT.heads[0], length_m=3.5 * times + spare, family=family)
        kit = replace(KIT, rods=(rod,), heads=(head,))
        code, _ = find_fits(look_with(kit), np.array([0.0]), kit, AHEAD)
        loop = code[0, 0, 0, ORDER.index(Cast.DOUBLE_SPEY)]
        assert (loop == FITS.index(CastFit.FITS)) == fits
        roll = code[0, 0, 0, ORDER.index(Cast.STATIC_ROLL)]
        assert (roll == FITS.index(CastFit.NO)) != fits


def look_with(kit, settings=AHEAD):
    """Return the room on level ground with a kit."""
    view = flat_view()
    where = view.grid.points(np.array([CENTRE]), np.array([CENTRE]))
    one = np.array([100.0]), np.array([0.0]), np.array([EAST])
    return find_room(view, where, *one, kit, settings)


def test_no_longer_head_is_called_fitting_than_the_rods_lift():
    longest = float(longest_heads(look_with(KIT), np.array([0.0]), KIT, AHEAD)[0])
    assert longest == pytest.approx(4.5 * 15 * FT)
    own = replace(AHEAD, belly_rods=3.5)
    shorter = float(longest_heads(look_with(KIT), np.array([0.0]), KIT, own)[0])
    assert shorter == pytest.approx(3.5 * 15 * FT)


def _codes(room_m, **how):
    """Return the best code of every cast where each has so much room."""
    room = Room(np.full((1, len(KIT.rods), len(ORDER)), room_m), np.full(1, 100.0))
    code, _ = find_fits(room, np.zeros(1), KIT, ROOM, **how)
    return {cast: FITS[int(one)] for cast, one in zip(ORDER, code[0].max(axis=(0, 1)), strict=True)}


def test_an_angled_snap_fits_where_a_double_spey_is_tight_and_a_poke_where_a_snap_is():
    # common practice: the double spey's loop is set farther back; the poke needs least of all
    found = [_codes(room) for room in np.arange(1.0, 6.0, 0.05)]
    spey, snap, poke = (
        next(i for i, fit in enumerate(found) if fit[cast] is CastFit.FITS)
        for cast in (Cast.DOUBLE_SPEY, Cast.SNAP_T, Cast.PERRY_POKE)
    )
    assert poke < snap < spey


def test_an_overhead_cast_has_room_only_for_line_leader_and_fly():
    shortest = KIT.heads[0].length_m + 2 * FT
    tail = np.full(1, 14 * FT)
    bare = _codes(shortest, tail_m=tail)
    assert bare[Cast.OVERHEAD] is CastFit.NO
    whole = _codes((shortest + 14 * FT + 4.0) * (1 + ROOM.doubt), tail_m=tail)
    assert whole[Cast.OVERHEAD] is CastFit.FITS
    assert _codes(2 * FT, tail_m=np.zeros(1))[Cast.OVERHEAD] is CastFit.NO


def test_part_of_a_head_takes_less_room_than_all_of_it():
    shape = (1, len(KIT.rods), len(KIT.heads))
    room = 2.6
    whole, part = _codes(room), _codes(room, outside_m=np.full(shape, 3.0))
    assert whole[Cast.DOUBLE_SPEY] is not CastFit.FITS
    assert part[Cast.DOUBLE_SPEY] is CastFit.FITS
