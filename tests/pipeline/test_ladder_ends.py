"""Flows asked for near the ends of the ladder: what is read lies within what is solved."""

from __future__ import annotations

import pytest

import reachmap
from reachmap.base.units import to_si
from reachmap.markup import read_markup
from reachmap.pipeline.settings import ladder_of

LOW, HIGH = to_si(600, "cfs"), to_si(5400, "cfs")


@pytest.fixture(scope="module")
def plan():
    return read_markup(reachmap.sample_folder()).plan


@pytest.mark.parametrize(
    "asked",
    [
        (17.0, 34.0, 68.0),  # bears the name of the lowest flow of reach.toml, a hair above it
        (16.98, 34.0),
        (50.0, 152.9),
        (50.0, 153.0),
        (25.0, 50.0),
        (10.0, 200.0),
    ],
)
def test_every_flow_read_lies_within_the_flows_solved_and_those_asked_for_are_read(asked, plan):
    assert plan.flows[0] == pytest.approx(LOW)
    assert plan.flows[-1] == pytest.approx(HIGH)
    solvable, read = ladder_of(asked, plan)
    assert set(asked) <= set(read)
    assert solvable[0] <= read[0]
    assert read[-1] <= solvable[-1]
    assert list(solvable) == sorted(set(solvable))
