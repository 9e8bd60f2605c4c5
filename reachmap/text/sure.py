"""Confidence and uncertainty of the map, in words."""

from __future__ import annotations

from collections.abc import Sequence

from reachmap.base.language import figures_text
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import both

SURE_OF_BED = (
    "",
    "the bed here is a guess",
    "the bed here is fairly known",
    "the bed here is well known",
)
SURE_OF_WATER = (
    "",
    "depth and speed here are a guess",
    "depth and speed here are fairly sure",
    "depth and speed here are well supported",
)
"""Words of a tap on the map, by the cell's code of confidence."""


MODEL_ALONE = (
    "Without it the odds that water suits hold the flow model's own error alone, not the bed's: "
    "pieces of water are mostly drawn larger than with it."
)
"""Note on a map without an ensemble."""


def ensemble_words(count: int, cell_m: float, method: str) -> str:
    """Return the source of the uncertainty: number of grounds, cell size [m] and method."""
    by = "the 2-D engine" if method == "engine" else "the quick 1-D preview"
    return (
        f"How sure the map is comes from {count} rivers that the evidence allows, run through {by} "
        f"on cells of {figures_text(cell_m)} m."
    )


def left_out_words(ran: int, drawn: int) -> list[str]:
    """Return the number of grounds of the ensemble that could not be run; nothing for none."""
    if ran >= drawn:
        return []
    return [f"{drawn - ran} of {drawn} grounds of the ensemble could not be run and were left out."]


def spread_words(steps: Sequence[float], units: UnitSystem) -> list[str]:
    """Return the words for a depth's uncertainty by class, bounds in `steps` [m]; "" for none."""
    bounds = [f"give or take {both('depth', bound, units)}" for bound in steps]
    return ["", *bounds, f"give or take more than {both('depth', steps[-1], units)}"]
