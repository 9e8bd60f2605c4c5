"""The sentence on the size of the cells says why, and what other sizes would make."""

from __future__ import annotations

import pytest

from reachmap.base.words import UnitSystem
from reachmap.ground.cell_size import LEAST_ACROSS, CellChoice, CellReason, cell_for
from reachmap.text.cells import cell_words


def asked(cell, width):
    return CellChoice(cell, width, 900.0, CellReason.ASKED)


@pytest.mark.parametrize(
    ("choice", "sentence"),
    [
        (
            cell_for(28.4, 900.0),
            "Cells of 1 m: the river is about 28 m wide, which makes 28 across; 2 m would make 14.",
        ),
        (
            cell_for(60.0, 900.0),
            "Cells of 2 m: the river is about 60 m wide, which makes 30 across.",
        ),
        (
            cell_for(9.0, 900.0),
            "Cells of 0.5 m: the river is about 9 m wide, which makes 18 across, fewer than the "
            f"{LEAST_ACROSS:.0f} wanted; there are no smaller cells.",
        ),
        (
            cell_for(30.0, 50_000.0),
            "Cells of 2 m: the river is about 30 m wide, which makes 15 across; 1 m would make 30 "
            "but, on a reach this long, 1,500,000 cells of water a flow; --cell 1 takes them.",
        ),
        (
            asked(4.0, 60.0),
            "Cells of 4 m, as asked: the river is about 60 m wide, which makes 15 across; 2 m "
            "would make 30.",
        ),
        (
            asked(2.0, 13.0),
            "Cells of 2 m, as asked: the river is about 13 m wide, which makes 6 across; 0.5 m "
            "would make 26.",
        ),
        (
            asked(0.5, 60.0),
            "Cells of 0.5 m, as asked: the river is about 60 m wide, which makes 120 across.",
        ),
    ],
)
def test_the_sentence(choice, sentence):
    assert cell_words(choice, UnitSystem.METRIC) == sentence


def test_the_width_is_in_the_folders_units():
    """A foot is 0.3048 m."""
    assert "about 197 ft wide" in cell_words(cell_for(60.0, 900.0), UnitSystem.US)
