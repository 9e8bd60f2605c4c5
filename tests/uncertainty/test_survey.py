"""Survey suggestions: the ensemble over all flows against plain sums, and the ranking."""

import numpy as np
import pytest
import xarray as xr

from reachmap.base.packed import packed
from reachmap.base.words import Season
from reachmap.ground.suggest import Suggestion
from reachmap.markup.model import SeasonLimits
from reachmap.uncertainty.survey import _best, _over_flows


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


def test_soundings_and_sticks_are_ranked_by_their_share_of_all_doubt():
    """By hand: 3.6 m2 over 0.6^2 and 3.2 m2/s2 over 0.4^2 are 10 and 20 of 30."""
    season = SeasonLimits(Season.WINTER, 0.6, 1.8, 0.2, 1.0)
    deep = [Suggestion("sounding", 0, 0, 0, 0, 0.3, gain) for gain in (0.6, 0.1)]
    quick = [Suggestion("stick", 0, 0, 0, 0, np.nan, gain, 60.0, "brush") for gain in (0.45, 0.21)]
    both = _best(deep, quick, (3.6, 3.2), season)
    assert [one.kind for one in both] == ["stick", "sounding", "stick", "sounding"]
    assert [one.gain for one in both] == pytest.approx([0.3, 0.2, 0.14, 0.1 / 3])
