"""Members of the flow: equally likely courses it may take; days are ranked over them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.stats import norm

from reachmap.base.arrays import FloatArray
from reachmap.gauge.recession import LEADS
from reachmap.gauge.recession import SURE as BAND_SHARE
from reachmap.gauge.series import DAY
from reachmap.planner.outlook import CODES, Outlook, Source

SPREAD_MEMBERS = 20
"""Number of members drawn from a band without a better source; our choice, 10-40."""


class MembersBasis(StrEnum):
    """Source of the members."""

    READ = "read"
    FORECASTS = "forecasts"
    HINDCAST = "hindcast"
    BAND = "band"


@dataclass(frozen=True, slots=True)
class Members:
    """Members of the flow [m3/s] at the outlook's hours, shape (members, hours); NaN unknown.

    `basis` is their source, `storms` the number of storms of the record behind them (0 for another
    basis).
    """

    flow: FloatArray
    basis: MembersBasis
    storms: int = 0


def make_members(
    outlook: Outlook, forecasts: Sequence[Outlook], misses: FloatArray | None, storms: int
) -> Members:
    """Return the members of the flow.

    Parameters
    ----------
    outlook
        The flow with its band.
    forecasts
        Outlooks of the members of an ensemble on the same hours; none where there is no ensemble.
    misses
        Errors of the recession on the river's record, from `gauge.hindcast.members_of`; None where
        the record holds too few storms.
    storms
        Number of storms of the record that were hindcast.

    Notes
    -----
    The recession is multiplied by the errors it had on past storms, rain included. A forecast
    without members, and a recession with too short a record, is spread over its band as if ln flow
    were normal, each member at one quantile in all hours: such a band has no rain in it.
    """
    if len(forecasts) > 1:
        return Members(np.stack([one.flow for one in forecasts]), MembersBasis.FORECASTS)
    falls = outlook.source == CODES[Source.FALL]
    guess = falls | (outlook.source == CODES[Source.FORECAST])
    if not guess.any():
        return Members(outlook.flow[None, :], MembersBasis.READ)
    if misses is not None and falls.any() and not (guess & ~falls).any():
        days = (outlook.times - outlook.last) / DAY
        leads = np.arange(LEADS + 1.0)
        # errors are given at whole days of lead, 0 at the last reading
        off = np.stack([np.interp(days, leads, row, left=0.0) for row in misses])
        flow = np.where(falls, outlook.flow * np.exp(off), outlook.flow)
        return Members(np.asarray(flow), MembersBasis.HINDCAST, storms)
    # Normal quantiles in units of the band's half-width, so that +-1 is its upper or lower bound;
    # the two sides of a skewed band are scaled apart.
    share = (np.arange(SPREAD_MEMBERS) + 0.5) / SPREAD_MEMBERS
    scores = norm.ppf(share) / norm.ppf(0.5 + BAND_SHARE / 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        up = np.log(outlook.high / outlook.flow)
        down = np.log(outlook.flow / np.maximum(outlook.low, 1e-3 * outlook.flow))
    off = np.where(scores[:, None] > 0, scores[:, None] * up, scores[:, None] * down)
    flow = np.where(guess, outlook.flow * np.exp(off), outlook.flow)
    return Members(np.asarray(flow), MembersBasis.BAND)
