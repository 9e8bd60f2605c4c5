"""Sentences of the flow stage's notes that an angler wants, one function for each kind.

How the solver ended, and how well pieces of a long river join, are figures in report.json.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.language import figures_text, number_text, tr
from reachmap.base.units import flow_words, from_si
from reachmap.base.words import UnitSystem
from reachmap.flow.notes import FlowNote, NoteKind
from reachmap.text.numbers import area_words, distance_words, list_words

SAME_PLACE_M = 25.0
"""Notes of one kind at several flows, no farther apart than this, are about one place [m]; our
choice: the peak of a bend's curvature moves by a cell or two between flows."""


def flow_notes_text(notes: Iterable[FlowNote], units: UnitSystem) -> list[str]:
    """Return sentences on the notes; one sentence for what several flows have in common.

    Where the values differ from flow to flow, those of the flow with the largest first value are
    said.
    """
    groups: list[list[FlowNote]] = []
    for note in notes:
        if note.kind not in SENTENCES:
            continue
        group = next((one for one in groups if _about_the_same(one[0], note)), None)
        if group is None:
            groups.append([note])
        else:
            group.append(note)
    return [_sentence(group, units) for group in groups]


def _about_the_same(one: FlowNote, other: FlowNote) -> bool:
    """Return whether two notes say the same of two flows."""
    if (one.kind, one.name) != (other.kind, other.name) or None in (one.flow, other.flow):
        return False
    if one.station is None or other.station is None:
        return one.station is other.station
    return abs(one.station - other.station) <= SAME_PLACE_M


def _sentence(group: Sequence[FlowNote], units: UnitSystem) -> str:
    """Return the sentence of notes that say the same, with their flows."""
    most = max(group, key=lambda note: note.values[:1])
    sentence = SENTENCES[most.kind](most, units)
    flows = [flow_words(note.flow, units) for note in group if note.flow is not None]
    if not flows:
        return sentence
    return tr("At {flows}: {sentence}", flows=list_words(flows), sentence=sentence)


def between_words(flows: Sequence[float], expected: FloatArray, units: UnitSystem) -> str:
    """Return the sentence on the solved flows and the expected error of flows between them.

    Parameters
    ----------
    flows
        Solved flows [m3/s], rising.
    expected
        Error between each two of them: depth [m], speed [m/s], shape (flows - 1, 2); NaN unknown.
    units
        The reach folder's units.
    """
    names = list_words([flow_words(flow, units) for flow in flows])
    begun = tr(
        "The river was solved at {names}; every other flow is worked out between them", names=names
    )
    if not np.isfinite(expected).any():
        return tr("{begun}, how far off is not known.", begun=begun)
    deep, fast = np.nanmax(expected, axis=0)
    small, quick, digits = ("in", "ft/s", 2) if units is UnitSystem.US else ("cm", "cm/s", 1)
    size = f"{number_text(from_si(deep, small), 1)} {small}"
    pace = f"{number_text(from_si(fast, quick), digits)} {quick}"
    return tr(
        "{begun}, usually within {size} of depth and {pace} of speed (found by leaving solved "
        "flows out).",
        begun=begun,
        size=size,
        pace=pace,
    )


def _below_top(note: FlowNote, units: UnitSystem) -> str:
    """Return the place of a note along the river."""
    return tr(
        "{far} below the top of the map",
        far=distance_words(note.station or 0.0, units),
    )


def _tributary(note: FlowNote, units: UnitSystem) -> str:
    """Return a tributary's share of the flow and its place."""
    return tr(
        "{name} joins {below_top} and brings "
        "{share} % of the flow; above it the river carries "
        "that much less.",
        name=note.name or tr("A tributary"),
        below_top=_below_top(note, units),
        share=figures_text(100 * note.value("share"), 3),
    )


def _not_modelled(_note: FlowNote, _units: UnitSystem) -> str:
    """Return that the preview has no tributaries."""
    return tr(
        "The preview gives the river its whole flow all along: above a tributary it shows too much "
        "water."
    )


def _critical(note: FlowNote, units: UnitSystem) -> str:
    """Return the sections at critical depth, where the level is a lower bound."""
    return tr(
        "in {critical_sections} of {sections} sections, the "
        "first {below_top}, the water drops as over a sill; it may stand higher "
        "there than drawn.",
        critical_sections=f"{note.value('critical_sections'):.0f}",
        sections=f"{note.value('sections'):.0f}",
        below_top=_below_top(note, units),
    )


def _narrow(_note: FlowNote, _units: UnitSystem) -> str:
    """Return that flow directions follow the river line."""
    return tr(
        "somewhere the water is narrower than a cell; there the current is drawn along the river "
        "line."
    )


def _held(note: FlowNote, units: UnitSystem) -> str:
    """Return the area held to the wave speed, where the water may run faster."""
    return tr(
        "over {area} of ledges and steep riffles the water may run thinner and faster than drawn.",
        area=area_words(note.value("area_m2"), units),
    )


def _unknown(note: FlowNote, units: UnitSystem) -> str:
    """Return the area of low ground that is unknown."""
    return tr(
        "water may reach {area} of low ground over ground "
        "whose height nobody knows; it is drawn as unknown.",
        area=area_words(note.value("area_m2"), units),
    )


def _not_at_rest(_note: FlowNote, _units: UnitSystem) -> str:
    """Return that the solve did not converge."""
    return tr(
        "the water did not come quite to rest. Take its depths and speeds as less sure, most of "
        "all where currents meet."
    )


def _oscillates(note: FlowNote, units: UnitSystem) -> str:
    """Return the oscillating area, where the solver was smoothed."""
    return tr(
        "over {area} the water swings to and fro; speeds there are means at best.",
        area=area_words(note.value("area_m2"), units),
    )


def _bend(note: FlowNote, units: UnitSystem) -> str:
    """Return the sign of the speeds' error in a strong bend."""
    how = tr(" (a correction for it is on, not matched to measurements)")
    return tr(
        "in the bend {below_top} the water turns over strongly"
        "{closure_on}: expect it slower inside and faster outside "
        "than drawn.",
        below_top=_below_top(note, units),
        closure_on=how if note.value("closure_on") else "",
    )


def _interpolated(note: FlowNote, units: UnitSystem) -> str:
    """Return that the field was interpolated between two solved flows."""
    low, high = (flow_words(note.value(name), units) for name in ("low_m3_s", "high_m3_s"))
    return tr(
        "depths and speeds are interpolated between the solved flows {low} and {high}.",
        low=low,
        high=high,
    )


SENTENCES: dict[NoteKind, Callable[[FlowNote, UnitSystem], str]] = {
    NoteKind.TRIBUTARY: _tributary,
    NoteKind.TRIBUTARY_NOT_MODELLED: _not_modelled,
    NoteKind.CRITICAL_DEPTH: _critical,
    NoteKind.NARROW: _narrow,
    NoteKind.HELD_TO_WAVES: _held,
    NoteKind.UNKNOWN_GROUND: _unknown,
    NoteKind.NOT_AT_REST: _not_at_rest,
    NoteKind.OSCILLATES: _oscillates,
    NoteKind.STRONG_BEND: _bend,
    NoteKind.INTERPOLATED: _interpolated,
}
"""The sentence of each kind, without the flow."""
