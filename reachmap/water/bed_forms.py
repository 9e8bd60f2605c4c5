"""Forms of the bed at each wet cell: slope and curvature by the flow, hollows, stones, drops.

"Lower than its surroundings" marks the whole outer pool of a bend. A hollow here is closed: it lies
below the bed at large, as a quadratic surface over a large window gives it, and the bed about it
rises again on both sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Grid, Window
from reachmap.base.patches import cells_of
from reachmap.water._kernels import OPEN
from reachmap.water._kernels_forms import rises_along
from reachmap.water.field import WaterField
from reachmap.water.structure_settings import BedFormSettings
from reachmap.water.surfaces import Surfaces, fitted


@dataclass(frozen=True, eq=False)
class BedForms:
    """The bed at the wet cells of a flow, in the order of the raster: shapes (n,), NaN not known.

    Parameters
    ----------
    rows, cols
        The cells.
    down_row, down_col
        Unit vector downstream, in rows and columns.
    ground
        Height of wet and dry ground [m], shape (y, x), NaN where not known.
    near
        The surface about each cell.
    residual
        How far the bed lies above the bed at large [m], negative in a hollow.
    rise_up, rise_down, rise_left, rise_right
        How far the bed rises up and down the flow, and to either side [m], >= 0.
    stone
        Height of a lump above the bed on all four sides of it [m], wet or standing out of the
        water, 0 where there is none; shape (y, x).
    drop
        Fall from a shelf to its foot [m] where a drop-off goes through the cell, else 0.
    """

    rows: IntArray
    cols: IntArray
    down_row: FloatArray
    down_col: FloatArray
    ground: FloatArray
    near: Surfaces
    residual: FloatArray
    rise_up: FloatArray
    rise_down: FloatArray
    rise_left: FloatArray
    rise_right: FloatArray
    stone: FloatArray
    drop: FloatArray

    @cached_property
    def rise_along(self) -> FloatArray:
        """Return how far the bed rises both up and down the flow [m]."""
        return np.minimum(self.rise_up, self.rise_down)

    @cached_property
    def rise_across(self) -> FloatArray:
        """Return how far the bed rises to both sides [m]."""
        return np.minimum(self.rise_left, self.rise_right)

    @cached_property
    def closed(self) -> FloatArray:
        """Return the depth of the closed hollow at each cell [m], 0 where there is none.

        How far the bed lies below the bed at large, but no more than it rises again along or
        across the flow, whichever is more: a slot is open along, a ledge pool across.
        """
        rise = np.maximum(self.rise_along, self.rise_across)
        return np.asarray(np.clip(np.minimum(-np.nan_to_num(self.residual), rise), 0.0, None))

    @cached_property
    def slope_along(self) -> FloatArray:
        """Return the slope of the bed down the flow [m/m], negative where it falls."""
        return self.near.slope(self.down_row, self.down_col)

    @cached_property
    def curvature_along(self) -> FloatArray:
        """Return the bed's curvature along the flow [1/m], positive in a hollow."""
        return self.near.curvature(self.down_row, self.down_col)

    @cached_property
    def curvature_across(self) -> FloatArray:
        """Return the bed's curvature across the flow [1/m], positive in a hollow."""
        return self.near.curvature(-self.down_col, self.down_row)

    def raster(self, values: FloatArray, fill: float = np.nan) -> FloatArray:
        """Return values of the cells as a raster, shape (y, x)."""
        out = np.full(self.ground.shape, fill)
        out[self.rows, self.cols] = values
        return out


def window_of(ground: xr.Dataset, field: WaterField) -> Window:
    """Return the rows and columns of the ground's raster that a flow's window takes up."""
    row, col, _ = Grid.of(ground).index(field.grid.x[:1], field.grid.y[:1])
    height, width = field.wet.shape
    return slice(int(row[0]), int(row[0]) + height), slice(int(col[0]), int(col[0]) + width)


def ground_cells(ground: xr.Dataset, field: WaterField) -> IntArray:
    """Return the wet cells of a flow as indices into the ground's raveled raster, shape (n,)."""
    window = window_of(ground, field)
    rows, cols = cells_of(field.wet)
    flat = (rows + window[0].start) * ground.sizes["x"] + cols + window[1].start
    return np.asarray(flat, np.int32)


