"""Numbers as a person reads them, in the units of the reach folder, for all outputs.

Sentences take `length_words` and its like; cards of the map show feet and metres (`both`);
lists, sheets and small screens one of them (`short`, `bare`). A metric folder shows no feet.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from reachmap.base.language import by_locale, noted, number_text, tr
from reachmap.base.units import DISTANCE, FACTORS, FLOW, LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem

NOT_KNOWN, UNKNOWN = noted("not known"), noted("unknown")
"""Words for an unknown number: in a sentence, and alone."""


@dataclass(frozen=True, slots=True)
class Written:
    """One way to write a quantity: unit, its size [SI] and decimals shown."""

    unit: str
    size: float
    digits: int

    def text(self, value: float) -> str:
        """Return an SI value with its unit, like ``2.3 ft``."""
        return f"{number_text(from_si(value, self.unit), self.digits)} {self.unit}"


def _shown(us: tuple[str, int], metric: tuple[str, int]) -> dict[UnitSystem, tuple[Written, ...]]:
    """Return the ways a quantity is shown: feet with metres behind them, metres alone."""
    feet, metres = (Written(unit, FACTORS[unit], digits) for unit, digits in (us, metric))
    return {UnitSystem.US: (feet, metres), UnitSystem.METRIC: (metres,)}


WAYS: Mapping[str, dict[UnitSystem, tuple[Written, ...]]] = {
    "depth": _shown(("ft", 1), ("m", 1)),
    "speed": _shown(("ft/s", 1), ("m/s", 1)),
    "distance": _shown(("yd", 0), ("m", 0)),
    "reach": _shown(("ft", 0), ("m", 0)),
}
"""Quantities and how each is written; `reach` is for casts and room, shown in feet."""


def other_units(units: UnitSystem) -> UnitSystem:
    """Return the other system of units."""
    return UnitSystem.METRIC if units is UnitSystem.US else UnitSystem.US


def number_of(value: object) -> float:
    """Return a value as a float; NaN for anything that is no finite number."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return math.nan
    return number if math.isfinite(number) else math.nan


def text_of(value: object) -> str:
    """Return a cell as text; nothing for a missing one."""
    return "" if value is None or value is pd.NA or value != value else str(value)


def both(quantity: str, value: float | None, units: UnitSystem) -> str:
    """Return an SI value in feet and metres, of a metric folder in metres alone, or `unknown`.

    Parameters
    ----------
    quantity
        A key of `WAYS`.
    value
        SI; None or NaN unknown.
    units
        The reach folder's units.

    Examples
    --------
    >>> both("depth", 0.7, UnitSystem.US)
    '2.3 ft (0.7 m)'
    >>> both("depth", 0.7, UnitSystem.METRIC)
    '0.7 m'
    >>> both("depth", float("nan"), UnitSystem.US)
    'unknown'
    """
    if value is None or not math.isfinite(value):
        return tr(UNKNOWN)
    first, *others = (way.text(value) for way in WAYS[quantity][units])
    return " ".join([first, *(f"({other})" for other in others)])


def short(quantity: str, value: float | None, units: UnitSystem) -> str:
    """Return an SI value in the folder's unit only, or `unknown`.

    Examples
    --------
    >>> short("distance", 36.576, UnitSystem.US)
    '40 yd'
    """
    if value is None or not math.isfinite(value):
        return tr(UNKNOWN)
    return WAYS[quantity][units][0].text(value)


def bare(quantity: str, value: float, units: UnitSystem) -> str:
    """Return an SI value in the folder's unit without its name, or `?`.

    Examples
    --------
    >>> bare("depth", 0.7, UnitSystem.US)
    '2.3'
    """
    return short(quantity, value, units).split(" ")[0] if math.isfinite(value) else "?"


