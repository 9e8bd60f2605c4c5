"""Where fish pass and lie at one flow, as a list of cells stored alongside the layers."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.patches import cells_of
from reachmap.water.bed_forms import ground_cells
from reachmap.water.corridor import Corridor
from reachmap.water.field import WaterField
from reachmap.water.lies import Lies

LEAST = 1e-4
"""Cells where fewer fish pass and worse lies are than this are left out; our choice, 0-1e-3."""

HEAD_WIDTHS = 1.0
"""No fish are counted nearer than this to the head of the mapped water, in its widths: the current
there is that of the boundary condition. Our choice, 0.5-2."""


def presence_of(
    ground: xr.Dataset, field: WaterField, corridor: Corridor, lies: Lies
) -> xr.Dataset:
    """Return where fish pass and lie at one flow, by cell, but for the first width of the river.

    Parameters
    ----------
    ground
        The ground stage's Dataset, on whose raster cells are counted.
    field
        The flow, a window of it.
    corridor
        Where they pass.
    lies
        Odds that one that comes by would hold in each cell; NaN counts as 0.

    Returns
    -------
    xarray.Dataset
        By `cell`, rising indices into the raveled raster: `bold`, `shy` (net share of the fish of
        low and of high effort exponent that pass, 0 to 1) and `lie` (0 to 1). Attributes `shape`
        (rows, columns) and `cell_m`.
    """
    wet = cells_of(field.wet)
    bold, shy = (np.nan_to_num(one[wet]) for one in (corridor.bold, corridor.shy))
    odds = np.nan_to_num(lies.raster.of_cells(*wet))
    some = np.maximum(np.maximum(bold, shy), odds) > LEAST
    station = field.station[wet]
    known = np.isfinite(station)
    if known.any():
        head = float(station[known].min()) + HEAD_WIDTHS * field.width
        some &= ~known | (station >= head)
    return xr.Dataset(
        {
            "cell": ("cells", ground_cells(ground, field)[some]),
            "bold": ("cells", bold[some].astype(np.float32)),
            "shy": ("cells", shy[some].astype(np.float32)),
            "lie": ("cells", odds[some].astype(np.float32)),
        },
        attrs={
            "shape": [ground.sizes["y"], ground.sizes["x"]],
            "cell_m": float(field.grid.cell),
        },
    )
