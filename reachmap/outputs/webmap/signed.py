"""Signed depth: level minus bed, positive where wet, negative on dry ground near the water."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy import ndimage

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray
from reachmap.base.words import Wet
from reachmap.flow.carry import carry_level

EDGE_STEP_M = 0.02
"""Depth resolution at the water's edge [m]; our choice, 0.01-0.05: on a bar that rises 1 in 50 it
moves the edge by a metre, half a cell."""

BEND_M = 0.8
"""Depth at which a step is 1.4 times as large as at the edge [m]; our choice, 0.5-1.5: 0.03 m at
1 m, 0.08 m at 3 m, and 213 steps reach deeper than any river."""

DRY_STEPS = 40
"""Codes for dry ground; our choice, 20-60: these reach 0.94 m above the water."""

PAST_EDGE = 2
"""Width of the dry ground next to the water whose height is kept [cells]; our choice, 1-4: two
are enough to draw the edge."""

DRY, TOP, OFF_MAP, UNKNOWN = 0, 253, 254, 255
"""Codes: dry ground whose height is not kept; the highest value; outside the map; not known."""


def depth_values() -> FloatArray:
    """Return the signed depth of each code from `DRY` to `TOP` [m], ascending.

    Codes up to `DRY_STEPS` are dry ground, the last of them at the water's own level. A depth is
    encoded by the first code that is not below it, so that none is understated.

    Notes
    -----
    Steps grow with the depth as a hyperbolic sine: constant near the edge, proportional when deep.
    """
    steps = np.arange(DRY, TOP + 1) - DRY_STEPS
    return np.asarray(BEND_M * np.sinh(steps * EDGE_STEP_M / BEND_M))


def depth_codes(signed: FloatArray, wet: CodeArray) -> CodeArray:
    """Return signed depths as codes, rounded up, so that no depth is understated.

    Parameters
    ----------
    signed
        Level minus bed [m], > 0 where wet; NaN where not known, or where no height is kept.
    wet
        Codes of `base.words.Wet`, same shape.
    """
    known = np.isfinite(signed)
    found = np.searchsorted(depth_values(), np.where(known, signed, 0.0) - 1e-9)
    water = np.where(known, np.clip(found, DRY_STEPS + 1, TOP), UNKNOWN)
    ground = np.where(known, np.clip(found, 1, DRY_STEPS), DRY)
    codes = np.where(wet == Wet.YES, water, ground)
    return np.where(wet == Wet.UNKNOWN, UNKNOWN, codes).astype(np.uint8)


def signed_depth(ground: xr.Dataset, flows: xr.Dataset, index: int) -> FloatArray:
    """Return level minus bed at a flow [m], shape (y, x).

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flows
        The flow stage's, flows rising, on the same raster.
    index
        Position of the flow.

    Returns
    -------
    FloatArray
        The depth where it is wet; 0 or less on dry ground that a flow next to this one wets or that
        lies within `PAST_EDGE` cells of the water, by the level of the water nearest to it (as
        `flow.between` carries it); NaN elsewhere and where the bed is not known.
    """
    wet = flows["wet"].isel(flow=index).to_numpy()
    water = wet == Wet.YES
    signed = np.where(water, flows["depth"].isel(flow=index).to_numpy(), np.nan)
    near = _near_water(flows, index, water) & (wet == Wet.NO)
    level = flows["level"].isel(flow=index).to_numpy()
    rim = water & ndimage.binary_dilation(~water, iterations=2) & np.isfinite(level)
    listed = np.flatnonzero(rim | near)
    if near.any() and rim.any():
        places = np.stack(np.divmod(listed, wet.shape[1]), axis=1)
        carried = level.ravel()[listed].astype(np.float64)
        carry_level(carried, rim.ravel()[listed], places)
        dry = near.ravel()[listed]
        cells = listed[dry]
        bed = ground["bed"].to_numpy().ravel()[cells]
        signed.ravel()[cells] = np.minimum(carried[dry] - bed, 0.0)
    return np.asarray(signed)


def _near_water(flows: xr.Dataset, index: int, water: BoolArray) -> BoolArray:
    """Return a mask of cells near the water of a flow, or wet at an adjacent flow, shape (y, x)."""
    square = np.ones((3, 3), dtype=bool)
    found = np.asarray(ndimage.binary_dilation(water, square, iterations=PAST_EDGE))
    for other in (index - 1, index + 1):
        if 0 <= other < flows.sizes["flow"]:
            found |= flows["wet"].isel(flow=other).to_numpy() == Wet.YES
    return found