def length_words(metres: float, units: UnitSystem) -> str:
    """Return a length for gear, depth and room, like ``24 ft`` or ``7.3 m``.

    Examples
    --------
    >>> length_words(7.3152, UnitSystem.US), length_words(0.9, UnitSystem.METRIC)
    ('24 ft', '0.9 m')
    """
    if not math.isfinite(metres):
        return tr(NOT_KNOWN)
    value, unit = from_si(metres, LENGTH[units]), LENGTH[units]
    whole = units is UnitSystem.US and value >= 10
    return f"{value:.0f} {unit}" if whole else f"{by_locale(_trimmed(value))} {unit}"


def span_words(low: float, high: float, units: UnitSystem) -> str:
    """Return a span of lengths, like ``24-30 ft``; one where both read alike.

    Examples
    --------
    >>> span_words(7.3152, 9.144, UnitSystem.US)
    '24-30 ft'
    """
    a, b = length_words(low, units), length_words(high, units)
    return a if a == b else f"{a.split(' ')[0]}-{b}"


def distance_words(metres: float, units: UnitSystem) -> str:
    """Return a distance along or across the river, like ``40 yd`` or ``37 m``.

    Examples
    --------
    >>> distance_words(36.576, UnitSystem.US)
    '40 yd'
    """
    if not math.isfinite(metres):
        return tr(NOT_KNOWN)
    return f"{from_si(metres, DISTANCE[units]):.0f} {DISTANCE[units]}"


def area_words(square_metres: float, units: UnitSystem) -> str:
    """Return an area of water or ground, like ``478 sq yd`` or ``400 m²``.

    Examples
    --------
    >>> area_words(400.0, UnitSystem.US), area_words(400.0, UnitSystem.METRIC)
    ('478 sq yd', '400 m²')
    """
    if not math.isfinite(square_metres):
        return NOT_KNOWN
    unit = DISTANCE[units]
    area = number_text(square_metres / FACTORS[unit] ** 2, 0)
    return f"{area} sq yd" if units is UnitSystem.US else f"{area} m\u00b2"


def speed_words(metres_per_second: float, units: UnitSystem) -> str:
    """Return a speed, like ``2.1 ft/s``."""
    if not math.isfinite(metres_per_second):
        return tr(NOT_KNOWN)
    return f"{number_text(from_si(metres_per_second, SPEED[units]), 1)} {SPEED[units]}"


def two_figures(flow: float, units: UnitSystem) -> float:
    """Return a flow [m3/s] rounded to two significant figures in the folder's units.

    Examples
    --------
    >>> round(two_figures(27.9, UnitSystem.METRIC), 6), two_figures(0.0, UnitSystem.METRIC)
    (28.0, 0.0)
    """
    shown = from_si(flow, FLOW[units])
    if not 0 < shown < math.inf:
        return flow
    step = 10.0 ** (math.floor(math.log10(shown)) - 1)
    return flow * (round(shown / step) * step) / shown


def whole_minutes(minutes: float) -> int:
    """Return minutes as shown everywhere: rounded to five, and at least five."""
    return max(5, 5 * round(minutes / 5))


def time_words(minutes: float) -> str:
    """Return a length of time, like ``50 min`` or ``1 h 20 min``, to five minutes.

    Examples
    --------
    >>> time_words(78), time_words(3)
    ('1 h 20 min', '5 min')
    """
    if not math.isfinite(minutes):
        return tr(NOT_KNOWN)
    hours, rest = divmod(whole_minutes(minutes), 60)
    if not hours:
        return tr("{rest} min", rest=rest)
    return (
        tr("{hours} h {rest} min", hours=hours, rest=rest) if rest else tr("{hours} h", hours=hours)
    )


def list_words(words: Sequence[str], *, last: str = noted("and")) -> str:
    """Return words as a list in a sentence.

    Examples
    --------
    >>> list_words(["snap-T", "double spey", "perry poke"])
    'snap-T, double spey and perry poke'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {tr(last)} {words[-1]}"


def _trimmed(value: float) -> str:
    """Return one digit after the point, none where it is zero."""
    text = f"{value:.1f}"
    return text.removesuffix(".0")
