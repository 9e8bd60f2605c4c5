"""A channel's sections: a grid of rows across the line, and the way between it and the cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import map_coordinates

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.ground.channel import Channel
from reachmap.ground.raster import Corridor


@dataclass(frozen=True, slots=True)
class Sections:
    """Rows across a channel's line, one at each vertex, all with the same offsets.

    Parameters
    ----------
    channel
        Whose sections they are.
    offset
        Columns: offsets rising from right to left [m], evenly spaced.
    cells
        Number of the corridor cell under each point; -1 where none is, or where the cell belongs to
        another channel or, in a tight bend, to another row.
    """

    channel: Channel
    offset: FloatArray
    cells: np.ndarray

    @property
    def spacing(self) -> float:
        """Return the distance between columns [m]."""
        return float(self.offset[1] - self.offset[0])

    @property
    def station(self) -> FloatArray:
        """Return the rows' stations [m]."""
        return self.channel.line.station

    def within(self) -> BoolArray:
        """Return which points lie between the drawn edges of the channel."""
        channel = self.channel
        return (self.offset <= channel.left[:, None]) & (self.offset >= channel.right[:, None])

    def sample(self, values: np.ndarray, fill: float) -> np.ndarray:
        """Return the cells' values at the points of the grid, `fill` where there is no cell."""
        if not values.size:
            return np.full(self.cells.shape, fill)
        return np.where(self.cells >= 0, values[self.cells], fill)

    def to_cells(self, values: FloatArray, station: FloatArray, offset: FloatArray) -> FloatArray:
        """Return values of the grid at places, linear in station and offset; NaN outside it."""
        row = np.interp(station, self.station, np.arange(len(self.station), dtype=np.float64))
        col = (offset - self.offset[0]) / self.spacing
        got = map_coordinates(values, [row, col], order=1, mode="constant", cval=np.nan)
        return np.asarray(got, dtype=np.float64)


def cut_sections(
    channel: Channel, corridor: Corridor, owned: BoolArray, station: FloatArray, reach_m: float
) -> Sections:
    """Return the sections of a channel.

    Parameters
    ----------
    channel
        Whose.
    corridor
        The cells.
    owned
        Which cells belong to this channel.
    station
        The cells' stations in their own channel [m].
    reach_m
        How far the sections run on beyond the drawn edges [m].
    """
    step = corridor.grid.cell / 2
    low = np.floor((channel.right.min() - reach_m) / step)
    high = np.ceil((channel.left.max() + reach_m) / step)
    offset = (np.arange(low, high + 1)) * step
    line = channel.line
    rows, columns = len(line.station), len(offset)
    x, y = line.from_station_offset(np.repeat(line.station, columns), np.tile(offset, rows))
    cells = corridor.at(x, y).reshape(rows, columns)
    held = cells >= 0
    here = held & owned[cells] & (np.abs(station[cells] - line.station[:, None]) < 3 * 2 * step)
    return Sections(channel, offset, np.where(here, cells, -1))


def runs_of(wet: BoolArray) -> tuple[np.ndarray, np.ndarray]:
    """Return for each wet point the first and last column of its unbroken run across the row.

    Parameters
    ----------
    wet
        Mask (rows, columns).

    Returns
    -------
    tuple of arrays
        Of `wet`'s shape; meaningless where not wet.
    """
    columns = np.arange(wet.shape[1])
    dry_before = np.maximum.accumulate(np.where(wet, -1, columns), axis=1)
    flipped = np.where(wet, wet.shape[1], columns)[:, ::-1]
    dry_after = np.minimum.accumulate(flipped, axis=1)[:, ::-1]
    return dry_before + 1, dry_after - 1
