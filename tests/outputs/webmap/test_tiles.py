import base64
import zlib

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pyproj import Transformer
from rasterio.warp import Resampling, reproject

from reachmap.base.grid import Grid
from reachmap.base.words import Wet
from reachmap.outputs.webmap.page_grid import TILE, PageGrid
from reachmap.outputs.webmap.signed import depth_codes, signed_depth
from reachmap.outputs.webmap.tiles import DRY, OFF_MAP, TOP, UNKNOWN, coded, cut, step_for


def bytes_of(text):
    return np.frombuffer(zlib.decompress(base64.b64decode(text)), dtype=np.uint8)


def picture(tiles, index, quantity, page):
    """Lay the tiles back into one picture; tiles left out are dry."""
    rows = max(row for row, _ in page.blocks) + 1
    columns = max(column for _, column in page.blocks) + 1
    laid = np.zeros((rows * TILE, columns * TILE), dtype=np.uint8)
    cells = bytes_of(getattr(tiles, quantity)[index])
    side = int((cells.size // len(tiles.blocks)) ** 0.5)
    cells = cells.reshape(-1, side, side).repeat(TILE // side, 1).repeat(TILE // side, 2)
    for (row, column), part in zip(tiles.blocks, cells, strict=True):
        laid[row * TILE : (row + 1) * TILE, column * TILE : (column + 1) * TILE] = part
    rows, columns = page.grid.shape
    return laid[:rows, :columns]


depths = arrays(np.float64, 30, elements=st.one_of(st.just(np.nan), st.floats(0, 60)))
wets = arrays(np.uint8, 30, elements=st.sampled_from([int(w) for w in Wet]))


def test_tiles_looked_up_together_hold_the_cells_each_holds_alone():
    source = Grid.at_corner(500_000.0, 5_117_000.0, 2.0, (400, 500), "EPSG:32607")
    page = PageGrid.over(source)
    assert len(page.blocks) > 2
    for block, together in zip(page.blocks, page.source_cells(page.blocks), strict=True):
        alone = next(page.source_cells([block]))
        assert all(np.array_equal(a, b) for a, b in zip(together, alone, strict=True))
    assert list(page.source_cells([])) == []


@given(depths, wets, st.floats(0.01, 0.5))
def test_unknown_is_never_told_as_dry_or_shallow(depth, wet, step):
    codes = coded(depth, wet, step)
    assert (codes[wet == Wet.UNKNOWN] == UNKNOWN).all()
    assert (codes[(wet == Wet.YES) & np.isnan(depth)] == UNKNOWN).all()
    assert (codes[wet == Wet.NO] == DRY).all()
    known = (wet == Wet.YES) & np.isfinite(depth)
    assert ((codes[known] >= 1) & (codes[known] <= TOP)).all()


@given(depths, st.floats(0.01, 0.5))
def test_a_speed_is_never_told_too_small(depth, step):
    codes = coded(depth, np.full(30, Wet.YES, dtype=np.uint8), step)
    told = codes < TOP
    assert (codes[told] * step >= depth[told] - 1e-6).all()
    assert (codes[told & (depth > 0)] * step <= depth[told & (depth > 0)] + step + 1e-6).all()


@given(st.floats(0, 500))
def test_the_step_leaves_room_for_the_largest_value(largest):
    assert largest / step_for(largest, 0.05) <= TOP + 1e-9


def test_tiles_hold_what_gdal_finds_in_web_mercator(product):
    """GDAL's own warp (rasterio.warp, nearest cell) is the outside judge."""
    ground, flows = product.ground, product.flows
    page = PageGrid.over(Grid.of(ground))
    tiles = cut(page, ground, flows)
    codes = depth_codes(signed_depth(ground, flows, 2), flows["wet"].to_numpy()[2])
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    source = Affine(
        x[1] - x[0], 0, x[0] - (x[1] - x[0]) / 2, 0, y[1] - y[0], y[0] - (y[1] - y[0]) / 2
    )
    target = Affine(page.grid.cell, 0, page.origin[0], 0, -page.grid.cell, page.origin[1])
    expected = np.full(page.grid.shape, OFF_MAP, dtype=np.uint8)
    reproject(
        codes, expected, src_transform=source, src_crs=page.source.crs, dst_transform=target,
        dst_crs="EPSG:3857", resampling=Resampling.nearest, init_dest_nodata=False, tolerance=0,
    )  # fmt: skip
    got = picture(tiles, 2, "depth", page)
    both = (expected != OFF_MAP) & (got != OFF_MAP)
    assert both.mean() > 0.8
    assert (expected == got)[both].mean() > 0.995
    assert (got == UNKNOWN).any()


@pytest.mark.parametrize("coarser", [1, 3])
def test_cells_of_a_tile_lie_where_proj_puts_them(product, coarser):
    page = PageGrid.over(Grid.of(product.ground), coarser=coarser)
    rows, columns, inside = next(page.source_cells([(0, 1)]))
    to_project = Transformer.from_crs("EPSG:3857", page.source.crs, always_xy=True)
    for row, column in ((10, 12), (200, 40), (77, 250)):
        if not inside[row, column]:
            continue
        east, north = to_project.transform(
            page.origin[0] + (TILE + column + 0.5) * page.grid.cell,
            page.origin[1] - (row + 0.5) * page.grid.cell,
        )
        x, y = (product.ground[name].to_numpy() for name in ("x", "y"))
        assert x[columns[row, column]] == pytest.approx(east, abs=0.52 * (x[1] - x[0]))
        assert y[rows[row, column]] == pytest.approx(north, abs=0.52 * (y[0] - y[1]))


def test_tiles_without_water_at_any_flow_are_left_out(product):
    page = PageGrid.over(Grid.of(product.ground))
    tiles = cut(page, product.ground, product.flows)
    assert 0 < len(tiles.blocks) <= len(page.blocks)
    for text in (*tiles.depth, *tiles.speed, *tiles.grade):
        assert bytes_of(text).size == len(tiles.blocks) * TILE * TILE
    assert bytes_of(tiles.sure[0]).size == len(tiles.blocks) * (TILE // 2) ** 2
