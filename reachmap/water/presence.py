"""Where fish pass and lie at one flow, as a list of cells to be stored beside the layers."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray
from reachmap.water.corridor import Corridor
from reachmap.water.field import WaterField

LEAST = 1e-4
"""Cells where fewer fish pass and worse lies are than this are left out; our choice, 0-1e-3."""


def presence_of(field: WaterField, corridor: Corridor, lie: FloatArray) -> xr.Dataset:
    """Return where fish pass and lie.

    Parameters
    ----------
    field
        The flow.
    corridor
        Where they pass.
    lie
        Odds that one that comes by would hold in each cell, shape (y, x); NaN counts as 0.

    Returns
    -------
    xarray.Dataset
        By `cell`, rising indices into the raveled raster: `bold`, `shy` (net share of the fish of
        low and of high effort exponent that pass, 0 to 1) and `lie` (0 to 1). Attributes `shape`
        (rows, columns) and `cell_m`.
    """
    bold, shy, odds = (np.nan_to_num(one).ravel() for one in (corridor.bold, corridor.shy, lie))
    cells = np.flatnonzero(np.maximum(np.maximum(bold, shy), odds) > LEAST).astype(np.int32)
    return xr.Dataset(
        {
            "cell": ("cells", cells),
            "bold": ("cells", bold[cells].astype(np.float32)),
            "shy": ("cells", shy[cells].astype(np.float32)),
            "lie": ("cells", odds[cells].astype(np.float32)),
        },
        attrs={"shape": list(field.wet.shape), "cell_m": float(field.grid.cell)},
    )
