"""Reading DEMs: tiles, feet, other CRSs, gaps, and files that contradict each other."""

import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin
from rasterio.warp import transform_bounds
from rasterio.windows import Window

from reachmap.base.errors import MarkupError
from reachmap.base.grid import Grid
from reachmap.ground.dem import read_dem
from reachmap.markup.dem_note import DemNote
from tests.made import CRS, ORIGIN_X, ORIGIN_Y

GRID = Grid.around((ORIGIN_X, ORIGIN_Y, ORIGIN_X + 120, ORIGIN_Y + 80), 2.0, CRS)
METRES = DemNote(15.0, "m", "")


def ground(x, y):
    return 100 - 0.01 * (x - ORIGIN_X) + 0.03 * (y - ORIGIN_Y)


def write(
    path: Path, *, bounds, cell=1.0, crs=CRS, unit=1.0, nodata=-9999.0, hole=None, plane=ground
):
    west, south, east, north = bounds
    columns, rows = round((east - west) / cell), round((north - south) / cell)
    x = west + (np.arange(columns) + 0.5) * cell
    y = north - (np.arange(rows) + 0.5) * cell
    height = plane(*np.meshgrid(x, y)) / unit
    if hole is not None:
        height[hole] = nodata
    with rasterio.open(
        path, "w", driver="GTiff", width=columns, height=rows, count=1, dtype="float32",
        crs=crs, transform=from_origin(west, north, cell, cell), nodata=nodata,
    ) as out:  # fmt: skip
        out.write(height.astype(np.float32), 1)
    return path


AREA = (ORIGIN_X - 20, ORIGIN_Y - 20, ORIGIN_X + 140, ORIGIN_Y + 100)


def expected():
    return ground(*np.meshgrid(GRID.x, GRID.y))


def test_a_plane_is_read_back_as_it_is(tmp_path):
    dem = read_dem([write(tmp_path / "a.tif", bounds=AREA)], GRID, METRES)
    assert dem.height.shape == GRID.shape
    assert dem.height == pytest.approx(expected(), abs=1e-3)
    assert dem.flow == 15.0


def test_feet_and_metres_give_the_same_ground(tmp_path):
    metres = read_dem([write(tmp_path / "m.tif", bounds=AREA)], GRID, METRES)
    path = write(tmp_path / "f.tif", bounds=AREA, unit=0.3048)
    feet = read_dem([path], GRID, DemNote(15.0, "ft", ""))
    assert feet.height == pytest.approx(metres.height, abs=1e-3)


def test_tiles_give_what_one_file_gives(tmp_path):
    """Tiles split inside a cell of the grid, on purpose."""
    rng = np.random.default_rng(1)
    bumps = rng.normal(0, 1, (120, 160))

    def bumpy(x, y):
        row = np.floor(AREA[3] - y).astype(int)
        col = np.floor(x - AREA[0]).astype(int)
        return ground(x, y) + bumps[row, col]

    whole = read_dem([write(tmp_path / "w.tif", bounds=AREA, plane=bumpy)], GRID, METRES)
    split = ORIGIN_X + 61
    west = write(tmp_path / "1.tif", bounds=(AREA[0], AREA[1], split, AREA[3]), plane=bumpy)
    east = write(tmp_path / "2.tif", bounds=(split, AREA[1], AREA[2], AREA[3]), plane=bumpy)
    tiles = read_dem([west, east], GRID, METRES)
    assert tiles.height == pytest.approx(whole.height, abs=1e-4)


def test_a_hole_stays_a_hole(tmp_path):
    path = write(tmp_path / "h.tif", bounds=AREA, hole=(slice(40, 60), slice(50, 80)))
    dem = read_dem([path], GRID, METRES)
    x, y = np.meshgrid(GRID.x, GRID.y)
    inside = (x > AREA[0] + 51) & (x < AREA[0] + 79) & (y < AREA[3] - 41) & (y > AREA[3] - 59)
    assert np.isnan(dem.height[inside]).all()
    known = np.isfinite(dem.height)
    assert dem.height[known] == pytest.approx(expected()[known], abs=0.05)
    assert known.mean() > 0.8


def test_averaging_takes_the_mean_of_the_fine_cells(tmp_path):
    def steps(x, y):
        return ground(x, y) + np.where(np.floor(x) % 2 == 0, 0.5, -0.5)

    dem = read_dem([write(tmp_path / "s.tif", bounds=AREA, plane=steps)], GRID, METRES)
    assert dem.height == pytest.approx(expected(), abs=1e-3)


