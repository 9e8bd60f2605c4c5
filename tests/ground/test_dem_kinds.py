"""Terrain as people have it: units and CRSs mixed, ASCII grids, cloud-optimised, below water."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import rasterio
import rasterio.shutil
from rasterio.transform import from_bounds
from rasterio.warp import transform, transform_bounds
from rio_cogeo import cog_translate, cog_validate
from rio_cogeo.profiles import cog_profiles
from shapely import Point

from reachmap.base.errors import BuildError
from reachmap.ground import build_ground, grid_of
from reachmap.ground.build_ground import low_line
from reachmap.ground.dem import Dem, read_dem
from reachmap.ground.notes import GroundNote, GroundNoteKind
from reachmap.ground.sources import TRUST, Source
from reachmap.markup.model import Level
from tests.ground.flown_river import SETTINGS, error
from tests.ground.said import said_of
from tests.ground.scenes import drawing, flown, pool_riffle, straight_trapezoid
from tests.ground.test_dem import AREA, GRID, METRES, expected, ground, write
from tests.made import CRS

FOOT, SURVEY_FOOT = 0.3048, 1200 / 3937
EAST, WEST = (AREA[0] + 75, *AREA[1:]), (*AREA[:2], AREA[0] + 85, AREA[3])


def write_in(path, crs, bounds=AREA, *, unit=1.0, cells=300):
    """Write the plane in another CRS, its heights worked out at each cell's own place."""
    west, south, east, north = transform_bounds(CRS, crs, *bounds, densify_pts=50)
    place = from_bounds(west, south, east, north, cells, cells)
    col, row = np.meshgrid(np.arange(cells) + 0.5, np.arange(cells) + 0.5)
    x, y = place * (col.ravel(), row.ravel())
    own = transform(crs, CRS, list(x), list(y))
    height = ground(*(np.array(one).reshape(cells, cells) for one in own)) / unit
    with rasterio.open(
        path, "w", driver="GTiff", width=cells, height=cells, count=1, dtype="float32",
        crs=crs, transform=place, nodata=-9999.0,
    ) as out:  # fmt: skip
        out.write(height.astype(np.float32), 1)
    return path


@pytest.mark.parametrize(
    ("crs", "unit"),
    [
        ("EPSG:4269", 1.0),  # geographic
        ("EPSG:4269+5703", 1.0),  # geographic with heights in metres
        ("EPSG:4269+6360", SURVEY_FOOT),  # with heights in US survey feet
        ("EPSG:3857", 1.0),
        ("EPSG:2285+6360", SURVEY_FOOT),  # a state plane in US survey feet both ways
        ("EPSG:2285+8228", FOOT),  # heights in international feet
    ],
)
def test_a_terrain_in_any_crs_is_the_same_ground(tmp_path, crs, unit):
    path = write_in(tmp_path / "a.tif", crs, unit=unit)
    note = METRES if unit == 1 else replace(METRES, height_unit="ft")
    dem = read_dem([path], GRID, note)
    inside = np.isfinite(dem.height)
    assert inside.mean() > 0.99
    assert dem.height[inside] == pytest.approx(expected()[inside], abs=0.02)


def test_tiles_in_metres_and_in_feet_side_by_side_are_one_ground(tmp_path):
    west = write(tmp_path / "w.tif", bounds=WEST, crs=f"{CRS}+5703")
    east = write(tmp_path / "e.tif", bounds=EAST, crs=f"{CRS}+6360", unit=SURVEY_FOOT)
    dem = read_dem([west, east], GRID, METRES)
    assert dem.height == pytest.approx(expected(), abs=0.01)
    assert dem.datum == "North American Vertical Datum 1988"
    assert not [one for one in dem.notes if "unit" in one.kind]


def test_a_tile_that_does_not_say_its_unit_beside_one_that_does_is_told(tmp_path):
    west = write(tmp_path / "w.tif", bounds=WEST, crs=f"{CRS}+5703")
    east = write(tmp_path / "e.tif", bounds=EAST)
    dem = read_dem([west, east], GRID, METRES)
    assert GroundNote(GroundNoteKind.HEIGHT_UNIT_OF_SOME_UNSAID, names=("m", "e.tif")) in dem.notes


def test_an_ascii_grid_beside_a_geotiff_is_one_ground(tmp_path):
    east = write(tmp_path / "e.tif", bounds=EAST)
    plain = write(tmp_path / "plain.tif", bounds=WEST)
    rasterio.shutil.copy(str(plain), str(tmp_path / "w.asc"), driver="AAIGrid")
    dem = read_dem([tmp_path / "w.asc", east], GRID, METRES)
    assert dem.height == pytest.approx(expected(), abs=0.01)


