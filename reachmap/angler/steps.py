"""Steps in the river's level, below which the map does not know where the quick water runs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.angler.hazards import hazard_mask
from reachmap.angler.view import Cells, View
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.patches import cells_of
from reachmap.base.words import HazardKind
from reachmap.markup.model import Hazard


def step_stretches(
    low_line: tuple[FloatArray, FloatArray], width: float, settings: WadingSettings
) -> FloatArray:
    """Return the stretches of river about its steps: first and last stations [m], shape (n, 2).

    Parameters
    ----------
    low_line
        Stations, rising, and levels of the lowest water seen along the river [m], each (m,).
    width
        The river's usual width [m].
    settings
        What counts as a step and how far its jet is reckoned to run.

    Notes
    -----
    A step is where the lowest water falls by `step_fall_m` within `step_span_m`, or between
    neighbouring points of the line where these lie farther apart: that errs on the dry side.
    Stretches that meet are one.
    """
    station, level = low_line
    if station.size < 2:
        return np.zeros((0, 2))
    span = max(settings.step_span_m, float(np.diff(station).max()))
    fall = level - np.interp(station + span, station, level)
    lips = station[fall >= settings.step_fall_m]
    return _merged(np.column_stack([lips, lips + span]), width, settings)


def ledge_stretches(view: View, hazards: Sequence[Hazard], settings: WadingSettings) -> FloatArray:
    """Return the stretches about drawn ledges like those of `step_stretches`, shape (n, 2)."""
    found = []
    for hazard in hazards:
        if hazard.kind is HazardKind.LEDGE:
            station = view.station[cells_of(hazard_mask(view, [hazard], 0.0))]
            if np.isfinite(station).any():
                found.append((np.nanmin(station), np.nanmax(station)))
    return _merged(np.array(found).reshape(-1, 2), view.width, settings)


def _merged(spans: FloatArray, width: float, settings: WadingSettings) -> FloatArray:
    """Return spans of stations (n, 2) with the river above and below that counts, merged."""
    reach = np.array([-settings.step_widths_above, settings.step_widths_below]) * width
    spans = spans[np.argsort(spans[:, 0])] + reach
    ends = np.maximum.accumulate(spans[:, 1])
    first = np.r_[True, spans[1:, 0] > ends[:-1]][: len(spans)]
    last = np.r_[first[1:], True][: len(spans)]
    return np.column_stack([spans[first, 0], ends[last]])


def below_steps(view: View, settings: WadingSettings, cells: Cells = ...) -> BoolArray:
    """Return which cells lie about a step of the level line; shape (y, x), or (n,) of `cells`.

    A fall of the level leaves as a jet. Which way it runs is decided by the form of the lip, which
    white water hides from every survey but one of the bed: for a width or two quick water may lie
    where the map has an eddy. A bed surveyed under water shows the lip, so nothing counts there.
    """
    return _about(step_stretches(view.low_line, view.width, settings), view, cells)


def below_ledges(
    view: View, hazards: Sequence[Hazard], settings: WadingSettings, cells: Cells = ...
) -> BoolArray:
    """Return which cells lie about a drawn ledge, in the shape of `below_steps`.

    The level line shows no fall where it was drawn or noted, and little of a ledge aslant.
    """
    return _about(ledge_stretches(view, hazards, settings), view, cells)


def _about(stretches: FloatArray, view: View, cells: Cells) -> BoolArray:
    """Return which cells lie in one of the merged stretches (n, 2), where the bed was not seen."""
    station = np.asarray(view.station[cells])
    if view.bed_seen or not len(stretches):
        return np.zeros(station.shape, dtype=bool)
    number = np.searchsorted(stretches[:, 0], station, side="right") - 1
    below = station <= stretches[np.maximum(number, 0), 1]
    return np.asarray((number >= 0) & below)
