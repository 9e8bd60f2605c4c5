import io
from dataclasses import replace

import numpy as np
import pytest
import rasterio
from PIL import Image

from reachmap.base.grid import Grid
from reachmap.base.shading import LIGHT_FROM_DEG, LIGHT_UP_DEG, STEEPER, shade
from reachmap.base.words import UnitSystem
from reachmap.markup.model import DemNote
from reachmap.outputs.webmap.hillshade import BEYOND_M, beyond, contour_cells, interval, relief


def plane(rise_east, rise_north):
    row, column = np.mgrid[0:20, 0:30].astype(float)
    return rise_east * column - rise_north * row


def test_level_ground_is_as_bright_as_the_lamp_is_high():
    level = shade(plane(0, 0), 1.0)
    assert level == pytest.approx(np.sin(np.radians(LIGHT_UP_DEG)))


@pytest.mark.parametrize(("east", "north"), [(0.1, 0.0), (0.0, -0.2), (-0.15, 0.3)])
def test_a_slope_is_lit_by_the_cosine_law(east, north):
    # Lambert: the cosine of the angle between the lamp and the normal of the (raised) plane.
    bearing, up = np.radians(LIGHT_FROM_DEG), np.radians(LIGHT_UP_DEG)
    lamp = [np.sin(bearing) * np.cos(up), np.cos(bearing) * np.cos(up), np.sin(up)]
    normal = np.array([-east * STEEPER, -north * STEEPER, 1.0])
    expected = max(0.0, float(normal / np.linalg.norm(normal) @ lamp))
    assert shade(plane(east * 2, north * 2), 2.0)[5:-5, 5:-5] == pytest.approx(expected)


def test_ground_nobody_knows_is_left_clear(product):
    ground = product.ground.copy(deep=True)
    ground["bed"].to_numpy()[40:60, 40:60] = np.nan
    picture = Image.open(io.BytesIO(relief(ground).data))
    assert picture.mode == "RGBA"
    cover = np.asarray(picture)[..., 3]
    assert cover.max() == 255
    assert (cover == 0).any()


def test_a_coarser_picture_covers_the_same_ground(product):
    fine, coarse = relief(product.ground), relief(product.ground, coarser=2)
    assert coarse.width < 0.6 * fine.width
    assert coarse.north == pytest.approx(fine.north, abs=1e-4)
    assert coarse.west == pytest.approx(fine.west, abs=1e-4)


def test_contours_of_a_plane_lie_as_far_apart_as_its_slope_says():
    # 1 in 10 over cells of 2 m; no cell lies on a line, where rounding would decide
    heights = np.tile(0.05 + 0.1 * 2.0 * np.arange(200.0), (40, 1))
    lines = contour_cells(heights, 1.0, 2.0)
    columns = np.flatnonzero(lines[20, 10:-10])
    assert np.diff(columns).tolist() == pytest.approx([5] * (columns.size - 1))  # 10 m
    assert (lines[5:-5, 10:-10].sum(axis=0) % 30 == 0).all()  # straight, across the slope


def test_the_interval_is_the_finest_that_keeps_the_lines_few():
    heights = np.linspace(0.0, 31.0, 1000).reshape(20, 50)
    assert interval(heights, UnitSystem.METRIC) == 5.0
    assert interval(heights, UnitSystem.US) == pytest.approx(10 * 0.3048)
    assert interval(heights * 100, UnitSystem.METRIC) == 50.0
    assert interval(np.full((3, 3), np.nan), UnitSystem.US) == 0.0


def test_around_the_mapped_ground_the_terrain_is_drawn_and_further_out_nothing(product, tmp_path):
    ground = product.ground.copy(deep=True)
    bed = ground["bed"].to_numpy()
    far = np.s_[:, : bed.shape[1] // 2]
    whole = np.nan_to_num(bed, nan=float(np.nanmin(bed)))
    bed[far] = np.nan
    grid = Grid.of(ground)
    path = tmp_path / "terrain.tif"
    profile = {"driver": "GTiff", "count": 1, "dtype": "float32", "crs": grid.crs}
    size = {"height": bed.shape[0], "width": bed.shape[1], "transform": grid.transform}
    with rasterio.open(path, "w", **profile, **size) as file:
        file.write(whole.astype(np.float32), 1)
    note = DemNote(20.0, "m", "made")
    markup = replace(product.markup, dems=(path,), plan=replace(product.markup.plan, dem=note))
    around = beyond(ground, markup)
    cells = round(BEYOND_M / float(ground.attrs["cell"]))
    edge = bed.shape[1] // 2
    assert np.isnan(around[:, edge:][np.isfinite(bed[:, edge:])]).all()
    assert np.isfinite(around[:, max(edge - cells, 0) : edge]).all()
    assert np.isnan(around[:, : max(edge - cells, 0)]).all()
    bare = np.asarray(Image.open(io.BytesIO(relief(ground).data)))[..., 3]
    shown = np.asarray(Image.open(io.BytesIO(relief(ground, around=around).data)))[..., 3]
    assert np.count_nonzero(shown == 255) > np.count_nonzero(bare == 255)
    path.unlink()
    assert beyond(ground, markup) is None
    assert beyond(ground, replace(markup, dems=())) is None
