"""Limits of a device: things beyond them are left out, and the file's description says which.

Hazards are never left out and access points last, for safety.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from shapely import LineString

from reachmap.markup.plan_parts import Gps
from reachmap.outputs.handheld.content import (
    DESCRIPTION_LENGTH,
    FileContent,
    Route,
    Spot,
    Things,
    Trail,
)
from reachmap.text.angler_text import clean_text
from reachmap.text.handheld import lost_words

FIRST = ("hazards", "access", "runs", "structure", "water", "asks")
"""Groups of places in order of priority."""

LINES_FIRST = ("wade", "lanes")
"""Groups of lines in order of priority."""

COARSER = 2e-5
"""Initial tolerance for simplifying lines with too many points [degrees], about 2 m."""

Thing = TypeVar("Thing", Spot, Trail)


def within_limits(content: FileContent, gps: Gps) -> FileContent:
    """Return a file's content within a device's limits; the description names what was lost."""
    spots = [one for one in content.all() if isinstance(one, Spot)]
    trails = [one for one in content.all() if isinstance(one, Trail)]
    kept = {id(one) for one in _kept(spots, FIRST, gps.most_places)}
    kept |= {id(one) for one in _kept(trails, LINES_FIRST, gps.most_lines)}
    every: list[Spot | Trail] = [*spots, *trails]
    lost = Counter(one.group for one in every if id(one) not in kept)
    thinned = sum(_points(one) > gps.most_points > 0 for one in trails if id(one) in kept)
    if not lost and not thinned:
        return content

    def fit(things: Things) -> Things:
        return tuple(
            _thinned(one, gps.most_points) if isinstance(one, Trail) else one
            for one in things
            if isinstance(one, Route) or id(one) in kept
        )

    said = lost_words(lost, thinned)
    return replace(
        content,
        about=clean_text(f"{said} {content.about}", DESCRIPTION_LENGTH),
        top=fit(content.top),
        parts=tuple((title, fit(things)) for title, things in content.parts),
    )


def _kept(things: Sequence[Thing], order: Sequence[str], most: int) -> list[Thing]:
    """Return the first `most` things, by priority of their group, then in order; 0 keeps all."""
    if not most or len(things) <= most:
        return list(things)
    ranked = sorted(things, key=lambda one: order.index(one.group))
    must = sum(one.group == "hazards" for one in things)
    return ranked[: max(most, must)]


def _points(trail: Trail) -> int:
    """Return the number of points of a line."""
    return sum(map(len, trail.parts))


def _thinned(trail: Trail, most: int) -> Trail:
    """Return a line simplified to at most `most` points; every part keeps at least two."""
    tolerance = COARSER
    while most and _points(trail) > max(most, 2 * len(trail.parts)):
        parts = tuple(
            tuple((x, y) for x, y in LineString(part).simplify(tolerance).coords)
            for part in trail.parts
        )
        trail, tolerance = replace(trail, parts=parts), 2 * tolerance
        if tolerance > 1.0:
            break
    return trail
