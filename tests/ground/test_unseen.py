"""Undrawn water, and threads out of sight of any sounding: both stay unknown or unsure."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely import Point

from reachmap.base.grid import Grid
from reachmap.ground import Dem, GroundSettings, build_ground
from reachmap.ground.corridor import Corridor
from reachmap.ground.line_of_sight import in_sight
from reachmap.ground.sources import TRUST, Source
from reachmap.ground.undrawn_water import undrawn_water
from reachmap.markup.model import Sounding
from tests.ground.scenes import drawing, flown, straight_trapezoid
from tests.made import CRS

CELL, ROWS, COLS = 2.0, 40, 60
CORRIDOR = Corridor.of(
    Grid.at_corner(0.0, 80.0, CELL, (ROWS, COLS), CRS), np.ones((ROWS, COLS), dtype=bool)
)
ROW, COL = CORRIDOR.row, CORRIDOR.col
SETTINGS = GroundSettings()


def seen_from(water, row, col, far=1000.0, corridor=CORRIDOR):
    """Cells of the raster in sight of one sounding."""
    cells = np.arange(ROW.size)
    at = np.array([corridor.number[row, col]])
    seen = in_sight(SimpleNamespace(corridor=corridor), water, cells, at, far)
    return seen.reshape(ROWS, COLS)


@pytest.mark.parametrize(("bar_rows", "parted"), [(1, False), (2, True), (6, True)])
def test_a_sounding_does_not_speak_across_a_bar(bar_rows, parted):
    water = ~np.isin(ROW, np.arange(20, 20 + bar_rows))
    seen = seen_from(water, 10, 30)
    assert seen[10, 5]
    assert seen[2, 55]
    assert seen[35, 30] == (not parted)


@pytest.mark.parametrize(("bar_rows", "parted"), [(3, False), (4, True)])
def test_on_small_cells_a_bar_is_as_wide_as_on_cells_of_a_metre(bar_rows, parted):
    grid = Grid.at_corner(0.0, 20.0, 0.5, (ROWS, COLS), CRS)
    small = Corridor.of(grid, np.ones((ROWS, COLS), dtype=bool))
    water = ~np.isin(ROW, np.arange(20, 20 + bar_rows))
    assert seen_from(water, 10, 30, corridor=small)[35, 30] == (not parted)


def test_a_sounding_is_seen_round_the_end_of_a_bar_only_where_the_line_is_clear():
    water = ~((ROW >= 20) & (ROW < 24) & (COL < 40))
    seen = seen_from(water, 10, 55)
    assert seen[35, 55]
    assert not seen[26, 2]


def test_a_sounding_speaks_no_further_than_it_is_said_to():
    seen = seen_from(np.ones(ROW.size, dtype=bool), 20, 30, far=20.0)
    assert seen[20, 40]
    assert not seen[20, 41]


def test_a_sounding_three_widths_off_lifts_no_confidence():
    river = straight_trapezoid()
    drawn = drawing(river, 20.0, jitter=0.0)
    terrain = flown(river, drawn, 20.0)
    x, y = river.line.from_station_offset(np.array([100.0]), np.array([0.0]))
    one = Sounding("S1", Point(float(x[0]), float(y[0])), 0.7, 20.0, np.nan)
    ground = build_ground(replace(drawn, soundings=(one,)), terrain, SETTINGS)
    width = float(np.median(ground["line_width"]))
    station, sure = ground["station"].to_numpy(), ground["confidence"].to_numpy()
    under = np.abs(ground["offset"].to_numpy()) < 6.0
    near = under & (np.abs(station - 100) < 4)
    far = under & (station > 100 + 3.2 * width) & (station < 560)
    assert far.sum() > 500
    assert sure[near].max() > TRUST[Source.FORM_SURFACE] + 0.2
    assert sure[far] == pytest.approx(TRUST[Source.FORM_SURFACE], abs=1e-6)


LEVEL = 100.0
WET = ROW < 8


def undrawn(height):
    level = np.full(ROW.size, LEVEL)
    ground = np.where(WET, LEVEL, height)
    found = undrawn_water(CORRIDOR, ground, level, WET, 0.002, SETTINGS)
    return found.reshape(ROWS, COLS)


BANK = LEVEL + 0.8 + 0.05 * (ROW - 8) * CELL
"""A bank that rises by 5 % from 0.8 m over the water."""
THREAD = (ROW >= 16) & (ROW < 32) & (COL >= 10) & (COL < 50)


@pytest.mark.parametrize(("above", "water"), [(0.3, True), (-0.3, True), (0.7, False)])
def test_flat_ground_near_the_rivers_level_may_be_water(above, water):
    found = undrawn(np.where(THREAD, LEVEL + above, BANK))
    assert found[24, 30] == water
    assert not found[35, 30]


def test_a_few_flat_cells_are_no_thread():
    few = (ROW >= 20) & (ROW < 22) & (COL >= 30) & (COL < 32)
    assert not undrawn(np.where(few, LEVEL + 0.3, BANK)).any()


def test_ground_that_slopes_as_bars_do_is_ground():
    assert not undrawn(LEVEL + 0.1 + 0.03 * (ROW - 8) * CELL).any()


@pytest.mark.parametrize(("above", "water"), [(0.03, True), (0.1, False)])
def test_ground_joined_to_the_water_and_no_higher_than_it_may_be_under_water(above, water):
    beside = (ROW >= 8) & (ROW < 10)
    assert undrawn(np.where(beside, LEVEL + above, BANK))[9, 30] == water


def test_a_thread_nobody_drew_is_of_no_confidence():
    river = straight_trapezoid()
    drawn = drawing(river, 20.0, jitter=0.0)
    terrain = flown(river, drawn, 20.0)
    whole = build_ground(drawn, terrain, SETTINGS)
    station, offset = whole["station"].to_numpy(), whole["offset"].to_numpy()
    level = river.section_level(20.0)
    thread = (np.abs(offset - 28) < 12) & (station > 200) & (station < 400)
    water = np.interp(np.nan_to_num(station), river.line.station, level) + 0.1
    height = np.where(thread, water, terrain.height).astype(np.float32)
    ground = build_ground(drawn, Dem(height, terrain.flow, terrain.datum), SETTINGS)
    inner = (np.abs(offset - 28) < 2) & (station > 210) & (station < 390)
    assert whole["confidence"].to_numpy()[inner] == pytest.approx(TRUST[Source.DEM])
    assert ground["confidence"].to_numpy()[inner] == pytest.approx(TRUST[Source.UNDRAWN])
