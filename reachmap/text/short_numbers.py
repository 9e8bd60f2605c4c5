"""Numbers with their unit, short, for files that have little room; unknown is said so."""

from __future__ import annotations

import math

from reachmap.base.units import DISTANCE, LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem

UNKNOWN = "unknown"


def length_told(value: float, units: UnitSystem) -> str:
    """Return a depth or height [m] in feet or metres.

    Examples
    --------
    >>> length_told(float("nan"), UnitSystem.US)
    'unknown'
    """
    return _told(value, LENGTH[units], 1)


def speed_told(value: float, units: UnitSystem) -> str:
    """Return a speed [m/s] in feet or metres a second."""
    return _told(value, SPEED[units], 1)


def distance_told(value: float, units: UnitSystem) -> str:
    """Return a distance [m] in yards or metres."""
    return _told(value, DISTANCE[units], 0)


def _told(value: float, unit: str, digits: int) -> str:
    """Return a number with its unit."""
    number = float(value)
    return f"{from_si(number, unit):.{digits}f} {unit}" if math.isfinite(number) else UNKNOWN
