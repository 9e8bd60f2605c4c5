"""Switching a folder's units: numbers that the page does not show keep what they mean."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import Any

import tomlkit

from reachmap.base.words import UnitSystem
from reachmap.markup.layers import Quantity
from reachmap.markup.own_keys import OWN_KEYS
from reachmap.markup.quantities import unit_of

_LENGTH, _SPEED = Quantity.LENGTH, Quantity.SPEED

QUANTITIES = {
    **{(one.section, one.key): one.quantity for one in OWN_KEYS if one.quantity is not None},
    ("dem", "flow"): Quantity.FLOW,
    ("gauge", "zero"): Quantity.HEIGHT,
    ("season", "depth"): _LENGTH,
    ("season", "speed"): _SPEED,
    **{("angler", key): _LENGTH for key in ("height", "wade_limit", "leader", "cast_limit")},
    **{(item, "length"): _LENGTH for item in ("rod", "head", "tip", "fly")},
    ("fly", "clarity"): _LENGTH,
    ("head", "weight"): Quantity.MASS,
    ("tip", "sink"): Quantity.SINK,
}
"""What each plain number of reach.toml measures, by section and key, but for those of the page."""


def say_units(book: tomlkit.TOMLDocument, units: UnitSystem) -> None:
    """Write the unit behind every plain number of reach.toml that the page does not show.

    Parameters
    ----------
    book
        reach.toml; changed in place, its comments stay.
    units
        In which the numbers are read so far.
    """
    for section in {name for name, _ in QUANTITIES}:
        found = book.get(section)
        items = found if isinstance(found, list) else [found]
        for item in items:
            if isinstance(item, MutableMapping):
                _say_in(item, section, units)


def _say_in(home: MutableMapping[str, Any], section: str, units: UnitSystem) -> None:
    """Write the units behind the numbers of one section, sections within it included."""
    for key in list(home):
        value = home[key]
        if isinstance(value, MutableMapping):
            _say_in(value, section, units)
        elif section == "clarity" and key == "sightings":
            pair = (unit_of(Quantity.FLOW, units), unit_of(_LENGTH, units))
            if isinstance(value, list) and all(isinstance(one, list) for one in value):
                home[key] = [
                    [_said(number, unit) for number, unit in zip(one, pair, strict=False)]
                    for one in value
                ]
        elif (quantity := QUANTITIES.get((section, key))) is not None:
            unit = unit_of(quantity, units)
            said = [_said(one, unit) for one in value] if isinstance(value, list) else None
            new = _said(value, unit) if said is None else said
            if new != value:
                home[key] = new


def _said(value: object, unit: str) -> object:
    """Return a plain number as text with its unit; anything else, and 0, as it is."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value == 0:
        return value
    return f"{value:.12g} {unit}"
