"""Where the bed or the level profile is known well enough to locate pools and tailouts."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import Wet
from reachmap.water.settings import TailoutSettings


def is_levelled(ground: xr.Dataset) -> bool:
    """Return whether the surface of the low water was measured along the river."""
    return str(ground.attrs.get("low_how", "")) == "surface"


def known_bed(confidence: FloatArray, settings: TailoutSettings, *, levelled: bool) -> BoolArray:
    """Return the mask of cells whose bed is known well enough to locate a tailout, any shape.

    Pools and lips of a bed synthesised between drawn banks follow from a rule of bends, not from
    evidence.

    Parameters
    ----------
    confidence
        Of the bed, 0 to 1; NaN is not known.
    settings
        Least confidence with and without a levelled water surface.
    levelled
        From `is_levelled`.
    """
    least = settings.levelled_low if levelled else settings.known_low
    with np.errstate(invalid="ignore"):
        return np.asarray(confidence >= least)


def known_bed_shares(
    ground: xr.Dataset, flow: xr.Dataset, settings: TailoutSettings
) -> dict[str, float]:
    """Return, by flow label, the share of the wet area where a tailout can be located, 0 to 1.

    Parameters
    ----------
    ground, flow
        Datasets of those stages; a flow without water is left out.
    settings
        Least confidence, as for `known_bed`.
    """
    sure = ground["confidence"].to_numpy()
    known = known_bed(sure, settings, levelled=is_levelled(ground))
    shares = {}
    for index, label in enumerate(flow["asked"].to_numpy()):
        wet = flow["wet"].isel(flow=index).to_numpy() == Wet.YES
        if wet.any():
            shares[str(label)] = float(known[wet].mean())
    return shares
