"""What the ensemble says over all flows, against plain sums; both kinds of notes ranked."""

import numpy as np
import pytest
import xarray as xr

from reachmap.base.packed import packed
from reachmap.uncertainty.survey import _over_flows


@pytest.mark.parametrize("held", [packed, lambda one: one], ids=["packed", "dense"])
def test_weight_is_where_a_note_can_change_the_answer_and_spread_is_without_the_models(held):
    chance = np.random.default_rng(6)
    shape = (3, 8, 9)
    spread = np.where(chance.random(shape) < 0.4, chance.random(shape), np.nan)
    suits = np.where(chance.random(shape) < 0.4, chance.random(shape), np.nan).astype(np.float32)
    spread[:, 0, 0] = suits[:, 0, 0] = np.nan
    dims = ("flow", "y", "x")
    doubt = xr.Dataset({"depth_spread": (dims, spread), "suits_chance": (dims, suits)})
    doubt.attrs["model_depth_m"] = 0.3
    matters, found = _over_flows(held(doubt))
    odds = suits.astype(np.float64)
    assert matters == pytest.approx(np.nansum(odds * (1 - odds), axis=0), rel=1e-5)
    known = np.isfinite(spread).any(axis=0)
    left = np.where(np.isnan(spread), np.nan, np.maximum(spread**2 - 0.09, 0.0))
    mean = np.nanmean(np.where(known, left, 0.0), axis=0)
    assert found == pytest.approx(np.sqrt(mean))
