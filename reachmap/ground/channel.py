"""Channels: a centred line with the distances to its banks, main or side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.words import Part


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel of the river.

    Parameters
    ----------
    name
        As drawn.
    part
        Main or side.
    line
        Centred between the banks; its widths are those between `left` and `right`.
    left, right
        Offsets of the water's edges as drawn, at each vertex of the line [m]; `right` < `left`.
    dry
        Whether it was drawn across ground that was dry when the banks were traced.
    """

    name: str
    part: Part
    line: Centreline
    left: FloatArray
    right: FloatArray
    dry: bool

    @property
    def width(self) -> FloatArray:
        """Return the width between the banks at each vertex [m]."""
        return self.left - self.right

    @property
    def median_width(self) -> float:
        """Return the median width [m]."""
        return float(np.median(self.width))

    def excess(self, station: FloatArray, offset: FloatArray) -> FloatArray:
        """Return how far places lie outside the drawn water's edge [m]; negative within it."""
        left = np.interp(station, self.line.station, self.left)
        right = np.interp(station, self.line.station, self.right)
        return np.maximum(offset - left, right - offset)

    def outline(self) -> Polygon:
        """Return the water between the drawn banks as a polygon, mended where bends fold it."""
        lx, ly = self.line.from_station_offset(self.line.station, self.left)
        rx, ry = self.line.from_station_offset(self.line.station, self.right)
        ring = np.column_stack([np.r_[lx, rx[::-1]], np.r_[ly, ry[::-1]]])
        return shapely.make_valid(Polygon(ring))


def nearest_channel(
    channels: Sequence[Channel], x: FloatArray, y: FloatArray
) -> tuple[np.ndarray, FloatArray, FloatArray, FloatArray]:
    """Return for each place its channel's number, station, offset and excess in that channel.

    A place within the main channel's edges belongs to it; any other to the channel whose edge is
    nearest. Stations beyond a side channel's ends belong to the main channel.

    Parameters
    ----------
    channels
        The main channel first.
    x, y
        Places [m], one-dimensional.
    """
    owner = np.zeros(x.shape, dtype=np.int8)
    station, offset = channels[0].line.to_station_offset(x, y)
    excess = channels[0].excess(station, offset)
    best = excess.copy()
    for number, channel in enumerate(channels[1:], start=1):
        at, off = channel.line.to_station_offset(x, y)
        out = channel.excess(at, off)
        beyond = (at < 0) | (at > channel.line.length)
        taken = ~beyond & (best > 0) & (out < best)
        owner[taken] = number
        station[taken], offset[taken] = at[taken], off[taken]
        excess[taken] = best[taken] = out[taken]
    return owner, station, offset, excess
