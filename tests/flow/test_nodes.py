"""Which flows are solved: laws of the choice, and errors known in closed form."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from reachmap.base.words import Wet
from reachmap.flow.between import SolvedFlows
from reachmap.flow.nodes import (
    NodeSettings,
    expected_errors,
    first_nodes,
    ladder,
    left_out,
    next_node,
)
from tests.made import made_flows, made_ground

ASKED = (17.0, 25.0, 37.0, 51.0, 68.0, 91.0, 119.0, 153.0)
SETTINGS = NodeSettings()


@pytest.fixture(scope="module")
def ground():
    return made_ground(length=160.0, cell=4.0)


def solved_with(ground, flows, level):
    """Solved flows whose level above the bank tops is a function of the flow [m]."""
    fields = made_flows(ground, {q: float(level(q)) for q in flows}).assign_attrs(method="made")
    return SolvedFlows.of(ground, fields)


@pytest.mark.parametrize("rungs", [0, 3, 8, 9, 24, 60])
def test_the_ladder_holds_what_was_asked_for_and_steps_evenly_between(rungs):
    steps = ladder(ASKED, rungs)
    assert len(steps) == max(rungs, len(ASKED))
    assert set(ASKED) <= set(steps)
    assert list(steps) == sorted(steps)
    for low, high in pairwise(ASKED):
        inner = np.diff(np.log([q for q in steps if low <= q <= high]))
        np.testing.assert_allclose(inner, inner[0])


def test_no_step_would_serve_better_in_another_gap():
    steps = np.log(ladder(ASKED, 24))
    before = np.log(ASKED)
    parts = np.diff(np.searchsorted(steps, before - 1e-9))
    wide = np.diff(before) / parts
    # the widest step is no wider than any gap would be with one step fewer
    fewer = np.diff(before)[parts > 1] / (parts[parts > 1] - 1)
    assert wide.max() <= fewer.min() + 1e-9


def test_a_ladder_of_one_flow_is_that_flow():
    assert ladder((30.0,), 24) == (30.0,)
    assert first_nodes((30.0,), (30.0,), SETTINGS) == (30.0,)
    assert first_nodes((30.0, 45.0), (), SETTINGS) == (30.0, 45.0)


def test_the_first_flows_are_even_in_ln_q_and_those_asked_for_where_they_serve():
    steps = ladder((10.0, 90.0), 25)
    even = first_nodes(steps, (), SETTINGS)
    gaps = np.diff(np.log(even))
    assert even[0] == 10.0
    assert even[-1] == 90.0
    np.testing.assert_allclose(gaps, gaps[0], rtol=0.05)
    liked = first_nodes(ladder(ASKED, 24), ASKED, SETTINGS)
    assert set(liked) <= set(ASKED)
    assert len(liked) == 5


def test_a_left_out_flow_shows_the_error_of_a_kink(ground):
    """A level with a kink at the flow left out: between four flows of a straight line each side
    the error is the cubic's through the neighbours, by numpy's polynomial."""
    flows = (10.0, 20.0, 40.0, 80.0, 160.0)

    def level(q):
        x = math.log(q / 40.0)
        return -0.4 + (0.3 * x if x < 0 else 0.1 * x)

    found = {one.flow: one for one in left_out(solved_with(ground, flows, level))}
    assert set(found) == {20.0, 40.0, 80.0}
    x = np.log([10.0, 20.0, 80.0, 160.0])
    cubic = np.polyfit(x, [level(q) for q in (10.0, 20.0, 80.0, 160.0)], 3)
    error = abs(np.polyval(cubic, math.log(40.0)) - level(40.0))
    assert found[40.0].depth_rms_m == pytest.approx(error, rel=0.02)
    assert found[40.0].gap == pytest.approx(math.log(4.0))
    assert found[40.0].depth_p95_m == pytest.approx(error, rel=0.02)


def test_half_the_error_of_the_gap_left_is_expected_in_each_of_its_halves(ground):
    flows = (10.0, 20.0, 40.0, 80.0, 160.0)
    solved = solved_with(ground, flows, lambda q: 0.3 * abs(math.log(q / 40.0)) - 0.8)
    errors = {one.flow: one.depth_rms_m for one in left_out(solved)}
    expected = expected_errors(solved)[:, 0]
    assert expected[0] == pytest.approx(errors[20.0] / 2)
    assert expected[1] == pytest.approx(max(errors[20.0], errors[40.0]) / 2)
    assert expected[3] == pytest.approx(errors[80.0] / 2)


def test_two_flows_cannot_tell_what_lies_between(ground):
    solved = solved_with(ground, (10.0, 40.0), lambda q: -0.5 + 0.1 * math.log(q))
    assert left_out(solved) == ()
    assert np.isnan(expected_errors(solved)).all()
    assert next_node(solved, (10.0, 20.0, 40.0), (), SETTINGS) == 20.0
    assert next_node(solved, (10.0, 40.0), (), SETTINGS) is None


def test_the_next_flow_halves_the_gap_that_errs_most_and_none_is_solved_where_it_will_do(ground):
    steps = ladder((10.0, 160.0), 33)

    def kinked(q):  # a bar drowns at 28 m3/s
        x = math.log(q / 28.0)
        return -0.6 + (0.1 * x if x < 0 else 0.4 * x)

    flows = (10.0, 20.0, 40.0, 80.0, 160.0)
    solved = solved_with(ground, flows, kinked)
    depth = NodeSettings(speed_m_s=9.0)
    more = next_node(solved, steps, (), depth)
    assert more is not None
    gap = int(np.argmax(expected_errors(solved)[:, 0]))
    low, high = flows[gap : gap + 2]
    assert more == pytest.approx(math.sqrt(low * high), rel=0.05)
    liked = 0.55 * low + 0.45 * high
    assert next_node(solved, sorted({*steps, liked}), (liked,), depth) == liked
    far = 0.9 * low + 0.1 * high
    assert next_node(solved, sorted({*steps, far}), (far,), depth) == more
    smooth = solved_with(ground, flows, lambda q: -0.8 + 0.15 * math.log(q))
    assert next_node(smooth, steps, (), depth) is None
    assert next_node(solved, steps, (), NodeSettings(most=5)) is None
    assert next_node(solved, flows, (), depth) is None  # no rung lies between


def test_choosing_goes_on_until_the_error_is_small_or_the_most_are_solved(ground):
    def kinked(q):
        x = math.log(q / 28.0)
        return -0.6 + (0.1 * x if x < 0 else 0.4 * x)

    steps = ladder((10.0, 160.0), 33)
    flows = list(first_nodes(steps, (), SETTINGS))
    while more := next_node(solved_with(ground, sorted(flows), kinked), steps, (), SETTINGS):
        assert more not in flows
        flows.append(more)
    solved = solved_with(ground, sorted(flows), kinked)
    errors = expected_errors(solved)
    good = (errors[:, 0] <= SETTINGS.depth_m) & (errors[:, 1] <= SETTINGS.speed_m_s)
    assert good.all() or len(flows) == SETTINGS.most


def test_where_water_is_wet_in_one_only_is_counted(ground):
    flows = (10.0, 20.0, 40.0)
    solved = solved_with(ground, flows, lambda q: -1.5 + 0.4 * math.log(q))
    drowned = solved.fields.copy(deep=True)
    wet = drowned["wet"].to_numpy()[1] == Wet.YES
    drowned["wet"].values[1] = np.where(wet, Wet.YES, drowned["wet"].to_numpy()[2])
    assert (
        left_out(solved)[0].wet_share
        < left_out(SolvedFlows.of(ground, drowned.fillna(0.02)))[0].wet_share
    )
