"""Spread and odds at a flow between two solved ones: the less certain neighbour's."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.fields import check_fields
from reachmap.base.packed import PackedRaster, merged, packed_field, packed_raster
from reachmap.flow.place import Place

SPREADS = ("depth_spread", "speed_spread")
"""Fields that are larger where less is known; the other fields but `wet_chance` are smaller."""


def uncertainty_between(uncertainty: xr.Dataset, made: xr.Dataset, place: Place) -> xr.Dataset:
    """Return the ensemble's fields at a flow between two solved ones.

    Parameters
    ----------
    uncertainty
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
    fields = {}
    for name in map(str, uncertainty.data_vars):
        low, high = (packed_raster(uncertainty[name][k]) for k in (place.low, place.high))
        cells = merged(low.cells, high.cells)
        fields[name] = packed_field(
            [
                PackedRaster(
                    low.shape,
                    np.asarray(_between(name, low.ground, high.ground, place.share)),
                    cells,
                    _between(name, low.at(cells), high.at(cells), place.share),
                )
            ]
        )
    coords = {name: made[name] for name in ("flow", "x", "y")}
    found = xr.Dataset(fields, coords=coords, attrs=uncertainty.attrs)
    return check_fields(found, "doubt")


def _between(name: str, low: np.ndarray, high: np.ndarray, share: float) -> np.ndarray:
    """Return a field's values between those of the lower and the higher neighbour, of one kind."""
    if name == "wet_chance":
        value = (1 - share) * low + share * high
    else:
        value = (np.fmax if name in SPREADS else np.fmin)(low, high)
    return np.asarray(value, dtype=low.dtype)
