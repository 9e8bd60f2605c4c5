"""Symbol names in GPX: predefined sets, overridden by the angler's own table.

GPX 1.1 (TopoGrafix 2004) leaves `sym` free and recommends the spelling used by the device; every
maker has a list of its own. None of those is used: the sets are plain English, and the names of a
particular device go into `[gps]` of reach.toml. A device shows a plain flag for an unknown name, so
the names of places must identify their kind.
"""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.markup.plan_parts import Gps

WORDS: Mapping[str, str] = {
    "access": "way in",
    "hazards": "danger",
    "asks": "worth a note",
    "runs": "run",
    "water": "water",
    "structure": "lie",
    "day": "today",
}
"""Plain words of our own."""

NOUNS: Mapping[str, str] = {
    "access": "Parking",
    "hazards": "Danger",
    "asks": "Note",
    "runs": "Flag",
    "water": "Water",
    "structure": "Fish",
    "day": "Flag",
}
"""Single English nouns, capitalised, that describe a picture (our choice)."""

SETS: Mapping[str, Mapping[str, str]] = {"words": WORDS, "nouns": NOUNS, "none": {}}
"""Each set by its name in reach.toml."""

TYPES: Mapping[str, str] = {
    "access": "way in",
    "hazards": "hazard",
    "asks": "worth a note",
    "runs": "run",
    "water": "water",
    "structure": "lie",
    "day": "day",
    "lanes": "travel lane of fish",
    "wade": "outer limit of easy wading",
}
"""`type` of places and lines, for programs that filter by it."""


def symbols_of(gps: Gps) -> dict[str, str]:
    """Return the symbol of each group that has one."""
    return {**SETS[gps.symbols], **dict(gps.own_symbols)}
