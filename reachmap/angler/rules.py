"""Published limits for standing in moving water, for one person.

Every rule gives the most it allows: depth times speed [m2/s], depth [m], speed [m/s]; what a rule
does not limit is infinite. None of them promises anything.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from reachmap.base.units import FOOT_M
from reachmap.base.words import WadeRule
from reachmap.markup.config.own_numbers import LimitNumbers


@dataclass(frozen=True, slots=True)
class WadeLimit(LimitNumbers):
    """The most a rule allows: depth x speed [m2/s], depth [m], speed [m/s]; infinite if silent."""


@dataclass(frozen=True, slots=True)
class Source:
    """Who published a rule, and how it came into this program: what was really seen of it."""

    work: str
    seen: str


_KARVONEN = Source("Karvonen, Hepojoki, Huhta, Louhio 2000, RESCDAM", "from memory; not seen")

SOURCES: Mapping[WadeRule, Source] = {
    WadeRule.TEN: Source(
        "practice of stream gaugers (USGS National Field Manual, ch. A9)",
        'second-hand: a page on crossing streams was read ("Cross or drown", '
        'traditional-knowledge.tk: "less than 10"); the manual itself from memory',
    ),
    WadeRule.FAILURE: Source(
        "Abt, Wittler, Taylor, Love 1989, Water Resources Bulletin 25(4)",
        "formula from memory; the range 0.7-2.1 m2/s of the tests second-hand (Cox 2011, slides, "
        "read)",
    ),
    WadeRule.GOOD: _KARVONEN,
    WadeRule.NORMAL: _KARVONEN,
    WadeRule.POOR: _KARVONEN,
    WadeRule.FLOOD: Source(
        "Cox, Shand, Blacka 2010, AR&R P10/S1/006",
        "numbers from memory; of the report its title pages were read",
    ),
    WadeRule.ADVICE: Source(
        "advice of emergency services",
        "second-hand: quoted in Cox 2011, slides (scribd 143133344), which were read",
    ),
}
"""Source of each rule; docs/wading.md has the same words."""

TEN_FT2_S = 10.0
"""Depth x speed [ft2/s]."""

ADVICE_DEPTH_M, ADVICE_SPEED_M_S = 1.2, 0.8
"""Adults find wading difficult and dangerous when still water exceeds 1.2 m or shallow water
exceeds 0.8 m/s."""

FLOOD_PRODUCT_M2_S, FLOOD_DEPTH_M, FLOOD_SPEED_M_S = 0.6, 1.2, 3.0
"""Low hazard to adults: height x mass over 50 m kg."""
FLOOD_CHILD_PRODUCT_M2_S, FLOOD_CHILD_DEPTH_M, FLOOD_CHILD_MASS = 0.4, 0.5, 50.0
"""The same for children, height x mass of 25 to 50 m kg."""

KARVONEN = {WadeRule.GOOD: (0.006, 0.3), WadeRule.NORMAL: (0.004, 0.2), WadeRule.POOR: (0.002, 0.1)}
"""Slope [m2/s per m kg] and base [m2/s] over height x mass."""


def wade_limit(rule: WadeRule, height_m: float, mass_kg: float) -> WadeLimit:
    """Return the most that one rule allows a person.

    Parameters
    ----------
    rule
        Which rule.
    height_m
        Body height [m], > 0.
    mass_kg
        Body mass [kg], > 0.

    Raises
    ------
    ValueError
        If height or mass is not positive.

    Notes
    -----
    Abt, Wittler, Taylor and Love (1989): (hV) = 0.0929 [exp(0.001906 L M + 1.09)]^2, the product at
    which adults lost their footing, no margin in it: inside the range of 0.7 to 2.1 m2/s quoted
    for those tests. Tests were in flumes, on even ground. What was seen of each: `SOURCES`.
    """
    if not (height_m > 0 and mass_kg > 0):
        msg = f"height and mass must be positive, got {height_m:g} m and {mass_kg:g} kg"
        raise ValueError(msg)
    moment = height_m * mass_kg
    if rule is WadeRule.TEN:
        return WadeLimit(product_m2_s=TEN_FT2_S * FOOT_M**2)
    if rule is WadeRule.FAILURE:
        return WadeLimit(product_m2_s=0.0929 * math.exp(0.001906 * moment + 1.09) ** 2)
    if rule is WadeRule.ADVICE:
        return WadeLimit(depth_m=ADVICE_DEPTH_M, speed_m_s=ADVICE_SPEED_M_S)
    if rule is WadeRule.FLOOD:
        if moment > FLOOD_CHILD_MASS:
            return WadeLimit(FLOOD_PRODUCT_M2_S, FLOOD_DEPTH_M, FLOOD_SPEED_M_S)
        return WadeLimit(FLOOD_CHILD_PRODUCT_M2_S, FLOOD_CHILD_DEPTH_M, FLOOD_SPEED_M_S)
    slope, base = KARVONEN[rule]
    return WadeLimit(product_m2_s=slope * moment + base)


def strictest(rules: Iterable[WadeRule], height_m: float, mass_kg: float) -> WadeLimit:
    """Return what all of `rules` allow together: the least of each limit.

    Raises
    ------
    ValueError
        If no rule is named.
    """
    limits = [wade_limit(rule, height_m, mass_kg) for rule in rules]
    if not limits:
        msg = "at least one wading rule must be named"
        raise ValueError(msg)
    return WadeLimit(
        min(limit.product_m2_s for limit in limits),
        min(limit.depth_m for limit in limits),
        min(limit.speed_m_s for limit in limits),
    )


def strictest_rule(rules: Iterable[WadeRule], height_m: float, mass_kg: float) -> WadeRule:
    """Return the rule with the least depth x speed among `rules`, to name it on the page."""
    return min(rules, key=lambda rule: wade_limit(rule, height_m, mass_kg).product_m2_s)
