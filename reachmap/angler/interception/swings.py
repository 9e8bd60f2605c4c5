"""From the planned swings of a flow to the cells they cover."""

from __future__ import annotations

import numpy as np

from reachmap.angler.interception.quality import swim_quality, view_radius
from reachmap.angler.interception.swept import Swept, Tracks, no_swept, swept_cells
from reachmap.angler.judge import TRACK
from reachmap.angler.pace import step_length
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.view import View
from reachmap.base.arrays import FloatArray
from reachmap.water.clarity import clarity_by


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
