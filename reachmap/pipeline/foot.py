"""A gauge's rating as the boundary condition at the foot of the reach, and its report entry."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

import numpy as np
import xarray as xr

from reachmap.base.words import UnitSystem
from reachmap.flow.foot_rating import FootRule, foot_rule, unrated_rule
from reachmap.flow.sections import sections_of
from reachmap.flow.settings import FlowSettings, FootRating
from reachmap.gauge.model import Gauge
from reachmap.gauge.record import flow_of_stage
from reachmap.text.foot import foot_words

POINTS = 200
"""Stages at which a rating is tabulated: a segment bends little between two."""


def rating_at_foot(gauge: Gauge) -> FootRating | None:
    """Return the rating as levels by flow; None unless rating, zero and gauge place are given.

    The shift in force is included.
    """
    if not gauge.segments or not np.isfinite(gauge.zero_m + gauge.above_foot_m):
        return None
    ends = np.concatenate([piece.stage_m for piece in gauge.segments])
    reach = float(np.ptp(ends))
    stages = np.unique(
        np.r_[ends, np.linspace(ends.min() - reach / 4, ends.max() + reach / 4, POINTS)]
    )
    flows = np.array([flow_of_stage(gauge, float(stage)) for stage in stages])
    known = np.isfinite(flows) & (flows > 0)
    stages, flows = stages[known], flows[known]
    rising = np.r_[True, np.diff(np.maximum.accumulate(flows)) > 0][: flows.size]
    if rising.sum() < 2:
        return None
    return FootRating(
        tuple(flows[rising].tolist()),
        tuple((stages[rising] + gauge.zero_m).tolist()),
        float(gauge.above_foot_m),
    )


def foot_report(terrain: xr.Dataset, settings: FlowSettings, units: UnitSystem) -> dict[str, Any]:
    """Return the source of the level at the foot, as plain JSON values and in words."""
    if settings.foot_rating is None:
        rule = FootRule(unrated_rule(terrain))
    else:
        rule = foot_rule(terrain, sections_of(terrain, settings), settings)
    return {**_plain(rule), "words": foot_words(rule, units)}


def _plain(rule: FootRule) -> dict[str, Any]:
    """Return a rule as JSON values; NaN becomes null."""
    return {
        name: None if isinstance(value, float) and math.isnan(value) else value
        for name, value in asdict(rule).items()
    }
