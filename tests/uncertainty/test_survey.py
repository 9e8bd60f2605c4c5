"""What the ensemble says over all flows, against plain sums of the dense fields."""

import numpy as np
import pytest
import xarray as xr

from reachmap.base.packed import packed
from reachmap.uncertainty.survey import _over_flows


@pytest.mark.parametrize("held", [packed, lambda one: one], ids=["packed", "dense"])
def test_chances_add_up_and_spreads_are_root_mean_squares_of_the_flows_that_wet_a_cell(held):
    chance = np.random.default_rng(6)
    shape = (3, 8, 9)
    spread = np.where(chance.random(shape) < 0.4, chance.random(shape), np.nan)
    suits = np.where(chance.random(shape) < 0.4, chance.random(shape), np.nan).astype(np.float32)
    spread[:, 0, 0] = suits[:, 0, 0] = np.nan
    dims = ("flow", "y", "x")
    doubt = xr.Dataset({"depth_spread": (dims, spread), "suits_chance": (dims, suits)})
    matters, found = _over_flows(held(doubt))
    assert matters == pytest.approx(np.nansum(suits.astype(np.float64), axis=0), rel=1e-6)
    known = np.isfinite(spread).any(axis=0)
    mean = np.nanmean(np.where(known, spread**2, 0.0), axis=0)
    assert found == pytest.approx(np.sqrt(mean))
