"""The water's temperature: the oxygen it can hold, and its class from cold to too warm."""

from __future__ import annotations

import math
from enum import StrEnum

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


class Warmth(StrEnum):
    """What a water's temperature means for the fish; bounds as above (common practice)."""

    COLD = "cold"
    QUICK = "quick"
    LIVELY = "lively"
    WARM = "warm"
    REST = "rest"


def warmth_of(celsius: float) -> Warmth | None:
    """Return the class of a water's temperature [C]; None where it is not known."""
    if not math.isfinite(celsius):
        return None
    bounds = (COLD_C, QUICK_C, WARM_C, REST_C)
    return list(Warmth)[sum(celsius >= bound for bound in bounds)]
