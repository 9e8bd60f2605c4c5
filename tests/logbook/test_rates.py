"""Rates drawn together: against a printed table, a reference library and simulated logs."""

import math

import numpy as np
import pytest
from scipy import stats

from reachmap.logbook import rates
from reachmap.logbook.rates import FEWEST_GROUPS, RatePrior, fit_prior, log_factor, shrunken_rate

CLAIMS = {0: 7840, 1: 1317, 2: 239, 3: 42, 4: 14, 5: 4, 6: 4, 7: 1}
"""Claims of 9,461 policies in a year. From memory: Efron and Hastie (2016), Computer Age
Statistical Inference, table 6.1."""
EXPECTED = {0: 0.164, 1: 0.398, 2: 0.633, 3: 0.87, 4: 1.10, 5: 1.34, 6: 1.57}
"""Expected claims of the next year by the gamma prior, from memory of the same table."""


@pytest.fixture(scope="module")
def claims():
    """Return the prior fitted to the printed counts."""
    counts = np.repeat(list(CLAIMS), list(CLAIMS.values()))
    return fit_prior(counts, np.ones(counts.size))


@pytest.mark.table
@pytest.mark.parametrize(("count", "expected"), EXPECTED.items())
def test_expected_claims_are_those_of_the_printed_table(claims, count, expected):
    got = shrunken_rate(count, 1.0, claims).mean
    assert got == pytest.approx(expected, abs=0.006)


def test_the_fitted_likelihood_is_the_negative_binomial_s():
    n, h = np.array([0.0, 2.0, 5.0]), np.array([1.0, 4.0, 2.5])
    shape, mean = 0.8, 0.6
    b = shape / mean
    reference = stats.nbinom.logpmf(n, shape, b / (b + h)).sum()
    assert rates._log_likelihood(n, h, shape, mean) == pytest.approx(reference)


def test_the_prior_of_a_simulated_log_is_found_again():
    draw = np.random.default_rng(4)
    true = RatePrior(2.0, 0.5)
    hours = draw.uniform(1, 20, 600)
    counts = draw.poisson(draw.gamma(true.shape, true.mean / true.shape, 600) * hours)
    found = fit_prior(counts, hours)
    assert found.mean == pytest.approx(true.mean, rel=0.08)
    assert found.shape == pytest.approx(true.shape, rel=0.25)


def test_drawn_together_rates_are_nearer_to_the_truth_than_bare_ones():
    # Stein's gain, on rates whose truth is known
    draw = np.random.default_rng(9)
    truth = draw.gamma(2.0, 0.25, 200)
    hours = draw.uniform(0.5, 4, 200)
    counts = draw.poisson(truth * hours)
    prior = fit_prior(counts, hours)
    shrunk = np.array([shrunken_rate(n, h, prior).mean for n, h in zip(counts, hours, strict=True)])
    assert ((shrunk - truth) ** 2).mean() < 0.6 * ((counts / hours - truth) ** 2).mean()


def test_the_interval_holds_the_truth_as_often_as_it_says():
    draw = np.random.default_rng(2)
    prior = RatePrior(1.5, 0.4)
    truth = draw.gamma(prior.shape, prior.mean / prior.shape, 4000)
    hours = draw.uniform(0.5, 10, 4000)
    held = 0
    for rate, h, n in zip(truth, hours, draw.poisson(truth * hours), strict=True):
        found = shrunken_rate(int(n), float(h), prior)
        held += found.low <= rate <= found.high
    assert held / 4000 == pytest.approx(rates.INTERVAL_SHARE, abs=0.02)


def test_blank_hours_lower_a_rate_and_no_hours_leave_it_to_the_others():
    prior = RatePrior(1.0, 0.5)
    none, blank, long_blank = (shrunken_rate(0, h, prior) for h in (0.0, 4.0, 40.0))
    assert none.mean == pytest.approx(prior.mean)
    assert none.own_share == 0.0
    assert none.mean > blank.mean > long_blank.mean > 0
    # four hours weigh twice as much as the two hours all groups are worth
    assert blank.own_share == pytest.approx(4.0 / 6.0)


def test_few_groups_and_blank_logs():
    few = fit_prior([1, 0], [2.0, 2.0])
    assert (few.shape, few.mean) == (rates.SHAPE, pytest.approx(0.25))
    assert fit_prior([0] * 9, [1.0] * 9) is None
    assert fit_prior([], []) is None
    same = fit_prior([5] * FEWEST_GROUPS, [10.0] * FEWEST_GROUPS)
    assert math.isfinite(same.shape)
    assert shrunken_rate(5, 10.0, same).mean == pytest.approx(0.5, rel=1e-3)


@pytest.mark.parametrize(("counts", "hours"), [([1], [0.0]), ([-1], [2.0]), ([1, 2], [1.0])])
def test_counts_and_hours_that_make_no_sense_are_refused(counts, hours):
    with pytest.raises(ValueError, match="some hours"):
        fit_prior(counts, hours)


def test_the_log_moves_a_run_by_its_drawn_rate_to_the_power_of_its_weight():
    prior = RatePrior(1.0, 0.5)
    good = shrunken_rate(6, 4.0, prior).mean / prior.mean
    assert log_factor(6, 4.0, prior, 1.0) == pytest.approx(good)
    assert log_factor(6, 4.0, prior, 0.5) == pytest.approx(math.sqrt(good))
    assert log_factor(6, 4.0, prior, 0.0) == 1.0
    assert log_factor(0, 40.0, prior, 1.0) < log_factor(0, 1.0, prior, 1.0) < 1.0 < good


def test_a_log_that_says_nothing_of_a_run_leaves_it_where_it_is():
    assert log_factor(0, 0.0, RatePrior(1.0, 0.5), 1.0) == 1.0
    assert log_factor(3, 0.0, RatePrior(1.0, 0.5), 1.0) == 1.0  # nobody wrote a time down
    assert log_factor(3, 2.0, None, 1.0) == 1.0
