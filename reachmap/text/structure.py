"""A structure (bucket, slot, ledge pool ...) in words, for cards and small screens."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.base.words_runs import StructureKind
from reachmap.text.map_cards import Card, side_words, sure_words
from reachmap.text.numbers import both, number_of, short, text_of
from reachmap.text.terms import STRETCHES, STRUCTURES, SUPPORTS


def structure_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the sentence on a row of the layer `structure`.

    Examples
    --------
    >>> row = {"kind": "bucket", "relief_m": 0.46, "lie_depth_m": 1.22, "lie_part": "lower"}
    >>> structure_words(row, UnitSystem.US)
    'A bucket: 1.5 ft deeper than around it, 4.0 ft at this flow; fish lie at its lower end.'
    """
    kind, relief = str(row["kind"]), short("depth", number_of(row["relief_m"]), units)
    name = _article(STRUCTURES[kind])
    deep = f"{short('depth', number_of(row['lie_depth_m']), units)} at this flow"
    part = STRETCHES.get(text_of(row.get("lie_part")), "in it")
    if kind != StructureKind.EDDY_LINE and not math.isfinite(number_of(row["relief_m"])):
        return f"{name}, as you marked it: {deep}; fish lie {part}."
    details = {
        StructureKind.BUCKET: f"{relief} deeper than around it, {deep}; fish lie {part}",
        StructureKind.SLOT: f"{relief} deeper than the bed on both sides, {deep}; fish lie {part}",
        StructureKind.LEDGE_POOL: f"scoured {relief} below its lip, {deep}; fish lie {part}",
        StructureKind.DROP_OFF: f"the shelf falls by {relief}, {deep}; fish lie along its foot",
        StructureKind.BOULDER_LEE: f"slack below {relief} of rock, {deep}; fish lie {part}",
        StructureKind.EDDY_LINE: f"slack water beside quick, {deep}; fish lie along its edge",
        StructureKind.ROCK_GARDEN: f"boulders about {relief} high, {deep}; fish lie between them",
    }
    return f"{name}: {details[StructureKind(kind)]}."


def _article(name: str) -> str:
    """Return a name with its article, as a sentence begins."""
    return f"{'An' if name[0] in 'aeiou' else 'A'} {name}"


def swing_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return where the fly passes, or that there is no swing water near."""
    out = number_of(row["swing_out_m"])
    if not math.isfinite(out):
        return "No water near it suits a swung fly at this flow: too quick, too slow or too thin."
    depth = short("depth", number_of(row["swing_depth_m"]), units)
    speed = short("speed", number_of(row["swing_speed_m_s"]), units)
    far = short("distance", out, units)
    return f"Bring the fly through {far} off {side_words(row['side'])}: {depth} deep, {speed}."


def flows_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the flows at which a structure holds fish; nothing where none is known."""
    low, high = (number_of(row.get(f"holds_{end}_m3_s")) for end in ("from", "to"))
    if not (math.isfinite(low) and math.isfinite(high)):
        return ""
    if low == high:
        return f"at {flow_words(low, units)} only, of the flows mapped"
    return f"from {flow_words(low, units)} to {flow_words(high, units)}"


def structure_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a structure, from a row of the layer `structure`."""
    kind, odds = StructureKind(str(row["kind"])), number_of(row["lie_odds"])
    lie = both("depth", number_of(row["lie_depth_m"]), units)
    near_bed = both("speed", number_of(row["near_bed_speed_m_s"]), units)
    size = f"{both('distance', number_of(row['length_m']), units)} long, " + both(
        "distance", number_of(row["width_m"]), units
    )
    out = both("distance", number_of(row["lie_out_m"]), units)
    flows = flows_words(row, units)
    return Card(
        f"{STRUCTURES[kind].capitalize()} {text_of(row['code'])}",
        side_words(row["side"]),
        (
            ("Depth where fish lie", lie),
            ("Speed there, near the bed", near_bed),
            ("How far out", out),
            ("Size", f"{size} wide"),
            ("A fish that comes by stays", f"{odds:.0%} of the time"),
            *((("Holds fish", flows),) if flows else ()),
            ("Seen by", SUPPORTS[str(row["support"])]),
            ("How sure", sure_words(row["confidence"])),
        ),
        (structure_words(row, units), swing_words(row, units)),
    )


def structure_about(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the text on a structure for a small screen."""
    return " ".join(
        (
            structure_words(row, units),
            swing_words(row, units),
            f"How sure: {row['confidence']}, {SUPPORTS[str(row['support'])]}.",
        )
    )
