"""Heights of cover from a lidar's returns, by files that laspy writes to the ASPRS standard."""

from __future__ import annotations

import sys

import laspy
import numpy as np
import pyproj
import pytest
from shapely import box as rectangle

from reachmap.base.grid import Grid
from reachmap.markup import read_markup
from reachmap.markup.canopy import CELL_M, Returns
from reachmap.markup.cloud import cover_height
from reachmap.markup.file_facts import Use
from reachmap.text.files import unused_words
from tests.markup.folders import CRS, X, Y, make, rows

TALL, LOW = 7.5, 1.6


def bare_heights(folder):
    """Return a folder whose banks have no height of cover, one of them with trees."""
    made = rows()
    for bank in made["banks"]:
        bank["cover_height"] = None
    made["banks"][0]["cover"] = "trees"
    return make(folder, made=made), made["banks"]


def cloud(path, shape, *, unit=1.0, crs=CRS, ground=2, seed=4):
    """Write returns on and beyond a bank: sloping ground, cover of a height, one bird, one pit."""
    west, south, east, north = shape.bounds
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(west - 5, east + 5, 30_000), rng.uniform(south - 5, north + 5, 30_000)
    floor = 100 + 0.02 * (x - X) + 0.01 * (y - Y)
    covered = rng.random(x.size) < 0.6
    z = floor + np.where(covered, TALL * np.sqrt(rng.random(x.size)), 0.0)
    kind = np.where(covered, 5, ground)
    z[:2], kind[:2] = [400.0, 20.0], [18, 7]
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales, header.offsets = [0.001] * 3, [X, Y, 0]
    if crs:
        header.add_crs(pyproj.CRS(crs))
    points = laspy.LasData(header)
    points.x, points.y, points.z = x, y, z / unit
    points.classification = kind.astype(np.uint8)
    points.write(str(path))


def fate(reach, name):
    return next(one for one in reach.files if one.name == name)


@pytest.mark.parametrize(("ending", "crs", "unit"), [
    ("las", CRS, 1.0), ("laz", CRS, 1.0), ("laz", f"{CRS}+6360", 1200 / 3937),
])  # fmt: skip
def test_a_bank_without_a_height_of_cover_has_that_of_the_returns(tmp_path, ending, crs, unit):
    folder, banks = bare_heights(tmp_path)
    cloud(folder / f"tile.{ending}", banks[0]["geometry"], crs=crs, unit=unit)
    reach = read_markup(folder)
    # returns fill the cover to its top: in cells of 4 m2 some come near it
    assert reach.banks[0].cover_height_m == pytest.approx(TALL, abs=0.4)
    assert any("Heights of cover from the point cloud" in one for one in reach.assumed)
    assert fate(reach, f"tile.{ending}").use is Use.CLOUD
    assert f"tile.{ending}" in reach.digests


def test_a_height_that_the_angler_gave_is_kept(tmp_path):
    made = rows()
    for bank in made["banks"]:
        bank["cover_height"] = 2.0
    folder = make(tmp_path, made=made)
    cloud(folder / "tile.laz", made["banks"][0]["geometry"])
    reach = read_markup(folder)
    assert {one.cover_height_m for one in reach.banks} == {2.0}
    assert not any(one.from_cloud for one in reach.banks)
    assert fate(reach, "tile.laz").use is Use.CLOUD


@pytest.mark.parametrize(
    ("more", "found"),
    [({"ground": 1}, "classified as ground"), ({"crs": ""}, "does not say its CRS")],
)
def test_a_cloud_that_cannot_tell_is_said(tmp_path, more, found):
    folder, banks = bare_heights(tmp_path)
    cloud(folder / "tile.las", banks[0]["geometry"], **more)
    reach = read_markup(folder)
    assert np.isnan(reach.banks[0].cover_height_m)
    assert found in fate(reach, "tile.las").detail


def test_a_cut_cloud_is_said(tmp_path):
    folder, banks = bare_heights(tmp_path)
    cloud(folder / "tile.laz", banks[0]["geometry"])
    body = (folder / "tile.laz").read_bytes()
    (folder / "tile.laz").write_bytes(body[: len(body) // 2])
    assert "it cannot be read" in fate(read_markup(folder), "tile.laz").detail


def test_without_the_library_the_extra_is_named(tmp_path, monkeypatch):
    folder, banks = bare_heights(tmp_path)
    cloud(folder / "tile.las", banks[0]["geometry"])
    monkeypatch.setitem(sys.modules, "laspy", None)
    why, fix = unused_words(fate(read_markup(folder), "tile.las"))
    assert "not installed" in why
    assert fix == "pip install 'reachmap[cloud]'"


def canopy_of(*returns, bounds=(0, 0, 40, 20)):
    gathered = Returns(Grid.around(bounds, CELL_M, CRS))
    for one in returns:
        gathered.add(one)
    return gathered.canopy()


def spread(height, kind, *, count=900, seed=2, east=(0, 40)):
    """Return returns of one height and kind all over a bank of 40 by 20 m."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(*east, count), rng.uniform(0, 20, count)
    return np.column_stack([x, y, np.full(count, height), np.full(count, kind)])


def test_stones_bare_ground_and_a_single_return_are_no_cover():
    bank, ground = rectangle(0, 0, 40, 20), spread(0.0, 1)
    assert np.isnan(cover_height(canopy_of(ground, spread(0.2, 0)), bank))
    bird = np.array([[20.0, 10.0, 30.0, 0.0]])
    assert np.isnan(cover_height(canopy_of(ground, bird), bank))
    assert cover_height(canopy_of(ground, spread(LOW, 0)), bank) == pytest.approx(LOW)
    assert canopy_of(spread(LOW, 0)) is None


def test_a_gap_is_seen_between_crowns_and_few_returns_show_none():
    crowns = spread(9.0, 0, east=(0, 20), seed=5)
    canopy = canopy_of(spread(0.0, 1, count=8000), crowns)
    x, y = np.array([5.0, 35.0]), np.array([10.0, 10.0])
    assert canopy.at(x, y) == pytest.approx([9.0, 0.0])
    assert np.isnan(canopy.at(np.array([-3.0]), np.array([10.0]))).all()
    thin = canopy_of(spread(0.0, 1, count=100))  # a return in 8 m2
    known = np.isfinite(thin.height)
    assert known.mean() < 0.1
    assert np.isfinite(canopy_of(spread(0.0, 1, count=100), crowns).at(x, y))[0]


def test_ground_far_off_tells_no_height():
    """Ground returns no nearer than six metres: what stands there may be high or low."""
    canopy = canopy_of(spread(0.0, 1, east=(0, 10)), spread(4.0, 0, east=(0, 40)))
    found = canopy.at(np.array([5.0, 15.0, 20.0]), np.full(3, 10.0))
    assert found[:2] == pytest.approx([4.0, 4.0])
    assert np.isnan(found[2])


def test_a_square_is_known_only_where_all_of_it_is():
    canopy = canopy_of(spread(0.0, 1, east=(0, 10)), spread(3.0, 0, east=(0, 2)))
    height, whole = canopy.over(np.array([2.0, 8.0, 10.0]), np.full(3, 10.0), 4.0)
    assert height[0] == pytest.approx(3.0)
    assert height[1] == pytest.approx(0.0)
    assert whole.tolist() == [True, True, False]