def find_bed_forms(field: WaterField, ground: xr.Dataset, settings: BedFormSettings) -> BedForms:
    """Return the forms of the bed at the wet cells of a flow.

    Parameters
    ----------
    field
        The flow.
    ground
        The ground stage's Dataset, of which the field is a window or the whole.
    settings
        The scales, on a river of the usual width.

    Notes
    -----
    Surfaces are fitted to the water's own bed and to stones that stand out of it: the foot of a
    bank would look like a hollow. Whether the bed rises again is looked for on dry ground too, as
    far as it is known.
    """
    cell = field.grid.cell
    settings = settings.on_river(field.width, cell)
    rows, cols = cells = cells_of(field.wet)
    height = ground["bed"][window_of(ground, field)].to_numpy().astype(np.float64)
    known = (field.code == OPEN) & np.isfinite(height)
    near = fitted(height, known, cells, cell, settings.near_m, settings.ridge)
    large = _at_large(height, known, cells, cell, settings)
    smooth = height.copy()
    smooth[cells] = near.height
    left = field.across_row[cells], field.across_col[cells]
    right = -left[0], -left[1]
    down = left[1], -left[0]  # left of downstream (a, b) in rows and columns is (-b, a)
    up = -down[0], -down[1]

    def rise(way: tuple[FloatArray, FloatArray], reach: float) -> FloatArray:
        return rises_along(smooth, rows, cols, *way, max(round(reach / cell), 1))[0]

    residual = near.height - large
    return BedForms(
        rows=rows,
        cols=cols,
        down_row=down[0],
        down_col=down[1],
        ground=height,
        near=near,
        residual=residual,
        rise_up=rise(up, settings.along_m),
        rise_down=rise(down, settings.along_m),
        rise_left=rise(left, settings.across_m),
        rise_right=rise(right, settings.across_m),
        stone=_stones(height, known, settings.stone_m / cell),
        drop=_drops(smooth, field.wet, near, down, cells, settings),
    )


def _at_large(
    height: FloatArray,
    known: BoolArray,
    cells: tuple[IntArray, IntArray],
    cell: float,
    settings: BedFormSettings,
) -> FloatArray:
    """Return the height of the bed at large at each cell [m]: fitted on larger cells.

    A large cell counts where at least three quarters of it are known, so that its middle is its
    own.
    """
    size = max(int(settings.far_cell_m / cell), 1)
    rows, cols = cells_of(known)
    shape = tuple(-(-one // size) for one in height.shape)
    at = np.ravel_multi_index((rows // size, cols // size), shape)
    count = np.bincount(at, minlength=shape[0] * shape[1])
    total = np.bincount(at, height[rows, cols], minlength=count.size)
    mean = np.where(count > 0, total / np.maximum(count, 1), np.nan).reshape(shape)
    whole = (count >= 0.75 * size**2).reshape(shape)
    here, number = np.unique(
        np.ravel_multi_index((cells[0] // size, cells[1] // size), shape), return_inverse=True
    )
    large = here // shape[1], here % shape[1]
    surfaces = fitted(
        mean,
        whole & np.isfinite(mean),
        (large[0].astype(np.int32), large[1].astype(np.int32)),
        cell * size,
        settings.far_m,
        settings.ridge,
    ).of(number.astype(np.int32))
    y, x = (
        (one + 0.5 - (middle[number] + 0.5) * size) * cell
        for one, middle in zip(cells, large, strict=True)
    )
    return surfaces.at(y, x)


def _stones(height: FloatArray, known: BoolArray, reach: float) -> FloatArray:
    """Return how far the bed falls within so many cells on all four sides of each [m]; (y, x)."""
    rows, cols = cells_of(known)
    least = np.full(rows.size, np.inf)
    still, on = np.zeros(rows.size), np.ones(rows.size)
    for way in ((on, still), (-on, still), (still, on), (still, -on)):
        falls = rises_along(height, rows, cols, *way, max(round(reach), 1))[1]
        least = np.minimum(least, falls)
    stone = np.zeros(height.shape)
    stone[rows, cols] = least
    return stone


def _drops(
    smooth: FloatArray,
    wet: BoolArray,
    near: Surfaces,
    down: tuple[FloatArray, FloatArray],
    cells: tuple[IntArray, IntArray],
    settings: BedFormSettings,
) -> FloatArray:
    """Return the fall from a shelf to its foot [m] at the cells a drop-off goes through, else 0.

    Straight up and down the slope lie four places: shelf, top, foot and deep. The bed falls most
    between top and foot, and shelf and deep are all but level: so the plain slope of a bank, the
    side of a slot and the face of a bar are told from a drop. The shelf is under water, and the
    drop does not face up the current, as the tail of a pool does.
    """
    steep = np.hypot(near.q, near.p)
    with np.errstate(invalid="ignore", divide="ignore"):
        up_row, up_col = near.q / steep, near.p / steep
    facing = up_row * down[0] + up_col * down[1]  # 1: the bed falls straight up the current
    half, out = settings.drop_half_m, settings.drop_out_m
    shape, cell = wet.shape, near.cell
    heights = []
    under = steep > 0
    for at in (out, half, -half, -out):
        row = np.rint(cells[0] + np.nan_to_num(up_row) * at / cell).astype(np.int32)
        col = np.rint(cells[1] + np.nan_to_num(up_col) * at / cell).astype(np.int32)
        inside = (row >= 0) & (col >= 0) & (row < shape[0]) & (col < shape[1])
        row, col = np.where(inside, row, 0), np.where(inside, col, 0)
        under &= inside & wet[row, col]
        heights.append(smooth[row, col])
    shelf, top, foot, deep = heights
    slope = (top - foot) / (2 * half)
    flat = settings.drop_flat_share * slope * (out - half)
    with np.errstate(invalid="ignore"):
        level = (np.abs(shelf - top) <= flat) & (np.abs(foot - deep) <= flat)
        return np.asarray(np.where(under & level & (facing < 0.5), top - foot, 0.0))
