"""Where the current would take a person who lost their footing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.angler.hazards import hazard_numbers
from reachmap.angler.view import View
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.markup.model import Hazard


@dataclass(frozen=True, slots=True)
class Drift:
    """What lies down the current from each wet cell, arrays (y, x).

    `hazard_m` is the distance along the drift to the first drawn hazard [m], `hazard` its place in
    the list; `deep_m` the distance to the first water out of bounds [m]. NaN and -1: none within
    the look. `lost` marks drifts that ran into water nobody knows.
    """

    hazard_m: FloatArray
    hazard: IntArray
    deep_m: FloatArray
    lost: BoolArray


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
    rows, cols = np.nonzero(view.wet)
    row, col = rows.astype(np.float64), cols.astype(np.float64)
    shape = view.wet.shape
    hazard_m, deep_m = np.full(row.size, np.nan), np.full(row.size, np.nan)
    met, lost = np.full(row.size, -1, dtype=np.int32), np.zeros(row.size, dtype=bool)
    going = np.ones(row.size, dtype=bool)
    for step in range(int(np.ceil(settings.below_m / view.cell)) + 1):
        at_row = np.clip(np.rint(row), 0, shape[0] - 1).astype(np.int32)
        at_col = np.clip(np.rint(col), 0, shape[1] - 1).astype(np.int32)
        here = number[at_row, at_col]
        new = going & (here >= 0) & (met < 0)
        hazard_m[new], met[new] = step * view.cell, here[new]
        deep = going & beyond[at_row, at_col] & np.isnan(deep_m)
        deep_m[deep] = step * view.cell
        lost |= going & view.unknown[at_row, at_col]
        east, north = view.east[at_row, at_col], view.north[at_row, at_col]
        speed = np.hypot(east, north)
        with np.errstate(invalid="ignore", divide="ignore"):
            going &= speed > 1e-3
            row = np.where(going, row - north / speed, row)
            col = np.where(going, col + east / speed, col)
        going &= (row > -0.5) & (col > -0.5) & (row < shape[0] - 0.5) & (col < shape[1] - 0.5)
        if not going.any():
            break

    def spread(values: FloatArray | IntArray | BoolArray, fill: float) -> np.ndarray:
        out = np.full(shape, fill, dtype=values.dtype)
        out[rows, cols] = values
        return out

    return Drift(
        spread(hazard_m, np.nan), spread(met, -1), spread(deep_m, np.nan), spread(lost, False)
    )
