"""Register of the mark-up layers: geometry, fields, units and permitted words.

Reader, writer, starter, checks and docs all use it. Standard library only, for fast start.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from reachmap.base.words import (
    AccessKind,
    Cover,
    HazardKind,
    Part,
    Side,
    SpeedHow,
    Word,
)
from reachmap.base.words_runs import StructureKind


class Quantity(StrEnum):
    """Quantity of a field; with the folder's units it determines the unit of a plain number."""

    TEXT = "text"
    WORD = "word"
    LENGTH = "length"
    HEIGHT = "height"
    SPEED = "speed"
    FLOW = "flow"
    SINK = "sink rate"
    MASS = "mass"
    UNIT_FLOW = "depth times speed"
    SHARE = "share"


NUMBERS = frozenset(Quantity) - {Quantity.TEXT, Quantity.WORD}
"""Quantities that are numbers with a unit."""


@dataclass(frozen=True, slots=True)
class LayerField:
    """One field of a layer.

    Parameters
    ----------
    name
        As written in the file.
    quantity
        What it holds.
    meaning
        For the angler, one line.
    words
        The words it may hold, if a word.
    default
        Word taken where the field is empty; None where there is no default.
    required
        Whether it must be filled in.
    low, high
        Limits of a number [SI], inclusive; outside them it is a fault. Our choice: beyond the
        values of a wadeable river, so that a wrong unit is detected.
    """

    name: str
    quantity: Quantity
    meaning: str
    words: type[Word] | None = None
    default: Word | None = None
    required: bool = False
    low: float = -math.inf
    high: float = math.inf


@dataclass(frozen=True, slots=True)
class LayerSpec:
    """One layer: name, permitted geometries, fields, and whether a folder must have it."""

    name: str
    shapes: tuple[str, ...]
    meaning: str
    fields: tuple[LayerField, ...]
    required: bool = False

    @property
    def by_name(self) -> Mapping[str, LayerField]:
        """Return the fields by name."""
        return {field.name: field for field in self.fields}


def _text(name: str, meaning: str) -> LayerField:
    """Return a field of free text."""
    return LayerField(name, Quantity.TEXT, meaning)


def _word(name: str, words: type[Word], meaning: str, default: Word | None = None) -> LayerField:
    """Return a field of fixed words, required where there is no default."""
    return LayerField(name, Quantity.WORD, meaning, words, default, required=default is None)


def _number(
    name: str,
    quantity: Quantity,
    meaning: str,
    limits: tuple[float, float],
    *,
    required: bool = False,
) -> LayerField:
    """Return a field of a number with limits [SI]."""
    return LayerField(name, quantity, meaning, None, None, required, *limits)


def _flow(meaning: str, *, required: bool = False) -> LayerField:
    """Return a field that holds the river's flow."""
    return _number("flow", Quantity.FLOW, meaning, FLOW_LIMITS, required=required)


FLOW_LIMITS = (0.01, 50_000.0)
"""Limits of the flow of a wadeable river [m3/s] (our choice, generous both ways)."""

BEDS_WITHOUT_STONES = ("sand", "silt", "bedrock")
BEDS = (*BEDS_WITHOUT_STONES, "gravel", "cobble", "boulder")
"""Words for the bed of a channel; those without stones have one roughness at every depth."""

MOST_FLOWS = 100
"""Most flows to map; more are taken as a typing error (our choice)."""

LADDER = 24
"""Default number of flows at which a map is evaluated; our choice, 15-40: over a ninefold range
of flows two neighbours then differ by a tenth."""

HEIGHT_LIMITS = (-450.0, 9000.0)
"""Heights of dry land on Earth [m]."""

LINE, POLYGON, POINT = "LineString", "Polygon", "Point"
_OUTLINE = (POLYGON,)
_LENGTH, _HEIGHT, _SPEED = Quantity.LENGTH, Quantity.HEIGHT, Quantity.SPEED

