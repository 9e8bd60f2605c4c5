"""Drawn hazards in sentences, for all outputs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reachmap.base.words import HazardKind, HazardWay, Toward, UnitSystem
from reachmap.text.numbers import distance_words, list_words, text_of

LEFT_OUT = {
    HazardKind.UNDERCUT: "on a drawn undercut",
    HazardKind.STRAINER: "by a drawn strainer or where the current leads into it",
    HazardKind.LEDGE: "at a drawn ledge or just above it",
    HazardKind.SOFT_BOTTOM: "in a drawn soft bottom",
}
"""Why a place to stand was left out."""

EVERY_PLACE = "Every place to stand is left out for a drawn hazard."


def hazard_words(kind: str, note: str) -> str:
    """Return a hazard's kind, and the angler's note on it."""
    return f"{kind} ({note})" if note else kind


def hazard_name(kind: str, note: str) -> str:
    """Return a hazard with its article and the angler's note, like ``a strainer (big alder)``."""
    name = {
        HazardKind.OTHER: "another hazard",
        HazardKind.UNDERCUT: "an undercut",
    }.get(HazardKind(kind), f"a {kind}")
    return f"{name} ({note})" if note else name


def hazard_sentence(row: Mapping[Any, Any], units: UnitSystem) -> str:
    """Return one hazard near a place, without a full stop.

    Parameters
    ----------
    row
        `hazard_kind`, `hazard_note`, `hazard_distance_m` [m], `hazard_way` and `hazard_toward`.
    units
        The reach folder's units.
    """
    kind, way = str(row["hazard_kind"]), str(row["hazard_way"])
    name, toward = hazard_name(kind, text_of(row["hazard_note"])), str(row["hazard_toward"])
    metres = float(row["hazard_distance_m"])
    far = distance_words(max(metres, 1.0), units)
    if way == HazardWay.HERE:
        return f"{name} where you fish" + (f", {far} off" if metres >= 1 else "")
    if way == HazardWay.CURRENT:
        into = {HazardKind.LEDGE: "over it", HazardKind.STRAINER: "into it"}
        return f"{name} {far} below, the current leads {into.get(HazardKind(kind), 'to it')}"
    if way == HazardWay.WALK:
        return f"{name} {far} {'along' if toward == Toward.ACROSS else toward} the bank you walk"
    where = {Toward.UP: "upstream", Toward.DOWN: "downstream"}
    return f"{name} {far} {where.get(Toward(toward), 'off to the side')}"


def left_out_words(counts: Mapping[str, int]) -> str:
    """Return how many places were left out and why, as a sentence; empty where there are none.

    Parameters
    ----------
    counts
        Places left out by kind of hazard.
    """
    known = {kind: count for kind, count in counts.items() if count > 0}
    total = sum(known.values())
    if not total:
        return ""
    places = "1 place" if total == 1 else f"{total} places"
    if len(known) == 1:
        return f"{places} left out: {LEFT_OUT[HazardKind(next(iter(known)))]}."
    each = [f"{count} {LEFT_OUT[HazardKind(kind)]}" for kind, count in known.items()]
    return f"{places} left out: {list_words(each)}."
