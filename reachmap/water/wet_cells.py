"""Roughness at the wet cells of one flow, and standard deviations of their depth and speed."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.grid import Window
from reachmap.base.packed import values_at
from reachmap.base.resistance import resistance_at, shallow_excess
from reachmap.uncertainty.model_error import ModelError


def roughness_of(ground: xr.Dataset, cells: IntArray, depth: FloatArray) -> FloatArray:
    """Return Manning's n at the depth of the water [s/m^(1/3)], shape (n,).

    Parameters
    ----------
    ground
        The ground stage's Dataset, or a window of it.
    cells
        Indices into the raveled raster, shape (n,).
    depth
        Of the water at them [m], shape (n,).
    """
    deep, term = resistance_at(ground, cells)
    return deep if term is None else deep * np.sqrt(1 + shallow_excess(term, depth))


def spreads_of(
    uncertainty: xr.Dataset | None,
    window: Window,
    cells: IntArray,
    speed: FloatArray,
    model: ModelError,
) -> tuple[FloatArray, FloatArray]:
    """Return the standard deviations of depth [m] and speed [m/s], shape (n,).

    Parameters
    ----------
    uncertainty
        Dataset of the uncertainty stage with one flow; its spreads include the flow model's own
        error and are NaN where unknown. None: no ensemble was run.
    window
        Where the raster of `cells` lies in that of `uncertainty`.
    cells
        Indices into the raveled window, shape (n,).
    speed
        At the cells [m/s], shape (n,).
    model
        The flow model's own error: all there is without an ensemble.
    """
    if uncertainty is None:
        return np.full(speed.shape, model.depth_m), model.of_speed(speed)
    depth_spread, speed_spread = (
        values_at(uncertainty[name].isel(flow=0)[window], cells).astype(np.float64)
        for name in ("depth_spread", "speed_spread")
    )
    return depth_spread, speed_spread
