"""Drawn hazards on the raster."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, IntArray
from reachmap.markup.model import Hazard


def hazard_mask(view: View, hazards: Sequence[Hazard], reach_m: float) -> BoolArray:
    """Return the cells within `reach_m` [m] of a drawn hazard."""
    return np.asarray(hazard_numbers(view, hazards, reach_m) >= 0)


def hazard_numbers(view: View, hazards: Sequence[Hazard], reach_m: float) -> IntArray:
    """Return which hazard lies within `reach_m` [m] of each cell: its place in the list; -1 none.

    Every cell touched counts. Where two meet, the later one in the list is named.
    """
    shapes = [hazard.shape.buffer(max(reach_m, view.cell / 2)) for hazard in hazards]
    return view.grid.rasterize(shapes, range(len(shapes)), fill=-1, touched=True)
