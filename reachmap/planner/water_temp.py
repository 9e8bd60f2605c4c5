"""What the water's temperature tells: oxygen it can hold, and when to leave fish in peace."""

from __future__ import annotations

import math

from reachmap.base.words import UnitSystem

COLD_C, QUICK_C, WARM_C, REST_C = 4.5, 7.0, 16.0, 20.0
"""Bounds between slow, waking, lively, stressed and to be left in peace [C]; common practice, no
published source."""

RANGE_C = (0.0, 40.0)
"""Where the formula holds."""


def oxygen_mg_l(celsius: float, *, atmospheres: float = 1.0) -> float:
    """Return the oxygen that fresh water holds in balance with air [mg/L]; NaN beyond its range.

    Parameters
    ----------
    celsius
        Temperature of the water, 0 to 40.
    atmospheres
        Air pressure [atm], 0.5 to 1.1.

    Notes
    -----
    Benson and Krause (1984) as in Standard Methods (APHA 1985): ln C = -139.34411 + 1.575701e5/T -
    6.642308e7/T^2 + 1.243800e10/T^3 - 8.621949e11/T^4, T = t + 273.15. The pressure form, from
    memory: C P (1 - Pw/P)(1 - theta P) / ((1 - Pw)(1 - theta)), Pw = exp(11.8571 - 3840.70/T -
    216961/T^2), theta = 0.000975 - 1.426e-5 t + 6.436e-8 t^2.
    """
    if not (RANGE_C[0] <= celsius <= RANGE_C[1] and 0.5 <= atmospheres <= 1.1):
        return math.nan
    kelvin = celsius + 273.15
    sea = math.exp(
        -139.34411
        + 1.575701e5 / kelvin
        - 6.642308e7 / kelvin**2
        + 1.243800e10 / kelvin**3
        - 8.621949e11 / kelvin**4
    )
    steam = math.exp(11.8571 - 3840.70 / kelvin - 216961 / kelvin**2)
    theta = 0.000975 - 1.426e-5 * celsius + 6.436e-8 * celsius**2
    p = atmospheres
    return sea * p * (1 - steam / p) * (1 - theta * p) / ((1 - steam) * (1 - theta))


def temperature_words(celsius: float, units: UnitSystem, *, share: float = 1.0) -> str:
    """Return plain words on the water's temperature; empty where it is not known.

    Parameters
    ----------
    celsius
        Temperature of the water; NaN unknown.
    units
        Of the folder.
    share
        What it leaves of the scores, 0 to 1.
    """
    if not math.isfinite(celsius):
        return ""
    shown = f"{celsius * 9 / 5 + 32:.0f} °F" if units is UnitSystem.US else f"{celsius:.1f} °C"
    oxygen = oxygen_mg_l(celsius)
    holds = f"; it holds at most {oxygen:.1f} mg/L of oxygen" if math.isfinite(oxygen) else ""
    if celsius < COLD_C:
        told = "fish hardly move for a fly: fish slow and close"
    elif celsius < QUICK_C:
        told = "cold: slow water and a slow swing"
    elif celsius < WARM_C:
        told = "fish move well for a fly"
    elif celsius < REST_C:
        told = "warm for these fish: land them quickly, keep them wet, stop early"
    else:
        told = "too warm to play a fish that is to live: leave them in peace"
    left = (
        "" if share == 1 else f" It leaves {100 * share:.0f} % of each score, on every day alike."
    )
    return f"Water {shown}: {told} (common practice){holds}.{left}"
