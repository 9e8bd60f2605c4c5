"""A ground with its roughness and the depth of its form multiplied."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.ground.build_ground import low_line
from reachmap.ground.cover_classes import NOTHING, by_cover
from reachmap.ground.settings import GroundSettings
from reachmap.ground.sources import is_dem_ground, sounded_share


def scaled(
    ground: xr.Dataset,
    roughness: float,
    depth: float,
    settings: GroundSettings,
    covers: Mapping[str, float] = NOTHING,
) -> xr.Dataset:
    """Return the ground with its roughness and the depth of its form multiplied.

    `roughness` is that of the channel and of bare gravel, `covers` those of other classes of cover
    by name; a class that is not among them stays as it is.

    Ground a DEM saw dry, and drawn banks, stay as they are; so does the bed at a sounding, and
    what lies near one by as much as the sounding determines it.
    """
    bed = ground["bed"].to_numpy()
    form, below = form_of(ground, settings)
    moved = np.where(form, bed - below * (depth - 1) * unsounded(ground), bed)
    surface = ground["surface"].to_numpy() + (moved - bed)
    factor = by_cover(ground["cover"].to_numpy(), roughness, covers)
    return ground.assign(
        bed=(("y", "x"), moved, ground["bed"].attrs),
        surface=(("y", "x"), surface, ground["surface"].attrs),
        roughness=ground["roughness"] * factor,
    )


def unsounded(ground: xr.Dataset) -> FloatArray:
    """Return the share of a form's variance that no sounding took, 0 to 1, shape (y, x)."""
    sure = ground["confidence"].to_numpy().astype(np.float64)
    return 1 - sounded_share(sure, str(ground.attrs["vertical"]))


def form_of(ground: xr.Dataset, settings: GroundSettings) -> tuple[BoolArray, FloatArray]:
    """Return which cells are a form, and how far they lie below the lowest water seen [m]."""
    low = np.interp(ground["station"].to_numpy(), *low_line(ground))
    below = low - ground["bed"].to_numpy()
    form = ~is_dem_ground(ground["confidence"].to_numpy())
    form &= np.nan_to_num(below) >= 0.9 * settings.least_depth_m
    return form, np.where(form, below, 0.0)
