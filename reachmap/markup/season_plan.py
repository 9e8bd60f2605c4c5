"""The seasons' limits in reach.toml: depth and speed of water that holds fish."""

from __future__ import annotations

import math

from reachmap.base.quoting import quoted
from reachmap.base.words import Season
from reachmap.markup.defaults import LIMITS
from reachmap.markup.layers import Quantity
from reachmap.markup.model import SeasonLimits
from reachmap.markup.reach_toml import Book, Section

DEPTH_LIMITS = (0.0, 6.0)
SPEED_LIMITS = (0.0, 5.0)
"""Depths [m] and speeds [m/s] beyond these hold nothing one wades for (our choice)."""


def read_seasons(book: Book) -> tuple[SeasonLimits, tuple[SeasonLimits, ...]]:
    """Return the season's limits, and own limits of other seasons; usual ones where none are given.

    `[season]` holds those of the season it names; `[season.summer]` those of summer whenever it is
    asked for.
    """
    section = book.section("season")
    if not section.has("name"):
        book.notes.append("No season is given: winter is taken.")
    season = section.word("name", Season, Season.WINTER)
    found: dict[Season, tuple[SeasonLimits, list[str]]] = {}
    for one in Season:
        told = section.told.get(one.value)
        if section.has(one.value) and not isinstance(told, dict):
            section.fault(one.value, f"{one} is not a section", f"Write it as [season.{one}]")
        own = Section(book, f"season.{one}", 0, told if isinstance(told, dict) else {})
        given = [name for name in ("depth", "speed") if own.has(name)]
        if one is season:
            for name in [name for name in given if section.has(name)]:
                fix = f"Keep it in [season] or in [season.{one}]"
                own.fault(name, f"{name} is given twice for {one}", fix)
        found[one] = _limits(one, own, section if one is season else own)
        own.done()
        if one is not season and not given:
            del found[one]
    section.done()
    limits, usual = found.pop(season)
    if usual:
        book.notes.append(
            f"The {season} limits of {' and '.join(usual)} are a guide's choice, "
            "no published source: set your own under [season]."
        )
    return limits, tuple(other for other, _ in found.values())


def _limits(season: Season, own: Section, other: Section) -> tuple[SeasonLimits, list[str]]:
    """Return a season's limits out of either section, and which of them are the usual ones."""
    usual = LIMITS[season]
    depth = _pair(own, "depth", Quantity.LENGTH, DEPTH_LIMITS)
    depth = depth or _pair(other, "depth", Quantity.LENGTH, DEPTH_LIMITS)
    speed = _pair(own, "speed", Quantity.SPEED, SPEED_LIMITS)
    speed = speed or _pair(other, "speed", Quantity.SPEED, SPEED_LIMITS)
    missing = [name for name, pair in (("depth", depth), ("speed", speed)) if pair is None]
    depth = depth or (usual.depth_low_m, usual.depth_high_m)
    speed = speed or (usual.speed_low_m_s, usual.speed_high_m_s)
    return SeasonLimits(season, *depth, *speed), missing


def _pair(
    section: Section, key: str, quantity: Quantity, limits: tuple[float, float]
) -> tuple[float, float] | None:
    """Return a low and a high [SI]; None where they are missing or at fault."""
    if not section.has(key):
        return None
    given = section.told[key]
    if not isinstance(given, list) or len(given) != 2:
        fix = f"Give least and most, like {key} = [1.5, 5]"
        section.fault(key, f"{quoted(given)} is not a pair of numbers", fix)
        return None
    low, high = (section.one_number(key, item, quantity, limits) for item in given)
    if math.isnan(low) or math.isnan(high):
        return None
    if low >= high:
        section.fault(key, "the least is not below the most", "Give the smaller number first")
        return None
    return low, high
