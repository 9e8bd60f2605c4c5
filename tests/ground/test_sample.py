"""The sample river against its true bed: how near the ground comes, how well its spread holds."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reachmap.ground import GroundSettings, build_ground, grid_of, low_line, read_dem
from reachmap.ground.ensemble import members
from reachmap.ground.used import Kind, Why, facts_of
from reachmap.markup import read_markup
from tests.truth import true_ground

pytestmark = pytest.mark.slow
SETTINGS = GroundSettings()


@pytest.fixture(scope="module")
def reach():
    return read_markup(Path(__file__).resolve().parents[2] / "data_samples" / "madeup_river")


@pytest.fixture(scope="module")
def dem(reach):
    return read_dem(reach.dems, grid_of(reach, 2.0, SETTINGS.margin_m), reach.plan.dem)


@pytest.fixture(scope="module")
def ground(reach, dem):
    return build_ground(reach, dem, SETTINGS)


@pytest.fixture(scope="module")
def true_bed(reach):
    grid = grid_of(reach, 2.0, SETTINGS.margin_m)
    return true_ground(2)["bed"].interp(x=grid.x, y=grid.y, method="nearest").to_numpy()


def under(ground, true_bed, dem):
    return (true_bed < dem.height - 0.1) & np.isfinite(ground["bed"].to_numpy())


def rms(values):
    return float(np.sqrt(np.mean(values**2)))


def test_the_bed_beneath_the_water_is_near_the_truth(ground, true_bed, dem):
    wet = under(ground, true_bed, dem)
    off = (ground["bed"].to_numpy() - true_bed)[wet]
    assert rms(off) < 0.22
    assert abs(off.mean()) < 0.10
    assert np.median(np.abs(off)) < 0.10


def test_soundings_help(reach, ground, true_bed, dem):
    bare = build_ground(replace(reach, soundings=()), dem, SETTINGS)
    wet = under(ground, true_bed, dem) & np.isfinite(bare["bed"].to_numpy())
    with_them = rms((ground["bed"].to_numpy() - true_bed)[wet])
    assert with_them < 0.9 * rms((bare["bed"].to_numpy() - true_bed)[wet])


def test_dry_ground_is_as_good_as_the_flight(ground, true_bed, dem):
    dry = (ground["confidence"].to_numpy() >= 0.9) & np.isfinite(true_bed)
    dry &= true_bed > dem.height - 0.3  # not ground a meander's neighbour shades
    assert dry.sum() > 20_000
    assert rms((ground["bed"].to_numpy() - true_bed)[dry]) < 0.06


def test_no_sounding_of_the_sample_is_set_aside(ground):
    assert {one.why for one in facts_of(ground.attrs) if one.kind is Kind.SOUNDING} == {Why.USED}


def test_the_side_channel_is_the_dems_and_lies_above_low_water(reach, ground):
    side = next(river for river in reach.rivers if river.part.value == "side")
    middle = side.line.interpolate(0.5, normalized=True)
    here = ground.sel(x=middle.x, y=middle.y, method="nearest")
    low = np.interp(float(here["station"]), *low_line(ground))
    assert float(here["bed"]) > low + 0.1
    assert float(here["confidence"]) >= 0.9


def test_the_doubt_covers_the_error(reach, ground, true_bed, dem):
    spread = np.stack(
        [bed.window(slice(None), slice(None)) for bed, _ in members(ground, reach, SETTINGS, 1)]
    ).std(axis=0)
    wet = under(ground, true_bed, dem) & (ground["confidence"].to_numpy() < 0.9)
    score = (ground["bed"].to_numpy() - true_bed)[wet] / np.maximum(spread[wet], 0.02)
    assert np.mean(np.abs(score) < 2) > 0.85


def test_edges_alone_are_told_as_local_and_doubtful(reach, true_bed, dem):
    plan = replace(reach.plan, slope=0.002)
    bare = replace(reach, plan=plan, soundings=(), levels=(), dems=())
    ground = build_ground(bare, None, SETTINGS)
    assert ground.attrs["vertical"] == "local"
    wet = under(ground, true_bed, dem)
    off = (ground["bed"].to_numpy() - true_bed)[wet]
    assert np.std(off) < 0.45
    assert np.median(ground["confidence"].to_numpy()[wet]) < 0.4


def test_its_noted_levels_give_heights_their_datum_without_the_dem(reach, true_bed, dem):
    bare = replace(reach, plan=replace(reach.plan, slope=0.002), soundings=(), dems=())
    ground = build_ground(bare, None, SETTINGS)
    assert ground.attrs["vertical"] == "noted"
    off = (ground["bed"].to_numpy() - true_bed)[under(ground, true_bed, dem)]
    assert abs(np.median(off)) < 0.4
