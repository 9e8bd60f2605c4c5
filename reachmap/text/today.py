"""The day's short list in words: stretch, minutes, what to mind, and why other runs are out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reachmap.angler.card_facts import RunCard
from reachmap.base.language import noted, tr
from reachmap.base.units import flow_words, rounded_flow
from reachmap.base.words import UnitSystem
from reachmap.base.words_runs import Mind, Shut
from reachmap.text.hazards import hazard_sentence
from reachmap.text.numbers import distance_words, number_of, span_words, text_of, time_words
from reachmap.text.run_table import shape_words
from reachmap.text.trade import depth_in_words
from reachmap.text.way_back import way_back_words

THIRDS = (noted("upper"), noted("middle"), noted("lower"))
"""Parts of a run."""

NEARLY_ALL = 0.8
"""Share of its run from which a stretch is called all of it; our choice, 0.7-0.95."""

SHUT: Mapping[str, str] = {
    Shut.STAND: noted("nowhere to stand within your limits"),
    Shut.ROOM: noted("no room for a cast"),
    Shut.WAY: noted("by boat only"),
    Shut.BANK: noted("from the other bank only"),
    Shut.SCRAP: noted("too little bank to fish it from"),
    Shut.UNKNOWN: noted("not known"),
}
"""Why a run is shut; one out of shape has reasons of its own (`shape_words`)."""

MINDED: Mapping[str, str] = {
    Mind.HAZARD: noted("a hazard you drew is near"),
    Mind.WAY_BACK: noted("more water cuts off the way back"),
    Mind.MORE_WATER: noted("a hand's breadth more water shuts it"),
    Mind.WADING: noted("one stands deep"),
    Mind.ROOM: noted("little room behind"),
}
"""What to mind, where the card has no details."""

NOTHING_DRAWN = noted("nothing drawn here; your own eyes")


def where_words(row: Mapping[str, Any], run: Mapping[str, Any], units: UnitSystem) -> str:
    """Return which stretch of a run to fish, like ``middle 150 yd``.

    Parameters
    ----------
    row
        Of the table of runs by flow.
    run
        Of the layer `runs`.
    units
        The reach folder's units.
    """
    start, end = number_of(row.get("prime_start_m")), number_of(row.get("prime_end_m"))
    if not math.isfinite(start) or not math.isfinite(end):
        length = number_of(row.get("length_m"))
        return distance_words(length, units) if math.isfinite(length) and length > 0 else ""
    length, extent = end - start, number_of(run.get("extent_m"))
    if not extent > 0:
        return distance_words(length, units)
    if is_whole(row, run):
        return tr("all {length}", length=distance_words(length, units))
    share = ((start + end) / 2 - number_of(run["station_m"])) / extent
    third = tr(THIRDS[min(max(int(3 * share), 0), 2)]) if math.isfinite(share) else ""
    return f"{third} {distance_words(length, units)}".strip()


def is_whole(row: Mapping[str, Any], run: Mapping[Any, Any]) -> bool:
    """Return whether the prime stretch of a run is as good as all of it."""
    length = number_of(row.get("prime_end_m")) - number_of(row.get("prime_start_m"))
    extent = number_of(run.get("extent_m"))
    return extent > 0 and length >= NEARLY_ALL * extent


def minutes_words(row: Mapping[str, Any]) -> str:
    """Return the time to fish the stretch; empty where it is unknown."""
    known = (number_of(row.get(name)) for name in ("prime_minutes", "minutes"))
    minutes = next((one for one in known if math.isfinite(one)), math.nan)
    return time_words(minutes) if math.isfinite(minutes) else ""


def mind_words(
    row: Mapping[str, Any], card: RunCard | None, height_m: float, units: UnitSystem
) -> str:
    """Return the one thing to mind at a run, from its row of the table and its card."""
    mind = text_of(row.get("mind"))
    if not mind:
        return tr(NOTHING_DRAWN)
    more = "" if card is None else _minded(Mind(mind), card, height_m, units)
    return more or tr(MINDED[mind])


def _minded(mind: Mind, card: RunCard, height_m: float, units: UnitSystem) -> str:
    """Return a card's details on the one thing to mind; empty where it has none."""
    stands = card.standing
    if mind is Mind.HAZARD and card.near:
        return hazard_sentence({**card.near[0], "hazard_note": ""}, units)
    if mind is Mind.WAY_BACK and card.back is not None:
        words = way_back_words(card.back, units, short=True)
        return tr("way back {words}", words=words) if words else ""
    if stands is None:
        return ""
    if mind is Mind.WADING and math.isfinite(stands.deepest_m):
        return tr("you stand {deepest}", deepest=depth_in_words(stands.deepest_m, height_m, units))
    if mind is Mind.ROOM and stands.room_m is not None:
        return tr("{span} behind: not every cast fits", span=span_words(*stands.room_m, units))
    if mind is Mind.MORE_WATER and math.isfinite(stands.hand_flow_m3_s):
        flow = flow_words(rounded_flow(stands.hand_flow_m3_s, units), units)
        return tr("about {flow} shuts it", flow=flow)
    return ""


def shut_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return why a run is shut, and the nearest flow at which it opens; empty if it is not."""
    shut = text_of(row.get("shut"))
    if not shut:
        return ""
    why = tr(SHUT.get(shut, "")) or shape_words(row)
    opens = number_of(row.get("opens_m3_s"))
    if not math.isfinite(opens):
        return tr("{why}; at none of these flows", why=why)
    return tr(
        "{why}; opens at {opens}", why=why, opens=flow_words(rounded_flow(opens, units), units)
    )
