"""Rates of touches per run and flow from few hours, shrunk towards the mean of all groups.

A run fished twice for an hour without a touch is not a run without fish. The log's groups are taken
as Poisson counts whose rates come from one gamma distribution, fitted to all of them (empirical
Bayes); each group's rate is its posterior mean. Blank hours count.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import gammaincinv, gammaln

from reachmap.base.arrays import FloatArray
from reachmap.logbook.join import Joined
from reachmap.logbook.model import Entry
from reachmap.logbook.stats import FLOW_BAND

INTERVAL_SHARE = 0.8
"""Probability that the true rate is within a group's interval; our choice, 0.5-0.95."""

FEWEST_GROUPS = 4
"""With fewer groups the spread of rates cannot be fitted: `SHAPE` is taken; our choice, 3-8."""

SHAPE = 1.0
"""Shape of the gamma taken then: rates spread as widely as their mean; our choice, 0.5-3."""

SHAPE_LIMITS = (0.05, 200.0)
"""Bounds of the fitted shape: below, a fit of blanks alone diverges; above, all rates are one."""


@dataclass(frozen=True, slots=True)
class RatePrior:
    """Gamma distribution of rates: `shape` and mean [1/h]."""

    shape: float
    mean: float

    @property
    def hours(self) -> float:
        """Return how many hours of its own weigh as much as the prior in a group's rate [h]."""
        return self.shape / self.mean


@dataclass(frozen=True, slots=True)
class ShrunkenRate:
    """Rate of one group [1/h]: its mean, and the bounds that hold it with `INTERVAL_SHARE`.

    `own_share` is the weight of the group's own hours in it, 0 to 1.
    """

    mean: float
    low: float
    high: float
    own_share: float


def fit_prior(counts: Sequence[int], hours: Sequence[float]) -> RatePrior | None:
    """Return the gamma distribution from which the groups' rates come; None without any touch.

    Parameters
    ----------
    counts
        Touches of each group, >= 0.
    hours
        Hours fished of each group, > 0.

    Raises
    ------
    ValueError
        If the lists differ in length, a count is negative or no time was fished.

    Notes
    -----
    The maximum of the marginal likelihood, which is negative binomial: a count n in h hours has
    probability Gamma(n + a) / (Gamma(a) n!) (b / (b + h))^a (h / (b + h))^n with shape a and b = a
    over the mean. Without a single touch the mean is not defined.
    """
    n, h = np.asarray(counts, dtype=np.float64), np.asarray(hours, dtype=np.float64)
    if n.shape != h.shape or (n < 0).any() or not (h > 0).all():
        msg = "each group wants a count of at least 0 and some hours"
        raise ValueError(msg)
    if n.sum() == 0:
        return None
    mean = float(n.sum() / h.sum())
    if n.size < FEWEST_GROUPS:
        return RatePrior(SHAPE, mean)
    # Both parameters are positive and spread over decades: searched in their logarithms. The mean
    # stays within a factor of e^3 = 20 of the pooled rate.
    low, high = (math.log(one) for one in SHAPE_LIMITS)

    def cost(logs: FloatArray) -> float:
        """Return minus the log of the counts' likelihood."""
        return -_log_likelihood(n, h, math.exp(float(logs[0])), math.exp(float(logs[1])))

    found = minimize(
        cost,
        x0=np.array([0.0, math.log(mean)]),
        bounds=[(low, high), (math.log(mean) - 3.0, math.log(mean) + 3.0)],
        method="L-BFGS-B",
    )
    return RatePrior(float(np.exp(found.x[0])), float(np.exp(found.x[1])))


def log_prior(joined: Joined) -> RatePrior | None:
    """Return the distribution of rates over the runs of a log; None without any touch.

    A group is a run within a band of flows `FLOW_BAND` squared wide; trips without a time or a flow
    are in none.
    """
    groups: dict[tuple[str, int], list[Entry]] = {}
    width = 2.0 * math.log(FLOW_BAND)
    for run, entries in joined.by_run.items():
        for entry in entries:
            if entry.minutes > 0 and entry.flow > 0:
                band = math.floor(math.log(entry.flow) / width)
                groups.setdefault((run, band), []).append(entry)
    counts = [sum(entry.touches for entry in mine) for mine in groups.values()]
    return fit_prior(
        counts, [sum(entry.minutes for entry in mine) / 60 for mine in groups.values()]
    )


def log_factor(count: int, hours: float, prior: RatePrior | None, weight: float) -> float:
    """Return the factor by which the log changes a group's odds; 1 without hours of its own.

    Parameters
    ----------
    count, hours
        Its touches and the hours they took [h], which may be 0.
    prior
        Distribution of rates over all groups; None where there is none.
    weight
        Weight of the log, 0 to 1: the power of the factor.

    Notes
    -----
    The group's shrunken rate over the mean of all: few hours move it little. In logarithms the
    result is a weighted sum of the model's odds and the log's; `weight` is our choice, and the
    angler's.
    """
    if prior is None or hours <= 0:
        return 1.0
    return float((shrunken_rate(count, hours, prior).mean / prior.mean) ** weight)


def shrunken_rate(count: int, hours: float, prior: RatePrior) -> ShrunkenRate:
    """Return the rate of a group with `count` touches in `hours` [h], which may be 0.

    Notes
    -----
    The gamma distribution is conjugate to the Poisson: the posterior is gamma with shape a + n and
    rate b + h.
    """
    shape, rate = prior.shape + count, prior.hours + hours
    tail = 0.5 * (1.0 - INTERVAL_SHARE)
    low, high = (float(gammaincinv(shape, p) / rate) for p in (tail, 1.0 - tail))
    return ShrunkenRate(shape / rate, low, high, hours / rate)


def _log_likelihood(n: FloatArray, h: FloatArray, shape: float, mean: float) -> float:
    """Return the log of the counts' marginal likelihood, as in `fit_prior`."""
    b = shape / mean  # the gamma's rate parameter [h]
    terms = gammaln(n + shape) - gammaln(shape) - gammaln(n + 1.0)
    terms = terms + shape * np.log(b / (b + h)) + n * np.log(h / (b + h))
    return float(terms.sum())
