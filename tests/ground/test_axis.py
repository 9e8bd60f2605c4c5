"""The axis where banks are missing: simple, near the drawn line, or a fault with its place."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapely.ops import substring

from reachmap.base.centreline import Centreline
from reachmap.base.errors import BuildError
from reachmap.base.words import Part, Side
from reachmap.ground import GroundSettings, build_ground
from reachmap.ground.axis_faults import axis_faults
from reachmap.ground.bank_offsets import bank_offsets, bounding
from reachmap.ground.channels import Channel, make_channels
from reachmap.ground.layout import lay_out
from reachmap.markup import read_markup
from tests.ground.honest_rivers import honest
from tests.ground.scenes import drawing, pool_riffle, straight_trapezoid

SAMPLE = Path(__file__).parents[2] / "data_samples" / "madeup_river"
BENDS = pool_riffle(length=900, wavelength=300, turn_deg=75, half=15)
TIGHT = drawing(BENDS, 20.0, jitter=1.0, bank_width=12.0)
STRAIGHT = drawing(straight_trapezoid(), 20.0, jitter=0.0)


def with_gap(drawn, side, at, length, beyond=30):
    """Return a drawing with the banks of a side cut away along `length` about station `at` [m]."""
    low, high = max(at - length / 2, 0.0), min(at + length / 2, drawn.main.line.length)
    hole = substring(drawn.main.line, low, high).buffer(beyond, cap_style="flat")
    banks = []
    for bank in drawn.banks:
        rest = [bank.outline] if bank.side is not side else bank.outline.difference(hole)
        parts = [one for one in shapely.get_parts(rest) if one.area > 1]
        banks += [replace(bank, outline=one) for one in parts]
    return replace(drawn, banks=tuple(banks))


def apart(line, other):
    """Return the farthest any vertex of a line lies from another [m]."""
    return float(shapely.distance(shapely.points(line.x, line.y), other.line()).max())


def a_reads_well(drawn, step=2.0):
    """Assert that the axis of a drawing is simple and near, and return the main channel."""
    main = make_channels(drawn, step)[0]
    assert main.line.line().is_simple
    away = shapely.distance(shapely.points(main.line.x, main.line.y), drawn.main.line)
    assert (away <= np.maximum(main.width, main.median_width) / 2 + step).all()
    assert axis_faults(main, drawn) == []
    return main


@pytest.mark.parametrize("side", [Side.LEFT, Side.RIGHT])
@pytest.mark.parametrize("length", [40, 70, 150])
@pytest.mark.parametrize("at", [0, 35, 75, 150, 225, 300, 450, 865, 900])
def test_a_bank_missing_in_a_bend_leaves_the_axis_where_it_was(at, length, side):
    whole = a_reads_well(TIGHT)
    main = a_reads_well(with_gap(TIGHT, side, at, length))
    assert apart(main.line, whole.line) < whole.median_width / 3
    assert main.width.max() < 1.5 * whole.width.max()


@pytest.mark.parametrize("at", [0, 300, 600])
def test_a_bank_missing_on_a_straight_changes_nothing_at_all(at):
    whole = a_reads_well(STRAIGHT)
    main = a_reads_well(with_gap(STRAIGHT, Side.LEFT, at, 100, 60))
    assert apart(main.line, whole.line) < 0.1
    assert main.left == pytest.approx(whole.left, abs=0.2)


def test_where_both_banks_are_missing_the_line_stays_as_drawn():
    rough = drawing(straight_trapezoid(), 20.0, jitter=6.0)
    gap = with_gap(with_gap(rough, Side.LEFT, 300, 300, 60), Side.RIGHT, 300, 300, 60)
    main = a_reads_well(gap)
    inner = np.abs(main.line.station - 300) < 60
    away = shapely.distance(shapely.points(main.line.x, main.line.y)[inner], rough.main.line)
    assert away.max() < 3.0  # smoothed over a quarter of the width, not moved
    _, offset = straight_trapezoid().line.to_station_offset(main.line.x, main.line.y)
    assert np.abs(offset[np.abs(main.line.station - 60) < 30]).max() < 1.0  # between banks: middle


def test_the_slanting_end_of_a_bank_is_no_edge_of_the_water():
    line = Centreline.through(np.array([0.0, 600.0]), np.zeros(2), 2.0)
    ring = [(0, 12), (300, 12), (306, 36), (0, 36)]  # the end stands at 76 degrees to the line
    bank = replace(STRAIGHT.banks[0], outline=Polygon(ring))
    left, right = bank_offsets(line, [bank], name_sides=True)
    assert left[:151] == pytest.approx(12.0)
    assert np.isnan(left[151:]).all()
    assert np.isnan(right).all()


def test_what_stands_behind_the_end_of_another_bank_is_no_edge():
    line = Centreline.through(np.array([0.0, 600.0]), np.zeros(2), 2.0)
    rings = [(0, 12), (300, 12), (306, 36), (0, 36)], [(200, 25), (600, 25), (600, 40), (200, 40)]
    banks = [replace(STRAIGHT.banks[0], outline=Polygon(ring)) for ring in rings]
    left, _ = bank_offsets(line, banks, name_sides=True)
    assert np.isnan(left[151])  # 302 m down the slanting end stands before the other bank
    assert left[154:] == pytest.approx(25.0)


def test_the_last_quarter_width_of_a_bank_beside_a_long_gap_is_not_trusted():
    line = Centreline.through(np.array([0.0, 600.0]), np.zeros(2), 2.0)
    right = np.full(301, -12.0)
    left = np.where(line.station <= 300, 12.0, np.nan)
    kept, whole = bounding(line, (left, right))
    assert np.isfinite(kept).sum() == np.isfinite(left).sum() - 3  # of 24 m: 6 m
    assert np.isfinite(whole).all()
    short = np.where(np.abs(line.station - 300) < 11, np.nan, 12.0)
    assert bounding(line, (short, right))[0] == pytest.approx(12.0)


def test_a_bank_that_stands_behind_a_gap_is_no_edge_of_the_water():
    behind = replace(
        STRAIGHT.banks[0],
        outline=shapely.affinity.translate(STRAIGHT.banks[0].outline, 0, 150),
    )
    gap = with_gap(STRAIGHT, Side.LEFT, 300, 120, 60)
    main = a_reads_well(replace(gap, banks=(*gap.banks, behind)))
    assert main.width.max() < 1.2 * a_reads_well(STRAIGHT).width.max()


@cache
def of_many_kinds(seed):
    """Return an honest drawing of a made river of random shape."""
    return honest(seed, 2.0).markup


@pytest.mark.slow
@settings(max_examples=25)
@given(
    seed=st.integers(0, 11),
    gaps=st.lists(
        st.tuples(st.sampled_from([Side.LEFT, Side.RIGHT]), st.floats(0, 900), st.floats(10, 300)),
        min_size=1,
        max_size=3,
    ),
)
def test_random_gaps_on_rivers_of_many_kinds_never_knot_the_axis(seed, gaps):
    drawn = of_many_kinds(seed)
    for gap in gaps:
        drawn = with_gap(drawn, *gap, beyond=110)
    assume(drawn.banks)
    a_reads_well(drawn)


@pytest.mark.slow
def test_the_sample_river_with_any_bank_missing_for_seventy_metres_reads_well():
    drawn = read_markup(SAMPLE)
    whole = a_reads_well(drawn)
    for at in range(0, 2700, 450):
        for side in (Side.LEFT, Side.RIGHT):
            main = a_reads_well(with_gap(drawn, side, at, 70, beyond=110))
            assert main.line.length == pytest.approx(whole.line.length, rel=0.02)


def knotted():
    """Return a main channel whose axis makes a loop that crosses itself at station 300."""
    x, y = np.array([(0, 0), (330, 0), (330, 40), (300, 40), (300, -20), (340, -20), (600, 0)]).T
    base = STRAIGHT.main.line.coords[0]
    line = Centreline.through(x + base[0], y + base[1], 2.0)
    half = np.full(len(line.station), 12.0)
    return Channel("main", Part.MAIN, line, half, -half, dry=False)


def test_an_axis_that_crosses_itself_is_one_fault_with_its_place_and_mend():
    (fault,) = axis_faults(knotted(), STRAIGHT)
    assert "crosses itself 300 m down the river line (latitude" in fault.found
    assert "Draw the banks" in fault.fix


def test_an_axis_farther_than_half_a_width_from_the_drawn_line_is_a_fault():
    whole = make_channels(STRAIGHT, 2.0)[0]
    for away, count in ((whole.median_width / 2, 0), (whole.median_width / 2 + 4, 1)):
        line = Centreline.through(whole.line.x, whole.line.y + away, 2.0)
        moved = replace(whole, line=line, left=whole.left[: len(line.x)], right=whole.right)
        faults = axis_faults(moved, STRAIGHT)
        assert len(faults) == count
    assert "from the line you drew" in faults[0].found


def test_the_fault_names_the_side_without_a_bank():
    (fault,) = axis_faults(knotted(), with_gap(STRAIGHT, Side.RIGHT, 300, 120, 60))
    assert fault.found.endswith("no bank faces the water there on river right")
    (whole,) = axis_faults(knotted(), STRAIGHT)
    assert "no bank" not in whole.found


@pytest.mark.parametrize("stage", [lay_out, lambda drawn, own: build_ground(drawn, None, own)])
def test_the_ground_is_refused_with_that_one_fault(stage, monkeypatch):
    monkeypatch.setattr("reachmap.ground.layout.make_channels", lambda *_: (knotted(),))
    with pytest.raises(BuildError) as raised:
        stage(STRAIGHT, GroundSettings())
    (fault,) = raised.value.faults
    assert fault.where == "river 'main'"
    assert "the river's axis" in fault.found
