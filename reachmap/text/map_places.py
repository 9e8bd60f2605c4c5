"""Cards of channels, bars, places worth a note, and trips."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from reachmap.base.language import number_text
from reachmap.base.units import flow_words
from reachmap.base.words import ChannelKind, SurveyKind, UnitSystem
from reachmap.text.map_cards import Card, flow_or_none
from reachmap.text.numbers import UNKNOWN, both, number_of, text_of
from reachmap.text.survey import survey_note
from reachmap.text.terms import DRAWN, LACKS, LOGGED
from reachmap.text.zone import bar_note

MANY = 0.005
"""Share of the flow from which a channel's share is given as a number (our choice)."""


def survey_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a survey suggestion, from a row of the layer `asks`."""
    tasks = {SurveyKind.EDGE: "note the edge here", SurveyKind.STICK: "time a stick here"}
    gain = number_of(row["gain"])
    known = [("Depth there is known to", both("depth", number_of(row["spread_m"]), units))]
    rows = tuple((name, f"give or take {words}") for name, words in known if words != UNKNOWN)
    if math.isfinite(gain):
        rows += (("Takes away", f"{gain:.0%} of what is unsure in the water that matters"),)
    rows += (("In the order to go", f"stop {number_of(row['order']):.0f}"),)
    return Card(
        f"{text_of(row['code'])}: {tasks.get(SurveyKind(row['kind']), 'a sounding here')}",
        "Would sharpen this map most; only where you can stand or float at ease",
        rows,
        (survey_note(row, units),),
    )


def channel_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a side channel or dead arm, from a row of the layer `channels`."""
    share = number_of(row["share"])
    dead = row["kind"] == ChannelKind.DEAD_ARM
    carried = "next to nothing" if dead or share < MANY else f"{share:.0%} of the river"
    return Card(
        f"{'Dead arm' if dead else 'Side channel'} {text_of(row['code'])}",
        "Open to the river at one end only" if dead else "Leaves the main channel and rejoins it",
        (
            ("Wakes at", flow_or_none(row["wakes_at_m3_s"], units) or UNKNOWN),
            ("Carries", carried if math.isfinite(share) else UNKNOWN),
            ("Length", both("distance", number_of(row["length_m"]), units)),
            ("Width", both("reach", number_of(row["width_m"]), units)),
            ("Depth along its middle", both("depth", number_of(row["depth_m"]), units)),
        ),
    )


def bar_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of dry ground with water all round, from a row of the layer `bars`."""
    rows = [("On foot", "yes, through water within your limits" if row["on_foot"] else "no")]
    if cut := flow_or_none(row["cut_off_m3_s"], units):
        rows.append(("Way back is cut off at", cut))
    return Card(
        f"Bar {text_of(row['code'])}",
        "Dry ground with water all round",
        tuple(rows),
        (bar_note(row, units),),
    )


def left_over_card(row: Mapping[str, Any]) -> Card:
    """Return the card of water within the limits that is no piece, from a row of `left_over`."""
    return Card(
        "Left alone",
        "Water within your limits that is no piece to go to",
        (("It would be", DRAWN[text_of(row["kind"])]), ("Why not", LACKS[text_of(row["why"])])),
    )


def own_run_card(name: str, pieces: Sequence[str]) -> Card:
    """Return the card of a run as the angler drew it, with the stretches found in it."""
    lines = tuple(pieces) or ("No stretch of it was found to fish at any mapped flow.",)
    return Card(name, "Your run", (), lines)


def trip_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a row of the angler's log."""
    flow, minutes = number_of(row["flow"]), number_of(row["minutes"])
    trips, touches = number_of(row["trips"]), number_of(row["touches"])
    rows = [
        ("Run", text_of(row["run"])),
        ("Flow", flow_words(flow, units) if math.isfinite(flow) else ""),
        ("Depth", both("depth", number_of(row["depth_m"]), units)),
        ("Speed", both("speed", number_of(row["speed_m_s"]), units)),
        ("Time fished", f"{number_text(minutes / 60, 1)} h" if math.isfinite(minutes) else ""),
        ("Touches", f"{touches:.0f}, {number_of(row['landed']):.0f} landed" if trips > 0 else ""),
    ]
    return Card(
        f"{LOGGED.get(str(row['kind']), 'From your log')}, {text_of(row['date'])}",
        "From your log; it is on this page only",
        tuple(pair for pair in rows if pair[1] not in ("", UNKNOWN)),
        tuple(line for line in (text_of(row["note"]),) if line),
    )
