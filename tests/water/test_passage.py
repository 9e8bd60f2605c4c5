"""Randomised shortest paths against their exact limits and a dense solution on small grids."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from reachmap.water.mesh import KING, mesh_of
from reachmap.water.passage import Order, Steps, choices, pass_through


def grid(seed=1, shape=(7, 9), hole=(3, 4)):
    rng = np.random.default_rng(seed)
    mask = np.ones(shape, dtype=bool)
    mask[hole] = False
    mesh = mesh_of(mask)
    source, target = np.r_[mesh.a, mesh.b], np.r_[mesh.b, mesh.a]
    return Steps(mesh.size, source, target, rng.uniform(0.5, 2.0, source.size))


def passed(steps, theta):
    starts, ends = np.array([0]), np.array([steps.size - 1])
    chance = choices(steps, ends, theta)
    return chance, pass_through(steps, chance, starts, ends)


def reference(steps):
    """The reference walk as a dense matrix, absorbed at the last cell."""
    ways = np.bincount(steps.source, minlength=steps.size)
    walk = np.zeros((steps.size, steps.size))
    walk[steps.source, steps.target] = 1 / ways[steps.source]
    walk[-1] = 0
    return walk


def test_without_cost_it_is_the_random_walk():
    """Visits of an absorbing chain: the fundamental matrix (Kemeny and Snell 1960, from memory)."""
    steps = grid()
    chance, found = passed(steps, 0.0)
    walk = reference(steps)
    exact = np.linalg.inv(np.eye(steps.size) - walk)[0]
    assert found.visits == pytest.approx(exact, rel=1e-8)
    assert chance == pytest.approx(walk[steps.source, steps.target], rel=1e-8)


def test_with_cost_alone_it_is_the_cheapest_way():
    steps = grid()
    graph = csr_matrix((steps.cost, (steps.source, steps.target)), shape=(steps.size,) * 2)
    _, before = dijkstra(graph, indices=0, return_predecessors=True)
    way = [steps.size - 1]
    while way[-1] != 0:
        way.append(int(before[way[-1]]))
    on = np.zeros(steps.size)
    on[way] = 1
    _, found = passed(steps, 400.0)
    assert found.visits == pytest.approx(on, abs=1e-6)
    assert found.through == pytest.approx(on, abs=1e-6)


@pytest.mark.parametrize("theta", [0.3, 1.0, 5.0])
def test_between_the_limits_it_is_the_dense_solution(theta):
    steps = grid(2)
    weight = np.zeros((steps.size, steps.size))
    walk = reference(steps)
    pairs = steps.source, steps.target
    weight[pairs] = walk[pairs] * np.exp(-theta * steps.cost)
    whole = np.linalg.inv(np.eye(steps.size) - weight)
    exact = whole[0] * whole[:, -1] / whole[0, -1]
    _, found = passed(steps, theta)
    assert found.visits == pytest.approx(exact, rel=1e-7)


@pytest.mark.parametrize("theta", [0.0, 1.0, 30.0])
def test_nobody_is_lost_on_the_way(theta):
    steps = grid(3)
    chance, found = passed(steps, theta)
    out = np.bincount(steps.source, chance, steps.size)
    assert out[:-1] == pytest.approx(np.ones(steps.size - 1))
    assert out[-1] == 0
    flow = found.visits[steps.source] * chance
    source, target = (np.bincount(one, flow, steps.size) for one in (steps.source, steps.target))
    apart = source - target
    assert apart[0] == pytest.approx(1.0)
    assert apart[-1] == pytest.approx(-1.0)
    assert np.abs(apart[1:-1]).max() < 1e-9
    assert found.arrived == pytest.approx(1.0)
    assert found.through.max() <= 1 + 1e-9


def test_a_way_of_a_thousand_dear_steps_neither_underflows_nor_overflows():
    """Every walk passes each cell of a corridor one cell wide; -ln of its weight is over 3,000."""
    count = 1000
    line = np.arange(count - 1)
    steps = Steps(count, np.r_[line, line + 1], np.r_[line + 1, line], np.full(2 * count - 2, 3.0))
    ends = np.array([count - 1])
    chance = choices(steps, ends, 1.0)
    found = pass_through(steps, chance, np.array([0]), ends)
    assert found.through == pytest.approx(np.ones(count), abs=1e-6)
    assert found.arrived == pytest.approx(1.0)


def test_what_no_way_leads_out_of_has_no_choice():
    steps = Steps(4, np.array([0, 1, 2, 3]), np.array([1, 0, 3, 2]), np.ones(4))
    chance = choices(steps, np.array([1]), 1.0)
    assert chance.tolist() == [1.0, 0.0, 0.0, 0.0]


def test_a_forbidden_step_is_never_taken():
    steps = grid(4)
    cost = steps.cost.copy()
    cost[(steps.source == 0) & (steps.target == 1)] = np.inf
    shut = Steps(steps.size, steps.source, steps.target, cost)
    chance, found = passed(shut, 0.5)
    assert chance[(steps.source == 0) & (steps.target == 1)] == 0
    assert found.arrived == pytest.approx(1.0)


@pytest.mark.parametrize("theta", [0.0, 1.0, 30.0])
def test_an_order_at_hand_gives_the_same_for_any_costs(theta):
    first = grid(5)
    starts, ends = np.array([0]), np.array([first.size - 1])
    order = Order.of(first.size, first.source, first.target, ends)
    for seed in (5, 6):
        steps = grid(seed)
        alone, shared = choices(steps, ends, theta), choices(steps, ends, theta, order)
        assert shared == pytest.approx(alone, rel=1e-9)
        one = pass_through(steps, alone, starts, ends).visits
        assert pass_through(steps, alone, starts, ends, order).visits == pytest.approx(one)


def test_the_order_begins_at_the_ends_so_that_the_band_is_as_narrow_as_the_water():
    mask = np.ones((6, 60), dtype=bool)
    mask[0] = False
    mask[0, 30] = True  # a bay in midstream, from which the numbering would begin by itself
    mesh = mesh_of(mask, KING)
    source, target = np.r_[mesh.a, mesh.b], np.r_[mesh.b, mesh.a]
    ends = np.flatnonzero(mesh.cols == 0).astype(np.int32)
    order = Order.of(mesh.size, source, target, ends)
    assert sorted(order.place.tolist()) == list(range(mesh.size))
    assert order.width <= 2 * 5  # a column of five cells and its neighbour
