"""Drawn hazards in sentences, for all outputs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reachmap.base.language import noted, tr, tr_count
from reachmap.base.words import HazardKind, HazardWay, Toward, UnitSystem
from reachmap.text.numbers import distance_words, list_words, text_of
from reachmap.text.plain_words import in_words

LEFT_OUT = {
    HazardKind.UNDERCUT: noted("on a drawn undercut"),
    HazardKind.STRAINER: noted("by a drawn strainer or where the current leads into it"),
    HazardKind.LEDGE: noted("at a drawn ledge or just above it"),
    HazardKind.SOFT_BOTTOM: noted("in a drawn soft bottom"),
}
"""Why a place to stand was left out."""

EVERY_PLACE = noted("Every place to stand is left out for a drawn hazard.")


def hazard_words(kind: str, note: str) -> str:
    """Return a hazard's kind, and the angler's note on it."""
    return f"{in_words(kind)} ({note})" if note else in_words(kind)


def hazard_name(kind: str, note: str) -> str:
    """Return a hazard with its article and the angler's note, like ``a strainer (big alder)``."""
    name = tr(NAMES[HazardKind(kind)])
    return f"{name} ({note})" if note else name


NAMES = {
    HazardKind.STRAINER: noted("a strainer"),
    HazardKind.LEDGE: noted("a ledge"),
    HazardKind.UNDERCUT: noted("an undercut"),
    HazardKind.SOFT_BOTTOM: noted("a soft bottom"),
    HazardKind.COLD_INFLOW: noted("a cold inflow"),
    HazardKind.OTHER: noted("another hazard"),
}
"""Hazards with their article."""


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
        if metres >= 1:
            return tr("{name} where you fish, {far} off", name=name, far=far)
        return tr("{name} where you fish", name=name)
    if way == HazardWay.CURRENT:
        into = {HazardKind.LEDGE: tr("over it"), HazardKind.STRAINER: tr("into it")}
        return tr(
            "{name} {far} below, the current leads {into}",
            name=name,
            far=far,
            into=into.get(HazardKind(kind), tr("to it")),
        )
    if way == HazardWay.WALK:
        along = {
            Toward.UP: noted("{name} {far} up the bank you walk"),
            Toward.DOWN: noted("{name} {far} down the bank you walk"),
            Toward.ACROSS: noted("{name} {far} along the bank you walk"),
        }
        return tr(along[Toward(toward)], name=name, far=far)
    where = {
        Toward.UP: noted("{name} {far} upstream"),
        Toward.DOWN: noted("{name} {far} downstream"),
        Toward.ACROSS: noted("{name} {far} off to the side"),
    }
    return tr(where[Toward(toward)], name=name, far=far)


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
    places = tr_count("{count} place", "{count} places", total)
    if len(known) == 1:
        return tr(
            "{places} left out: {each}.",
            places=places,
            each=tr(LEFT_OUT[HazardKind(next(iter(known)))]),
        )
    each = [f"{count} {tr(LEFT_OUT[HazardKind(kind)])}" for kind, count in known.items()]
    return tr("{places} left out: {each}.", places=places, each=list_words(each))
