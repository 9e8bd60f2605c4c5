"""A structure (bucket, slot, ledge pool ...) in words, for cards and small screens."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reachmap.base.language import noted, tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.base.words_runs import StructureKind
from reachmap.text.map_cards import Card, side_words, size_words, sure_words
from reachmap.text.numbers import both, number_of, short, text_of
from reachmap.text.plain_words import in_words
from reachmap.text.terms import STRETCHES, STRUCTURES, SUPPORTS

WITH_ARTICLE: Mapping[str, str] = {
    StructureKind.BUCKET: noted("A bucket"),
    StructureKind.SLOT: noted("A slot"),
    StructureKind.LEDGE_POOL: noted("A ledge pool"),
    StructureKind.DROP_OFF: noted("A drop-off"),
    StructureKind.BOULDER_LEE: noted("A boulder lee"),
    StructureKind.EDDY_LINE: noted("An eddy below a point"),
    StructureKind.ROCK_GARDEN: noted("A rock garden"),
}
"""Structures as a sentence begins."""


DETAILS = {
    StructureKind.BUCKET: noted("{relief} deeper than around it, {deep}; fish lie {part}"),
    StructureKind.SLOT: noted(
        "{relief} deeper than the bed on both sides, {deep}; fish lie {part}"
    ),
    StructureKind.LEDGE_POOL: noted("scoured {relief} below its lip, {deep}; fish lie {part}"),
    StructureKind.DROP_OFF: noted("the shelf falls by {relief}, {deep}; fish lie along its foot"),
    StructureKind.BOULDER_LEE: noted("slack below {relief} of rock, {deep}; fish lie {part}"),
    StructureKind.EDDY_LINE: noted("slack water beside quick, {deep}; fish lie along its edge"),
    StructureKind.ROCK_GARDEN: noted("boulders about {relief} high, {deep}; fish lie between them"),
}
"""How each kind stands out from what is around it, and where in it fish lie."""


def structure_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the sentence on a row of the layer `structure`.

    Examples
    --------
    >>> row = {"kind": "bucket", "relief_m": 0.46, "lie_depth_m": 1.22, "lie_part": "lower"}
    >>> structure_words(row, UnitSystem.US)
    'A bucket: 1.5 ft deeper than around it, 4.0 ft at this flow; fish lie at its lower end.'
    """
    kind, relief = str(row["kind"]), short("depth", number_of(row["relief_m"]), units)
    name = tr(WITH_ARTICLE[kind])
    deep = tr(
        "{lie_depth} at this flow", lie_depth=short("depth", number_of(row["lie_depth_m"]), units)
    )
    part = tr(STRETCHES.get(text_of(row.get("lie_part")), noted("in it")))
    if kind != StructureKind.EDDY_LINE and not math.isfinite(number_of(row["relief_m"])):
        return tr(
            "{name}, as you marked it: {deep}; fish lie {part}.", name=name, deep=deep, part=part
        )
    said = tr(DETAILS[StructureKind(kind)], relief=relief, deep=deep, part=part)
    return f"{name}: {said}."


def swing_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return where the fly passes, or that there is no swing water near."""
    out = number_of(row["swing_out_m"])
    if not math.isfinite(out):
        return tr(
            "No water near it suits a swung fly at this flow: too quick, too slow or too thin."
        )
    depth = short("depth", number_of(row["swing_depth_m"]), units)
    speed = short("speed", number_of(row["swing_speed_m_s"]), units)
    far = short("distance", out, units)
    return tr(
        "Bring the fly through {far} off {side}: {depth} deep, {speed}.",
        far=far,
        side=side_words(row["side"]),
        depth=depth,
        speed=speed,
    )


def flows_words(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the flows at which a structure holds fish; nothing where none is known."""
    low, high = (number_of(row.get(f"holds_{end}_m3_s")) for end in ("from", "to"))
    if not (math.isfinite(low) and math.isfinite(high)):
        return ""
    if low == high:
        return tr("at {low} only, of the flows mapped", low=flow_words(low, units))
    return tr("from {low} to {high}", low=flow_words(low, units), high=flow_words(high, units))


def structure_card(row: Mapping[str, Any], units: UnitSystem) -> Card:
    """Return the card of a structure, from a row of the layer `structure`."""
    kind, odds = StructureKind(str(row["kind"])), number_of(row["lie_odds"])
    lie = both("depth", number_of(row["lie_depth_m"]), units)
    near_bed = both("speed", number_of(row["near_bed_speed_m_s"]), units)
    size = size_words(row, units)
    out = both("distance", number_of(row["lie_out_m"]), units)
    flows = flows_words(row, units)
    return Card(
        f"{tr(STRUCTURES[kind]).capitalize()} {text_of(row['code'])}",
        side_words(row["side"]),
        (
            (tr("Depth where fish lie"), lie),
            (tr("Speed there, near the bed"), near_bed),
            (tr("How far out"), out),
            (tr("Size"), size),
            (tr("A fish that comes by stays"), tr("{odds} of the time", odds=f"{odds:.0%}")),
            *(((tr("Holds fish"), flows),) if flows else ()),
            (tr("Seen by"), tr(SUPPORTS[str(row["support"])])),
            (tr("How sure"), sure_words(row["confidence"])),
        ),
        (structure_words(row, units), swing_words(row, units)),
    )


def structure_about(row: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the text on a structure for a small screen."""
    return " ".join(
        (
            structure_words(row, units),
            swing_words(row, units),
            tr(
                "How sure: {confidence}, {support}.",
                confidence=in_words(row["confidence"]),
                support=tr(SUPPORTS[str(row["support"])]),
            ),
        )
    )
