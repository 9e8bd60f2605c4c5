"""Where the current would take a person who lost their footing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.angler._kernels_near import meet_many
from reachmap.angler.follow import STILL_M_S
from reachmap.angler.hazards import hazard_numbers
from reachmap.angler.view import View
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.packed import PackedRaster
from reachmap.markup.model import Hazard


@dataclass(frozen=True, slots=True)
class Drift:
    """Hazards down the current from each wet cell, packed rasters (y, x) of those cells.

    `hazard_m` is the distance along the drift to the first drawn hazard [m], `hazard` its place in
    the list; `deep_m` the distance to the first water out of bounds [m]. NaN and -1: none within
    the look. `lost` marks drifts that ran into unknown water.
    """

    hazard_m: PackedRaster
    hazard: PackedRaster
    deep_m: PackedRaster
    lost: PackedRaster


def drift_below(
    view: View, beyond: BoolArray, hazards: Sequence[Hazard], settings: WadingSettings
) -> Drift:
    """Return what a drift from each wet cell meets within `settings.below_m`.

    Parameters
    ----------
    view
        One flow over the ground.
    beyond
        Cells out of bounds on foot, unknown ones too.
    hazards
        What was drawn.
    settings
        How far to look and how near a miss counts.

    Notes
    -----
    All cells drift at once, one cell a step, along the depth-averaged current of the nearest cell;
    a drift ends where the current stands still, on dry ground, or where nothing is known.
    """
    number = hazard_numbers(view, hazards, settings.drift_width_m)
    rows, cols = view.wet_cells
    steps = int(np.ceil(settings.below_m / view.cell)) + 1
    current = view.east, view.north, view.speed
    hazard_step, met, deep_step, lost = meet_many(
        number, beyond, view.unknown, *current, rows, cols, steps, STILL_M_S
    )

    cells = np.flatnonzero(view.wet).astype(np.int32)

    def held(values: FloatArray | IntArray | BoolArray, fill: float) -> PackedRaster:
        return PackedRaster(view.grid.shape, np.asarray(fill, values.dtype), cells, values)

    def metres(step: IntArray) -> PackedRaster:
        return held(np.where(step >= 0, step * view.cell, np.nan), np.nan)

    return Drift(metres(hazard_step), held(met, -1), metres(deep_step), held(lost, False))