_SPECS = (
    LayerSpec(
        "river",
        (LINE,),
        "The river's middle, drawn downstream; one main line, side channels if any.",
        (
            _text("name", "Name of the river or channel."),
            _word("part", Part, "main, or side for a side channel or a tributary.", Part.MAIN),
            _number(
                "share", Quantity.SHARE, "Tributaries: part of the flow below it.", (0.001, 0.95)
            ),
        ),
        required=True,
    ),
    LayerSpec(
        "banks",
        _OUTLINE,
        "Bank, from the water's edge at the traced flow outwards; one polygon per kind of cover.",
        (
            _text("name", "Your name for it, if any."),
            _word("side", Side, "Which bank, looking downstream."),
            _word("cover", Cover, "What grows or lies there."),
            _number(
                "rise", _LENGTH, "Height of its outer edge above the traced water.", (-2.0, 60.0)
            ),
            _number("cover_height", _LENGTH, "Height of the cover above ground.", (0.0, 90.0)),
            _text("note", "Anything else."),
        ),
        required=True,
    ),
    LayerSpec(
        "edges",
        (LINE, POLYGON),
        "Where the water's edge was seen at another flow: a line, or the outline of the wet area.",
        (
            _flow("Flow at which it was seen.", required=True),
            _text("date", "When, as you like to write it."),
        ),
    ),
    LayerSpec(
        "soundings",
        (POINT,),
        "A measured depth with its flow, or a measured height of the bed.",
        (
            _text("name", "Your name for it, if any."),
            _number("depth", _LENGTH, "Depth of the water.", (0.0, 15.0)),
            _flow("Flow at which the depth was taken."),
            _number("bed", _HEIGHT, "Height of the bed, in the DEM's datum.", HEIGHT_LIMITS),
        ),
    ),
    LayerSpec(
        "speeds",
        (POINT,),
        "A measured speed.",
        (
            _number("speed", _SPEED, "Speed of the water.", (0.0, 8.0), required=True),
            _flow("Flow at which it was taken.", required=True),
            _word("how", SpeedHow, "surface: a timed stick; mean: a meter.", SpeedHow.SURFACE),
        ),
    ),
    LayerSpec(
        "levels",
        (POINT,),
        "A measured height of the water's surface.",
        (
            _number(
                "level",
                _HEIGHT,
                "Height of the water, in the DEM's datum.",
                HEIGHT_LIMITS,
                required=True,
            ),
            _flow("Flow at which it was taken, if known."),
        ),
    ),
    LayerSpec(
        "trees",
        (POINT,),
        "A single tree.",
        (
            _number("height", _LENGTH, "Height above ground.", (0.0, 120.0)),
            _number("size", _LENGTH, "Width of its crown.", (0.0, 50.0)),
        ),
    ),
    LayerSpec(
        "rocks",
        (POINT,),
        "A single rock.",
        (
            _number("height", _LENGTH, "Height above the ground or bed around it.", (0.0, 30.0)),
            _number("size", _LENGTH, "Width.", (0.0, 60.0)),
        ),
    ),
    LayerSpec(
        "structure",
        (POINT,),
        "A place that you know holds fish: a bucket, a slot, slack water below a boulder.",
        (
            _word("kind", StructureKind, "What it is.", StructureKind.BUCKET),
            _flow("Flow at which it held fish, if you know."),
            _text("note", "What to know."),
        ),
    ),
    LayerSpec(
        "hazards",
        (POINT, LINE, POLYGON),
        "Something that can hurt.",
        (
            _word("kind", HazardKind, "What it is.", HazardKind.OTHER),
            _text("note", "What to know."),
        ),
    ),
    LayerSpec(
        "access",
        (POINT,),
        "A way to the water.",
        (
            _word("kind", AccessKind, "What it is."),
            _text("note", "What to know: whose land it is, a fee, a gate."),
        ),
    ),
    LayerSpec(
        "runs",
        _OUTLINE,
        "Your own name for a stretch.",
        (LayerField("name", Quantity.TEXT, "The name, unlike any other.", required=True),),
    ),
)

LAYER_FIELDS: Mapping[str, LayerSpec] = {spec.name: spec for spec in _SPECS}
"""Every mark-up layer by name, in the order in which files and docs list them."""

LAYER_NAMES = tuple(LAYER_FIELDS)
"""Names of the layers."""

REQUIRED = tuple(spec.name for spec in _SPECS if spec.required)
"""Names of the required layers."""
