"""The densest ways of the corridor, to be drawn as bands."""

from __future__ import annotations

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.packed import PackedRaster


def densest(
    passes: PackedRaster, station: FloatArray | PackedRaster, share: float, bin_m: float
) -> BoolArray:
    """Return the fewest cells of each stretch through which a share of the fish pass.

    Parameters
    ----------
    passes
        Of `Corridor`, shape (y, x).
    station
        Along the main line [m], shape (y, x).
    share
        0 to 1, of what passes the stretch.
    bin_m
        Length of a stretch [m].
    """
    rows, cols = passes.above(0.0)
    along = station[rows, cols]
    known = np.isfinite(along)
    rows, cols, along = rows[known], cols[known], along[known]
    values = passes[rows, cols]
    bins = np.floor((along - along.min(initial=np.inf)) / bin_m).astype(np.int64)
    order = np.lexsort((-values, bins))
    total = np.bincount(bins, values)
    sums = np.cumsum(values[order])
    before = np.cumsum(total)[bins[order]] - total[bins[order]]
    # A cell is in while what the denser cells of its stretch hold is less than the share.
    inside = sums - values[order] - before < share * total[bins[order]]
    mask = np.zeros(passes.shape, dtype=bool)
    mask[rows[order][inside], cols[order][inside]] = True
    return mask
