"""Spans of ranks and odds of a flow's runs: readings of the fish, and doubt of the map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.angler.interception.settings import RankSettings
from reachmap.base.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Spans:
    """What can be said of the order of a flow's runs, arrays of shape (runs,).

    Parameters
    ----------
    low, high
        Best and worst rank, 1 the first.
    odds_low, odds_high
        Least and most of the odds over those of the best run, 0 to 100; NaN where nothing is met.
    """

    low: IntArray
    high: IntArray
    odds_low: FloatArray
    odds_high: FloatArray


def rank_spans(rates: FloatArray, places: IntArray, settings: RankSettings) -> Spans:
    """Return the spans in which ranks and odds lie with a chance of `inside`.

    Parameters
    ----------
    rates
        Odds an hour of each run by each reading of the fish [1/h], shape (runs, readings).
    places
        How many places each is fished from, >= 1, shape (runs,).
    settings
        How far the map's odds may be off, and how much of the doubt a span holds.

    Notes
    -----
    The true odds of a run are drawn `draws` times: with `gone_chance` it is not there, else they
    are the map's times a log-normal factor. Ranks are counted over all draws and readings, and the
    middle `inside` of them is the span, wide enough to hold the map's own order.
    """
    count = len(rates)
    if not count:
        none, blank = np.zeros(0, dtype=np.int32), np.zeros(0)
        return Spans(none, none, blank, blank)
    rng = np.random.default_rng(settings.seed)
    shape = (settings.draws, count, 1)
    off = settings.log_sd * rng.standard_normal(shape)
    there = rng.random(shape) >= gone_chance(places, settings)[:, None]
    own = rates.mean(axis=1)[:, None]
    drawn = there * rates * np.exp(off)
    tails = 0.5 * (1 - settings.inside), 0.5 * (1 + settings.inside)
    ranked = np.quantile(_ranks(drawn), tails, axis=(0, 2), method="inverted_cdf")
    odds = np.quantile(_of_best(drawn), tails, axis=(0, 2))
    rank, best = _ranks(own[None])[0, :, 0], _of_best(own[None])[0, :, 0]
    return Spans(
        np.minimum(ranked[0], rank).astype(np.int32),
        np.maximum(ranked[1], rank).astype(np.int32),
        np.minimum(odds[0], best),
        np.maximum(odds[1], best),
    )


def gone_chance(places: IntArray, settings: RankSettings) -> FloatArray:
    """Return the chance that nobody can truly fish a run from where it is mapped, shape (runs,)."""
    return np.asarray(settings.gone_one ** np.sqrt(places))


def overlapping(low: Sequence[int], high: Sequence[int]) -> BoolArray:
    """Return which runs cannot be told apart, shape (runs, runs): their spans of ranks overlap.

    A rank of 0 is none, and overlaps with nothing.
    """
    first, last = np.asarray(low)[:, None], np.asarray(high)[:, None]
    both = (first > 0) & (first.T > 0)
    return np.asarray(both & (first <= last.T) & (last >= first.T))


def _ranks(rates: FloatArray) -> IntArray:
    """Return the rank of each run, 1 the first, shape (draws, runs, readings)."""
    return np.asarray((-rates).argsort(axis=1, kind="stable").argsort(axis=1) + 1, dtype=np.int32)


def _of_best(rates: FloatArray) -> FloatArray:
    """Return rates over those of the best run, 0 to 100, same shape; 0 where nothing is met."""
    best = rates.max(axis=1, keepdims=True)
    return np.asarray(np.minimum(100.0 * rates / np.where(best > 0, best, np.inf), 100.0))
