"""What a good folder becomes."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from reachmap.base.words import Cover, Part, Side, SpeedHow, UnitSystem
from reachmap.markup import read_markup
from reachmap.markup.check_flow import mean_depth
from reachmap.markup.check_gauge import flow_faults
from reachmap.markup.read import read_drawing
from tests.markup.folders import CRS, TOML, make, rows, with_line, write_dem


def test_every_layer_comes_through(tmp_path):
    markup = read_markup(make(tmp_path))
    assert markup.crs == CRS
    assert markup.folder == tmp_path
    assert [river.part for river in markup.rivers] == [Part.MAIN, Part.SIDE]
    bank = markup.banks[1]
    assert (bank.side, bank.cover, bank.rise_m) == (Side.LEFT, Cover.TREES, 1.5)
    assert markup.speeds[0].how is SpeedHow.SURFACE
    assert markup.trees[0].radius_m == 3.0
    assert markup.edges[0].date == "2001-11-02"
    assert markup.gauge.name == "gauge"
    for name in ("edges", "levels", "rocks", "hazards", "access", "runs", "soundings"):
        assert getattr(markup, name)


def test_the_fall_over_the_line_gives_the_slope(tmp_path):
    toml = with_line(TOML, "slope = 0.002", "fall = 1.5")
    plan = read_markup(make(tmp_path, toml=toml, dem=False)).plan
    assert plan.slope == pytest.approx(1.5 / 600)


def test_levels_at_one_flow_give_the_slope_where_nothing_else_does(tmp_path):
    toml = with_line(TOML, "slope = 0.002", "")
    markup = read_markup(make(tmp_path, toml=toml, dem=False))
    assert markup.plan.slope == pytest.approx(0.002)
    assert any("is that of the levels you noted" in sentence for sentence in markup.assumed)


def test_levels_at_different_flows_give_none(tmp_path):
    made = rows()
    made["levels"][1]["flow"] = 60.0
    drawing, faults = read_drawing(
        make(tmp_path, toml=with_line(TOML, "slope = 0.002", ""), made=made, dem=False)
    )
    assert any("how steep" in fault.found for fault in faults)
    assert drawing.main is not None


def test_with_a_dem_the_slope_is_left_to_the_ground(tmp_path):
    markup = read_markup(make(tmp_path, toml=with_line(TOML, "slope = 0.002", "")))
    assert math.isnan(markup.plan.slope)


def test_a_dem_in_feet_says_so_itself(tmp_path):
    toml = TOML.replace('height_unit = "m"', "")
    make(tmp_path, toml=toml, dem=False)
    write_dem(tmp_path / "dem.tif", factor=1 / 0.3048, unit="US survey foot")
    assert read_markup(tmp_path).plan.dem.height_unit == "ft"


def test_a_dem_of_unsaid_unit_is_taken_in_metres_and_told(tmp_path):
    markup = read_markup(make(tmp_path, toml=TOML.replace('height_unit = "m"', "")))
    assert markup.plan.dem.height_unit == "m"
    assert any("unit of the DEM's heights: metres are taken" in text for text in markup.assumed)


def test_tiles_that_meet_cover_the_reach_together(tmp_path):
    make(tmp_path, dem=False)
    write_dem(tmp_path / "dem_west.tif", x1=300.0)
    write_dem(tmp_path / "dem_east.tif", x0=300.0)
    assert [path.name for path in read_markup(tmp_path).dems] == ["dem_east.tif", "dem_west.tif"]


def test_a_dem_in_another_crs_is_asked_at_the_same_places(tmp_path):
    drawing, _ = read_drawing(make(tmp_path))
    expected = 100 - 0.002 * drawing.heights.station
    np.testing.assert_allclose(drawing.heights.river, expected, atol=0.01)
    assert drawing.heights.covered.all()


def test_a_drawing_at_fault_is_still_read_for_pages_that_mend_it(tmp_path):
    made = rows()
    made["banks"][0]["cover"] = "lava"
    drawing, faults = read_drawing(make(tmp_path, made=made))
    assert len(faults) == 1
    assert len(drawing.features["banks"]) == 4
    assert drawing.features["banks"][0].values["cover"] is None
    assert shapely.area(drawing.features["banks"][0].shape) == pytest.approx(310 * 40)


def test_flows_typed_later_are_held_to_the_rating_too(tmp_path):
    gauge = read_markup(make(tmp_path)).gauge
    assert flow_faults([20.0, 150.0], gauge, UnitSystem.METRIC) == []
    [fault] = flow_faults([20.0, 160.0], gauge, UnitSystem.METRIC)
    assert "160 m3/s outside the gauge's rating" in fault.found
    assert flow_faults([1e6], None, UnitSystem.US) == []


def test_mean_depth_obeys_manning():
    depth = mean_depth(30.0, 40.0, 0.002)
    speed = 30.0 / (40.0 * depth)
    assert speed == pytest.approx(depth ** (2 / 3) * math.sqrt(0.002) / 0.035)


def test_reading_twice_gives_the_same(tmp_path):
    make(tmp_path)
    one, other = read_markup(tmp_path), read_markup(tmp_path)
    assert one.digests == other.digests
    assert one.plan == other.plan
    assert one.banks == other.banks
