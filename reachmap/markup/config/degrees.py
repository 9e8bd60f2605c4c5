"""The kind of key of reach.toml that is a temperature of the water."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from reachmap.base.quoting import quoted
from reachmap.base.units import from_celsius
from reachmap.base.words import UnitSystem
from reachmap.gauge.warmth_csv import RANGE_C
from reachmap.markup.config.kinds import Kind, WrongError

WRITTEN = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*(?:\u00b0|deg)?\s*([CF])?\s*", re.IGNORECASE)
LETTER = {UnitSystem.US: "F", UnitSystem.METRIC: "C"}


@dataclass(frozen=True, kw_only=True)
class Degrees(Kind):
    """A temperature [C]: text like "42 F" or "5.5 C", or a plain number of the folder's units."""

    def read(self, value: Any, units: UnitSystem) -> float:
        """Return the temperature [C]."""
        plain = isinstance(value, (int, float)) and not isinstance(value, bool)
        found = WRITTEN.fullmatch(str(value)) if plain or isinstance(value, str) else None
        if found is None:
            example = "42 F" if units is UnitSystem.US else "5.5 C"
            wrong = f"{quoted(value)} is no temperature", f'Write it like "{example}"'
            raise WrongError(wrong)
        number, letter = float(found[1]), (found[2] or LETTER[units]).upper()
        celsius = (number - 32.0) / 1.8 if letter == "F" else number
        if not RANGE_C[0] <= celsius <= RANGE_C[1]:
            low, high = (round(from_celsius(one, units)) for one in RANGE_C)
            raise WrongError(
                (f"{quoted(value)} is no water's", f"Give {low} to {high} {LETTER[units]}")
            )
        return celsius

    def limits(self) -> str:
        """Return the limits."""
        return f"{RANGE_C[0]:g} to {RANGE_C[1]:g} C"

    def shown(self, value: Any) -> str:
        """Return a default; "" where there is none."""
        return f'"{value:.4g} C"' if math.isfinite(value) else ""

    def with_units(self, value: Any, units: UnitSystem) -> Any:
        """Return a plain number as text with its letter; anything else as it is."""
        plain = isinstance(value, (int, float)) and not isinstance(value, bool)
        return f"{value:.12g} {LETTER[units]}" if plain else value
