"""Which rod and head one takes for a tip and a cast: common practice, no published source."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from reachmap.angler import AnglerSettings
from reachmap.angler.gear import LEAST_OUT_M, Gear
from reachmap.angler.wind import wind_from_forecast
from reachmap.base.units import to_si
from reachmap.markup.kit import Head, Kit, Rod, Tip
from tests.angler.hand import FT, KIT

SETTINGS = AnglerSettings()
OWNED = Kit(
    KIT.angler,
    rods=(Rod("long", 14 * FT, 8), Rod("short", 12 * FT, 6), Rod("middle", 13 * FT, 7)),
    heads=(
        Head("belly", 55 * FT, "mid belly"),
        Head("skagit", 24 * FT, "skagit"),
        Head("scandi", 34 * FT, "scandi"),
    ),
    tips=(
        Tip("T-14", 10 * FT, to_si(8.5, "in/s")),
        Tip("floating", 10 * FT, 0.0),
        Tip("type 3", 15 * FT, to_si(3.0, "in/s")),
    ),
)
T_14, FLOATING, TYPE_3 = range(3)


def gear(kit=OWNED, settings=SETTINGS):
    """Return a kit as its owner would choose from it."""
    return Gear(kit, settings)


def head(tip, cast_ft, **how):
    """Return the name of the head one takes."""
    made = gear(**how)
    return made.kit.heads[made.head_for(tip, cast_ft * FT)].name


def rod(tip, cast_ft, *, is_open=False, **how):
    """Return the name of the rod one takes."""
    made = gear(**how)
    return made.kit.rods[int(np.argmin(made.rod_ranks(tip, cast_ft * FT, is_open=is_open)))].name


def test_fast_tips_go_on_the_head_that_turns_them_over():
    for cast in (45, 60, 90):
        assert head(T_14, cast) == "skagit"


def test_light_tips_go_on_the_longest_head_that_is_wholly_out():
    # 12 ft of rod, head, 10 ft of tip and 4 ft of leader: 50, 60 and 81 ft to the fly
    assert head(FLOATING, 55) == "skagit"
    assert head(FLOATING, 65) == "scandi"
    assert head(FLOATING, 83) == "belly"


def test_a_short_cast_takes_the_shortest_head():
    assert head(FLOATING, 35) == "skagit"


def test_in_strong_wind_the_shortest_head_is_cast():
    blown = replace(SETTINGS, wind=wind_from_forecast(0.0, 8.0))
    assert head(FLOATING, 83, settings=blown) == "skagit"
    breeze = replace(SETTINGS, wind=wind_from_forecast(0.0, 3.0))
    assert head(FLOATING, 83, settings=breeze) == "belly"


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_the_order_in_the_file_never_picks_the_gear(order):
    shuffled = replace(
        OWNED,
        rods=tuple(OWNED.rods[i] for i in order),
        heads=tuple(OWNED.heads[i] for i in order),
    )
    for tip in range(3):
        for cast in (35, 55, 65, 83):
            assert head(tip, cast, kit=shuffled) == head(tip, cast)
            for is_open in (True, False):
                assert rod(tip, cast, is_open=is_open, kit=shuffled) == rod(
                    tip, cast, is_open=is_open
                )


def test_the_anglers_own_order_comes_first_but_not_before_what_turns_the_tip_over():
    mine = replace(OWNED, prefer_heads=("scandi",), prefer_rods=("middle",))
    assert head(FLOATING, 83, kit=mine) == "scandi"
    assert head(T_14, 83, kit=mine) == "skagit"
    assert {rod(FLOATING, cast, kit=mine) for cast in (35, 60, 83)} == {"middle"}


def test_a_longer_cast_takes_a_longer_rod():
    assert [rod(FLOATING, cast) for cast in (45, 71, 85)] == ["short", "middle", "long"]


def test_a_heavy_tip_and_open_ground_take_a_longer_rod():
    assert rod(FLOATING, 64) == "short"
    assert rod(T_14, 64) != "short"
    assert rod(FLOATING, 64, is_open=True) != "short"


def test_a_tip_that_no_head_turns_over_is_left_out_unless_no_tip_is_left():
    bellies = replace(OWNED, heads=(OWNED.heads[0],))
    assert [OWNED.tips[i].name for i in gear(kit=bellies).usable] == ["floating"]
    only = replace(bellies, tips=(OWNED.tips[T_14],))
    assert len(gear(kit=only).usable) == 1


def test_tips_stand_lightest_first():
    assert [OWNED.tips[i].name for i in gear().usable] == ["floating", "type 3", "T-14"]


def test_a_short_cast_leaves_part_of_the_head_in_the_rings():
    out = gear().outside(np.array([40 * FT, 90 * FT]), np.array([FLOATING, FLOATING]))
    assert out.shape == (2, 3, 3)
    # 40 ft less 14 ft of rod and 14 ft of tip and leader leave 12 ft of any head
    assert out[0, 0] == pytest.approx([12 * FT] * 3)
    assert out[1, 0] == pytest.approx([55 * FT, 24 * FT, 34 * FT])
    assert gear().outside(np.array([5 * FT]), np.array([FLOATING])).min() == LEAST_OUT_M
