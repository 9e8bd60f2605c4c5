"""The grid against rasterio's own transform, GDAL's burning and shapely."""

import numpy as np
import pytest
import rasterio.transform
import shapely
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from rasterio.features import rasterize

from reachmap.base.grid import Cutout, Grid

CRS = "EPSG:32607"
WEST, NORTH = 500_003.0, 5_117_010.0


def made(rows=7, cols=11, cell=2.0):
    return Grid.at_corner(WEST, NORTH, cell, (rows, cols), CRS)


def dataset(x, y, **attrs):
    return xr.Dataset(coords={"x": x, "y": y}, attrs={"crs": CRS} | attrs)


@pytest.mark.parametrize("cell", [0.7, 1.0, 2.0])
def test_centres_and_cells_are_those_of_rasterio(cell):
    grid = made(cell=cell)
    rows, cols = np.indices(grid.shape)
    x, y = rasterio.transform.xy(grid.transform, rows.ravel(), cols.ravel())
    assert grid.points(rows.ravel(), cols.ravel()) == pytest.approx(np.column_stack([x, y]))
    assert grid.x == pytest.approx(np.unique(x))
    assert grid.y == pytest.approx(np.unique(y)[::-1])
    rng = np.random.default_rng(0)
    px, py = rng.uniform(WEST, WEST + 11 * cell, 300), rng.uniform(NORTH - 7 * cell, NORTH, 300)
    row, col, inside = grid.index(px, py)
    found = rasterio.transform.rowcol(grid.transform, px, py)
    assert (row == found[0]).all()
    assert (col == found[1]).all()
    assert inside.all()
    back = grid.position(*grid.points(row + 0.3, col - 0.2).T)
    assert np.array(back) == pytest.approx(np.array([row + 0.3, col - 0.2]), abs=1e-6)


def test_bounds_are_those_of_rasterio():
    grid = made()
    assert grid.bounds == rasterio.transform.array_bounds(7, 11, grid.transform)


def test_rows_run_south_and_columns_east():
    grid = made()
    assert (grid.points(np.array([0]), np.array([0])) == [[WEST + 1, NORTH - 1]]).all()
    assert grid.index(np.array([WEST + 3.0]), np.array([NORTH - 5.0]))[:2] == (2, 1)


def test_a_place_outside_takes_the_nearest_cell_and_is_told_apart():
    grid = made()
    x = np.array([WEST - 0.01, WEST + 22.01, WEST + 5, WEST + 5, WEST + 5])
    y = np.array([NORTH - 3, NORTH - 3, NORTH + 0.01, NORTH - 14.01, NORTH - 3])
    row, col, inside = grid.index(x, y)
    assert inside.tolist() == [False, False, False, False, True]
    assert row.tolist() == [1, 1, 0, 6, 1]
    assert col.tolist() == [0, 10, 2, 2, 2]


@pytest.mark.parametrize("shape", [(7, 11), (1, 11), (7, 1), (1, 1)])
def test_a_dataset_on_a_grid_gives_the_grid_back(shape):
    grid = made(*shape)
    assert Grid.of(dataset(grid.x, grid.y, cell=2.0)) == grid


def test_the_coordinates_rule_where_a_dataset_names_another_cell():
    grid = made()
    assert Grid.of(dataset(grid.x, grid.y, cell=6.0)).cell == 2.0


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ([0.0, 2.0], [0.0, 2.0]),  # rows run north
        ([2.0, 0.0], [2.0, 0.0]),  # columns run west
        ([0.0, 2.0], [3.0, 0.0]),  # oblong cells
    ],
)
def test_other_rasters_are_refused(x, y):
    with pytest.raises(ValueError, match="square cells"):
        Grid.of(dataset(x, y))


@given(
    st.tuples(st.floats(-900, 900), st.floats(-900, 900)),
    st.tuples(st.floats(0.1, 300), st.floats(0.1, 300)),
    st.sampled_from([1.0, 2.0, 5.0]),
)
def test_the_grid_around_bounds_is_the_least_that_is_snapped(corner, size, cell):
    bounds = (*corner, corner[0] + size[0], corner[1] + size[1])
    west, south, east, north = Grid.around(bounds, cell, CRS).bounds
    assert np.remainder([west, south, east, north], cell) == pytest.approx(0)
    assert west <= bounds[0] < west + cell
    assert south <= bounds[1] < south + cell
    assert east - cell < bounds[2] <= east
    assert north - cell < bounds[3] <= north


