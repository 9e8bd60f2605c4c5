"""Drawn hazards on the raster."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, IntArray
from reachmap.base.grid import Cutout
from reachmap.markup.model import Hazard


def hazard_mask(view: View, hazards: Sequence[Hazard], reach_m: float) -> BoolArray:
    """Return the cells within `reach_m` [m] of a drawn hazard."""
    if not hazards:
        return np.zeros(view.wet.shape, dtype=bool)
    return np.asarray(hazard_numbers(view, hazards, reach_m) >= 0)


def hazard_cells(view: View, hazard: Hazard, reach_m: float) -> Cutout:
    """Return the cells within `reach_m` [m] of one drawn hazard, as a mask about it."""
    if hazard.shape.is_empty:
        return Cutout((slice(0, 0), slice(0, 0)), np.zeros((0, 0), dtype=bool))
    margin = int(np.ceil(reach_m / view.cell)) + 2
    window = view.grid.window_over(hazard.shape.bounds, margin)
    shape = hazard.shape.buffer(max(reach_m, view.cell / 2))
    return Cutout(window, view.grid.part(window).rasterize([shape], touched=True) > 0)


def hazard_numbers(view: View, hazards: Sequence[Hazard], reach_m: float) -> IntArray:
    """Return which hazard lies within `reach_m` [m] of each cell: its place in the list; -1 none.

    Every cell touched counts. Where two meet, the later one in the list is named.
    """
    shapes = [hazard.shape.buffer(max(reach_m, view.cell / 2)) for hazard in hazards]
    return view.grid.rasterize(shapes, range(len(shapes)), fill=-1, touched=True)
