"""A stretch keeps its name where the river line is drawn anew."""

import numpy as np

from reachmap.base.centreline import Centreline
from reachmap.base.words import Side
from reachmap.water.bends import Bend
from reachmap.water.lasting_names import kept_names, named_stretches
from reachmap.water.settings import WaterSettings
from reachmap.water.stretches import sections_of

RULES = WaterSettings()
WIDTH = 40.0


def river(start, end, *, north=0.0):
    """Return a straight line that runs east between two places."""
    line = Centreline.through(np.array([start, end]), np.array([north, north]), 5.0)
    return Centreline(line.x, line.y, line.station, np.full(line.x.shape, WIDTH))


def cut(line, *bends):
    """Return its sections; bends are given by where they lie, counted from 1."""
    made = [
        Bend(k, a - line.x[0], b - line.x[0], Side.LEFT, 60.0, 200.0, WIDTH)
        for k, (a, b) in enumerate(bends, start=1)
    ]
    return sections_of(line.head, line.foot, made, RULES)


def test_names_stay_where_the_river_was_drawn_on_upstream():
    old = river(0.0, 700.0)
    before = cut(old, (200.0, 380.0))
    left = before.number(1, Side.LEFT)
    kept = named_stretches({left: "Bend 1 left", left + 1: "Bend 1 right"}, old, before)
    new = river(-900.0, 700.0)
    now = cut(new, (-700.0, -520.0), (200.0, 380.0))
    names = kept_names(kept, new, now)
    there = [k for k, one in enumerate(now.sections) if one.place == "Bend 2"]
    assert names == {
        now.number(there[0], Side.LEFT): "Bend 1 left",
        now.number(there[0], Side.RIGHT): "Bend 1 right",
    }


def test_a_border_that_moves_a_little_takes_no_name_away():
    old, new = river(0.0, 700.0), river(0.0, 700.0)
    before, now = cut(old, (200.0, 380.0)), cut(new, (230.0, 400.0))
    names = {number: before.name(number) for number in range(1, 10)}
    assert kept_names(named_stretches(names, old, before), new, now) == names


def test_another_course_of_the_river_takes_no_name_over():
    old, new = river(0.0, 700.0), river(0.0, 700.0, north=3 * WIDTH)
    before, now = cut(old, (200.0, 380.0)), cut(new, (200.0, 380.0))
    assert kept_names(named_stretches({4: "Bend 1 left"}, old, before), new, now) == {}


def test_each_name_and_each_stretch_is_taken_once():
    old, new = river(0.0, 700.0), river(0.0, 700.0)
    # one straight then, a bend now: of the three new sections the one with most in common
    before, now = cut(old), cut(new, (100.0, 480.0))
    names = {number: f"old {number}" for number in range(1, 1 + 3 * len(before.sections))}
    found = kept_names(named_stretches(names, old, before), new, now)
    assert len(set(found.values())) == len(found)
    assert kept_names([], new, now) == {}
