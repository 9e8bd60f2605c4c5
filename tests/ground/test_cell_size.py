"""The size of the cells by the width of the river: at the edges of the rule, and from a drawing."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, box

from reachmap.base.words import Cover, Part, Side
from reachmap.ground.cell_size import (
    LEAST_ACROSS,
    MOST_CELLS,
    CellReason,
    cell_for,
    drawn_cell,
)
from reachmap.markup.model import Bank, River
from tests.ground.scenes import drawing, straight_trapezoid

KM = 1000.0


@pytest.mark.parametrize(
    ("width", "cell", "reason"),
    [
        (2 * LEAST_ACROSS, 2.0, CellReason.ACROSS),
        (2 * LEAST_ACROSS - 1e-9, 1.0, CellReason.ACROSS),
        (LEAST_ACROSS, 1.0, CellReason.ACROSS),
        (LEAST_ACROSS - 1e-9, 0.5, CellReason.ACROSS),
        (LEAST_ACROSS / 2, 0.5, CellReason.ACROSS),
        (LEAST_ACROSS / 2 - 1e-9, 0.5, CellReason.SMALLEST),
        (2.0, 0.5, CellReason.SMALLEST),
        (400.0, 2.0, CellReason.ACROSS),  # 4 m is for those who ask
    ],
)
def test_the_largest_cell_with_enough_across_is_taken(width, cell, reason):
    choice = cell_for(width, KM)
    assert (choice.cell_m, choice.reason) == (cell, reason)
    assert choice.across == width / cell
    assert (choice.width_m, choice.length_m) == (width, KM)


@pytest.mark.parametrize(("width", "wanted"), [(30.0, 1.0), (15.0, 0.5), (6.0, 0.5)])
def test_too_many_cells_make_them_larger(width, wanted):
    """Cells under water are width times length over a cell's area."""
    most = MOST_CELLS * wanted**2 / width
    assert cell_for(width, 0.999 * most).cell_m == wanted
    choice = cell_for(width, 1.001 * most)
    assert (choice.cell_m, choice.reason) == (2 * wanted, CellReason.BUDGET)
    assert choice.count(wanted) == pytest.approx(1.001 * MOST_CELLS)
    endless = cell_for(width, 1e9)
    assert (endless.cell_m, endless.reason) == (2.0, CellReason.BUDGET)


def test_a_wide_river_has_the_largest_cells_however_long():
    assert cell_for(80.0, 1e9).reason is CellReason.ACROSS


@pytest.mark.parametrize("wrong", [0.0, -3.0, math.nan, math.inf])
def test_a_width_or_length_that_is_none_is_refused(wrong):
    with pytest.raises(ValueError, match="more than 0"):
        cell_for(wrong, KM)
    with pytest.raises(ValueError, match="more than 0"):
        cell_for(30.0, wrong)


@pytest.mark.parametrize(("width", "cell"), [(60.0, 2.0), (30.0, 1.0), (14.0, 0.5)])
def test_the_width_is_that_between_the_drawn_banks(width, cell):
    """Two straight banks, parallel but for a narrow place that the median does not see."""
    length, half = 800.0, width / 2
    x = np.array([0.0, length])
    banks = [
        box(-20, half, length + 20, half + 20),
        box(-20, -half - 20, length + 20, -half).union(box(300, -half - 1, 400, -half / 2)),
    ]
    sides = (Side.LEFT, Side.RIGHT)
    markup = replace(
        drawing(straight_trapezoid(), 10.0),
        rivers=(River("main", Part.MAIN, LineString(np.c_[x, 0 * x])),),
        banks=tuple(
            Bank(side.value, shape, side, Cover.GRAVEL, math.nan, math.nan, "")
            for side, shape in zip(sides, banks, strict=True)
        ),
    )
    choice = drawn_cell(markup)
    assert choice.width_m == pytest.approx(width, rel=0.01)
    assert choice.length_m == pytest.approx(length, rel=0.01)
    assert choice.cell_m == cell
