"""Sentences on a draft made from terrain."""

from __future__ import annotations

from collections.abc import Mapping

from reachmap.base.language import figures_text
from reachmap.base.units import FACTORS, LENGTH
from reachmap.base.words import UnitSystem
from reachmap.draft import Draft

WORDS = {
    ("river", 1): "river line or side channel",
    ("river", 2): "river lines and side channels",
    ("banks", 1): "piece of bank or island",
    ("banks", 2): "pieces of bank and islands",
    ("edges", 1): "water's edge",
    ("edges", 2): "water's edges",
    ("levels", 1): "likely head of a riffle",
    ("levels", 2): "likely heads of riffles",
}
"""What is drafted, one and many."""

NOT_YET = "None of it counts before you accept it: it is what a rule made of the ground's heights."
NO_WATER = (
    "The terrain shows no flat water: it may know the bed beneath. The water's edges are a guess "
    "at the feet of the banks; move them to where you have seen them."
)
NO_CANOPY = (
    "Nothing tells what grows on the banks: only low bare-looking ground is taken for gravel and "
    "steep ground for a raw bank; say the others' cover. A surface model or a point cloud in the "
    "folder would tell."
)
SAY_FLOW = (
    "Say what the river ran on the day of the flight: traced_flow in reach.toml, for the banks' "
    "inner sides lie at that water's edge."
)


def draft_lines(
    draft: Draft, waiting: Mapping[str, int], units: UnitSystem, *, flow_known: bool
) -> list[str]:
    """Return what was drafted and what must be known of it.

    Parameters
    ----------
    draft
        The draft.
    waiting
        How many features of each layer wait to be looked at.
    units
        The folder's units.
    flow_known
        Whether somebody said what ran on the day of the flight.
    """
    unit = LENGTH[units]
    wide, fall = (value / FACTORS[unit] for value in (draft.width, draft.fall))
    cell = draft.cell / FACTORS[unit]
    found = (
        f"Drafted from cells of {figures_text(cell, 3)} {unit}: water about {wide:.0f} {unit} "
        f"wide, falling {figures_text(fall, 3)} {unit} over the line."
    )
    lines = [found, waiting_words(waiting)]
    if not draft.seen:
        lines.append(NO_WATER)
    if not draft.canopy:
        lines.append(NO_CANOPY)
    if draft.seen and not flow_known:
        lines.append(SAY_FLOW)
    return [*lines, NOT_YET]


def waiting_words(waiting: Mapping[str, int]) -> str:
    """Return how many features wait to be looked at."""
    parts = [
        f"{count} {WORDS.get((layer, min(count, 2)), layer)}" for layer, count in waiting.items()
    ]
    if not parts:
        return "Nothing waits to be looked at: all of it is drawn, accepted or dropped already."
    return f"To look at: {', '.join(parts)}."
