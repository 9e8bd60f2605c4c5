"""How large the raster's cells are, chosen by the width of the river."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from reachmap.ground.channels import main_channel
from reachmap.markup.model import Bank, Markup, River

SIZES_M = (2.0, 1.0, 0.5)
"""Cells to choose from [m], the largest first; 4 m only where asked for: wading is not graded
there."""

LEAST_ACROSS = 25.0
"""Fewest cells across the river's usual width. Our choice, 20-30 (docs/cells.md)."""

MOST_CELLS = 120_000
"""Most cells under water at one flow for which cells smaller than 2 m are chosen. Our choice,
100,000-500,000: eight flows of so many take a build some 6 GB of memory, as much as a small
computer has (docs/cells.md)."""

LINE_STEP_M = 2.0
"""Spacing of the sections whose widths are looked at [m]."""


class CellReason(StrEnum):
    """Why cells have their size."""

    ASKED = "asked"
    """It was asked for."""
    ACROSS = "across"
    """The largest with `LEAST_ACROSS` cells across."""
    SMALLEST = "smallest"
    """Even the smallest make fewer across."""
    BUDGET = "budget"
    """Smaller ones would be more than `MOST_CELLS`."""


@dataclass(frozen=True, slots=True)
class CellChoice:
    """The size of the cells and why.

    Parameters
    ----------
    cell_m
        Side of a cell [m].
    width_m
        The main channel's median width between the banks as traced [m].
    length_m
        Its length [m].
    reason
        Why this size.
    """

    cell_m: float
    width_m: float
    length_m: float
    reason: CellReason

    @property
    def across(self) -> float:
        """Return the cells across the usual width."""
        return self.width_m / self.cell_m

    def count(self, cell_m: float) -> float:
        """Return about how many cells of a size lie under water."""
        return self.width_m * self.length_m / cell_m**2


def cell_for(width_m: float, length_m: float) -> CellChoice:
    """Return the cells to map a river with.

    The largest with at least `LEAST_ACROSS` across the river, or the smallest there are; larger
    ones again, up to 2 m, where those would be more than `MOST_CELLS`.

    Parameters
    ----------
    width_m
        Median width of the main channel at the flow it was traced at [m], above 0.
    length_m
        Length of its line [m], above 0.

    Raises
    ------
    ValueError
        If width or length is not above 0.
    """
    if not (0 < width_m < math.inf and 0 < length_m < math.inf):
        msg = f"width {width_m!r} m and length {length_m!r} m, want more than 0"
        raise ValueError(msg)
    wanted = next((one for one in SIZES_M if width_m / one >= LEAST_ACROSS), None)
    reason = CellReason.SMALLEST if wanted is None else CellReason.ACROSS
    cell = SIZES_M[-1] if wanted is None else wanted
    while cell < SIZES_M[0] and width_m * length_m / cell**2 > MOST_CELLS:
        cell, reason = SIZES_M[SIZES_M.index(cell) - 1], CellReason.BUDGET
    return CellChoice(cell, width_m, length_m, reason)


def drawn_cell(markup: Markup) -> CellChoice:
    """Return the cells for a drawing, by the width between its banks along the main line.

    Raises
    ------
    BuildError
        If no bank was drawn along the main line.
    """
    return _between(markup.rivers, markup.banks)


@lru_cache(maxsize=8)
def _between(rivers: tuple[River, ...], banks: tuple[Bank, ...]) -> CellChoice:
    """Return the cells for lines and banks; kept, since a map in memory asks for each reading."""
    main = main_channel(rivers, banks, LINE_STEP_M)
    return cell_for(main.median_width, main.line.length)
