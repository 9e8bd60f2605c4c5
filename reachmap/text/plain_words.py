"""Single words that drawing, kit and stages hand on, and their meanings, as a reader sees them."""

from __future__ import annotations

from reachmap.base.language import tr
from reachmap.base.words import (
    AccessKind,
    Cast,
    Confidence,
    Cover,
    HazardKind,
    LoopSide,
    Season,
    Side,
    TipWant,
    WadeGrade,
    WadeRule,
    WaterKind,
    Word,
)
from reachmap.base.words_runs import Shut

SPOKEN: tuple[type[Word], ...] = (
    AccessKind,
    Cast,
    Confidence,
    Cover,
    HazardKind,
    LoopSide,
    Season,
    Side,
    TipWant,
    WadeGrade,
    WadeRule,
)
"""Enumerations whose values reach a reader as they stand: all of them are in the catalogue."""

MEANT: tuple[type[Word], ...] = (AccessKind, Confidence, HazardKind, Shut, WaterKind)
"""Enumerations whose meanings reach a reader."""


def in_words(word: object) -> str:
    """Return a word of the drawing, the kit or a stage as a reader sees it.

    What is not in the catalogue, like a name that the user gave, stays as it is.
    """
    return tr(str(word))


def meaning_words(word: Word) -> str:
    """Return what a word means."""
    return tr(word.meaning)
