"""Depths of an echo sounder averaged over short lengths of river: each a sounding of its own."""

from __future__ import annotations

import math

import numpy as np
from shapely import Point

from reachmap.ground.channels import nearest_channel
from reachmap.ground.layout import Layout
from reachmap.ground.settings import TrackSettings
from reachmap.markup.model import Origin, Sounding, Track


def binned(layout: Layout, track: Track, settings: TrackSettings) -> list[Sounding]:
    """Return a track as soundings: means over bins along and across the river.

    Mean place and mean depth, so that a bed that is a plane is met exactly. Standard error of a
    mean: (p^2 / min(n, independent) + b^2)^(1/2), p that of a depth and b what averaging leaves;
    all soundings of a track form a group that shares a further error.

    Parameters
    ----------
    layout
        The drawing laid out.
    track
        Depths at one flow.
    settings
        Size of the bins, and errors.
    """
    if not track.x.size:
        return []
    owner, station, offset, _ = nearest_channel(layout.channels, track.x, track.y)
    bins = np.column_stack(
        [
            owner,
            np.floor(station / settings.bin_m),
            np.floor(offset / settings.bin_across_m),
        ]
    ).astype(np.int64)
    _, which, count = np.unique(bins, axis=0, return_inverse=True, return_counts=True)
    which = which.ravel()
    x, y, depth = (
        np.bincount(which, values) / count for values in (track.x, track.y, track.depth_m)
    )
    flow = np.full(count.size, track.flow)
    if track.flows is not None:
        flow = np.bincount(which, track.flows) / count
    return [
        Sounding(
            track.name,
            Point(x[k], y[k]),
            float(depth[k]),
            float(flow[k]),
            math.nan,
            Origin.TRACK,
            track.date,
            _error(int(count[k]), settings),
            track.name,
            int(count[k]),
        )
        for k in range(count.size)
    ]


def _error(count: int, settings: TrackSettings) -> float:
    """Return the standard error of a mean of so many depths [m]."""
    own = settings.point_error_m / math.sqrt(min(count, settings.independent))
    return math.hypot(own, settings.bin_error_m)
