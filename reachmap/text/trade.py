"""Depth and speed in the words of the trade: how far up the body, and against a walk."""

from __future__ import annotations

import math

from reachmap.base.language import noted, tr
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import length_words, speed_words

BODY: tuple[tuple[float, str], ...] = (
    (0.17, noted("shin deep")),
    (0.285, noted("knee deep")),
    (0.41, noted("mid-thigh deep")),
    (0.53, noted("hip deep")),
    (0.63, noted("waist deep")),
)
"""Share of a person's height up to which a word holds. Knee 0.285 and hip 0.530 after Drillis and
Contini (1966), from memory; shin and mid-thigh lie between their neighbours, the waist a hand above
the hip (our choice)."""

BEYOND = noted("over the waist")

PACES: tuple[tuple[float, str], ...] = (
    (0.25, noted("hardly moving")),
    (0.55, noted("a slow stroll")),
    (1.3, noted("walking pace")),
    (2.0, noted("faster than a walk")),
)
"""Speed [m/s] up to which a word holds; common practice, no published source."""

RUNNING = noted("at a run")


def depth_in_words(depth_m: float, height_m: float, units: UnitSystem) -> str:
    """Return a depth stood in, like ``knee deep (1.6 ft)``; the word is never too shallow.

    Parameters
    ----------
    depth_m
        Depth with its margin [m], >= 0; NaN unknown.
    height_m
        The person's [m], > 0.
    units
        The reach folder's units.

    Examples
    --------
    >>> depth_in_words(0.5, 1.78, UnitSystem.US)
    'knee deep (1.6 ft)'
    """
    if not math.isfinite(depth_m):
        return tr("how deep is not known")
    share = depth_m / height_m
    word = next((tr(word) for most, word in BODY if share <= most), tr(BEYOND))
    return f"{word} ({length_words(depth_m, units)})"


def pace_in_words(speed_m_s: float, units: UnitSystem) -> str:
    """Return a speed of the water, like ``walking pace (2.6 ft/s)``; never too slow a word.

    Examples
    --------
    >>> pace_in_words(0.8, UnitSystem.US)
    'walking pace (2.6 ft/s)'
    """
    if not math.isfinite(speed_m_s):
        return tr("pace not known")
    word = next((tr(word) for most, word in PACES if speed_m_s <= most), tr(RUNNING))
    return f"{word} ({speed_words(speed_m_s, units)})"
