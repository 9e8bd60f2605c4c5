"""The courses the flow may take, each a member and equally likely; their odds rank the days."""

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
"""Courses drawn from a band where nothing better tells them; our choice, 10-40."""


class MembersBasis(StrEnum):
    """What the courses were drawn from."""

    READ = "read"
    FORECASTS = "forecasts"
    HINDCAST = "hindcast"
    BAND = "band"


@dataclass(frozen=True, slots=True)
class Members:
    """Courses of the flow [m3/s] at the outlook's hours, shape (members, hours); NaN unknown.

    `basis` says what they were drawn from, `storms` how many storms of the record they rest on (0
    for another basis).
    """

    flow: FloatArray
    basis: MembersBasis
    storms: int = 0


def make_members(
    outlook: Outlook, forecasts: Sequence[Outlook], misses: FloatArray | None, storms: int
) -> Members:
    """Return the courses the flow may take.

    Parameters
    ----------
    outlook
        The flow that is told, with its band.
    forecasts
        Outlooks of the members of an ensemble on the same hours; none where there is no ensemble.
    misses
        Errors of the river's own fall on its record, as of `gauge.hindcast.members_of`; None where
        the record holds too few storms.
    storms
        How many storms the record has been tried on.

    Notes
    -----
    The river's own fall is multiplied by the errors it had on past storms, rain included. A
    forecast without members, and a fall with too short a record, is spread over its band as if
    ln flow were normal, all hours alike high or low: such a band knows no rain.
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
        off = np.stack([np.interp(days, leads, row, left=0.0) for row in misses])
        flow = np.where(falls, outlook.flow * np.exp(off), outlook.flow)
        return Members(np.asarray(flow), MembersBasis.HINDCAST, storms)
    share = (np.arange(SPREAD_MEMBERS) + 0.5) / SPREAD_MEMBERS
    scores = norm.ppf(share) / norm.ppf(0.5 + BAND_SHARE / 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        up = np.log(outlook.high / outlook.flow)
        down = np.log(outlook.flow / np.maximum(outlook.low, 1e-3 * outlook.flow))
    off = np.where(scores[:, None] > 0, scores[:, None] * up, scores[:, None] * down)
    flow = np.where(guess, outlook.flow * np.exp(off), outlook.flow)
    return Members(np.asarray(flow), MembersBasis.BAND)
