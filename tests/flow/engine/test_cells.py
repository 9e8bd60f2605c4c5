"""Compact cells, the staircases at the river's ends, coarser grids."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reachmap.flow.engine.cells import Frame, cells_of
from reachmap.flow.engine.grid_solver import BoundaryValues, GridSolver
from reachmap.flow.engine.grids import (
    coarser,
    edge_cells_near,
    interpolate_to_finer,
    within_reach,
)
from reachmap.flow.engine.mesh import WALL
from reachmap.flow.engine.settings import EngineSettings
from tests.flow.engine.made_channels import channel_cells, channel_frame, strip


def tilted_frame(angle_deg: float, *, width=12.0, length=60.0, cell=1.0) -> tuple[Frame, tuple]:
    """Return a straight flat channel at an angle to the raster, and its direction."""
    angle = np.radians(angle_deg)
    way = (float(np.cos(angle)), float(np.sin(angle)))
    place = np.arange(-60.0, 60.0, cell)
    x, y = np.meshgrid(place, place)
    station = x * way[0] + y * way[1] + length / 2
    offset = -x * way[1] + y * way[0]
    inside = (np.abs(offset) < width / 2) & (station > 0) & (station < length)
    bed = np.where(np.abs(offset) < width / 2, 0.0, np.nan)
    rough = np.full(x.shape, 0.03)
    return Frame(bed, rough, station, offset, inside, 0.0, length, cell, -60.0, -60.0), way


@pytest.mark.parametrize("angle", [0, 17, 30, 45, 63, 90, 138, 200, 291])
def test_the_staircase_at_each_end_is_as_wide_as_the_river(angle):
    frame, way = tilted_frame(angle)
    faces = cells_of(frame, way, way).faces
    for head in (True, False):
        wide = faces.squareness[faces.head == head].sum() * frame.cell
        assert wide == pytest.approx(12.0, abs=1.5)
        assert (faces.squareness[faces.head == head] > 0).all()


def test_every_neighbour_knows_its_neighbour():
    frame, way = tilted_frame(30)
    cells = cells_of(frame, way, way)
    for side, back in ((0, 1), (1, 0), (2, 3), (3, 2)):
        other = cells.mesh.neighbours[:, side]
        own = np.flatnonzero(other >= 0)
        assert (cells.mesh.neighbours[other[own], back] == own).all()
    assert (np.diff(np.round(cells.station / cells.cell)) >= 0).all()
    assert (cells.mesh.neighbours == WALL).any()


def test_another_limb_beside_the_head_is_not_let_open():
    # cells far down the line whose neighbours lie behind the head: a wall, no way in
    frame, way = tilted_frame(0)
    far = np.where(frame.inside, frame.station + 500, frame.station - 500)
    faces = cells_of(replace(frame, station=far, foot=2000.0), way, way).faces
    assert faces.owner.size == 0


def test_coarser_cells_keep_mean_bed_and_place():
    rng = np.random.default_rng(0)
    frame = channel_frame(rng.random((8, 12)), 0.03, 1.0)
    coarse = coarser(frame)
    assert coarse.cell == 2.0
    assert np.nanmean(coarse.bed) == pytest.approx(np.nanmean(frame.bed))
    fine_x = frame.x + np.arange(frame.bed.shape[1]) * frame.cell
    coarse_x = coarse.x + np.arange(coarse.bed.shape[1]) * coarse.cell
    assert coarse_x[1] == pytest.approx(fine_x[1:3].mean())
    assert coarse.station[1, 1] == pytest.approx(frame.station[1, 1:3].mean())


def test_water_handed_down_keeps_a_tilted_surface():
    bed = strip(2.0 - 0.01 * np.arange(24), 8)
    frame = channel_frame(bed, 0.03, 1.0)
    pair = [cells_of(f, (1.0, 0.0), (1.0, 0.0)) for f in (coarser(frame), frame)]
    coarse, fine = (GridSolver(cells, BoundaryValues(1.0, 0.0), EngineSettings()) for cells in pair)
    coarse.water[:, 0] = 3.0 - 0.01 * coarse.cells.station - coarse.cells.bed
    coarse.water[:, 1] = 0.5
    interpolate_to_finer(coarse, fine)
    inner = (fine.cells.station > 2) & (fine.cells.station < 22)
    level = fine.water[:, 0] + fine.cells.bed
    assert level[inner] == pytest.approx(3.0 - 0.01 * fine.cells.station[inner], abs=1e-9)
    assert fine.water[:, 1] == pytest.approx(0.5)


def test_high_ground_and_hollows_out_of_reach_are_left_out():
    bed = np.full((9, 20), 5.0)
    bed[3:6, :] = 0.0
    bed[0, 5:8] = 0.0  # a hollow behind high ground
    frame = channel_frame(bed, 0.03, 1.0)
    near = within_reach(frame, np.array([0.0, 20.0]), np.ones(2), 1.0)
    assert near.sum() == 60


def test_a_mouth_takes_the_waters_edge_about_it():
    # seven rows from south to north: the two southern ones a dry bar, the others under water
    frame = channel_frame(np.zeros((7, 10)), 0.03, 2.0)
    cells = channel_cells(np.zeros((7, 10)), 0.03, 2.0)
    wet = cells.row >= 3
    bar = (frame.x + 10, frame.y + 2)  # on the bar, two cells from the water
    near = edge_cells_near(frame, cells, wet, bar, 2.1)
    assert set(cells.row[near]) == {3}
    assert sorted(cells.col[near]) == [3, 4, 5, 6, 7]
    # in the water itself: still along an edge, never in the middle
    middle = (frame.x + 10, frame.y + 10)
    assert not set(cells.row[edge_cells_near(frame, cells, wet, middle, 2.1)]) & {4, 5, 6}
    # where nothing is wet yet, the cells about the place; beyond all cells none
    dry = np.zeros(cells.count, bool)
    assert edge_cells_near(frame, cells, dry, (frame.x + 6, frame.y + 6), 2.1).size == 5
    assert edge_cells_near(frame, cells, wet, (frame.x + 6, frame.y - 300), 1.0).size == 0
