"""Crowns and gaps of a point cloud on the surface model that the room behind is read from."""

from __future__ import annotations

import laspy
import numpy as np
import pyproj
import pytest

from reachmap.angler.clearance import find_room, room_length
from reachmap.angler.settings import RoomSettings
from reachmap.angler.view import ground_view
from reachmap.ground import build_ground
from reachmap.ground.corridor import grid_of
from reachmap.ground.dem import read_dem
from reachmap.ground.settings import GroundSettings
from reachmap.markup import read_markup
from tests.markup.folders import CRS, SLOPE, X, Y, make, rows

SETTINGS = GroundSettings(cell=2.0)
CROWN = 11.0


def cloud(path, *, wood=(320, 480), gap=(390, 410), per_m2=6.0, beyond=95.0, water=(0, 0)):
    """Write a cloud of ASPRS LAS 1.4: ground to `beyond` north, a wood with a gap in it.

    `water` is a stretch where crowns hang over the water.
    """
    rng = np.random.default_rng(8)
    count = int(per_m2 * 600 * beyond)
    x, y = rng.uniform(0, 600, count), rng.uniform(0, beyond, count)
    land = y > 20
    x, y = x[land], y[land]
    floor = 100 - SLOPE * x + np.minimum((y - 20) / 10, 3.0)
    wooded = (x > wood[0]) & (x < wood[1]) & ~((x > gap[0]) & (x < gap[1])) & (y > 28)
    tree = wooded & (rng.random(x.size) < 0.6)
    over = int(per_m2 * 8 * max(water[1] - water[0], 0))
    hung = np.column_stack([rng.uniform(*water, over), rng.uniform(12, 20, over)])
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales, header.offsets = [0.001] * 3, [X, Y, 0]
    header.add_crs(pyproj.CRS(CRS))
    points = laspy.LasData(header)
    points.x, points.y = X + np.r_[x, hung[:, 0]], Y + np.r_[y, hung[:, 1]]
    points.z = np.r_[floor + np.where(tree, CROWN, 0.0), 106 - SLOPE * hung[:, 0]]
    points.classification = np.r_[np.where(tree, 5, 2), np.full(over, 5)].astype(np.uint8)
    points.write(str(path))


def folder_of(folder, *, given=None):
    """Return the straight river; the wood's bank has a height of cover of `given`."""
    made = rows()
    for bank in made["banks"]:
        bank["cover_height"] = given
    return make(folder, made=made)


def ground_of(folder, settings=SETTINGS):
    reach = read_markup(folder)
    dem = read_dem(reach.dems, grid_of(reach, settings.cell, settings.margin_m), reach.plan.dem)
    return reach, build_ground(reach, dem, settings)


def tall_at(ground, x, y):
    """Return what stands above the ground at places of the straight river [m]."""
    here = ground.sel(x=X + x, y=Y + y, method="nearest")
    return float(here["surface"]) - float(here["bed"])


def test_the_surface_has_crowns_and_the_gap_between_them(tmp_path):
    folder = folder_of(tmp_path)
    _, before = ground_of(folder)
    cloud(folder / "tile.laz")
    reach, ground = ground_of(folder)
    assert tall_at(before, 400, 45) > 10  # one height for all of the wood
    assert tall_at(ground, 400, 45) < 0.3
    assert tall_at(ground, 360, 45) == pytest.approx(CROWN, abs=0.5)
    assert tall_at(ground, 550, 45) < 0.3  # drawn as wood, and there is none
    assert any("crowns and gaps" in one for one in reach.assumed)


def test_beyond_the_drawn_banks_only_what_returns_tell_is_known(tmp_path):
    folder = folder_of(tmp_path)
    assert np.isnan(tall_at(ground_of(folder)[1], 400, 70))
    cloud(folder / "tile.laz", beyond=74.0)
    _, ground = ground_of(folder)
    assert tall_at(ground, 400, 70) < 0.3
    assert tall_at(ground, 360, 70) == pytest.approx(CROWN, abs=0.5)
    assert np.isnan(tall_at(ground, 400, 82))


def test_a_cell_of_which_half_is_known_stays_unknown(tmp_path):
    folder = folder_of(tmp_path)
    cloud(folder / "tile.laz", beyond=74.0)
    _, ground = ground_of(folder, GroundSettings(cell=4.0))
    assert tall_at(ground, 400, 70) < 0.3
    assert np.isnan(tall_at(ground, 400, 74))


def test_too_few_returns_leave_the_banks_own_height(tmp_path):
    folder = folder_of(tmp_path)
    cloud(folder / "tile.laz", per_m2=0.08)
    _, ground = ground_of(folder)
    in_the_gap = [tall_at(ground, x, y) for x in (394, 400, 406) for y in (36, 44, 52)]
    assert min(in_the_gap) > 5


def test_a_height_that_the_angler_gave_is_never_lowered(tmp_path):
    folder = folder_of(tmp_path, given=4.0)
    cloud(folder / "tile.laz")
    _, ground = ground_of(folder)
    assert tall_at(ground, 400, 45) == pytest.approx(4.0)
    assert tall_at(ground, 360, 45) == pytest.approx(CROWN, abs=0.5)


def test_crowns_that_hang_over_the_water_are_there(tmp_path):
    folder = folder_of(tmp_path)
    cloud(folder / "tile.laz", water=(500, 540))
    _, ground = ground_of(folder)
    assert tall_at(ground, 520, 16) > 4
    assert tall_at(ground, 450, 16) == pytest.approx(0.0)


def test_a_caster_has_room_before_the_gap_and_none_before_the_wood(tmp_path):
    folder = folder_of(tmp_path)
    cloud(folder / "tile.laz")
    reach, ground = ground_of(folder)
    stood = np.array([[X + 400.0, Y + 19.0], [X + 350.0, Y + 19.0]])
    level = 100 - SLOPE * (stood[:, 0] - X)
    across = np.full(2, -np.pi / 2)
    room = find_room(
        ground_view(ground), stood, level, np.full(2, 0.3), across, reach.plan.kit, RoomSettings()
    )
    clear = room_length(room)
    assert clear[0] > clear[1] + 5
