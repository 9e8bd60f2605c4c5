"""Cells closed to standing because of a drawn hazard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from reachmap.angler.follow import follow_current, nearest_water
from reachmap.angler.hazard_settings import HazardSettings
from reachmap.angler.hazards import hazard_cells
from reachmap.angler.view import View
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Window
from reachmap.base.words import HazardKind
from reachmap.markup.model import Hazard


def stricter(settings: HazardSettings, wading: WadingSettings) -> HazardSettings:
    """Return the distances, none less than the wading settings require."""
    return replace(
        settings,
        strainer_m=max(settings.strainer_m, wading.hazard_reach_m),
        strainer_drift_m=max(settings.strainer_drift_m, wading.drift_high_m),
        drift_width_m=max(settings.drift_width_m, wading.drift_width_m),
    )


def barred_cells(view: View, hazards: Sequence[Hazard], settings: HazardSettings) -> IntArray:
    """Return which hazard forbids standing on each cell: its place in the list; -1 none.

    Parameters
    ----------
    view
        One flow over the ground.
    hazards
        What was drawn.
    settings
        How far to keep off each kind; a cold inflow and hazards of another kind forbid nothing.

    Notes
    -----
    A cell is barred within `keep_off` of the hazard, dry ground too, or where the current of the
    water one stands in, or may slip into, comes to it within `keep_above`. A ledge bars only water
    and the ground beside it. Where several hazards bar a cell the first in the list is named.
    """
    found = np.full(view.wet.shape, -1, dtype=np.int32)
    if not hazards:
        return found
    for number, hazard in enumerate(hazards):
        off, above = settings.keep_off(hazard.kind), settings.keep_above(hazard.kind)
        if hazard.shape.is_empty or max(off, above) <= 0:
            continue
        window, away = _away(view, hazard, max(off, above + settings.drift_width_m + view.cell))
        bars = away <= off
        rows, cols = np.mgrid[window].astype(np.int32)
        water_row, water_col, slips = nearest_water(view, rows, cols, settings.slip_m)
        if hazard.kind is HazardKind.LEDGE:
            bars &= slips
        if above > 0:
            bars |= _swept(view, hazard, (water_row, water_col), above, settings) & slips
        part = found[window]
        part[bars & (part < 0)] = number
    return found


def _away(view: View, hazard: Hazard, reach_m: float) -> tuple[Window, FloatArray]:
    """Return the cells about a hazard as slices, and how far from it their centres lie [m]."""
    margin = int(np.ceil(reach_m / view.cell)) + 1
    window = view.grid.window_over(hazard.shape.bounds, margin)
    part = view.grid.part(window)
    away = shapely.distance(shapely.points(*np.meshgrid(part.x, part.y)), hazard.shape)
    return window, np.asarray(away, dtype=np.float64)


def _swept(
    view: View,
    hazard: Hazard,
    water: tuple[IntArray, IntArray],
    above_m: float,
    settings: HazardSettings,
) -> BoolArray:
    """Return the cells whose water, in rows and columns, is carried into a hazard in `above_m`."""
    cells, where = np.unique(
        np.column_stack([one.ravel() for one in water]), axis=0, return_inverse=True
    )
    near = hazard_cells(view, hazard, settings.drift_width_m)
    drifts = follow_current(
        view, cells[:, 0].astype(np.int32), cells[:, 1].astype(np.int32), above_m
    )
    with np.errstate(invalid="ignore"):
        met = drifts.first(near) <= above_m
    return np.asarray(met[where.ravel()].reshape(water[0].shape))