def test_a_cloud_optimised_geotiff_is_read_as_any_other(tmp_path):
    plain = write(tmp_path / "plain.tif", bounds=AREA, cell=0.25)
    profile = cog_profiles.get("deflate")
    profile |= {"blockxsize": 128, "blockysize": 128}
    cog_translate(
        str(plain), str(tmp_path / "cog.tif"), profile, quiet=True, in_memory=True, overview_level=2
    )
    valid, errors, _ = cog_validate(str(tmp_path / "cog.tif"))
    assert valid, errors
    dem = read_dem([tmp_path / "cog.tif"], GRID, METRES)
    assert dem.height == pytest.approx(expected(), abs=1e-3)


RIVER = straight_trapezoid()
DRAWN = drawing(RIVER, 20.0, jitter=0.0)


def topobathymetric(tilt=0.0):
    """Return the river's own bed as the terrain, its fall taken out by a tilt [m/m]."""
    grid = grid_of(DRAWN, SETTINGS.cell, SETTINGS.margin_m)
    x, y = np.meshgrid(grid.x, grid.y)
    return Dem((RIVER.at(x, y) + tilt * (x - grid.x[0])).astype(np.float32), np.nan, "made")


def saying(markup, *, slope=RIVER.slope, below_water=True):
    note = replace(markup.plan.dem, below_water=below_water)
    return replace(markup, plan=replace(markup.plan, dem=note, slope=slope))


def test_a_flat_bed_is_taken_for_water_until_it_is_said_to_be_the_bed():
    """A level bed looks like water to whoever sees heights alone: the angler's word decides."""
    taken = build_ground(saying(DRAWN, below_water=False), topobathymetric(), SETTINGS)
    assert np.abs(error(taken, RIVER)).max() > 0.3
    said = build_ground(saying(DRAWN), topobathymetric(), SETTINGS)
    assert np.abs(error(said, RIVER)).max() < 1e-3
    assert "as reach.toml says: it is taken as it is" in said_of(said)


def test_a_bed_that_does_not_fall_is_mapped_by_the_slope_said():
    level = topobathymetric(tilt=RIVER.slope)
    unsaid = build_ground(saying(DRAWN, slope=np.nan), level, SETTINGS)
    assert "A fall of 0.0001 is taken; say slope or fall" in said_of(unsaid)
    assert unsaid.attrs["slope"] == pytest.approx(1e-4, rel=0.05)
    made = build_ground(saying(DRAWN, slope=0.0005), level, SETTINGS)
    assert "the slope said, 0.0005, is taken" in said_of(made)


UNEVEN = pool_riffle(length=600, bumps=0.12)
POOLS = drawing(UNEVEN, 20.0, jitter=0.0)


def pools(terrain):
    """Return the ground of a river of pools over a model that is said to know its bed."""
    return build_ground(saying(POOLS, slope=UNEVEN.slope), terrain, SETTINGS)


def own_bed():
    grid = grid_of(POOLS, SETTINGS.cell, SETTINGS.margin_m)
    return UNEVEN.at(*np.meshgrid(grid.x, grid.y)).astype(np.float32)


def under(ground):
    return np.abs(ground["offset"].to_numpy()) < 6.0


def test_a_bed_counts_as_seen_where_it_is_said_to_be_and_shows_no_water():
    ground = pools(Dem(own_bed(), np.nan, "made"))
    assert ground.attrs["bed_seen"] == 1
    sure = ground["confidence"].to_numpy()[under(ground)]
    assert (sure >= TRUST[Source.DEM] - 1e-6).mean() > 0.85
    assert build_ground(POOLS, Dem(own_bed(), np.nan, "made"), SETTINGS).attrs["bed_seen"] == 0


def test_whoever_says_bed_of_what_looks_like_water_is_not_believed_for_wading():
    """The map follows the word; that people wade by it takes the heights' word too."""
    assert pools(flown(UNEVEN, POOLS, 15.0)).attrs["bed_seen"] == 0


