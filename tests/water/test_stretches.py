"""The fixed stretches of bank by which water is named."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.words import Side
from reachmap.water.bends import Bend
from reachmap.water.settings import WaterSettings
from reachmap.water.stretches import cuts_of, parts_between, sections_of

RULES = WaterSettings()
LONGEST = RULES.runs.spare * RULES.score.length_high_m
SHORT = RULES.score.run_length_m


def bend(number, start, end, width=40.0):
    """Return a bend to the left."""
    return Bend(number, start, end, Side.LEFT, 60.0, 200.0, width)


def sections(*bends, head=0.0, foot=1000.0):
    return sections_of(head, foot, list(bends), RULES)


def names(made):
    """Return place and part of each section."""
    return [f"{one.place} {one.part}".strip() for one in made.sections]


def test_a_river_is_cut_where_its_bends_begin_and_end():
    made = sections(bend(1, 200, 380), bend(2, 500, 680), foot=900)
    # a bend reaches half a width of 40 m below its end
    assert [(one.start, one.end) for one in made.sections] == [
        (0, 200), (200, 400), (400, 500), (500, 700), (700, 900),
    ]  # fmt: skip
    assert names(made) == ["Straight 1", "Bend 1", "Straight 2", "Bend 2", "Straight 3"]


def test_stretches_are_numbered_downstream_three_a_section_and_named_by_bank():
    made = sections(bend(1, 200, 380), foot=560)
    assert [made.number(1, side) for side in (Side.LEFT, Side.RIGHT, Side.ISLAND)] == [4, 5, 6]
    assert made.name(4) == "Bend 1 left"
    assert made.name(5) == "Bend 1 right"
    assert made.name(9) == "Straight 2 island side"
    for number in range(1, 10):
        section, side = made.of(number)
        assert made.number(made.sections.index(section), side) == number


@pytest.mark.parametrize(
    ("length", "parts"),
    [(0.9 * LONGEST, [""]), (1.5 * LONGEST, ["upper", "lower"]),
     (2.5 * LONGEST, ["upper", "middle", "lower"]), (3.5 * LONGEST, ["1", "2", "3", "4"])],
)  # fmt: skip
def test_what_is_longer_than_the_longest_run_is_cut_into_equal_parts(length, parts):
    made = sections(foot=length)
    assert [one.part for one in made.sections] == parts
    lengths = {round(one.end - one.start, 6) for one in made.sections}
    assert len(lengths) == 1
    assert made.name(1).startswith("Straight 1 left")


def test_a_straight_too_short_for_a_run_goes_with_the_bend_above_it():
    made = sections(bend(1, 200, 380), bend(2, 400 + 0.5 * SHORT, 600), foot=620)
    assert names(made) == ["Straight 1", "Bend 1", "Bend 2"]
    assert made.sections[1].end == made.sections[2].start == 400 + 0.5 * SHORT
    first = sections(bend(1, 0.5 * SHORT, 200), foot=220)
    assert names(first) == ["Bend 1"]
    assert first.sections[0].start == 0.0


def test_straights_keep_their_number_where_one_is_too_short_to_stand():
    made = sections(bend(1, 200, 380), bend(2, 401, 560), foot=800)
    assert names(made)[-1] == "Straight 3"


@given(
    turns=st.lists(st.tuples(st.floats(1, 300), st.floats(20, 400)), max_size=6),
    tail=st.floats(0, 300),
)
def test_sections_follow_each_other_without_gaps_from_head_to_foot(turns, tail):
    at, bends = 0.0, []
    for number, (straight, turning) in enumerate(turns, start=1):
        bends.append(bend(number, at + straight, at + straight + turning))
        at += straight + turning
    foot = at + max(tail, 1.0)
    made = sections_of(0.0, foot, bends, RULES).sections
    assert made[0].start == 0.0
    assert made[-1].end == foot
    assert all(a.end == b.start for a, b in itertools.pairwise(made))
    assert all(0 < one.end - one.start <= LONGEST + 1e-6 for one in made)


def test_water_is_cut_between_sections_but_leaves_no_scrap():
    made = sections(bend(1, 200, 380), foot=600)
    spare = RULES.score.cut_spare_m
    whole = np.arange(100.0, 300.0)
    assert list(cuts_of(whole, made, spare)) == [200.0]
    # 20 m beyond the border: less than may stand
    assert list(cuts_of(np.arange(100.0, 220.0), made, spare)) == []
    assert list(cuts_of(np.arange(180.0, 300.0), made, spare)) == []
    mask = np.ones(whole.size, dtype=bool)
    parts = parts_between(whole, mask, cuts_of(whole, made, spare))
    assert [int(part.sum()) for part in parts] == [101, 99]
    assert made.at(np.arange(180.0, 300.0)) == 1
    assert made.at(np.array([np.nan, 10.0])) == 0
