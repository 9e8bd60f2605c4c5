"""Depth stood in and room behind, in words: one rule for sheet, map and files."""

from __future__ import annotations

import math
from collections.abc import Callable

from reachmap.angler.places import Places
from reachmap.base.language import noted, tr
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import NOT_KNOWN, both, short

NO_PLACE = noted("no place found")

Writer = Callable[[str, float, UnitSystem], str]
"""A way to write a quantity: `short`, `both` or `bare`."""


def stand_words(places: Places, units: UnitSystem, write: Writer) -> str:
    """Return the depth stood in: ``to 2.3 ft``, ``on the bank``, ``not known``."""
    if not places.count:
        return tr(NO_PLACE)
    if not math.isfinite(places.deepest_m):
        return tr(NOT_KNOWN)
    return (
        tr("on the bank")
        if places.on_bank
        else tr("to {deepest}", deepest=write("depth", places.deepest_m, units))
    )


def room_words(places: Places, units: UnitSystem, write: Writer) -> str:
    """Return the room behind the tightest place: ``25 ft``, ``not known``."""
    if not places.count:
        return tr(NO_PLACE)
    if not math.isfinite(places.least_room_m):
        return tr(NOT_KNOWN)
    return write("reach", places.least_room_m, units)


def places_rows(places: Places, units: UnitSystem) -> tuple[tuple[str, str], ...]:
    """Return the greatest depth stood in and the least room behind, as rows of a card."""
    return (
        (tr("Place to stand"), stand_words(places, units, both)),
        (tr("Least room behind"), room_words(places, units, both)),
    )


def places_sentence(places: Places, units: UnitSystem) -> str:
    """Return the sentence on depth stood in and room behind."""
    deep, room = stand_words(places, units, short), room_words(places, units, short)
    return tr("Place to stand: {deep}; room behind: {room}.", deep=deep, room=room)
