"""The page's own grid: square cells in Web Mercator laid over the project's raster."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.crs import WEB_MERCATOR, transform_points

TILE = 256
"""Cells along the side of a tile."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Web Mercator cells over a project raster.

    Parameters
    ----------
    crs
        The project's metric CRS.
    left, top
        Upper left corner in Web Mercator [m].
    scale
        Web Mercator metres in one metre on the ground.
    cell
        Side of a cell in Web Mercator [m].
    rows, columns
        Size in cells.
    source
        First centre east and north and the steps of the project's raster [m].
    source_shape
        Rows and columns of the project's raster.
    """

    crs: str
    left: float
    top: float
    scale: float
    cell: float
    rows: int
    columns: int
    source: tuple[float, float, float, float]
    source_shape: tuple[int, int]

    @property
    def blocks(self) -> list[tuple[int, int]]:
        """Return row and column of every tile, from the top left."""
        return [
            (row, column)
            for row in range(math.ceil(self.rows / TILE))
            for column in range(math.ceil(self.columns / TILE))
        ]

    def source_cells(
        self, row: int, column: int, size: int = TILE
    ) -> tuple[NDArray[np.intp], NDArray[np.intp], BoolArray]:
        """Return the project cell under each cell of a tile, and whether there is one.

        Between the corners of a tile the way from one projection to the other is taken as
        bilinear: over 256 m that is wrong by about a centimetre.
        """
        x = self.left + (column * size + np.array([0.5, size - 0.5])) * self.cell
        y = self.top - (row * size + np.array([0.5, size - 0.5])) * self.cell
        corner_x, corner_y = np.meshgrid(x, y)
        east, north = transform_points(corner_x, corner_y, WEB_MERCATOR, self.crs)
        x0, y0, dx, dy = self.source
        columns = np.rint((_spread(east, size) - x0) / dx).astype(np.intp)
        rows = np.rint((_spread(north, size) - y0) / dy).astype(np.intp)
        inside = (rows >= 0) & (rows < self.source_shape[0])
        inside &= (columns >= 0) & (columns < self.source_shape[1])
        return np.where(inside, rows, 0), np.where(inside, columns, 0), inside

    def to_page(self, points: FloatArray) -> FloatArray:
        """Return points of the project's CRS, shape (n, 2), in Web Mercator [m]."""
        x, y = transform_points(points[:, 0], points[:, 1], self.crs, WEB_MERCATOR)
        return np.asarray(np.c_[x, y], dtype=np.float64)


def _spread(corners: FloatArray, size: int) -> FloatArray:
    """Return values between the centres of four corner cells, shape (size, size)."""
    share = np.linspace(0, 1, size)
    left = corners[0, 0] + (corners[1, 0] - corners[0, 0]) * share
    right = corners[0, 1] + (corners[1, 1] - corners[0, 1]) * share
    return np.asarray(left[:, None] + (right - left)[:, None] * share[None, :], dtype=np.float64)


def frame_over(grid: xr.Dataset, *, coarser: float = 1.0) -> Frame:
    """Return the page's grid over a project raster.

    Parameters
    ----------
    grid
        Dataset with coordinates `x` and `y` [m] and attributes `crs` and `cell`.
    coarser
        Side of a page cell over that of a project cell, >= 1.
    """
    x, y = grid["x"].to_numpy(), grid["y"].to_numpy()
    crs = str(grid.attrs["crs"])
    dx, dy = float(x[1] - x[0]), float(y[1] - y[0])
    edge_x = np.array([x[0] - dx / 2, x[-1] + dx / 2])
    edge_y = np.array([y[0] - dy / 2, y[-1] + dy / 2])
    corner_x, corner_y = (a.ravel() for a in np.meshgrid(edge_x, edge_y))
    page_x, page_y = transform_points(corner_x, corner_y, crs, WEB_MERCATOR)
    scale = _scale(float(edge_x.mean()), float(edge_y.mean()), crs)
    cell = abs(dx) * scale * coarser
    return Frame(
        crs,
        float(page_x.min()),
        float(page_y.max()),
        scale,
        cell,
        math.ceil((page_y.max() - page_y.min()) / cell),
        math.ceil((page_x.max() - page_x.min()) / cell),
        (float(x[0]), float(y[0]), dx, dy),
        (y.size, x.size),
    )


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
