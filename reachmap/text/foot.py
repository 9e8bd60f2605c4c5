"""Sentences on the downstream boundary condition: the level at the foot of the reach."""

from __future__ import annotations

import math

from reachmap.base.language import noted, tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.flow.foot_rating import FootHow, FootRule, Refused
from reachmap.text.numbers import both

HOW = {
    FootHow.LOW_WATER: noted(
        "The water's level at the lower end is normal depth at the river's slope, "
        "raised to the low water that the terrain model shows there."
    ),
    FootHow.NORMAL: noted(
        "The water's level at the lower end is normal depth at the river's slope."
    ),
}
"""Sentence for each kind of boundary condition but a rating."""


def foot_words(rule: FootRule, units: UnitSystem) -> str:
    """Return the source of the level at the foot, and why a rating was not used."""
    if rule.how is FootHow.RATING:
        low, high = (flow_words(flow, units) for flow in (rule.low, rule.high))
        return tr(
            "The water's level at the lower end is the gauge's, by its rating from {low} to "
            "{high}; beyond, normal depth moved to meet its end.",
            low=low,
            high=high,
        )
    if rule.refused is None:
        return tr(HOW[rule.how])
    return tr(
        "{how} The gauge's rating was not used: {rule}.",
        how=tr(HOW[rule.how]),
        rule=_why(rule, units),
    )


def _why(rule: FootRule, units: UnitSystem) -> str:
    """Return why a rating was not used."""
    if rule.refused is Refused.LOCAL:
        return tr("no terrain model gives heights in the datum of its zero")
    if rule.refused is Refused.FAR:
        return tr("the gauge stands too far from the lower end (above_foot)")
    if math.isnan(rule.apart_m):
        return tr("no normal depth could be found to hold it against")
    side = tr("above") if rule.apart_m > 0 else tr("below")
    return tr(
        "its levels lie {apart} {side} normal depth: look at zero and the datum",
        apart=both("depth", abs(rule.apart_m), units),
        side=side,
    )
