"""The page's grid: square cells in Web Mercator over the project's raster."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.crs import WEB_MERCATOR, transform_points
from reachmap.base.grid import Bounds, Grid

TILE = 256
"""Cells along the side of a tile."""


@dataclass(frozen=True, slots=True)
class PageGrid:
    """Web Mercator cells over a project raster.

    Parameters
    ----------
    grid
        The page's cells, in Web Mercator.
    source
        The project's cells.
    scale
        Web Mercator metres in one metre on the ground.
    """

    grid: Grid
    source: Grid
    scale: float

    @classmethod
    def over(cls, source: Grid, *, coarser: float = 1.0) -> PageGrid:
        """Return the page's grid over a project raster, cells `coarser` times as large (>= 1)."""
        west, south, east, north = source.bounds
        corners = np.array([[west, south], [east, south], [west, north], [east, north]])
        page = to_page(corners, source.crs)
        scale = _scale((west + east) / 2, (south + north) / 2, source.crs)
        bounds = (*page.min(axis=0).tolist(), *page.max(axis=0).tolist())
        cell = source.cell * scale * coarser
        return cls(_grid_over(bounds, cell), source, scale)

    @property
    def origin(self) -> tuple[float, float]:
        """Return the upper left corner in Web Mercator [m]."""
        return self.grid.west, self.grid.north

    @property
    def blocks(self) -> list[tuple[int, int]]:
        """Return row and column of every tile, from the top left."""
        rows, columns = (math.ceil(size / TILE) for size in self.grid.shape)
        return [(row, column) for row in range(rows) for column in range(columns)]

    def cut_to(self, bounds: Bounds, cell: float) -> PageGrid:
        """Return the page's grid over other bounds [m, Web Mercator] with cells of another size."""
        return replace(self, grid=_grid_over(bounds, cell))

    def source_cells(
        self, blocks: Sequence[tuple[int, int]]
    ) -> Iterator[tuple[IntArray, IntArray, BoolArray]]:
        """Yield, tile by tile, the project cell under each of its cells and whether there is one.

        Parameters
        ----------
        blocks
            Row and column of the tiles.

        Notes
        -----
        Within a tile the transformation between the projections is interpolated bilinearly from its
        corners: over 256 m the error is about a centimetre.
        """
        if not blocks:
            return
        row, column = np.array(blocks).T[:, :, None] * TILE
        ends = np.array([0, TILE - 1])
        corners = np.broadcast_arrays((row + ends)[:, :, None], (column + ends)[:, None, :])
        x, y = self.grid.points(*(corner.ravel() for corner in corners)).T
        moved = transform_points(x, y, WEB_MERCATOR, self.source.crs)
        for east, north in zip(*(one.reshape(-1, 2, 2) for one in moved), strict=True):
            yield self.source.index(_spread(east), _spread(north))

    def whole(self) -> tuple[IntArray, IntArray, BoolArray]:
        """Return row and column of the project cell under each page cell, and if there is one."""
        rows, columns = (np.zeros(self.grid.shape, dtype=np.int32) for _ in range(2))
        inside = np.zeros(self.grid.shape, dtype=bool)
        blocks = self.blocks
        for block, pieces in zip(blocks, self.source_cells(blocks), strict=True):
            part = tuple(slice(at * TILE, (at + 1) * TILE) for at in block)
            high, wide = inside[part].shape
            for whole, piece in zip((rows, columns, inside), pieces, strict=True):
                whole[part] = piece[:high, :wide]
        return rows, columns, inside

    def to_page(self, points: FloatArray) -> FloatArray:
        """Return points of the project's CRS, shape (n, 2), in Web Mercator [m]."""
        return to_page(points, self.source.crs)


def to_page(points: FloatArray, crs: str) -> FloatArray:
    """Return points of a CRS, shape (n, 2), in Web Mercator [m]."""
    return np.column_stack(transform_points(points[:, 0], points[:, 1], crs, WEB_MERCATOR))


def _grid_over(bounds: Bounds, cell: float) -> Grid:
    """Return the Web Mercator grid over bounds, its corner at their north-west."""
    west, south, east, north = bounds
    shape = (math.ceil((north - south) / cell), math.ceil((east - west) / cell))
    return Grid.at_corner(west, north, cell, shape, WEB_MERCATOR)


def _spread(corners: FloatArray) -> FloatArray:
    """Return values interpolated between the corner cells of a tile, shape (TILE, TILE)."""
    share = np.linspace(0, 1, TILE)
    left = corners[0, 0] + (corners[1, 0] - corners[0, 0]) * share
    right = corners[0, 1] + (corners[1, 1] - corners[0, 1]) * share
    return np.asarray(left[:, None] + (right - left)[:, None] * share[None, :], dtype=np.float64)


def _scale(x: float, y: float, crs: str) -> float:
    """Return Web Mercator metres in one ground metre about a place, from steps east and north."""
    step = 50.0
    east, north = transform_points(
        np.array([x - step, x + step, x, x]),
        np.array([y, y, y - step, y + step]),
        crs,
        WEB_MERCATOR,
    )
    along = math.hypot(east[1] - east[0], north[1] - north[0])
    up = math.hypot(east[3] - east[2], north[3] - north[2])
    return math.sqrt(along * up) / (2 * step)
