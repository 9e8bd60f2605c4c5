"""Where bed or level profile is known well enough to tell a pool from the lip below it."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import Wet
from reachmap.water.settings import TailoutSettings


def is_levelled(ground: xr.Dataset) -> bool:
    """Return whether the surface of the low water was measured along the river."""
    return str(ground.attrs.get("low_how", "")) == "surface"


def told_bed(confidence: FloatArray, settings: TailoutSettings, *, levelled: bool) -> BoolArray:
    """Return where a tailout can be told.

    A form drawn between banks has its pools and lips by a rule of bends, not by evidence.

    Parameters
    ----------
    confidence
        Of the bed, 0 to 1; NaN is not known.
    settings
        What is known enough.
    levelled
        From `is_levelled`.
    """
    least = settings.levelled_low if levelled else settings.known_low
    with np.errstate(invalid="ignore"):
        return np.asarray(confidence >= least)


def told_shares(
    ground: xr.Dataset, flow: xr.Dataset, settings: TailoutSettings
) -> dict[str, float]:
    """Return the share of the water at each flow, by its label, where a tailout can be told.

    Parameters
    ----------
    ground, flow
        Of their stages; a flow without water is left out.
    settings
        What is known enough.
    """
    sure = ground["confidence"].to_numpy()
    told = told_bed(sure, settings, levelled=is_levelled(ground))
    shares = {}
    for index, label in enumerate(flow["asked"].to_numpy()):
        wet = flow["wet"].isel(flow=index).to_numpy() == Wet.YES
        if wet.any():
            shares[str(label)] = float(told[wet].mean())
    return shares
