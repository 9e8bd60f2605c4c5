"""Notes of the ground stage as typed facts; `reachmap.text.ground_notes` makes their sentences."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

ATTRIBUTE = "ground_notes"
"""The attribute of the stage's result that holds them, as JSON."""


class GroundNoteKind(StrEnum):
    """What a note is about; what its values and names are."""

    DATUM_UNNAMED = "datum_unnamed"
    """Nobody names the DEM's vertical datum."""
    HEIGHT_UNIT_UNSAID = "height_unit_unsaid"
    """No tile of the DEM says its unit of height; names: the unit taken, "m" or "ft"."""
    HEIGHT_UNIT_OF_SOME_UNSAID = "height_unit_of_some_unsaid"
    """Some tiles do not; names: the unit taken, then the tiles."""
    DEM_OFF = "dem_off"
    """The DEM's river lies off the drawn one; values: distance [m]; names: the direction."""
    DEM_FLOW_ASSUMED = "dem_flow_assumed"
    """The flow of the DEM's day is not known; values: the flow taken [m3/s]."""
    TRACED_FLOW_ASSUMED = "traced_flow_assumed"
    """Nor is the flow at which the banks were traced; values: the flow taken [m3/s]."""
    BED_SEEN_AS_SAID = "bed_seen_as_said"
    """The settings say that the DEM knows the bed under water."""
    BED_SEEN_ASSUMED = "bed_seen_assumed"
    """It was taken to know it, by its ground below the traced edges."""
    NO_FLAT_WATER = "no_flat_water"
    """The DEM shows no flat water; the level was read from its ground along the edges."""
    NO_FALL_SLOPE_SAID = "no_fall_slope_said"
    """The DEM does not fall; values: the slope said, which is taken [m/m]."""
    NO_FALL_SLOPE_NOTED = "no_fall_slope_noted"
    """The DEM does not fall; values: the slope of the levels noted, which is taken [m/m]."""
    NO_FALL_SLOPE_GUESSED = "no_fall_slope_guessed"
    """The DEM does not fall; values: the slope taken [m/m]."""
    HEIGHTS_LOCAL = "heights_local"
    """No DEM and no level; values: height of the water at the head [m] and its slope [m/m]."""
    SLOPE_THROUGH_LEVELS = "slope_through_levels"
    """No DEM; values: the slope said [m/m], through the levels noted."""
    SLOPE_OF_LEVELS = "slope_of_levels"
    """No DEM; values: the slope of the levels noted [m/m]."""
    LEVELS_NOTED = "levels_noted"
    """The rise of the water is known from levels noted; values: their flows [m3/s]."""
    LEVELS_OF_EDGES = "levels_of_edges"
    """It was read from the DEM along edges drawn; values: their flows [m3/s]."""
    LEVELS_OF_LOGGED_EDGES = "levels_of_logged_edges"
    """It was read from the DEM where edges were logged; values: their flows [m3/s]."""
    RISE_BY_RATING = "rise_by_rating"
    """It follows the gauge's rating."""
    RISE_BY_SECTIONS = "rise_by_sections"
    """It was computed from the sections alone."""
    NO_GROUND_UNDER_BANKS = "no_ground_under_banks"
    """Banks under which no ground is known; names: theirs."""
    COVER_HEIGHT_USUAL = "cover_height_usual"
    """Banks whose cover was given a usual height; names: theirs."""
    SIDE_CHANNEL_OVER_DRY = "side_channel_over_dry"
    """A side channel drawn across dry ground without a DEM; names: its own."""
    STONES = "stones"
    """Resistance of the bed's stones; values: size [m], depth that Manning's n is of [m]; names:
    the kind of bed it comes from, none where the size was given."""
    STONES_TOO_LARGE = "stones_too_large"
    """Stones too large for water so shallow; values: size given, size used [m]."""


@dataclass(frozen=True, slots=True)
class GroundNote:
    """One assumption or source of the ground; values in SI."""

    kind: GroundNoteKind
    values: tuple[float, ...] = ()
    names: tuple[str, ...] = ()


def packed_notes(notes: Iterable[GroundNote]) -> str:
    """Return notes, each once, as JSON."""
    return json.dumps([[one.kind, one.values, one.names] for one in dict.fromkeys(notes)])


def ground_notes_of(attrs: Mapping[Any, Any]) -> tuple[GroundNote, ...]:
    """Return the notes that a ground's attributes hold; none where there are none."""
    return tuple(
        GroundNote(GroundNoteKind(kind), tuple(map(float, values)), tuple(map(str, names)))
        for kind, values, names in json.loads(str(attrs.get(ATTRIBUTE, "[]")))
    )
