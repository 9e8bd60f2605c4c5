"""The only table of units; everything inside is SI, converted at the edges.

The foot is 0.3048 m exactly (international yard and pound agreement of 1959), from memory;
every other US figure of length follows from it. The pound is 0.45359237 kg exactly by the same
agreement, 7000 grains (gr) of line to the pound, from memory.
"""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import ArrayLike

from reachmap.base.arrays import FloatArray
from reachmap.base.language import by_locale
from reachmap.base.words import UnitSystem

FOOT_M = 0.3048

FACTORS: dict[str, float] = {
    "m": 1.0,
    "m/s": 1.0,
    "m3/s": 1.0,
    "m2/s": 1.0,
    "m2": 1.0,
    "km": 1000.0,
    "cm": 0.01,
    "mm": 0.001,
    "cm/s": 0.01,
    "ft": FOOT_M,
    "in": FOOT_M / 12,
    "in/s": FOOT_M / 12,
    "yd": FOOT_M * 3,
    "mi": FOOT_M * 5280,
    "ft/s": FOOT_M,
    "cfs": FOOT_M**3,
    "kcfs": 1000 * FOOT_M**3,
    "l/s": 0.001,
    "ft2/s": FOOT_M**2,
    "mph": FOOT_M * 5280 / 3600,
    "km/h": 1 / 3.6,
    "kn": 1852 / 3600,
    "kg": 1.0,
    "g": 0.001,
    "lb": 0.45359237,
    "gr": 0.45359237 / 7000,
    "%": 0.01,
}
"""SI size of one of each unit."""

HEIGHT_UNIT_WORDS: dict[str, float] = {
    **dict.fromkeys(("m", "metre", "meter", "metres", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet"), FOOT_M),
    **dict.fromkeys(("us survey foot", "us_survey_foot", "us-ft", "ftus"), 1200 / 3937),
}
"""What a raster may call the unit of its heights, and its size [m].

The US survey foot is 1200/3937 m exactly, by its definition of 1893 (from memory).
"""

LENGTH = {UnitSystem.US: "ft", UnitSystem.METRIC: "m"}
SPEED = {UnitSystem.US: "ft/s", UnitSystem.METRIC: "m/s"}
FLOW = {UnitSystem.US: "cfs", UnitSystem.METRIC: "m3/s"}
DISTANCE = {UnitSystem.US: "yd", UnitSystem.METRIC: "m"}


@overload
def to_si(value: float, unit: str) -> float: ...
@overload
def to_si(value: FloatArray, unit: str) -> FloatArray: ...
def to_si(value: ArrayLike, unit: str) -> float | FloatArray:
    """Return `value`, given in `unit`, in SI.

    Parameters
    ----------
    value
        Number or array; NaN stays NaN.
    unit
        A key of `FACTORS`.

    Raises
    ------
    KeyError
        If the unit is not in the table.

    Examples
    --------
    >>> to_si(1.0, "ft")
    0.3048
    """
    result = np.asarray(value, dtype=np.float64) * FACTORS[unit]
    return float(result) if result.ndim == 0 else result


@overload
def from_si(value: float, unit: str) -> float: ...
@overload
def from_si(value: FloatArray, unit: str) -> FloatArray: ...
def from_si(value: ArrayLike, unit: str) -> float | FloatArray:
    """Return the SI `value` in `unit`.

    Examples
    --------
    >>> round(from_si(28.316846592, "cfs"), 9)
    1000.0
    """
    result = np.asarray(value, dtype=np.float64) / FACTORS[unit]
    return float(result) if result.ndim == 0 else result


def to_celsius(value: float, units: UnitSystem) -> float:
    """Return a temperature as people of a system of units write it in degrees Celsius.

    F = 32 + 1.8 C exactly.
    """
    return (value - 32) / 1.8 if units is UnitSystem.US else value


def from_celsius(value: float, units: UnitSystem) -> float:
    """Return a temperature [C] as people of a system of units write it."""
    return value * 1.8 + 32 if units is UnitSystem.US else value


TEMPERATURE = {UnitSystem.US: "\u00b0F", UnitSystem.METRIC: "\u00b0C"}
"""What a temperature is written in."""


def flow_label(flow: float, units: UnitSystem) -> str:
    """Return the short name of a flow as used in file names, like ``2400cfs`` or ``68m3s``.

    Parameters
    ----------
    flow
        Discharge [m3/s], > 0.
    units
        The reach folder's units.
    """
    unit = FLOW[units]
    return f"{_short(from_si(flow, unit))}{unit.replace('/', '')}"


def plain_number(value: float) -> str:
    """Return a number as a person typed it: whole from 1,000 to 10^15, there without an exponent.

    Examples
    --------
    >>> plain_number(99999.0), plain_number(1234567.0), plain_number(12.3456)
    ('99,999', '1,234,567', '12.35')
    """
    return by_locale(f"{value:,.0f}" if 1000 <= abs(value) < 1e15 else f"{value:.4g}")


def flow_words(flow: float, units: UnitSystem) -> str:
    """Return a flow as a person reads it, like ``2,400 cfs`` or ``68 m³/s``."""
    unit = FLOW[units]
    value = from_si(flow, unit)
    number = by_locale(f"{value:,.0f}" if value >= 100 else _short(value))
    return f"{number} {unit.replace('m3', 'm³')}"


def rounded_flow(flow: float, units: UnitSystem) -> float:
    """Return a flow [m3/s] that is round in a person's unit: for flows that reachmap chooses.

    To two significant digits where that moves it by less than 2 %, else to three.

    Examples
    --------
    >>> flow_words(rounded_flow(to_si(1082.0, "cfs"), UnitSystem.US), UnitSystem.US)
    '1,100 cfs'
    >>> flow_words(rounded_flow(to_si(1449.0, "cfs"), UnitSystem.US), UnitSystem.US)
    '1,450 cfs'
    """
    unit = FLOW[units]
    value = from_si(flow, unit)
    short = float(f"{value:.2g}")
    return to_si(short if abs(short / value - 1) < 0.02 else float(f"{value:.3g}"), unit)


def _short(value: float) -> str:
    """Return a number without needless digits: at most three significant below 100."""
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"
