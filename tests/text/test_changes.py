"""The two lines on what a build changed."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from reachmap.base.words import UnitSystem
from reachmap.planner.changes import BuildChange
from reachmap.text.changes import change_lines

SAME = BuildChange("68 m3/s", (), (), ("Ford", "Ford"), 0.0, (0.2, 0.2), (2.0, 2.0))


def lines(**changes):
    return change_lines(replace(SAME, **changes), UnitSystem.METRIC)


def test_where_nothing_moved_it_says_so():
    told, sure = lines()
    assert told == (
        "Since the last build, at 68 m3/s: the same runs fish, Ford first; "
        "no depth moved by 0.1 m or more."
    )
    assert sure.startswith("As sure as before: depth to 0.2 m, was 0.2 m; edge to 2 m")


def test_runs_are_named_and_many_are_counted():
    told, _ = lines(gained=tuple("abcdef"), lost=("g",), first=("g", "a"), depth_moved=0.001)
    assert "a, b, c, d and 2 more fish now; g fishes no longer; a is first, was g" in told
    assert "over less than 1 % of the water" in told


def test_cells_that_cannot_be_compared_claim_nothing():
    told, _ = lines(depth_moved=math.nan)
    assert "depth" not in told


@pytest.mark.parametrize(
    ("depth", "edge", "verdict"),
    [
        ((0.2, 0.1), (2.0, 1.0), "Surer than before"),
        ((0.2, 0.3), (2.0, 2.0), "Less sure than before"),
        ((0.2, 0.1), (2.0, 3.0), "Surer in one thing, less in another"),
        ((math.nan, 0.3), (math.nan, 3.0), "As sure as before"),
    ],
)
def test_the_verdict_follows_both_spreads(depth, edge, verdict):
    sure = lines(depth_spread_m=depth, edge_spread_m=edge)[1]
    assert sure.startswith(f"{verdict}: ")
    assert ("was" in sure) is not math.isnan(depth[0])


def test_without_an_ensemble_nothing_is_said_of_it():
    unknown = (math.nan, math.nan)
    assert len(lines(depth_spread_m=unknown, edge_spread_m=unknown)) == 1
