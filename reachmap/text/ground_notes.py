"""Sentences of the ground stage's notes, one function for each kind."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from reachmap.base.language import figures_text, noted, tr
from reachmap.base.units import flow_words, from_si
from reachmap.base.words import UnitSystem
from reachmap.ground.notes import GroundNote, GroundNoteKind, ground_notes_of
from reachmap.text.numbers import length_words, list_words

MOST_NAMED = 6
"""How many banks are named in one sentence."""

HEIGHT_UNITS = {"m": noted("metres"), "ft": noted("feet")}
NO_FALL = noted("The DEM's heights do not fall along the river")


def ground_sentences(attrs: Mapping[Any, Any], units: UnitSystem) -> list[str]:
    """Return the sentences of a ground's attributes: what disagrees, then its notes."""
    disagree = [line for line in str(attrs.get("notes", "")).splitlines() if line]
    return [*disagree, *ground_notes_text(ground_notes_of(attrs), units)]


def ground_notes_text(notes: Iterable[GroundNote], units: UnitSystem) -> list[str]:
    """Return a sentence for each note."""
    return [SENTENCES[note.kind](note, units) for note in notes]


def _always(sentence: str) -> Callable[[GroundNote, UnitSystem], str]:
    """Return a function that gives the same sentence for every note."""
    return lambda _note, _units: sentence


def _unit_unsaid(note: GroundNote, _units: UnitSystem) -> str:
    unit = tr(HEIGHT_UNITS[note.names[0]])
    return tr("The DEM does not say its unit of height; reach.toml says {unit}.", unit=unit)


def _unit_of_some_unsaid(note: GroundNote, _units: UnitSystem) -> str:
    unit, *tiles = note.names
    named = ", ".join(tiles)
    return tr(
        "Some tiles do not say their unit of height: {unit} are taken ({named}).",
        unit=tr(HEIGHT_UNITS[unit]),
        named=named,
    )


def _dem_off(note: GroundNote, units: UnitSystem) -> str:
    off = length_words(note.values[0], units)
    return tr(
        "DEM: its river lies about {off} {names} of the drawn one. Banks drawn nearer to "
        "it would sharpen the map.",
        off=off,
        names=note.names[0],
    )


def _dem_flow(note: GroundNote, units: UnitSystem) -> str:
    return tr(
        "Nobody says how much water ran when the DEM was flown; the lowest flow known here, "
        "{values}, is taken. Say it in reach.toml for better depths.",
        values=flow_words(note.values[0], units),
    )


def _traced_flow(note: GroundNote, units: UnitSystem) -> str:
    return tr(
        "Nobody says at which flow the banks were traced; the lowest flow to map, "
        "{values}, is taken.",
        values=flow_words(note.values[0], units),
    )


def _slope_said(note: GroundNote, _units: UnitSystem) -> str:
    return tr(
        "{no_fall}: the slope said, {values}, is taken.",
        no_fall=tr(NO_FALL),
        values=figures_text(note.values[0], 4),
    )


def _slope_noted(note: GroundNote, _units: UnitSystem) -> str:
    return tr(
        "{no_fall}: the slope of the levels noted, {values}, is taken.",
        no_fall=tr(NO_FALL),
        values=figures_text(note.values[0], 4),
    )


def _slope_guessed(note: GroundNote, _units: UnitSystem) -> str:
    return tr(
        "{no_fall}: water held back by something below, or a bed that rises. A fall of "
        "{values} is taken; say slope or fall under [river] in "
        "reach.toml.",
        no_fall=tr(NO_FALL),
        values=figures_text(note.values[0], 4),
    )


def _heights_local(note: GroundNote, units: UnitSystem) -> str:
    head, slope = note.values
    return tr(
        "No DEM: heights are local, {head} at the head, with a slope of {slope}.",
        head=length_words(head, units),
        slope=figures_text(slope, 4),
    )


def _through_levels(note: GroundNote, _units: UnitSystem) -> str:
    slope = figures_text(note.values[0], 4)
    return tr(
        "No DEM: the water falls with a slope of {slope}, through the levels noted.", slope=slope
    )


def _slope_of_levels(note: GroundNote, _units: UnitSystem) -> str:
    return tr(
        "No DEM: the slope, {values}, comes from the noted levels.",
        values=figures_text(note.values[0], 4),
    )


def _levels(how: str) -> Callable[[GroundNote, UnitSystem], str]:
    """Return a function that says at which flows the level is known, and `how`."""

    def sentence(note: GroundNote, units: UnitSystem) -> str:
        flows = list_words([flow_words(flow, units) for flow in note.values])
        return tr("The water's level at {flows} was {how}.", flows=flows, how=how)

    return sentence


def _no_ground(note: GroundNote, _units: UnitSystem) -> str:
    return tr(
        "No ground is known under {names}: say its rise, or add a DEM. Higher water "
        "cannot be mapped there.",
        names=_named(note.names),
    )


