"""Sentences on a fit of a reach to its notes: changed parameters, and errors before and after."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.base.language import number_text
from reachmap.base.units import LENGTH, SPEED, from_si
from reachmap.base.words import UnitSystem
from reachmap.ground.cover_classes import UNKNOWN_COVER
from reachmap.ground.fit import Fitted
from reachmap.text.numbers import list_words

KINDS = {
    "edge": ("edges seen", "height of the water at the place"),
    "level": ("levels noted", "height of the water"),
    "depth": ("soundings", "depth"),
    "speed": ("speeds", "speed"),
}
"""Name of each kind of note, and the quantity compared."""

COVERS = {UNKNOWN_COVER: "ground of unknown cover", "cutbank": "cut bank", "built": "built bank"}
"""Names of classes of cover whose own word would not do."""

SAME = 0.005
"""Change of a multiplier that counts as none."""


def fit_lines(found: Fitted, units: UnitSystem) -> list[str]:
    """Return a fit as lines: changed parameters, and errors of the notes before and after."""
    lines = [
        f"Roughness of the channel: {_known(found.roughness, found.roughness_doubt)}.",
        *(
            f"Roughness of {cover_words([name])}: {_known(one.roughness, one.doubt)}."
            for name, one in found.covers.items()
        ),
        f"Depth of the bed nobody saw: {_moved(found.depth)}.",
        "How far off the map was from your notes (root mean square), before and after:",
    ]
    return lines + [_row(kind, found, units) for kind in KINDS if kind in found.number]


def _row(kind: str, found: Fitted, units: UnitSystem) -> str:
    """Return one kind of note as a line."""
    name, what = KINDS[kind]
    unit = SPEED[units] if kind == "speed" else LENGTH[units]
    if kind not in found.before or kind not in found.after:
        return f"  {found.number[kind]:4d} {name}: no water came near them"
    before, after = (from_si(values[kind], unit) for values in (found.before, found.after))
    moved = f"{number_text(before, 2)} -> {number_text(after, 2)} {unit}"
    return f"  {found.number[kind]:4d} {name}: {what} {moved}"


def cover_words(names: Sequence[str]) -> str:
    """Return classes of cover in words."""
    return list_words([COVERS.get(name, name) for name in names])


def _known(factor: float, sd: float) -> str:
    """Return a multiplier and its standard error in words; `sd` is that of its logarithm."""
    return f"{_moved(factor)}, known to about {100 * (np.exp(sd) - 1):.0f} %"


def _moved(factor: float) -> str:
    """Return a multiplier in words."""
    if abs(factor - 1) < SAME:
        return "as it was"
    return f"{abs(100 * (factor - 1)):.0f} % {'more' if factor > 1 else 'less'}"
