"""The angler's own marks of structure: evidence like a sounding."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.base.words_runs import Support
from reachmap.markup.model import Origin, StructureMark
from reachmap.water.bed_forms import BedForms
from reachmap.water.field import WaterField
from reachmap.water.lies import Lies
from reachmap.water.structure import Feature
from reachmap.water.structure_settings import StructureSettings

Supported = tuple[Feature, Support | None, StructureMark | None]
"""A structure, the evidence that supports it, and the angler's mark of it."""


def with_marks(
    field: WaterField,
    lies: Lies,
    every: list[Supported],
    marks: Sequence[StructureMark],
    rules: StructureSettings,
) -> list[Supported]:
    """Return structures with the angler's marks: each for the nearest of its kind, else by itself.

    A mark from the log makes no structure of its own: maps are handed on, and the log is private. A
    mark on ground that is dry or unknown at this flow is ignored. `marks` are those passed to
    `lie_odds`.
    """
    supported = list(every)
    forms = lies.forms
    for order, mark in enumerate(marks, start=1):
        cells = np.flatnonzero(lies.marked == order)
        if not cells.size:
            continue
        number = _nearest(field, forms, supported, mark, rules.mark_near_m)
        if number is not None:
            feature, support, _ = supported[number]
            supported[number] = feature, support or Support.MARK, mark
            continue
        if mark.origin is Origin.LOG:
            continue
        rows, cols = forms.rows[cells], forms.cols[cells]
        place = (
            slice(int(rows.min()), int(rows.max()) + 1),
            slice(int(cols.min()), int(cols.max()) + 1),
        )
        mask = np.zeros((int(np.ptp(rows)) + 1, int(np.ptp(cols)) + 1), dtype=bool)
        mask[rows - place[0].start, cols - place[1].start] = True
        own = Feature(mark.kind, place, mask, cells.astype(np.int32), float("nan"))
        supported.append((own, Support.MARK, mark))
    return supported


def _nearest(
    field: WaterField,
    forms: BedForms,
    supported: list[Supported],
    mark: StructureMark,
    reach_m: float,
) -> int | None:
    """Return which structure of a mark's kind lies nearest to it, None where none is in reach."""
    best, found = reach_m, None
    for number, (feature, _, taken) in enumerate(supported):
        if feature.kind is not mark.kind or taken is not None:
            continue
        places = field.grid.points(forms.rows[feature.cells], forms.cols[feature.cells])
        away = float(np.hypot(places[:, 0] - mark.place.x, places[:, 1] - mark.place.y).min())
        if away <= best:
            best, found = away, number
    return found


def held_at(mark: StructureMark, flow: float, rules: StructureSettings) -> bool:
    """Return whether the angler's note says that a place holds fish at a flow [m3/s]."""
    if not np.isfinite(mark.flow):
        return False
    return 1 / rules.mark_flow <= flow / mark.flow <= rules.mark_flow