def _cover(note: GroundNote, _units: UnitSystem) -> str:
    return tr("Cover of {names} was given a usual height for its kind.", names=_named(note.names))


def _side_channel(note: GroundNote, _units: UnitSystem) -> str:
    return tr(
        "Side channel {names} was drawn across dry ground: it runs when water reaches "
        "it, at a height that only a DEM, or an edge seen there, can tell.",
        names=f"{note.names[0]!r}",
    )


def _stones(note: GroundNote, units: UnitSystem) -> str:
    size, depth = note.values
    how = tr("for a bed of {names}", names=note.names[0]) if note.names else tr("as given")
    return tr(
        "Stones of {size}, {how}: they hold shallow water back more than deep. "
        "Manning's n is that of water {depth} deep, more in shallower water, "
        "less in deeper.",
        size=_stone(size, units),
        how=how,
        depth=length_words(depth, units),
    )


def _stones_too_large(note: GroundNote, units: UnitSystem) -> str:
    given, used = note.values
    return tr(
        "Stones of {given} are large for water so shallow: only {used} are reckoned with.",
        given=_stone(given, units),
        used=_stone(used, units),
    )


def _stone(size_m: float, units: UnitSystem) -> str:
    """Return the size of a stone, in inches or centimetres."""
    if units is UnitSystem.US:
        return tr("{size} in", size=figures_text(from_si(size_m, "in"), 2))
    return tr("{size} cm", size=figures_text(100 * size_m, 3))


def _named(names: Sequence[str]) -> str:
    """Return names as part of a sentence, the first few of many."""
    more = len(names) - MOST_NAMED
    return list_words([*names[:MOST_NAMED], tr("{more} more", more=more)] if more > 0 else names)


SENTENCES: dict[GroundNoteKind, Callable[[GroundNote, UnitSystem], str]] = {
    GroundNoteKind.DATUM_UNNAMED: _always(
        "Nobody names the DEM's vertical datum; heights are taken as they come."
    ),
    GroundNoteKind.HEIGHT_UNIT_UNSAID: _unit_unsaid,
    GroundNoteKind.HEIGHT_UNIT_OF_SOME_UNSAID: _unit_of_some_unsaid,
    GroundNoteKind.DEM_OFF: _dem_off,
    GroundNoteKind.DEM_FLOW_ASSUMED: _dem_flow,
    GroundNoteKind.TRACED_FLOW_ASSUMED: _traced_flow,
    GroundNoteKind.BED_SEEN_AS_SAID: _always(
        "The DEM knows the bed under water, as reach.toml says: it is taken as it is."
    ),
    GroundNoteKind.BED_SEEN_ASSUMED: _always(
        "The DEM holds ground well below the traced edges and no flat water: it was taken to know "
        "the bed under water too. If it does not, say so by taking it out; if it does, say so in "
        "reach.toml: below_water = true under [dem]."
    ),
    GroundNoteKind.NO_FLAT_WATER: _always(
        "The DEM shows no flat water between the drawn banks; the water's level was taken from its "
        "ground along the traced edges, and the bed beneath is a form."
    ),
    GroundNoteKind.NO_FALL_SLOPE_SAID: _slope_said,
    GroundNoteKind.NO_FALL_SLOPE_NOTED: _slope_noted,
    GroundNoteKind.NO_FALL_SLOPE_GUESSED: _slope_guessed,
    GroundNoteKind.HEIGHTS_LOCAL: _heights_local,
    GroundNoteKind.SLOPE_THROUGH_LEVELS: _through_levels,
    GroundNoteKind.SLOPE_OF_LEVELS: _slope_of_levels,
    GroundNoteKind.LEVELS_NOTED: _levels("noted"),
    GroundNoteKind.LEVELS_OF_EDGES: _levels("read from the DEM along the edges drawn there"),
    GroundNoteKind.LEVELS_OF_LOGGED_EDGES: _levels(
        "read from the DEM where the water's edge was logged"
    ),
    GroundNoteKind.RISE_BY_RATING: _always(
        "How far the water rises with flow follows the gauge's rating, spread along the reach as "
        "its sections carry it."
    ),
    GroundNoteKind.RISE_BY_SECTIONS: _always(
        "How far the water rises with flow was computed from the sections themselves: no edge on a "
        "DEM and no rating says it."
    ),
    GroundNoteKind.NO_GROUND_UNDER_BANKS: _no_ground,
    GroundNoteKind.COVER_HEIGHT_USUAL: _cover,
    GroundNoteKind.SIDE_CHANNEL_OVER_DRY: _side_channel,
    GroundNoteKind.STONES: _stones,
    GroundNoteKind.STONES_TOO_LARGE: _stones_too_large,
}
"""The sentence of each kind."""
