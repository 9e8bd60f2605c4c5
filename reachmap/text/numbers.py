"""Numbers as a person reads them in notes and on cards, in the units of the reach folder."""

from __future__ import annotations

import math

from reachmap.base.units import DISTANCE, LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem

NOT_KNOWN = "not known"


def length_words(metres: float, units: UnitSystem) -> str:
    """Return a length for gear, depth and room, like ``24 ft`` or ``7.3 m``.

    Examples
    --------
    >>> length_words(7.3152, UnitSystem.US), length_words(0.9, UnitSystem.METRIC)
    ('24 ft', '0.9 m')
    """
    if not math.isfinite(metres):
        return NOT_KNOWN
    value, unit = from_si(metres, LENGTH[units]), LENGTH[units]
    whole = units is UnitSystem.US and value >= 10
    return f"{value:.0f} {unit}" if whole else f"{_trimmed(value)} {unit}"


def distance_words(metres: float, units: UnitSystem) -> str:
    """Return a distance along or across the river, like ``40 yd`` or ``37 m``.

    Examples
    --------
    >>> distance_words(36.576, UnitSystem.US)
    '40 yd'
    """
    if not math.isfinite(metres):
        return NOT_KNOWN
    return f"{from_si(metres, DISTANCE[units]):.0f} {DISTANCE[units]}"


def speed_words(metres_per_second: float, units: UnitSystem) -> str:
    """Return a speed, like ``2.1 ft/s``."""
    if not math.isfinite(metres_per_second):
        return NOT_KNOWN
    return f"{from_si(metres_per_second, SPEED[units]):.1f} {SPEED[units]}"


def time_words(minutes: float) -> str:
    """Return a length of time, like ``50 min`` or ``1 h 20 min``, to five minutes.

    Examples
    --------
    >>> time_words(78), time_words(3)
    ('1 h 20 min', '5 min')
    """
    if not math.isfinite(minutes):
        return NOT_KNOWN
    rounded = max(5, 5 * round(minutes / 5))
    hours, rest = divmod(rounded, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def list_words(words: list[str], *, last: str = "and") -> str:
    """Return words as a list in a sentence.

    Examples
    --------
    >>> list_words(["snap-T", "double spey", "perry poke"])
    'snap-T, double spey and perry poke'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def _trimmed(value: float) -> str:
    """Return one digit after the point, none where it is zero."""
    text = f"{value:.1f}"
    return text.removesuffix(".0")
