"""Confidence and uncertainty of the map, in words."""

from __future__ import annotations

from collections.abc import Sequence

from reachmap.base.language import figures_text, noted, tr
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import both

SURE_OF_BED = (
    "",
    noted("the bed here is a guess"),
    noted("the bed here is fairly known"),
    noted("the bed here is well known"),
)
SURE_OF_WATER = (
    "",
    noted("depth and speed here are a guess"),
    noted("depth and speed here are fairly sure"),
    noted("depth and speed here are well supported"),
)
"""Words of a tap on the map, by the cell's code of confidence."""


MODEL_ALONE = noted(
    "Without it the odds that water suits hold the flow model's own error alone, not the bed's: "
    "pieces of water are mostly drawn larger than with it."
)
"""Note on a map without an ensemble."""


def ensemble_words(count: int, cell_m: float, method: str) -> str:
    """Return the source of the uncertainty: number of grounds, cell size [m] and method."""
    by = tr("the 2-D engine") if method == "engine" else tr("the quick 1-D preview")
    return tr(
        "How sure the map is comes from {count} rivers that the evidence allows, run through {by} "
        "on cells of {cell} m.",
        count=count,
        by=by,
        cell=figures_text(cell_m),
    )


def left_out_words(ran: int, drawn: int) -> list[str]:
    """Return the number of grounds of the ensemble that could not be run; nothing for none."""
    if ran >= drawn:
        return []
    return [
        tr(
            "{left} of {drawn} grounds of the ensemble could not be run and were left out.",
            left=drawn - ran,
            drawn=drawn,
        )
    ]


def spread_words(steps: Sequence[float], units: UnitSystem) -> list[str]:
    """Return the words for a depth's uncertainty by class, bounds in `steps` [m]; "" for none."""
    bounds = [tr("give or take {bound}", bound=both("depth", bound, units)) for bound in steps]
    return [
        "",
        *bounds,
        tr("give or take more than {steps}", steps=both("depth", steps[-1], units)),
    ]
