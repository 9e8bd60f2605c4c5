"""A noted drawing against the one in the file: whether they are the same, or it is set aside."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from reachmap.base.words import UnitSystem
from reachmap.markup.layers import LAYER_FIELDS, LAYER_NAMES
from reachmap.markup.write import MARKUP_FILE
from reachmap.web.editor import journal
from reachmap.web.editor.rows import cell_text, typed
from reachmap.web.editor.schema import Mark

SAME_PLACE = 1e-8
"""Places nearer than this count as the same [degrees]: about a millimetre."""


def set_aside_words(folder: Path) -> str:
    """Keep a journal that fits nothing and return what to say of it."""
    target = journal.set_aside(folder)
    return (
        f"Changes that had not been saved do not fit {MARKUP_FILE} any more: another program "
        f"changed it since. They are kept in {target.name}; nothing was overwritten."
    )


def same_drawing(noted: Sequence[Mark], filed: Sequence[Mark], units: UnitSystem) -> bool:
    """Return whether a file holds what was noted, whatever the ids, to a millimetre."""
    one, other = (_by_layer(marks) for marks in (noted, filed))
    return len(one) == len(other) and all(
        (a.layer, a.shape) == (b.layer, b.shape)
        and [len(path) for path in a.paths] == [len(path) for path in b.paths]
        and np.allclose(_flat(a), _flat(b), rtol=0, atol=SAME_PLACE)
        and _values(a, units) == _values(b, units)
        for a, b in zip(one, other, strict=True)
    )


def _by_layer(marks: Sequence[Mark]) -> list[Mark]:
    """Return marks in the order in which the file holds them."""
    return sorted(marks, key=lambda mark: LAYER_NAMES.index(mark.layer))


def _flat(mark: Mark) -> list[float]:
    """Return a mark's coordinates one after the other."""
    return [number for path in mark.paths for corner in path for number in corner]


def _values(mark: Mark, units: UnitSystem) -> dict[str, str]:
    """Return a mark's fields as the file would give them back."""
    fields = LAYER_FIELDS[mark.layer].fields
    return {one.name: cell_text(typed(one, mark.values[one.name], units)) for one in fields}
