"""Words for symbols in GPX: sets under plain names, and the angler's own table before them.

GPX 1.1 (TopoGrafix 2004) leaves `sym` free and asks for the spelling that the device itself shows;
every maker has a list of its own. None of those is here: the sets are plain English, and what a
device really shows goes into `[gps]` of reach.toml. A device that does not know a word shows a
plain flag for it, so that names tell the kind by themselves.
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
"""Single English nouns, with a capital: what one would call the picture (our choice)."""

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
"""`type` of places and lines: how programs that filter by it tell the kinds apart."""


def symbols_of(gps: Gps) -> dict[str, str]:
    """Return the symbol of each group; a group without one is not in it."""
    return {**SETS[gps.symbols], **dict(gps.own_symbols)}
