"""Parsing of numbers with an optional unit; plain numbers are in the folder's units."""

from __future__ import annotations

import math
import re

import numpy as np

from reachmap.base.quoting import quoted
from reachmap.base.units import FACTORS, FLOW, LENGTH, SPEED, from_si, to_si
from reachmap.base.words import UnitSystem
from reachmap.markup.layers import Quantity

UNITS_OF = {
    Quantity.LENGTH: LENGTH,
    Quantity.HEIGHT: LENGTH,
    Quantity.SPEED: SPEED,
    Quantity.FLOW: FLOW,
    Quantity.SINK: {UnitSystem.US: "in/s", UnitSystem.METRIC: "cm/s"},
    Quantity.MASS: {UnitSystem.US: "lb", UnitSystem.METRIC: "kg"},
    Quantity.UNIT_FLOW: {UnitSystem.US: "ft2/s", UnitSystem.METRIC: "m2/s"},
    Quantity.SHARE: {UnitSystem.US: "%", UnitSystem.METRIC: "%"},
}
"""Unit of a plain number by quantity and by the folder's units."""

SPELLINGS = {
    **{unit: unit for unit in FACTORS},
    "feet": "ft",
    "foot": "ft",
    "'": "ft",
    "inch": "in",
    "inches": "in",
    "yards": "yd",
    "yard": "yd",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "fps": "ft/s",
    "ft3/s": "cfs",
    "ft^3/s": "cfs",
    "cms": "m3/s",
    "m3s": "m3/s",
    "m^3/s": "m3/s",
    "m³/s": "m3/s",
    "lbs": "lb",
    "pounds": "lb",
    "grain": "gr",
    "grains": "gr",
    "gram": "g",
    "grams": "g",
}
"""Accepted spellings of units."""

KINDS = {
    Quantity.LENGTH: frozenset({"m", "ft", "in", "yd", "km", "mi", "cm", "mm"}),
    Quantity.HEIGHT: frozenset({"m", "ft"}),
    Quantity.SPEED: frozenset({"m/s", "ft/s", "in/s", "cm/s"}),
    Quantity.FLOW: frozenset({"m3/s", "cfs"}),
    Quantity.SINK: frozenset({"m/s", "ft/s", "in/s", "cm/s"}),
    Quantity.MASS: frozenset({"kg", "g", "lb", "gr"}),
    Quantity.UNIT_FLOW: frozenset({"m2/s", "ft2/s"}),
    Quantity.SHARE: frozenset({"%"}),
}
"""Units of each quantity."""

OTHER_UNIT = {
    "ft": "m",
    "m": "ft",
    "cfs": "m3/s",
    "m3/s": "cfs",
    "ft/s": "m/s",
    "m/s": "ft/s",
    "lb": "kg",
    "kg": "lb",
    "in/s": "cm/s",
    "cm/s": "in/s",
}
"""The unit a plain number may have been meant in."""

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*")
_FEET_INCHES = re.compile(
    r"\s*(\d+)\s*(?:ft|feet|')\s*(\d+(?:\.\d*)?)\s*(?:in|inches|\")\s*", re.IGNORECASE
)
_GROUPED = re.compile(r"\s*[+-]?\d{1,3}(,\d{3})+(\.\d*)?(\D.*)?")


def unit_of(quantity: Quantity, units: UnitSystem) -> str:
    """Return the unit of a plain number."""
    return UNITS_OF[quantity][units]


