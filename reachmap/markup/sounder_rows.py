"""Depths with place and time: the common result of the readers of echo-sounder files."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray


@dataclass(frozen=True, slots=True)
class Rows:
    """Depths in the order they were taken, from a file of any format.

    Parameters
    ----------
    x, y
        Coordinates as written, shape (n,); NaN where a cell is no number.
    degrees
        Whether they are longitude and latitude.
    depth_m, flow
        [m], [m3/s]; NaN where not given.
    times
        UTC datetime64[s]; NaT where not given.
    sets
        Name of each row's set, "" for none.
    names
        Name of each single sounding, "" for none.
    from_surface
        Whether each depth is measured from the water's surface, regardless of the depth of the
        transducer in reach.toml.
    lost
        Number of readings that could not be read.
    """

    x: FloatArray
    y: FloatArray
    degrees: bool
    depth_m: FloatArray
    flow: FloatArray
    times: np.ndarray[tuple[int], np.dtype[np.datetime64]]
    sets: np.ndarray
    names: np.ndarray
    from_surface: BoolArray
    lost: int = 0
