"""The line on a drawing without faults: what it holds, in the folder's units."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reachmap.base.words import UnitSystem
from reachmap.markup.read import read_markup
from reachmap.text.checked import checked_lines
from tests.markup.folders import TOML, make


@pytest.mark.parametrize(("units", "unit"), [("us", "yd"), ("metric", "m")])
def test_what_a_drawing_holds_is_counted_in_the_folders_units(tmp_path, units, unit):
    drawing = read_markup(make(tmp_path, toml=TOML))
    drawing = replace(drawing, plan=replace(drawing.plan, units=UnitSystem(units)))
    first = checked_lines(drawing, ["Some note."])
    assert first[0] == "Note: Some note."
    along = drawing.main.line.length / (0.9144 if unit == "yd" else 1.0)
    assert f"reads well. {along:.0f} {unit} of river, {len(drawing.banks)} bank poly" in first[1]
    assert "0 " not in first[1].replace(f"{along:.0f} ", "")
