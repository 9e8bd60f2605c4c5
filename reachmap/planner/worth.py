"""Worth of runs at the hours of a day, along the central flow or its members."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.clarity import SURE
from reachmap.planner.clear_ahead import ClearAhead
from reachmap.planner.facts import RunFacts
from reachmap.planner.holding import HoldingSettings, hold_share
from reachmap.planner.hours import LIMB_PER_DAY, Hours
from reachmap.planner.score import (
    ScoreSettings,
    at_flows,
    clear_share,
    drop_share,
    fresh_share,
    light_share,
    rise_share,
    tide_share,
    warmth_share,
)

GOLDEN = (math.sqrt(5) - 1) / 2
"""Fractional parts of its multiples are spread evenly over 0 to 1."""


@dataclass(frozen=True, slots=True)
class WorthSettings:
    """Settings of the score, season of the clarity band, and the least score of a run in shape."""

    score: ScoreSettings
    holding: HoldingSettings
    season: str
    shape_score: float


@dataclass(frozen=True, slots=True)
class Worth:
    """Worth of runs at each hour, and the shares of it that are the same for all runs.

    Parameters
    ----------
    value
        0 to 100, shape (runs, ..., hours); NaN where the flow's score is not known.
    shape
        Whether a run is in shape: by flow, clarity and a rise; same shape.
    clear, rise, drop, fresh, warm
        Shares left by clarity, a rise, a drop, the days since it came into shape, and the water's
        temperature, 0 to 1, shape (..., hours).
    share
        Product of these and the shares of light and tide.
    """

    value: FloatArray
    shape: BoolArray
    clear: FloatArray
    rise: FloatArray
    drop: FloatArray
    fresh: FloatArray
    warm: FloatArray
    share: FloatArray


def worth_of(
    runs: Sequence[RunFacts],
    hours: Hours,
    flow: FloatArray,
    growth: FloatArray,
    ahead: ClearAhead | None,
    settings: WorthSettings,
    off: FloatArray | None = None,
) -> Worth:
    """Return the worth of runs along one course of the flow, or several members.

    Parameters
    ----------
    runs
        The runs.
    hours
        The day's hours.
    flow, growth
        Flow [m3/s] and growth of its logarithm [1/d], shape (..., hours); NaN unknown.
    ahead
        Clarity at any flow of the day; None where nothing is known.
    settings
        The rules, the season and the least score in shape.
    off
        Error of ln clarity of each member, shape (..., 1), from `clarity_off`; None for none.

    Notes
    -----
    The time since a rise is that of the central flow: a member with rain counts as rising, and is
    not fresh again within the outlook.
    """
    rules = settings.score
    seen = np.full(flow.shape, np.nan)
    if ahead is not None:
        seen = ahead.at(flow, growth > LIMB_PER_DAY)
        if flow.ndim == 1:
            noted = hours.clarity_m
            seen = np.where(np.isfinite(noted), noted, seen)
    if off is not None:
        seen = seen * np.exp(off)
    clear = clear_share(seen, rules, settings.season)
    rise, drop = rise_share(growth, rules), drop_share(growth, rules)
    behind = np.isfinite(hours.fresh.since_peak) & np.isnan(hours.fresh.since_fishable)
    fresh = np.where(
        hours.fresh.rising | behind, 1.0, fresh_share(hours.fresh.since_fishable, rules)
    )
    warm = warmth_share(hours.water_c, rules)
    light = light_share(hours.sun_hours, seen, rules, settings.season)
    share = clear * rise * drop * fresh * warm * light * tide_share(hours.tide_rises, rules)
    value = np.empty((len(runs), *flow.shape))
    shape = np.zeros((len(runs), *flow.shape), dtype=bool)
    for number, run in enumerate(runs):
        depth, speed = (at_flows(run, name, flow, rules) for name in ("depth_m", "speed_m_s"))
        held = hold_share(depth, speed, seen, hours.water_c, settings.holding)
        value[number] = at_flows(run, "offer", flow, rules) * held * share
        with np.errstate(invalid="ignore"):
            shape[number] = (
                at_flows(run, "score", flow, rules) * clear * rise >= settings.shape_score
            )
    return Worth(value, shape, clear, rise, drop, np.asarray(fresh), warm, share)


def clarity_off(hours: Hours, count: int) -> FloatArray:
    """Return the error of ln clarity of each of `count` members, shape (count, 1).

    Notes
    -----
    Evenly spaced quantiles of a normal whose 80 % band is that of the day's ln clarity, assigned
    to the members in the order of the fractional parts of multiples of the golden ratio, so that
    they are not correlated with the order of the flows. Zero where the clarity is not known.
    """
    spans = [
        math.log(one.high / one.low)
        for one in hours.clarity
        if math.isfinite(one.metres) and one.low > 0
    ]
    sigma = float(np.median(spans)) / (2 * norm.ppf(0.5 + SURE / 2)) if spans else 0.0
    order = np.argsort(np.arange(1, count + 1) * GOLDEN % 1.0)
    rank = np.empty(count)
    rank[order] = np.arange(count)
    return np.asarray(sigma * norm.ppf((rank + 0.5) / count))[:, None]


def fishable_flows(
    runs: Sequence[RunFacts], flow: FloatArray, ahead: ClearAhead | None, settings: WorthSettings
) -> BoolArray:
    """Return the mask of flows on a fall [m3/s] with a run in shape and water clear enough.

    Without a known clarity the flow alone decides.
    """
    rules = settings.score
    clear = np.ones(flow.shape)
    if ahead is not None:
        clear = clear_share(ahead.at(flow, np.zeros(flow.shape, bool)), rules, settings.season)
    best = np.full(flow.shape, -np.inf)
    for run in runs:
        best = np.fmax(best, at_flows(run, "score", flow, rules))
    # water that is too clear has cleared, too: only the lower bound counts here
    low = rules.band(settings.season)[0]
    if ahead is not None:
        cleared = ahead.at(flow, np.zeros(flow.shape, bool)) >= low
        clear = np.where(cleared, 1.0, clear)
    return np.asarray((best >= settings.shape_score) & (clear >= rules.fishable_share))