def test_a_part_keeps_its_place():
    grid = made()
    part = grid.part((slice(2, 5), slice(3, None)))
    assert part.shape == (3, 8)
    assert part.x == pytest.approx(grid.x[3:])
    assert part.y == pytest.approx(grid.y[2:5])


def test_coarsened_cells_have_the_mean_centre_of_their_own_and_cover_the_rest():
    grid = made()
    coarse = grid.coarsened(3)
    assert coarse.shape == (3, 4)
    assert coarse.cell == 6.0
    assert coarse.x[:3] == pytest.approx(grid.x[:9].reshape(3, 3).mean(axis=1))
    assert coarse.y[:2] == pytest.approx(grid.y[:6].reshape(2, 3).mean(axis=1))


@given(
    st.tuples(st.floats(-30, 50), st.floats(-30, 50)),
    st.tuples(st.floats(0.1, 40), st.floats(0.1, 40)),
    st.integers(0, 3),
)
def test_a_window_holds_just_the_cells_that_meet_the_bounds(corner, size, margin):
    grid = made()
    west, south = WEST + corner[0], NORTH - 14 + corner[1]
    area = shapely.box(west, south, west + size[0], south + size[1])
    window = grid.window_over(area.bounds, margin)
    held = np.zeros(grid.shape, bool)
    held[window] = True
    grown = area.buffer(margin * grid.cell, join_style="mitre")
    gx, gy = np.meshgrid(grid.x, grid.y)
    cells = shapely.box(gx - 1, gy - 1, gx + 1, gy + 1)
    assert held[shapely.area(shapely.intersection(cells, grown)) > 1e-6].all()
    assert (shapely.distance(cells, grown)[held] <= 1e-6).all()


def test_burning_is_gdals_with_the_last_on_top():
    grid = made(40, 50)
    shapes = [shapely.Point(WEST + 30, NORTH - 30).buffer(20), shapely.Polygon(),
              shapely.Point(WEST + 50, NORTH - 40).buffer(15)]  # fmt: skip
    gx, gy = np.meshgrid(grid.x, grid.y)
    expected = np.zeros(grid.shape)
    for code, one in ((1, shapes[0]), (3, shapes[2])):
        expected[shapely.contains_xy(one, gx, gy)] = code
    assert (grid.rasterize(shapes) == expected).all()
    codes = grid.rasterize(shapes, [7, 8, 9], fill=-1)
    assert set(np.unique(codes)) == {-1, 7, 9}
    touched = rasterize(
        [shapes[0]], out_shape=grid.shape, transform=grid.transform, all_touched=True
    )
    assert ((grid.rasterize(shapes[:1], touched=True) > 0) == (touched > 0)).all()


def test_burning_nothing_fills():
    assert (made().rasterize([], fill=4) == 4).all()
    assert made().part((slice(3, 3), slice(0, 4))).rasterize([shapely.Point(0, 0)]).shape == (0, 4)


def test_polygons_are_the_cells_of_each_patch_with_their_holes():
    grid = made()
    labels = np.zeros(grid.shape, np.int32)
    labels[1:4, 1:4], labels[2, 2] = 3, 0  # a ring of eight cells
    labels[4, 4] = 5  # touches it at a corner
    found = {label: polygon for polygon, label in grid.polygons(labels)}
    assert set(found) == {3, 5}
    assert found[3].area == pytest.approx(8 * 4.0)
    assert len(found[3].interiors) == 1
    gx, gy = np.meshgrid(grid.x, grid.y)
    for label, polygon in found.items():
        assert (shapely.contains_xy(polygon, gx, gy) == (labels == label)).all()


def test_cells_that_meet_at_a_corner_are_two_polygons():
    labels = np.array([[1, 0], [0, 1]], np.int32)
    assert len(list(made(2, 2).polygons(labels))) == 2


def test_a_cutout_holds_its_window_and_nothing_beside_it():
    whole = np.arange(30).reshape(5, 6)
    window = (slice(1, 4), slice(2, 5))
    rows, cols = np.indices((5, 6), dtype=np.int32)
    got = Cutout(window, whole[window]).at(rows, cols, -1)
    assert (got[window] == whole[window]).all()
    assert (got == -1).sum() == 30 - 9
    assert Cutout(window, whole[window]).at(np.int32([-1]), np.int32([-1]), -1) == [-1]