def test_a_flat_patch_of_a_bed_said_to_be_seen_may_be_the_waters_surface():
    """Where the light does not reach the bed models are filled with the surface."""
    height = own_bed()
    surface = flown(UNEVEN, POOLS, 20.0).height
    whole = pools(Dem(height, np.nan, "made"))
    station = whole["station"].to_numpy()
    dark = (height < surface - 0.1) & (station > 250) & (station < 330)
    filled = pools(Dem(np.where(dark, surface, height).astype(np.float32), np.nan, "made"))
    assert filled.attrs["bed_seen"] == 1
    sure = filled["confidence"].to_numpy()
    assert (sure[dark] <= TRUST[Source.UNDRAWN] + 1e-6).mean() > 0.7
    beside = under(whole) & (station > 100) & (station < 200)
    assert (sure[beside] >= TRUST[Source.DEM] - 1e-6).mean() > 0.95


def test_a_riffle_of_a_bed_that_was_seen_is_no_wall_between_its_pools():
    bed = own_bed()
    whole = pools(Dem(bed, np.nan, "made"))
    station, offset = whole["station"].to_numpy(), whole["offset"].to_numpy()
    level = np.interp(np.nan_to_num(station), *low_line(whole))
    shoal = (station > 250) & (station < 320) & (np.abs(offset) < 28)
    deep = np.where(np.abs(offset) < 24, bed - 1.0, bed)
    riffle = np.where(shoal, np.maximum(bed, level - 0.2), deep).astype(np.float32)
    unsaid = saying(POOLS, slope=UNEVEN.slope, below_water=False)
    with pytest.raises(BuildError, match="below_water = true"):
        build_ground(unsaid, Dem(riffle, np.nan, "made"), SETTINGS)
    made = pools(Dem(riffle, np.nan, "made"))
    assert made["bed"].to_numpy()[shoal] == pytest.approx(riffle[shoal], abs=1e-3)
    deck = (station > 400) & (station < 406)
    held = pools(Dem(np.where(deck, level + 4.0, riffle).astype(np.float32), np.nan, "made"))
    assert "bridge deck" in said_of(held)
    assert np.nanmax(held["bed"].to_numpy()[deck & (np.abs(offset) < 10)]) < 99.0


def noted(*falls):
    """Return levels noted at stations of the river: (station, level) each."""
    x, y = RIVER.line.from_station_offset(np.array([s for s, _ in falls]), np.zeros(len(falls)))
    heights = [level for _, level in falls]
    return tuple(Level(Point(e, n), level, 20.0) for e, n, level in zip(x, y, heights, strict=True))


@pytest.mark.parametrize("tilt", [2 * RIVER.slope, RIVER.slope + 0.15 / RIVER.line.length])
def test_a_bed_that_rises_along_the_reach_is_no_water_and_is_mapped_by_the_slope_said(tilt):
    """An adverse bed: what the finder of flat water would take for water running uphill."""
    rising = topobathymetric(tilt=tilt)
    made = build_ground(saying(DRAWN, below_water=False, slope=0.001), rising, SETTINGS)
    assert made.attrs["low_how"] == "edges"
    assert "the slope said, 0.001, is taken" in said_of(made)
    assert made.attrs["slope"] == pytest.approx(0.001, rel=0.02)


def test_levels_noted_rule_where_neither_heights_nor_slope_tell_the_fall():
    level = topobathymetric(tilt=RIVER.slope)
    told = replace(saying(DRAWN, slope=np.nan), levels=noted((50.0, 99.3), (550.0, 98.9)))
    made = build_ground(told, level, SETTINGS)
    assert "the slope of the levels noted, 0.0008, is taken" in said_of(made)


@pytest.mark.parametrize("said", [0.002, np.nan])
def test_water_held_back_is_left_where_it_was_seen_and_mapped(said):
    """A pond: the DEM's water lies still, the river beyond it falls."""
    grid = grid_of(DRAWN, SETTINGS.cell, SETTINGS.margin_m)
    x, y = np.meshgrid(grid.x, grid.y)
    station, _ = RIVER.line.to_station_offset(x.ravel(), y.ravel())
    bed = RIVER.at(x, y) + RIVER.slope * station.reshape(x.shape)
    pond = Dem(np.maximum(bed, 98.6).astype(np.float32), 20.0, "made")
    made = build_ground(saying(DRAWN, slope=said, below_water=False), pond, SETTINGS)
    assert made.attrs["low_how"] == "surface"
    assert np.abs(np.asarray(made.attrs["low_line_level"]) - 98.6).max() < 0.02
    assert made.attrs["slope"] == pytest.approx(1e-4 if np.isnan(said) else said)
    assert "do not fall along the river" in said_of(made)
