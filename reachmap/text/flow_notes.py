"""Sentences of the flow stage's notes, one function for each kind."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.language import figures_text, number_text
from reachmap.base.units import flow_label, flow_words, from_si
from reachmap.base.words import UnitSystem
from reachmap.flow.notes import FlowNote, NoteKind


def flow_note_text(note: FlowNote, units: UnitSystem) -> str:
    """Return a note as a sentence; a flow is named as in the folder's `units`."""
    sentence = SENTENCES[note.kind](note, units)
    return sentence if note.flow is None else f"{flow_label(note.flow, units)}: {sentence}"


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
    names = [flow_words(flow, units) for flow in flows]
    listed = f"{', '.join(names[:-1])} and {names[-1]}"
    begun = f"The river was solved at {listed}; every other flow is worked out between them"
    if not np.isfinite(expected).any():
        return f"{begun}, how far off is not known."
    deep, fast = np.nanmax(expected, axis=0)
    small, quick, digits = ("in", "ft/s", 2) if units is UnitSystem.US else ("cm", "cm/s", 1)
    size = f"{number_text(from_si(deep, small), 1)} {small}"
    pace = f"{number_text(from_si(fast, quick), digits)} {quick}"
    return (
        f"{begun}, usually within {size} of depth and {pace} of speed (found by leaving solved "
        "flows out)."
    )


def _hundred(note: FlowNote, name: str, figures: int = 2) -> str:
    """Return a value in hundredths: a share in per cent, metres in centimetres."""
    return figures_text(100 * note.value(name), figures)


def _milli(note: FlowNote, name: str) -> str:
    """Return a length in millimetres, to two figures."""
    return figures_text(1000 * note.value(name), 2)


def _tributary(note: FlowNote, _units: UnitSystem) -> str:
    """Return a tributary's share of the flow and its place."""
    return (
        f"{note.name or 'A tributary'} brings {_hundred(note, 'share', 3)} % of the flow and "
        f"joins {note.station:.0f} m down the line; above it the river carries that much less."
    )


def _not_modelled(_note: FlowNote, _units: UnitSystem) -> str:
    """Return that the preview has no tributaries."""
    return (
        "The preview gives the river its whole flow all along: above a tributary it shows too much "
        "water."
    )


def _critical(note: FlowNote, _units: UnitSystem) -> str:
    """Return the sections at critical depth, where the level is a lower bound."""
    return (
        f"at {note.value('critical_sections'):.0f} of {note.value('sections'):.0f} sections, the "
        f"first {note.station:.0f} m down the line, the water runs at critical depth; the level "
        "there is a lower bound."
    )


def _narrow(_note: FlowNote, _units: UnitSystem) -> str:
    """Return that flow directions follow the river line."""
    return "the water is narrower than a cell somewhere, so directions follow the line."


def _held(note: FlowNote, _units: UnitSystem) -> str:
    """Return the area held to the wave speed, where the water may run faster."""
    return (
        f"{note.value('area_m2'):.0f} m2 of water over ledges and steep riffles were held to the "
        "speed of waves; it may run thinner and faster there."
    )


def _unknown(note: FlowNote, _units: UnitSystem) -> str:
    """Return the area of low ground that is unknown."""
    return (
        f"{note.value('area_m2'):.0f} m2 of low ground could be reached only over ground of "
        "unknown height; it is marked unknown."
    )


def _solved(note: FlowNote, _units: UnitSystem) -> str:
    """Return cycles and residuals of the solve."""
    return (
        f"solved in {note.value('cycles'):.0f} cycles ({note.name}); the worst section's discharge "
        f"is {_hundred(note, 'section_error')} % off; a cycle still moves depth by "
        f"{_milli(note, 'depth_change_m')} mm and speed by "
        f"{_hundred(note, 'speed_change_m_s')} cm/s."
    )


def _not_at_rest(note: FlowNote, _units: UnitSystem) -> str:
    """Return that the solve did not converge, with its residuals."""
    return (
        f"the water did not come quite to rest (asked for: {_hundred(note, 'section_error')} "
        f"% of discharge, {_milli(note, 'depth_change_m')} mm and "
        f"{_hundred(note, 'speed_change_m_s')} cm/s a cycle). Take its depths and speeds as "
        "less sure, most of all where currents meet."
    )


def _oscillates(note: FlowNote, _units: UnitSystem) -> str:
    """Return the oscillating area, where the solver was smoothed."""
    return (
        f"over {note.value('area_m2'):.0f} m2 the water swings to and fro; there the solver was "
        "smoothed, and speeds are means at best."
    )


def _bend(note: FlowNote, _units: UnitSystem) -> str:
    """Return the sign of the speeds' error in a strong bend."""
    closure = (
        "the closure for it is on, but is not matched to measurements"
        if note.value("closure_on")
        else "depth-averaged speeds do not know of it"
    )
    return (
        f"in the bend {note.station:.0f} m down the line the water turns over strongly (bend "
        f"number {figures_text(note.value('bend_number'), 2)}, above "
        f"{figures_text(note.value('bend_number_limit'))}); "
        f"{closure}: expect slower water inside and faster outside."
    )


def _cut(note: FlowNote, _units: UnitSystem) -> str:
    """Return the mismatch of two stretches of a long river at their cut."""
    return (
        f"worked out in pieces; at the cut {note.station:.0f} m down the line the two sides differ "
        f"by {number_text(1000 * note.value('level_m'), 1)} mm in level and "
        f"{number_text(100 * note.value('speed_m_s'), 2)} cm/s in speed."
    )


def _interpolated(note: FlowNote, units: UnitSystem) -> str:
    """Return that the field was interpolated between two solved flows."""
    low, high = (flow_words(note.value(name), units) for name in ("low_m3_s", "high_m3_s"))
    return f"depths and speeds are interpolated between the solved flows {low} and {high}."


SENTENCES: dict[NoteKind, Callable[[FlowNote, UnitSystem], str]] = {
    NoteKind.TRIBUTARY: _tributary,
    NoteKind.TRIBUTARY_NOT_MODELLED: _not_modelled,
    NoteKind.CRITICAL_DEPTH: _critical,
    NoteKind.NARROW: _narrow,
    NoteKind.HELD_TO_WAVES: _held,
    NoteKind.UNKNOWN_GROUND: _unknown,
    NoteKind.SOLVED: _solved,
    NoteKind.NOT_AT_REST: _not_at_rest,
    NoteKind.OSCILLATES: _oscillates,
    NoteKind.STRONG_BEND: _bend,
    NoteKind.CUT: _cut,
    NoteKind.INTERPOLATED: _interpolated,
}
"""The sentence of each kind, without the flow."""
