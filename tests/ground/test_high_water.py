"""A DEM flown at higher water than the drawing's: mapped honestly, or a fault with both flows."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio

from reachmap.base.errors import BuildError
from reachmap.ground import build_ground
from reachmap.ground.corridor import grid_of
from reachmap.ground.dem import read_dem
from reachmap.ground.settings import GroundSettings
from reachmap.markup import read_markup
from tests.markup.folders import TOML, make

SETTINGS = GroundSettings(cell=4.0)


def ground_of(folder, rise: float):
    """Return the ground of the straight river, its DEM flown `rise` metres above the low water."""
    make(folder, toml=TOML.replace("flow = 25", "flow = 60"))
    with rasterio.open(folder / "dem.tif", "r+") as target:
        height = target.read(1)
        target.write(np.maximum(height, height.min(axis=0) + np.float32(rise)), 1)
    reach = read_markup(folder)
    grid = grid_of(reach, SETTINGS.cell, SETTINGS.margin_m)
    return build_ground(reach, read_dem(reach.dems, grid, reach.plan.dem), SETTINGS)


def test_water_within_the_banks_is_mapped_and_wholly_known(tmp_path):
    ground = ground_of(tmp_path, 0.5)
    near = abs(ground["offset"].values) < 15
    inside = near & (ground["station"].values > 20) & (ground["station"].values < 580)
    assert np.isfinite(ground["bed"].values[inside]).all()


def test_water_over_all_the_ground_is_a_fault_that_says_both_flows(tmp_path):
    with pytest.raises(BuildError) as told:
        ground_of(tmp_path, 4.0)
    text = str(told.value)
    assert "flown at high water: at 60 m3/s" in text
    assert "the water drawn at 30 m3/s" in text
    assert "Give a DEM flown at lower water" in text


def test_bed_that_no_form_reaches_stays_unknown_beside_soundings(tmp_path, monkeypatch):
    monkeypatch.setattr("reachmap.ground.dem_checks.UNKNOWN_BED", 1.0)
    ground = ground_of(tmp_path, 4.0)
    assert np.isnan(ground["bed"].values).any()
    assert np.isfinite(ground["bed"].values).any()
