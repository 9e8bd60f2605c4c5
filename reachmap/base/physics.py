"""Physical constants that more than one stage uses."""

from __future__ import annotations

from typing import Final

GRAVITY: Final = 9.80665
"""Standard acceleration of gravity [m/s2], as fixed by the 3rd General Conference on Weights and
Measures (1901); from memory. Gravity at the ground differs from it by 0.3 % at most."""
KARMAN: Final = 0.41
"""Von Karman's constant of the logarithmic law of the wall (from memory; 0.38-0.43 are found)."""
WATER_DENSITY: Final = 1000.0
"""Density of fresh water [kg/m3], rounded: 999.97 at 4 C, 998.2 at 20 C (from memory)."""
