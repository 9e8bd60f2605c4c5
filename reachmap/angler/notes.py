"""What to know at a place, in plain sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reachmap.angler.picks import Pick
from reachmap.angler.wording import length_words
from reachmap.base.words import CastFit, UnitSystem

NARROW_M = 1.0
"""Room behind under which a place is called shut in; our choice, 0.5-2."""


def station_note(row: Mapping[str, Any], pick: Pick, units: UnitSystem) -> str:
    """Return what to know at one place; what is unknown is named.

    Parameters
    ----------
    row
        The station's columns.
    pick
        The cast chosen there.
    units
        The reach folder's units.
    """
    words = []
    if row["depth_m"] > 0:
        words.append(f"Stand in {length_words(row['depth_m'], units)} of water, doubt included.")
    else:
        words.append("Stand on dry ground.")
    words.append(_room_words(row, pick, units))
    if row["access"] == "boat":
        words.append("No way to it on foot was drawn: by boat only.")
    elif row["access"] == "unknown":
        words.append("No way in is drawn.")
    return " ".join(words)


def _room_words(row: Mapping[str, Any], pick: Pick, units: UnitSystem) -> str:
    """Return what the room behind allows."""
    if pick.fit is CastFit.UNKNOWN:
        return "What stands behind is not known: look before you cast."
    if pick.fit is CastFit.NO:
        return "No room behind for any cast you own."
    room = f"{length_words(row['room_m'], units)} clear behind (+-20 %)."
    if row["room_m"] != row["room_m"]:
        room = "Ground farther behind is not known."
    if pick.fit is CastFit.TIGHT:
        return f"{room} {row['cast'].capitalize()} only just fits: look behind you."
    return f"{room} {row['cast'].capitalize()} with the {row['head']} fits."
