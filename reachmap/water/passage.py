"""Randomised shortest paths: where walkers pass who prefer cheap ways, but not only the cheapest.

Between the least-cost path and the random walk lies one number, theta: each path from start to end
is taken with a chance in proportion to its chance in a reference walk times exp(-theta cost).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.linalg import lapack
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import dijkstra, reverse_cuthill_mckee

from reachmap.base.arrays import BoolArray, FloatArray, IntArray

REFINED = 4
"""How often at most the potential is improved before the numbers are taken."""

WIDE = 200.0
"""Range of the logarithm of the backward sums beyond which the potential is improved: doubles hold
exp(-700) to exp(700)."""


@dataclass(frozen=True, slots=True)
class Steps:
    """Directed steps between cells.

    Parameters
    ----------
    size
        How many cells there are.
    source, target
        Cells of each step, shape (e,); no two steps lead from one cell to the same other.
    cost
        Of each step, > 0; infinite forbids it.
    """

    size: int
    source: IntArray
    target: IntArray
    cost: FloatArray


def choices(steps: Steps, ends: IntArray, theta: float, order: Order | None = None) -> FloatArray:
    """Return the chance of each step, given the cell it starts from, of a walk that reaches an end.

    Parameters
    ----------
    steps
        The cells and the steps between them. The reference walk takes each step out of a cell with
        the same chance.
    ends
        Cells at which a walk ends, at least one.
    theta
        How much cost counts, >= 0: 0 is the random walk, infinity the cheapest way.
    order
        Of the cells and steps, if it is at hand: costs do not change it.

    Returns
    -------
    FloatArray
        Shape (e,). The steps out of a cell add up to 1; 0 out of the ends and out of cells from
        which no end can be reached.

    Notes
    -----
    W = P exp(-theta C), z = (I - W)^-1 b with b = 1 at the ends; the walk conditioned on its end
    steps from i to j with w_ij z_j / z_i [1]_, [2]_. Sums over long ways underflow: W is scaled by
    a potential phi near -ln z, w_ij exp(phi_i - phi_j), which leaves the chances as they are. The
    potential begins at half of the cheapest way's -ln of chance and is improved by the solution.

    References
    ----------
    .. [1] Saerens, Achbany, Fouss and Yen (2009), Randomized shortest-path problems: two related
       models, Neural Computation 21:2363 (from memory).
    .. [2] Panzacchi et al. (2016), Predicting the continuum between corridors and barriers to
       animal movements using step selection functions and randomized shortest paths, J. Animal
       Ecology 85:32 (from memory).
    """
    ended = np.zeros(steps.size, dtype=bool)
    ended[ends] = True
    use = ~ended[steps.source] & np.isfinite(steps.cost)
    source, target = steps.source[use], steps.target[use]
    ways = np.bincount(source, minlength=steps.size)
    logs = theta * steps.cost[use] + np.log(ways[source])
    if order is None:
        order = Order.of(steps.size, steps.source, steps.target, ends)
    weights = np.full(steps.cost.shape, np.inf)
    weights[use] = np.maximum(logs, 1e-12)
    nearest = order.ways.least(weights)
    reached = np.isfinite(nearest)
    potential = np.where(reached, 0.5 * nearest, 0.0)
    inner = reached[source] & reached[target]
    part = np.zeros(use.sum())
    for _ in range(REFINED):
        sums, part[inner] = _backward(
            (source[inner], target[inner], logs[inner]), potential, ended, order
        )
        log_sums = np.log(np.maximum(sums[reached], 1e-300))
        if log_sums.max() - log_sums.min() <= WIDE:
            break
        potential[reached] -= log_sums
    chance = np.zeros(steps.cost.shape)
    with np.errstate(divide="ignore", invalid="ignore"):
        chance[use] = np.where(inner, part * sums[target] / sums[source], 0.0)
    return chance


def _backward(
    steps: tuple[IntArray, IntArray, FloatArray],
    potential: FloatArray,
    ended: BoolArray,
    order: Order,
) -> tuple[FloatArray, FloatArray]:
    """Return the scaled sums over all ways from each cell to the ends, and each step's own factor.

    Sums are 0 where no end is reached.
    """
    source, target, logs = steps
    factor = np.exp(np.clip(potential[source] - potential[target] - logs, -700, 700))
    begin = np.zeros(potential.shape)
    begin[ended] = np.exp(potential[ended])
    return order.solved(source, target, factor, begin), factor


@dataclass(frozen=True, slots=True)
class Ways:
    """The steps turned round, and one from a place beyond all ends to each of them; for any costs.

    Parameters
    ----------
    graph
        Matrix of (size + 1) cells a side.
    entry
        Number of the step that each of its entries is of; -1 for those to the ends.
    """

    graph: Any
    entry: IntArray

    @classmethod
    def of(cls, size: int, source: IntArray, target: IntArray, ends: IntArray) -> Ways:
        """Return the ways from the ends to `size` cells joined by steps."""
        beyond = np.full(len(ends), size, dtype=np.int32)
        numbers = np.arange(1.0, source.size + len(ends) + 1)
        pairs = np.r_[target, beyond], np.r_[source, np.asarray(ends)]
        graph: Any = csr_matrix((numbers, pairs), shape=(size + 1, size + 1))
        entry = graph.data.astype(np.int32) - 1
        return cls(graph, np.where(entry < source.size, entry, -1))

    def least(self, weights: FloatArray) -> FloatArray:
        """Return the least sum of the steps' weights from each cell to an end; infinite for no way.

        `weights` are > 0, shape (e,), infinite for a step that is not taken.
        """
        graph = self.graph.copy()
        graph.data = np.where(self.entry >= 0, weights[self.entry], 1e-12)
        cost = dijkstra(graph, indices=graph.shape[0] - 1)
        return np.asarray(cost[:-1])


@dataclass(frozen=True, slots=True)
class Order:
    """Cells numbered so that steps join numbers close to each other; it holds for any costs.

    Parameters
    ----------
    place
        New number of each cell, shape (n,).
    width
        Largest difference of the numbers that a step joins.
    ways
        From the ends to the cells.

    Notes
    -----
    Water is long and narrow: numbered by reverse Cuthill and McKee (1969, from memory) its cells
    make a matrix of narrow band, which LAPACK solves in a tenth of a general factorisation's time.
    """

    place: IntArray
    width: int
    ways: Ways

    @classmethod
    def of(cls, size: int, source: IntArray, target: IntArray, ends: IntArray) -> Order:
        """Return the order of `size` cells joined by steps, numbered from `ends` onwards.

        Steps out of an end are left out: none is ever taken, and the numbering begins where there
        are fewest, so that it runs along the water from there and the band stays as narrow as the
        river (begun in midstream it is up to twice as wide).
        """
        ways = Ways.of(size, source, target, ends)
        ended = np.zeros(size, dtype=bool)
        ended[ends] = True
        use = ~ended[source]
        source, target = source[use], target[use]
        pattern = csr_matrix((np.ones(source.size), (source, target)), shape=(size, size))
        order = reverse_cuthill_mckee(pattern, symmetric_mode=False)
        place = np.empty(size, dtype=np.int32)
        place[order] = np.arange(size, dtype=np.int32)
        return cls(place, int(np.abs(place[source] - place[target]).max(initial=0)), ways)

    def solved(
        self, rows: IntArray, cols: IntArray, values: FloatArray, right: FloatArray
    ) -> FloatArray:
        """Return x of (I - A) x = right, A given by its entries between cells a step joins."""
        row, col, width = self.place[rows], self.place[cols], self.width
        # Diagonal storage as LAPACK wants it: the entry (row, col) stands in line 2 `width` + row -
        # col of column `col`; the first `width` lines are for its own use. Asked for by itself, it
        # spares two copies of the band and a look for NaN.
        band = np.zeros((3 * width + 1, right.size), order="F")
        band[2 * width] = 1.0
        band[2 * width + row - col, col] -= values
        turned = np.empty(right.size)
        turned[self.place] = right
        *_, made, failed = lapack.dgbsv(
            width, width, band, turned, overwrite_ab=True, overwrite_b=True
        )
        if failed:
            msg = "singular matrix"
            raise np.linalg.LinAlgError(msg)
        return np.asarray(made[self.place])


@dataclass(frozen=True, slots=True)
class Passage:
    """Where walkers pass.

    Parameters
    ----------
    visits
        Mean number of visits to each cell, shape (n,).
    through
        Net number that pass through each cell, 0 to 1: walking to and fro counts once.
    arrived
        Share of the walkers that reached an end.
    """

    visits: FloatArray
    through: FloatArray
    arrived: float


def pass_through(
    steps: Steps,
    chance: FloatArray,
    starts: IntArray,
    ends: IntArray,
    order: Order | None = None,
) -> Passage:
    """Return where walkers pass that start evenly from some cells and step by given chances.

    Parameters
    ----------
    steps
        The cells and the steps between them.
    chance
        Of each step given its cell, shape (e,); what is wanting to 1 is lost.
    starts, ends
        Cells to start from and to end at.
    order
        Of the cells and steps, if it is at hand.

    Notes
    -----
    Visits v solve v = b + P' v; the net flow over a pair of cells is the difference of both ways.
    """
    ended = np.zeros(steps.size, dtype=bool)
    ended[ends] = True
    use = (chance > 0) & ~ended[steps.source]
    source, target, share = steps.source[use], steps.target[use], chance[use]
    begin = np.zeros(steps.size)
    begin[starts] = 1.0 / len(starts)
    if order is None:
        order = Order.of(steps.size, steps.source, steps.target, ends)
    visits = order.solved(target, source, share, begin)
    flow = coo_matrix(
        (visits[source] * share, (source, target)), shape=(steps.size, steps.size)
    ).tocsr()
    net = flow - flow.T
    net.data = np.maximum(net.data, 0.0)
    out, into = (np.asarray(net.sum(axis=axis)).ravel() for axis in (1, 0))
    return Passage(visits, np.maximum(out, into), float(visits[ended].sum()))
