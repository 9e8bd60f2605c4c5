"""Swing plans in even water along a straight bank, with the line worked out."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.angler.choose import first_cast
from reachmap.angler.picks import ORDER
from reachmap.base.units import to_si
from reachmap.base.words import Cast, CastFit, Strip
from reachmap.markup.kit import Tip
from tests.angler.hand import FT, KIT, mirrored
from tests.angler.planned import SETTINGS, piece, places, planned, river, walled

pytestmark = pytest.mark.compiled
ANGLES = np.array(SETTINGS.stations.angles_deg)
QUICK = replace(SETTINGS, stations=replace(SETTINGS.stations, angles_deg=(0.0, 24.0, 48.0)))
LADDER = replace(
    KIT,
    tips=(
        Tip("floating", 10 * FT, 0.0),
        Tip("intermediate", 10 * FT, to_si(1.4, "in/s")),
        Tip("type 3", 15 * FT, to_si(3.0, "in/s")),
        Tip("T-8", 10 * FT, to_si(6.5, "in/s")),
        Tip("T-14", 10 * FT, to_si(8.5, "in/s")),
    ),
)


def plan(*, depth=1.5, speed=0.6, low=1, high=9, kit=LADDER, settings=QUICK, view=None, cols=(20,)):
    """Return the plans of places by even water."""
    view = river(depth, speed) if view is None else view
    return planned(view, places(view, cols), piece(low, high), kit=kit, settings=settings)[1]


def sink(plans, i=0, kit=LADDER):
    """Return the pull of the tip chosen: length times sinking speed."""
    tip = kit.tips[int(plans.inside.tries.tip[i])]
    return tip.length_m * tip.sink_m_s


def test_a_wider_strip_takes_a_longer_cast_and_one_that_hugs_the_bank_a_shorter():
    casts = [float(plan(high=high).inside.tries.cast_m[0]) for high in (4, 7, 9)]
    assert casts[0] < casts[1] <= casts[2]
    far = float(plan(low=6, high=11).inside.tries.cast_m[0])
    near = float(plan(low=1, high=6).inside.tries.cast_m[0])
    assert near < far


def test_beyond_one_band_a_wider_piece_takes_no_longer_first_pass():
    assert plan(high=9).inside.tries.cast_m[0] == plan(high=30).inside.tries.cast_m[0]


def test_a_strip_at_the_bank_is_fished_with_less_than_a_whole_head_out():
    got = plan(low=0, high=4)
    shortest_head = min(head.length_m for head in LADDER.heads)
    whole = LADDER.rods[0].length_m + shortest_head + (10 + 4) * FT
    assert first_cast(LADDER, QUICK) <= got.inside.tries.cast_m[0] < whole


def test_deeper_and_quicker_water_takes_a_heavier_tip():
    thin, deep, quick = (
        plan(depth=0.6, speed=0.5),
        plan(depth=1.8, speed=0.5),
        plan(depth=1.8, speed=0.8),
    )
    assert sink(thin) < sink(deep) < sink(quick)


def test_the_fly_swims_the_wanted_band_in_water_that_allows_it():
    got = plan(depth=1.2, speed=0.6).inside.judged
    assert got.in_bands[0] > 0.6
    low, high = SETTINGS.swing.depth_share_low, SETTINGS.swing.depth_share_high
    assert low < got.share[0] < high
    assert got.drag[0] == 0


def test_the_order_of_the_kit_changes_neither_gear_nor_swing():
    turned = replace(
        LADDER, heads=LADDER.heads[::-1], rods=LADDER.rods[::-1], tips=LADDER.tips[::-1]
    )
    for depth in (0.6, 1.6):
        one, other = plan(depth=depth).inside, plan(depth=depth, kit=turned).inside
        for kind in ("rod", "head", "tip"):
            mine, theirs = (
                getattr(kit, kind + "s")[int(getattr(found.tries, kind)[0])].name
                for kit, found in ((LADDER, one), (turned, other))
            )
            assert mine == theirs
        assert one.tries.cast_m[0] == other.tries.cast_m[0]
        assert one.judged.quality[0] == pytest.approx(other.judged.quality[0])


def test_sink_tips_are_cast_with_a_head_that_turns_them_over():
    got = plan(depth=1.8, speed=0.8).inside
    assert LADDER.tips[int(got.tries.tip[0])].name.startswith("T-")
    assert LADDER.heads[got.picks[0].head].family == "skagit"


def test_trees_close_behind_leave_a_cast_that_takes_less_room_and_no_overhead():
    view = river()
    for cells in (3, 5, 8):
        got = plan(view=walled(view, cells)).inside.picks[0]
        assert got.fit_of[Cast.OVERHEAD] is CastFit.NO
        assert got.cast < 0 or ORDER[got.cast] is not Cast.OVERHEAD
    wide, tight = plan(view=view).inside.picks[0], plan(view=walled(view, 2)).inside.picks[0]
    assert wide.fit_of[Cast.DOUBLE_SPEY] is CastFit.FITS
    assert tight.fit_of[Cast.DOUBLE_SPEY] is not CastFit.FITS


def test_the_second_pass_swims_the_water_outside_with_a_longer_cast_and_no_lighter_tip():
    got = plan(depth=1.5, speed=0.6, high=25)
    near, far = got.inside.tries, got.outside.tries
    assert far.angle[0] >= 0
    assert far.cast_m[0] > near.cast_m[0]
    pull = [LADDER.tips[int(one.tip[0])] for one in (near, far)]
    assert pull[0].length_m * pull[0].sink_m_s <= pull[1].length_m * pull[1].sink_m_s
    assert got.outside.judged.in_bands[0] > 0.3


def test_the_ladder_goes_deeper_step_by_step_and_names_the_tip_chosen():
    got = plan(depth=2.5, speed=0.7)
    order = [LADDER.tips.index(tip) for tip in LADDER.tips]
    depth = got.ladder.depth[0, order]
    assert (np.diff(depth[[0, 1, 3, 4]]) > 0).all()
    assert got.ladder.tip[0] == got.inside.tries.tip[0]
    # fly and bed together make the water: from the surface and above the bed at once
    assert depth + got.ladder.above[0, order] == pytest.approx(2.5, abs=0.05)


def test_places_between_scouts_fish_as_their_neighbours_do():
    cols = tuple(range(8, 40, 3))
    got = plan(cols=cols).inside
    assert (got.tries.angle >= 0).all()
    assert len(set(got.tries.tip.tolist())) == 1
    # in even water every place needs the same
    assert got.judged.quality.min() > got.judged.quality.max() - 0.15


def test_a_mirrored_river_has_the_same_plans():
    view, water = river(1.2, 0.6), piece()
    stands = places(view, (15, 25, 35))
    _, here = planned(view, stands, water, kit=LADDER, settings=QUICK)
    middle = view.grid.y[0] + view.grid.y[-1]
    turned = replace(
        stands,
        point=np.column_stack([stands.point[:, 0], middle - stands.point[:, 1]]),
        across=-stands.across,
        side=-stands.side,
    )
    flipped = replace(water, cells=water.cells[::-1].copy())
    _, there = planned(mirrored(view), turned, flipped, kit=LADDER, settings=QUICK)
    for one, other in ((here.inside, there.inside), (here.outside, there.outside)):
        for name in ("angle", "tip", "mends", "cast_m"):
            assert (getattr(one.tries, name) == getattr(other.tries, name)).all()
        assert other.judged.in_bands == pytest.approx(one.judged.in_bands, abs=0.02)
        assert other.judged.depth == pytest.approx(one.judged.depth, abs=0.01)


def test_where_no_cast_has_room_no_line_is_worked_out():
    view = walled(river(), 0)
    got = plan(view=view)
    assert got.inside.tries.angle[0] == -1
    assert np.isnan(got.inside.track).all()
    assert np.isnan(got.inside.judged.in_bands[0])


def test_the_track_is_the_door_for_what_comes_after():
    got = plan().inside
    assert got.track.shape[:2] == (1, int(SETTINGS.line.longest_s / SETTINGS.line.record_s) + 1)
    assert got.path.shape[-1] == 2
    known = np.isfinite(got.track[0, :, 0])
    assert (np.diff(got.track[0, known, 0]) > 0).all()


def test_strips_are_planned_for_both():
    assert list(Strip) == ["inside", "outside"]
