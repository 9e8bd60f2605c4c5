"""Cards of channels, bars, places worth a note, and trips."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from reachmap.base.language import noted, number_text, tr
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
    tasks = {SurveyKind.EDGE: tr("note the edge here"), SurveyKind.STICK: tr("time a stick here")}
    gain = number_of(row["gain"])
    known = [(tr("Depth there is known to"), both("depth", number_of(row["spread_m"]), units))]
    rows = tuple(
        (name, tr("give or take {words}", words=words))
        for name, words in known
        if words != tr(UNKNOWN)
    )
    if math.isfinite(gain):
        rows += (
            (
                tr("Takes away"),
                tr("{gain} of what is unsure in the water that matters", gain=f"{gain:.0%}"),
            ),
        )
    rows += (
        (tr("In the order to go"), tr("stop {order}", order=f"{number_of(row['order']):.0f}")),
    )
    return Card(
        f"{text_of(row['code'])}: {tasks.get(SurveyKind(row['kind']), tr('a sounding here'))}",
        tr("Would sharpen this map most; only where you can stand or float at ease"),
        rows,
        (survey_note(row, units),),
    )


def channel_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a side channel or dead arm, from a row of the layer `channels`."""
    share = number_of(row["share"])
    dead = row["kind"] == ChannelKind.DEAD_ARM
    carried = (
        tr("next to nothing")
        if dead or share < MANY
        else tr("{share} of the river", share=f"{share:.0%}")
    )
    return Card(
        tr("Dead arm {code}", code=text_of(row["code"]))
        if dead
        else tr("Side channel {code}", code=text_of(row["code"])),
        tr("Open to the river at one end only")
        if dead
        else tr("Leaves the main channel and rejoins it"),
        (
            (tr("Wakes at"), flow_or_none(row["wakes_at_m3_s"], units) or tr(UNKNOWN)),
            (tr("Carries"), carried if math.isfinite(share) else tr(UNKNOWN)),
            (tr("Length"), both("distance", number_of(row["length_m"]), units)),
            (tr("Width"), both("reach", number_of(row["width_m"]), units)),
            (tr("Depth along its middle"), both("depth", number_of(row["depth_m"]), units)),
        ),
    )


def bar_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of dry ground with water all round, from a row of the layer `bars`."""
    rows = [
        (tr("On foot"), tr("yes, through water within your limits") if row["on_foot"] else tr("no"))
    ]
    if cut := flow_or_none(row["cut_off_m3_s"], units):
        rows.append((tr("Way back is cut off at"), cut))
    return Card(
        tr("Bar {code}", code=text_of(row["code"])),
        tr("Dry ground with water all round"),
        tuple(rows),
        (bar_note(row, units),),
    )


def left_over_card(row: Mapping[str, Any]) -> Card:
    """Return the card of water within the limits that is no piece, from a row of `left_over`."""
    return Card(
        tr("Left alone"),
        tr("Water within your limits that is no piece to go to"),
        (
            (tr("It would be"), tr(DRAWN[text_of(row["kind"])])),
            (tr("Why not"), tr(LACKS[text_of(row["why"])])),
        ),
    )


def own_run_card(name: str, pieces: Sequence[str]) -> Card:
    """Return the card of a run as the angler drew it, with the stretches found in it."""
    lines = tuple(pieces) or (tr("No stretch of it was found to fish at any mapped flow."),)
    return Card(name, tr("Your run"), (), lines)


def trip_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a row of the angler's log."""
    flow, minutes = number_of(row["flow"]), number_of(row["minutes"])
    trips, touches = number_of(row["trips"]), number_of(row["touches"])
    rows = [
        (tr("Run"), text_of(row["run"])),
        (tr("Flow"), flow_words(flow, units) if math.isfinite(flow) else ""),
        (tr("Depth"), both("depth", number_of(row["depth_m"]), units)),
        (tr("Speed"), both("speed", number_of(row["speed_m_s"]), units)),
        (tr("Time fished"), f"{number_text(minutes / 60, 1)} h" if math.isfinite(minutes) else ""),
        (
            tr("Touches"),
            tr(
                "{touches}, {landed} landed",
                touches=f"{touches:.0f}",
                landed=f"{number_of(row['landed']):.0f}",
            )
            if trips > 0
            else "",
        ),
    ]
    return Card(
        f"{tr(LOGGED.get(str(row['kind']), noted('From your log')))}, {text_of(row['date'])}",
        tr("From your log; it is on this page only"),
        tuple(pair for pair in rows if pair[1] not in ("", tr(UNKNOWN))),
        tuple(line for line in (text_of(row["note"]),) if line),
    )
