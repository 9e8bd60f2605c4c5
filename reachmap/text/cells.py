"""The sentence on the size of a map's cells and the reason for it."""

from __future__ import annotations

from reachmap.base.language import tr
from reachmap.base.words import UnitSystem
from reachmap.ground.cell_size import LEAST_ACROSS, SIZES_M, CellChoice, CellReason
from reachmap.text.numbers import length_words


def cell_words(choice: CellChoice, units: UnitSystem) -> str:
    """Return the sentence on the size of the cells.

    Examples
    --------
    >>> one = CellChoice(1.0, 28.4, 900.0, CellReason.ACROSS)
    >>> cell_words(one, UnitSystem.METRIC)
    'Cells of 1 m: the river is about 28 m wide, which makes 28 across; 2 m would make 14.'
    """
    as_asked = tr(", as asked") if choice.reason is CellReason.ASKED else ""
    wide = length_words(round(choice.width_m), units)
    start = tr(
        "Cells of {cell} m{as_asked}: the river is about {wide} wide, which makes {across} across",
        cell=f"{choice.cell_m:g}",
        as_asked=as_asked,
        wide=wide,
        across=f"{choice.across:.0f}",
    )
    return f"{start}{_why(choice)}."


def _why(choice: CellChoice) -> str:
    """Return the rest of the sentence: the result of other cell sizes."""
    finer = next((one for one in SIZES_M if one < choice.cell_m), None)
    coarser = next((one for one in reversed(SIZES_M) if one > choice.cell_m), None)
    if choice.reason is CellReason.BUDGET and finer is not None:
        cells = round(choice.count(finer), -3)
        return tr(
            "; {finer} m would make {width} but, on a reach this long, "
            "{cells} cells of water a flow; --cell {finer} takes them",
            finer=f"{finer:g}",
            width=f"{choice.width_m / finer:.0f}",
            cells=f"{cells:,.0f}",
        )
    if choice.reason is CellReason.SMALLEST:
        return tr(
            ", fewer than the {least_across} wanted; there are no smaller cells",
            least_across=f"{LEAST_ACROSS:.0f}",
        )
    if choice.reason is CellReason.ASKED:
        fitting = next(
            (one for one in SIZES_M if choice.width_m / one >= LEAST_ACROSS), SIZES_M[-1]
        )
        few = choice.across < LEAST_ACROSS and fitting < choice.cell_m
        return (
            tr(
                "; {fitting} m would make {width}",
                fitting=f"{fitting:g}",
                width=f"{choice.width_m / fitting:.0f}",
            )
            if few
            else ""
        )
    if coarser is None:
        return ""
    return tr(
        "; {coarser} m would make {width}",
        coarser=f"{coarser:g}",
        width=f"{choice.width_m / coarser:.0f}",
    )
