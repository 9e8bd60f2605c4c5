"""Cells covered by the planned swings of a flow, and their outlines as a layer."""

from __future__ import annotations

from typing import Any

import numpy as np

from reachmap.angler.interception.quality import swim_quality, view_radius
from reachmap.angler.interception.settings import InterceptionSettings
from reachmap.angler.interception.swept import Swept, Tracks, no_swept, swept_cells
from reachmap.angler.judge import TRACK
from reachmap.angler.pace import step_length
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.view import View
from reachmap.base.arrays import FloatArray
from reachmap.water.clarity import clarity_by
from reachmap.water.zones import outline, pieces

COVERED_CELLS = 10
"""Pieces of fewer cells are not outlined (our choice)."""


def swept_at(
    view: View,
    track: FloatArray,
    down: FloatArray,
    pace: tuple[float, float, float],
    settings: AnglerSettings,
) -> Swept:
    """Return the cells that the casts from each place cover, with the seconds of good view.

    Parameters
    ----------
    view
        The flow.
    track
        Of the planned swings, columns `judge.TRACK`, shape (n, records, columns); NaN after the
        end.
    down
        Unit vectors along the current abreast of each place, shape (n, 2).
    pace
        Wanted speed of the fly, its slowest and quickest [m/s].
    settings
        Season, clarity, pace and how fish and fly meet.
    """
    if not len(track):
        return no_swept()
    t, x, y, fly = (track[:, :, TRACK.index(name)] for name in ("t", "x", "y", "depth"))
    known = np.isfinite(x)
    row, col, on_map = view.grid.index(
        np.where(known, x, view.grid.x[0]).ravel(), np.where(known, y, view.grid.y[0]).ravel()
    )
    row, col = row.reshape(x.shape), col.reshape(x.shape)
    there = known & on_map.reshape(x.shape)
    east, north, water = (
        np.where(there, raster[row, col], np.nan) for raster in (view.east, view.north, view.depth)
    )
    clarity = clarity_by(view.flow, settings.clarity_m, settings.clarity_law)
    meet = settings.interception
    quality = swim_quality(across_of(t, x, y, east, north), fly, water, pace, clarity, meet)
    step = step_length(settings.season, settings.pace, clarity_m=clarity)
    record = settings.line.record_s
    tracks = Tracks(x, y, quality, record, down)
    return swept_cells(
        tracks, view.grid, view_radius(clarity, meet), bank_m=meet.bin_m, step_m=step
    )


def covered_rows(view: View, swept: Swept, settings: InterceptionSettings) -> list[dict[str, Any]]:
    """Return the rows of the layer `covered`: water where a fish gets enough of good view.

    Parameters
    ----------
    view
        The flow.
    swept
        What the casts cover from places at which there is room for one.
    settings
        How many seconds are enough.
    """
    seconds = np.zeros(view.wet.size)
    np.add.at(seconds, swept.cell, swept.seconds)
    raster = seconds.reshape(view.wet.shape)
    rows = []
    for place, mask in pieces((raster >= settings.covered_s) & view.wet, COVERED_CELLS):
        shape = outline(mask, place, view.grid)
        if shape is not None:
            mean = float(raster[place][mask].mean())
            row = {"area_m2": shape.area, "seconds": mean, "geometry": shape}
            rows.append({"flow": view.flow, "flow_label": view.label} | row)
    return rows


def across_of(
    t: FloatArray, x: FloatArray, y: FloatArray, east: FloatArray, north: FloatArray
) -> FloatArray:
    """Return the speed of the fly across the current [m/s], shape (n, records); NaN not known.

    Parameters
    ----------
    t, x, y
        Seconds after landing and place of the fly [m], shape (n, records).
    east, north
        The current there [m/s], same shape.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        vx, vy = (np.gradient(one, axis=1) / np.gradient(t, axis=1) for one in (x, y))
        return np.asarray(np.abs(vy * east - vx * north) / np.hypot(east, north))
