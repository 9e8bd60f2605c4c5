"""Odds, best stretch and minutes of a run, from its row of the table of runs by flow."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

ODDS = "odds_hour"
"""Column of the table of runs by flow with the odds of a fish an hour, where it has them."""


def offered(row: Mapping[str, Any], score: float, best_odds: float) -> tuple[float, float, float]:
    """Return a run's `RunAt.offer` at a flow, 0 to 100, and depth [m], speed [m/s] of its water.

    Parameters
    ----------
    row
        Of the table of runs by flow.
    score
        The run's score there.
    best_odds
        Of `best_odds_of`. Where it is a number the offer is the row's odds an hour as a share of
        it, and depth and speed are NaN, since those odds hold them already; else the offer is the
        score.
    """
    if best_odds > 0:
        return 100 * _odds_of(row) / best_odds, math.nan, math.nan
    return score, number_in(row.get("depth_m")), number_in(row.get("speed_m_s"))


def best_stretch(row: Mapping[str, Any], minutes: float) -> tuple[float, float]:
    """Return the time to fish a run's prime stretch once [min] and its length [m].

    `minutes` is the time for the whole run, which counts where there is no prime stretch; its
    length is then NaN.
    """
    prime, start, end = (
        number_in(row.get(f"prime_{name}")) for name in ("minutes", "start_m", "end_m")
    )
    if not math.isfinite(prime):
        return float(minutes), math.nan
    return prime, end - start


def best_odds_of(rows: Sequence[Mapping[str, Any]]) -> float:
    """Return the best odds of a fish an hour of any run at any flow; NaN where there are none."""
    odds = [_odds_of(row) for row in rows]
    return max((one for one in odds if math.isfinite(one)), default=math.nan)


def _odds_of(row: Mapping[str, Any]) -> float:
    """Return a row's odds an hour, times the factor of the angler's log."""
    return number_in(row.get(ODDS)) * float(row.get("log_factor", 1.0))


def number_in(value: Any) -> float:
    """Return a report's number; NaN for null."""
    return math.nan if value is None else float(value)
