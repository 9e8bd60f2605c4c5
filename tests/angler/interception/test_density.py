"""Where the fish are: shares of their time."""

from dataclasses import replace

import numpy as np
import pytest

from reachmap.angler.interception.density import Presence, fish_time, fish_times, near_passage
from reachmap.angler.interception.settings import InterceptionSettings, Member

RULES = InterceptionSettings()
SHAPE = (40, 60)


def presence(passes, lie, shy=None):
    """Return presence over the whole raster."""
    flat = np.broadcast_to(passes, SHAPE).ravel().astype(float)
    other = flat if shy is None else np.broadcast_to(shy, SHAPE).ravel().astype(float)
    lies = np.broadcast_to(lie, SHAPE).ravel().astype(float)
    return Presence(SHAPE, 2.0, np.arange(flat.size), flat, other, lies)


def bump(row, col, value=0.8, size=3):
    """Return a raster with a patch of a value."""
    made = np.zeros(SHAPE)
    made[row : row + size, col : col + size] = value
    return made


def test_all_of_the_fish_s_time_is_somewhere():
    made = presence(bump(0, 0, 1.0, 40), bump(10, 10))
    for member in RULES.members:
        passing, holding = fish_time(made, member, RULES)
        assert passing.sum() + holding.sum() == pytest.approx(1.0)
        assert holding.sum() == pytest.approx(member.hold_share)


def test_without_lies_all_time_is_passing_and_without_passage_all_is_holding():
    passing, holding = fish_time(presence(0.1, 0.0), Member(), RULES)
    assert (passing.sum(), holding.sum()) == (pytest.approx(1.0), 0.0)
    passing, holding = fish_time(presence(0.0, bump(5, 5)), Member(), RULES)
    assert (passing.sum(), holding.sum()) == (0.0, pytest.approx(1.0))
    passing, holding = fish_time(presence(0.0, 0.0), Member(), RULES)
    assert passing.sum() == holding.sum() == 0.0


def test_time_goes_with_how_many_pass():
    passing, _ = fish_time(presence(bump(0, 0, 0.2) + bump(20, 20, 0.6), 0.0), Member(), RULES)
    grid = passing.reshape(SHAPE)
    assert grid[20, 20] == pytest.approx(3 * grid[0, 0])


def test_a_lie_off_the_corridor_keeps_an_even_share():
    # two like lies, one where all fish pass, one far from where any does
    lies = bump(10, 4) + bump(10, 50)
    made = presence(bump(0, 0, 1.0, 20), lies)
    _, holding = fish_time(made, Member(), RULES)
    grid = holding.reshape(SHAPE)
    assert grid[10, 50] > 0
    assert grid[10, 4] > grid[10, 50]
    _, bare = fish_time(made, Member(), replace(RULES, even_share=0.0))
    assert bare.reshape(SHAPE)[10, 50] == 0.0


def test_shy_and_bold_fish_pass_elsewhere():
    made = presence(bump(0, 0, 1.0), 0.0, shy=bump(30, 30, 1.0))
    bold, _ = fish_time(made, Member(shy=0.0), RULES)
    shy, _ = fish_time(made, Member(shy=1.0), RULES)
    both, _ = fish_time(made, Member(shy=0.5), RULES)
    assert bold.reshape(SHAPE)[31, 31] == shy.reshape(SHAPE)[1, 1] == 0.0
    assert both == pytest.approx(0.5 * (bold + shy))


def test_the_passage_nearby_is_a_mean_that_knows_no_rows():
    made = presence(bump(0, 0, 1.0, 40), 0.0)
    near = near_passage(made, made.bold, RULES.near_m).reshape(SHAPE)
    assert near.min() >= 0
    assert near.max() <= 1.0
    assert near[5, 5] == pytest.approx(1.0)
    assert near[5, 59] == 0.0  # the far end of a row is no neighbour of the next one's begin
    even = near_passage(presence(0.25, 0.0), np.full(np.prod(SHAPE), 0.25), RULES.near_m)
    assert even == pytest.approx(0.25)


def test_readings_together_are_those_of_each_alone():
    made = presence(bump(0, 0, 1.0), bump(10, 10), shy=bump(30, 30, 1.0))
    members = [Member(shy=0.0), Member(shy=1.0), Member(shy=1.0, hold_share=0.2), Member(shy=0.5)]
    for member, both in zip(members, fish_times(made, members, RULES), strict=True):
        for together, alone in zip(both, fish_time(made, member, RULES), strict=True):
            assert np.array_equal(together, alone)
