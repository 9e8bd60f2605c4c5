"""The fly for a clarity, in words."""

from __future__ import annotations

from reachmap.angler.fly import FlyRow
from reachmap.base.language import figures_text, tr
from reachmap.base.units import from_si
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import length_words


def fly_words(row: FlyRow | None, clarity_m: float, units: UnitSystem) -> str:
    """Return the sentence on the fly for a clarity [m]; `row` is None where that is unknown."""
    if row is None:
        return tr(
            "Fly: clarity not known; see how deep you still make out your boots, then choose."
        )
    seen = length_words(clarity_m, units)
    return tr(
        "Fly for {seen} of clarity: {tied}; {note}.",
        seen=seen,
        tied=tied_words(row, units),
        note=tr(row.note),
    )


def tied_words(row: FlyRow | None, units: UnitSystem) -> str:
    """Return the fly alone: colour, length and shape."""
    if row is None:
        return tr("fly by how deep you still make out your boots")
    unit = "in" if units is UnitSystem.US else "cm"
    low, high = (figures_text(round(from_si(one, unit), 1)) for one in (row.short_m, row.long_m))
    return f"{tr(row.colour)}, {low}-{high} {unit}, {tr(row.shape)}"
