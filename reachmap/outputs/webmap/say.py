"""How numbers are written on the map: the angler's units first, the other system beside them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from reachmap.base.units import FACTORS, flow_words, from_si
from reachmap.base.words import UnitSystem
from reachmap.outputs.product import Product

UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Written:
    """One way to write a quantity: unit, its size [SI] and decimals shown."""

    unit: str
    size: float
    digits: int

    def text(self, value: float) -> str:
        """Return an SI value with its unit, like ``2.3 ft``."""
        return f"{from_si(value, self.unit):,.{self.digits}f} {self.unit}"


def _both(us: tuple[str, int], metric: tuple[str, int]) -> dict[UnitSystem, tuple[Written, ...]]:
    """Return a quantity in both systems, each system's own first."""
    feet, metres = (Written(unit, FACTORS[unit], digits) for unit, digits in (us, metric))
    return {UnitSystem.US: (feet, metres), UnitSystem.METRIC: (metres, feet)}


WAYS: dict[str, dict[UnitSystem, tuple[Written, ...]]] = {
    "depth": _both(("ft", 1), ("m", 1)),
    "speed": _both(("ft/s", 1), ("m/s", 1)),
    "distance": _both(("yd", 0), ("m", 0)),
    "reach": _both(("ft", 0), ("m", 0)),
}
"""Quantities and how each is written; `reach` is for casts and rooms, told in feet."""


def number_of(value: object) -> float:
    """Return a value as a float; NaN for anything that is no finite number."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return math.nan
    return number if math.isfinite(number) else math.nan


def text_of(value: object) -> str:
    """Return a value as text; nothing for a missing one."""
    return "" if value is None or (isinstance(value, float) and math.isnan(value)) else str(value)


def say(quantity: str, value: float | None, units: UnitSystem) -> str:
    """Return an SI value in both systems, or `unknown`.

    Parameters
    ----------
    quantity
        A key of `WAYS`.
    value
        SI; None or NaN where nobody knows.
    units
        The reach folder's units, written first.

    Examples
    --------
    >>> say("depth", 0.7, UnitSystem.US)
    '2.3 ft (0.7 m)'
    >>> say("depth", float("nan"), UnitSystem.US)
    'unknown'
    """
    if value is None or not math.isfinite(value):
        return UNKNOWN
    first, second = WAYS[quantity][units]
    return f"{first.text(value)} ({second.text(value)})"


def flow_names(product: Product) -> dict[str, str]:
    """Return each mapped flow's label with the flow as a person reads it."""
    units, values = product.markup.plan.units, product.flows["flow"].to_numpy()
    return {
        label: flow_words(float(value), units)
        for label, value in zip(product.labels, values, strict=True)
    }


def flows_said(text: str, names: Mapping[str, str]) -> str:
    """Return a sentence with the labels of flows in it as a person reads them.

    Examples
    --------
    >>> flows_said("best at 2400cfs, gone above 12400cfs", {"2400cfs": "2,400 cfs"})
    'best at 2,400 cfs, gone above 12400cfs'
    """
    if not names:
        return text
    labels = "|".join(re.escape(label) for label in names)
    return re.sub(rf"(?<![\w.])(?:{labels})(?!\w)", lambda found: names[found[0]], text)


def short(quantity: str, value: float | None, units: UnitSystem) -> str:
    """Return an SI value in the first unit only, or `unknown`."""
    if value is None or not math.isfinite(value):
        return UNKNOWN
    return WAYS[quantity][units][0].text(value)
