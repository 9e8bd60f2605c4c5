"""Depths with their place and time as every reader of a sounder's files gives them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray


@dataclass(frozen=True, slots=True)
class Rows:
    """Depths in the order they were taken, from a file of any kind.

    Parameters
    ----------
    x, y
        As written, shape (n,); NaN where a cell is no number.
    degrees
        Whether they are longitude and latitude.
    depth_m, flow
        [m], [m3/s]; NaN where not given.
    times
        UTC datetime64[s]; NaT where not given.
    sets
        Name of each row's set, "" for none.
    names
        Name of each depth that stands alone, "" for none.
    from_surface
        Whether each depth counts from the water's surface whatever reach.toml says of how deep the
        transducer hangs.
    lost
        Readings of the file that could not be made out.
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
