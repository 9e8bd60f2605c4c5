"""Spread and odds at a flow between two solved ones: the less certain neighbour's."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.fields import STACK, check_fields
from reachmap.flow.place import Place

SPREADS = ("depth_spread", "speed_spread")
"""Fields that are larger where less is known; the other fields but `wet_chance` are smaller."""


def doubt_between(doubt: xr.Dataset, made: xr.Dataset, place: Place) -> xr.Dataset:
    """Return the ensemble's fields at a flow between two solved ones.

    Parameters
    ----------
    doubt
        The stage's Dataset at the solved flows.
    made
        The flow field at the flow between, one flow.
    place
        Where it lies among the solved flows.

    Returns
    -------
    xr.Dataset
        As the stage's, one flow. Spreads are the larger and odds the smaller of the two neighbours'
        where both are known, the known one's where one is; the chance of being wet is linear in
        ln Q, and NaN where a neighbour's is.
    """
    pairs = {str(name): doubt[name].to_numpy()[[place.low, place.high]] for name in doubt.data_vars}
    fields = {}
    for name, pair in pairs.items():
        if name == "wet_chance":
            value = (1 - place.share) * pair[0] + place.share * pair[1]
        else:
            value = (np.fmax if name in SPREADS else np.fmin)(pair[0], pair[1])
        fields[name] = (STACK, value[None].astype(pair.dtype))
    coords = {name: made[name] for name in ("flow", "x", "y")}
    return check_fields(xr.Dataset(fields, coords=coords, attrs=doubt.attrs), "doubt")