def read_number(value: object, quantity: Quantity, units: UnitSystem) -> float:
    """Return a number in SI; NaN for nothing (None, NaN, empty text).

    Parameters
    ----------
    value
        A number in the folder's units, or text: a number with or without a unit behind it, with
        or without commas between thousands.
    quantity
        What it measures.
    units
        The folder's units.

    Raises
    ------
    ValueError
        If it is not a number, not finite, or its unit does not fit; the message says which.

    Examples
    --------
    >>> read_number("5 ft", Quantity.LENGTH, UnitSystem.METRIC)
    1.524
    >>> round(read_number("13 ft 6 in", Quantity.LENGTH, UnitSystem.METRIC), 4)
    4.1148
    >>> read_number("2,400", Quantity.FLOW, UnitSystem.METRIC)
    2400.0
    """
    if value is None or (isinstance(value, str) and not value.strip()):
        return math.nan
    plain = unit_of(quantity, units)
    if isinstance(value, (str, bool)):
        value = str(value)
        if quantity is Quantity.LENGTH and (both := _FEET_INCHES.fullmatch(value)):
            return to_si(float(both[1]), "ft") + to_si(float(both[2]), "in")
        text = value.replace(",", "") if _GROUPED.fullmatch(value) else value
        match = _NUMBER.fullmatch(text)
        if match is None or match[2].startswith((",", ".")):
            msg = f"{quoted(value)} is not a number"
            raise ValueError(msg)
        number, unit = float(match[1]), _unit(match[2], plain, quantity)
    else:
        number, unit = float(value), plain  # type: ignore[arg-type]
        if math.isnan(number):
            return math.nan
    if not math.isfinite(number):
        msg = f"{quoted(str(value))} is not a finite number"
        raise ValueError(msg)
    return to_si(number, unit)


def _unit(text: str, plain: str, quantity: Quantity) -> str:
    """Return the unit given with a number."""
    if not text:
        return plain
    unit = SPELLINGS.get(text.lower().rstrip("."))
    if unit is None or unit not in KINDS[quantity]:
        fitting = ", ".join(sorted(KINDS[quantity]))
        msg = f"{quoted(text)} is not a unit of {quantity} (use {fitting})"
        raise ValueError(msg)
    return unit


def number_within(
    value: object, quantity: Quantity, units: UnitSystem, limits: tuple[float, float]
) -> tuple[float, tuple[str, str] | None]:
    """Return a number [SI], and its fault as (found, fix) or None.

    The number is NaN where it is at fault or not given.
    """
    unit = unit_of(quantity, units)
    allowed = between(*limits, unit)
    if not isinstance(value, (str, int, float, np.number, type(None))) or isinstance(value, bool):
        return math.nan, (f"{quoted(value)} is not a number", f"Give {allowed}")
    try:
        number = read_number(value, quantity, units)
    except OverflowError:
        return math.nan, (f"{quoted(value)} is too large", f"Give {allowed}")
    except ValueError as error:
        return math.nan, (str(error), f"Give {allowed}")
    if math.isnan(number) or limits[0] <= number <= limits[1]:
        return number, None
    found = f"{quoted(value)} is {plain(from_si(number, unit))} {unit}"
    hint = _unit_hint(number, unit, limits) if _is_plain(value) else ""
    return math.nan, (found, f"Wants {allowed}{hint}")


def _is_plain(value: object) -> bool:
    """Return whether a number was given without its unit."""
    match = _NUMBER.fullmatch(str(value).replace(",", ""))
    return match is not None and not match[2]


def between(low: float, high: float, unit: str) -> str:
    """Return limits [SI] in words, in a unit."""
    return f"{plain(from_si(low, unit))} to {plain(from_si(high, unit))} {unit}"


def plain(value: float) -> str:
    """Return a number with at most three significant digits and no exponent."""
    if abs(value) >= 1000:
        return f"{float(f'{value:.3g}'):,.0f}"
    return f"{float(f'{value:.3g}'):g}" if abs(value) >= 1e-3 else f"{value:g}"


def _unit_hint(number: float, unit: str, limits: tuple[float, float]) -> str:
    """Return a hint where the number would be within its limits in the other unit."""
    other = OTHER_UNIT.get(unit)
    meant = from_si(number, unit)
    if other is None or not limits[0] <= to_si(meant, other) <= limits[1]:
        return ""
    return f'. Meant in {other}? Then write it with its unit, like "{meant:g} {other}"'
