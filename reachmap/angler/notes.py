"""What to know at a place, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reachmap.angler.hazard_words import hazard_sentence
from reachmap.angler.picks import Pick
from reachmap.base.words import CastFit, UnitSystem
from reachmap.text.numbers import distance_words, length_words

ENDINGS = {
    "hangs": "Ends at the hang-down.",
    "stalls": "Stalls in slow water before it hangs: strip in there.",
    "leaves": "Leaves its water for slower water: strip in there.",
    "touches": "Touches bottom on the way: take a lighter tip or cast more down.",
    "aground": "Ends in water too thin to carry the fly.",
    "timeout": "Too slow to swing through.",
    "unknown": "Runs over water nobody knows: how it ends is not known.",
}
"""What each way a swing ends means."""


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
        words.append(f"Stand in the water: reckon with {length_words(row['depth_m'], units)}.")
    else:
        words.append("Stand on dry ground.")
    words.append(_room_words(row, pick, units))
    if row["hazard_kind"]:
        sentence = hazard_sentence(row, units)
        words.append(f"{sentence[0].upper()}{sentence[1:]}.")
    if row["access"] == "boat":
        words.append("No way to it on foot was drawn: by boat only.")
    elif row["access"] == "unknown":
        words.append("No way in is drawn.")
    return " ".join(words)


def swing_note(row: Mapping[str, Any], slows_s: float, length_m: float, units: UnitSystem) -> str:
    """Return what a swing does, in plain sentences.

    Parameters
    ----------
    row
        The station's columns.
    slows_s
        When the fly first slows into the wanted pace [s]; NaN never.
    length_m
        Length of its path [m].
    units
        The reach folder's units.
    """
    words = []
    if math.isfinite(slows_s):
        words.append(f"Slows into the wanted pace {slows_s:.0f} s after landing.")
    else:
        words.append("Never slows into the wanted pace in this water.")
    words.append(ENDINGS[str(row["swing_end"])])
    if math.isfinite(row["swing_s"]):
        words.append(f"{row['swing_s']:.0f} s over {distance_words(length_m, units)}.")
    if row["wait_s"] >= 1:
        words.append(
            f"The tip still trails when the line is straight: wait {row['wait_s']:.0f} s more."
        )
    if row["tip_wants"]:
        words.append(f"It wants a {row['tip_wants']} tip than any you own.")
    return " ".join(words)


def _room_words(row: Mapping[str, Any], pick: Pick, units: UnitSystem) -> str:
    """Return what the room behind allows."""
    if pick.fit is CastFit.UNKNOWN:
        return "What stands behind is not known: look before you cast."
    if pick.fit is CastFit.NO:
        return "No room behind for any cast you own."
    room = f"{length_words(row['room_m'], units)} clear behind (+-20 %)."
    if math.isnan(row["room_m"]):
        room = "Ground farther behind is not known."
    if math.isfinite(row["head_max_m"]):
        room += f" Heads up to {length_words(row['head_max_m'], units)}."
    cast = str(row["cast"])
    cast = cast[0].upper() + cast[1:]
    if pick.fit is CastFit.TIGHT:
        return f"{room} {cast} with {row['head']} only just fits: look behind you."
    return f"{room} {cast} with {row['head']} fits."
