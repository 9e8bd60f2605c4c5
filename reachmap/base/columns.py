"""Columns and layers as the register of vector layers describes them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """One promised column of a layer; a spare one may be left out by who makes the rows."""

    name: str
    unit: str
    meaning: str
    spare: bool = False


@dataclass(frozen=True, slots=True)
class Layer:
    """One promised layer: what it is, its geometry and its columns."""

    name: str
    geometry: str
    meaning: str
    columns: tuple[Column, ...]


HAZARD_COLUMNS: tuple[Column, ...] = (
    Column("hazard_kind", "", "Kind of the drawn hazard that matters most, or empty.", True),
    Column("hazard_note", "", "What was written on it, or empty.", True),
    Column("hazard_distance_m", "m", "How far off it lies, along hazard_way; NaN none.", True),
    Column("hazard_way", "", "How one comes to it: here, current, walk, straight, or empty.", True),
    Column("hazard_toward", "", "On which side it lies: up, down, across, or empty.", True),
    Column(
        "looked_m",
        "m",
        "Within it every drawn hazard was looked for along the current, on foot and straight; "
        "NaN where one of them could not be followed.",
        True,
    ),
    Column(
        "hand_shuts",
        "1",
        "Whether 0.1 m more water shuts the place or the way in or back; unknown counts as shut.",
        True,
    ),
    Column("hand_flow_m3_s", "m3/s", "Discharge at which it is 0.1 m higher; NaN unknown.", True),
)
"""What a place to stand or a run carries of drawn hazards and of a little more water."""

HAZARDS_NEAR = Layer(
    "hazards_near",
    "Point",
    "Drawn hazards near each piece of swing water, and the places to stand left out for them.",
    (
        Column("flow", "m3/s", "Discharge."),
        Column("flow_label", "", "Short name of the flow, as in file names."),
        Column("water", "", "Code of the piece of water."),
        Column("number", "1", "Place of the hazard in the drawing, from 1."),
        Column("kind", "", "Kind of hazard."),
        Column("way", "", "How one comes to it: here, current, walk or straight."),
        Column("distance_m", "m", "How far off it lies, along that way."),
        Column("toward", "", "On which side it lies: up, down or across."),
        Column("left_out", "1", "Places to stand that were left out because of it."),
        Column("note", "", "What was written on it, or empty."),
    ),
)
"""One row a hazard within the distance looked, for each piece of water at each flow."""
