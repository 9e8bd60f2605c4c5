"""Share of the river that runs in several threads: braided rivers are graded more strictly."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.packed import PackedRaster
from reachmap.base.patches import cells_of

Known = FloatArray | PackedRaster
"""A raster, or one held by the cells where it is known."""

GAP_CELLS = 3
"""Dry cells across that part two threads, of 1 m where the raster's are smaller; our choice,
2-5."""

THREAD_CELLS = 2
"""Wet cells across that make a thread, of 1 m where the raster's are smaller; our choice, 1-4."""

SMALLEST_M = 1.0
"""Cells that boulders and their lees do not fill [m]: on smaller ones these would count as bars and
threads. Our choice, 0.5-2."""

BRAIDED_SHARE = 0.25
"""Share of sections with two or more threads from which a river counts as braided; our choice,
0.15-0.5: the made single rivers have under 0.1, the braided one over 0.8."""


def is_braided(wet: BoolArray, station: Known, offset: Known, cell: float) -> bool:
    """Return whether wet cells make a braided river; arguments as of `share_of_threads`."""
    return share_of_threads(wet, station, offset, cell) >= BRAIDED_SHARE


def share_of_threads(wet: BoolArray, station: Known, offset: Known, cell: float) -> float:
    """Return the share of the river's sections that hold two or more threads of water, 0 to 1.

    Parameters
    ----------
    wet
        Wet cells, (y, x).
    station, offset
        Coordinates of the cells along and across the river [m], NaN where they have none.
    cell
        Side of a cell [m].

    Notes
    -----
    Sections are strips one and a half cells long; a gap between wet offsets of more than
    `GAP_CELLS` cells parts two threads. Where cells are smaller than `SMALLEST_M` it is taken for
    their side. 0 where nothing is wet.
    """
    least = THREAD_CELLS * max(SMALLEST_M / cell, 1.0) ** 2
    cell = max(cell, SMALLEST_M)
    at = cells_of(wet)
    along, across = station[at], offset[at]
    known = np.isfinite(along) & np.isfinite(across)
    if not known.any():
        return 0.0
    strip, across = np.floor(along[known] / (1.5 * cell)).astype(np.int64), across[known]
    order = np.lexsort((across, strip))
    strip, across = strip[order], across[order]
    new = np.r_[True, np.diff(strip) != 0]
    parted = new | np.r_[False, np.diff(across) > GAP_CELLS * cell]
    thread = np.cumsum(parted) - 1
    size = np.bincount(thread)
    section = strip[parted]
    threads = np.bincount((section - section.min())[size >= least])
    return float((threads >= 2).sum() / new.sum())
