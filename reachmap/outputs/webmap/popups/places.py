"""Cards of channels, bars, places worth a note, and trips."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.outputs.webmap.popups.cards import Card
from reachmap.outputs.webmap.say import UNKNOWN, number_of, say, text_of

MANY = 0.005
"""Share of the flow from which a channel's share is told as a number (our choice)."""


def ask_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a place where a note would help, from a row of the layer `asks`."""
    edge = str(row["kind"]) == "edge"
    gain = number_of(row["gain"])
    told = [("Depth there is known to", say("depth", number_of(row["spread_m"]), units))]
    rows = tuple((name, f"give or take {words}") for name, words in told if words != UNKNOWN)
    if math.isfinite(gain):
        rows += (("Takes away", f"{gain:.0%} of what is unsure in the water that matters"),)
    return Card(
        f"{text_of(row['code'])}: {'note the edge here' if edge else 'a sounding here'}",
        "Would sharpen this map most; only where you can stand or float at ease",
        rows,
        tuple(line for line in (text_of(row["note"]),) if line),
    )


def channel_card(row: Mapping[str, Any], wakes: str, units: UnitSystem) -> Card:
    """Return the card of a channel beside the main one; `wakes` is the flow it wakes at."""
    share = number_of(row["share"])
    dead = str(row["kind"]) == "dead arm"
    carried = "next to nothing" if dead or share < MANY else f"{share:.0%} of the river"
    return Card(
        f"{'Dead arm' if dead else 'Side channel'} {text_of(row['code'])}",
        "Open to the river at one end only" if dead else "Leaves the main channel and rejoins it",
        (
            ("Wakes at", wakes or UNKNOWN),
            ("Carries", carried if math.isfinite(share) else UNKNOWN),
            ("Length", say("distance", number_of(row["length_m"]), units)),
            ("Width", say("reach", number_of(row["width_m"]), units)),
            ("Depth along its middle", say("depth", number_of(row["depth_m"]), units)),
        ),
    )


def bar_card(row: Mapping[str, Any], told: Mapping[str, str]) -> Card:
    """Return the card of dry ground with water all round; `told` turns labels into words."""
    cut = text_of(row["cut_off"])
    foot = {"yes": "yes, through water within your limits", "no": "no"}
    rows = [("On foot", foot.get(text_of(row["on_foot"]), UNKNOWN))]
    if cut:
        rows.append(("Way back is cut off at", told.get(cut, cut)))
    return Card(
        f"Bar {text_of(row['code'])}",
        "Dry ground with water all round",
        tuple(rows),
        tuple(line for line in (text_of(row["note"]),) if line),
    )


def run_card(name: str, pieces: Sequence[str]) -> Card:
    """Return the card of a run as the angler drew it, with the stretches it was worked out in."""
    told = tuple(pieces) or ("No stretch of it was found to fish at any mapped flow.",)
    return Card(name, "Your run", (), told)


LOGGED = {
    "trip": "Trip",
    "run": "Trips here",
    "edge": "Edge you saw",
    "sounding": "Depth you measured",
    "speed": "Speed you measured",
}
"""Titles of what a log holds."""


def trip_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a row of the angler's log."""
    flow, minutes = number_of(row["flow"]), number_of(row["minutes"])
    trips, touches = number_of(row["trips"]), number_of(row["touches"])
    rows = [
        ("Run", text_of(row["run"])),
        ("Flow", flow_words(flow, units) if math.isfinite(flow) else ""),
        ("Depth", say("depth", number_of(row["depth_m"]), units)),
        ("Speed", say("speed", number_of(row["speed_m_s"]), units)),
        ("Time fished", f"{minutes / 60:.1f} h" if math.isfinite(minutes) else ""),
        ("Touches", f"{touches:.0f}, {number_of(row['landed']):.0f} landed" if trips > 0 else ""),
    ]
    return Card(
        f"{LOGGED.get(str(row['kind']), 'From your log')}, {text_of(row['date'])}",
        "From your log; it is on this page only",
        tuple(pair for pair in rows if pair[1] not in ("", UNKNOWN)),
        tuple(line for line in (text_of(row["note"]),) if line),
    )