def test_another_crs_is_carried_over(tmp_path):
    """A DEM in degrees, of a plane that rises 1 m a 0.001 degree north."""
    west, south, east, north = transform_bounds(CRS, "EPSG:4326", *AREA)

    def tilted(_, y):
        return 100 + 1000 * (y - south)

    path = write(
        tmp_path / "d.tif",
        bounds=(west, south, east, north),
        cell=2e-5,
        crs="EPSG:4326",
        plane=tilted,
    )
    dem = read_dem([path], GRID, METRES)
    middle = np.isfinite(dem.height)
    assert middle.mean() > 0.95
    rise = dem.height[2, 30] - dem.height[-3, 30]
    assert rise == pytest.approx(1000 * (GRID.y[2] - GRID.y[-3]) / 111_150, rel=0.01)


@pytest.mark.parametrize(
    ("crs", "note", "words"),
    [
        (f"{CRS}+6360", METRES, "units of 0.3048"),  # NAVD88 height (ftUS), said to be metres
        (f"{CRS}+5703", DemNote(1.0, "m", "EGM2008"), "vertical datum"),
    ],
)
def test_a_file_that_contradicts_the_folder_is_refused(tmp_path, crs, note, words):
    path = write(tmp_path / "c.tif", bounds=AREA, crs=crs)
    with pytest.raises(MarkupError, match=words):
        read_dem([path], GRID, note)


def test_a_compound_crs_names_its_datum(tmp_path):
    dem = read_dem([write(tmp_path / "n.tif", bounds=AREA, crs=f"{CRS}+5703")], GRID, METRES)
    assert dem.datum == "North American Vertical Datum 1988"
    assert dem.height == pytest.approx(expected(), abs=1e-3)


def test_two_vertical_datums_stop_the_build(tmp_path):
    one = write(tmp_path / "1.tif", bounds=AREA, crs=f"{CRS}+5703")
    two = write(tmp_path / "2.tif", bounds=AREA, crs=f"{CRS}+3855")
    with pytest.raises(MarkupError, match="different vertical datums"):
        read_dem([one, two], GRID, METRES)


def test_every_fault_is_listed_at_once(tmp_path):
    bare = write(tmp_path / "bare.tif", bounds=AREA, crs=None)
    broken = tmp_path / "broken.tif"
    broken.write_bytes(b"not a raster")
    with pytest.raises(MarkupError, match="2 things") as caught:
        read_dem([bare, broken], GRID, METRES)
    assert "no CRS" in str(caught.value)
    assert "cannot be read" in str(caught.value)


def test_a_dem_of_another_place_is_refused(tmp_path):
    far = tuple(bound + 50_000 for bound in AREA)
    with pytest.raises(MarkupError, match="none of it lies on"):
        read_dem([write(tmp_path / "far.tif", bounds=far)], GRID, METRES)


def test_a_coarse_dem_is_interpolated(tmp_path):
    dem = read_dem([write(tmp_path / "c.tif", bounds=AREA, cell=10.0)], GRID, METRES)
    assert dem.height == pytest.approx(expected(), abs=0.02)


def test_a_huge_tile_is_read_in_windows(tmp_path):
    """A tile of 40 x 40 km at 1 m, 6.4 GB if read whole, costs what the reach needs of it."""
    size, cell = 40_000, 1.0
    west, north = ORIGIN_X - 20_000.0, ORIGIN_Y + 20_000.0
    path = tmp_path / "huge.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=size, height=size, count=1, dtype="float32", crs=CRS,
        transform=from_origin(west, north, cell, cell), nodata=-9999.0, tiled=True,
        blockxsize=256, blockysize=256, sparse_ok=True,
    ) as out:  # fmt: skip
        col, row = int(ORIGIN_X - 50 - west), int(north - ORIGIN_Y - 150)
        x = west + col + np.arange(256) + 0.5
        y = north - row - np.arange(256) - 0.5
        heights = ground(*np.meshgrid(x, y)).astype(np.float32)
        out.write(heights, 1, window=Window(col, row, 256, 256))
    tracemalloc.start()
    dem = read_dem([path], GRID, METRES)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert dem.height == pytest.approx(expected(), abs=1e-3)
    assert most < 200e6


def test_a_dem_that_is_cut_short_is_a_fault(tmp_path):
    path = tmp_path / "dem.tif"
    write(path, bounds=AREA)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(MarkupError, match=r"DEM dem\.tif: its heights cannot be read"):
        read_dem([path], GRID, METRES)
