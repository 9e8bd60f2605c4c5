"""What stands on the ground, cell by cell: crowns and gaps from the returns of a lidar."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.grid import Grid

CELL_M = 2.0
"""Side of a cell, of which the highest return counts [m] (our choice, 1-4)."""

LEAST_M = 0.3
"""Lower returns are stones and noise of the ground [m] (our choice, 0.2-0.5)."""

FEWEST_RETURNS = 3
"""Fewer returns in a cell, none of them high, show no gap: 0.75 a square metre (our choice,
0.5-2)."""

GROUND_M = 6.0
"""Ground returns this far off count (our choice: dense cover hides the ground) [m]."""


@dataclass(frozen=True, slots=True)
class Canopy:
    """Height of what stands above the ground on a grid.

    Parameters
    ----------
    west, north
        Corner of the grid, in the project's CRS [m].
    height
        Of the highest return above the ground around it [m], float32 (y, x), rows south; NaN where
        too few returns tell.
    """

    west: float
    north: float
    height: np.ndarray[tuple[int, int], np.dtype[np.float32]]

    def at(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return the height at places [m]; NaN where unknown."""
        col = np.floor((x - self.west) / CELL_M).astype(np.int64)
        row = np.floor((self.north - y) / CELL_M).astype(np.int64)
        rows, cols = self.height.shape
        held = (row >= 0) & (row < rows) & (col >= 0) & (col < cols)
        found = np.full(np.shape(x), np.nan)
        found[held] = self.height[row[held], col[held]]
        return found

    def over(self, x: FloatArray, y: FloatArray, side: float) -> tuple[FloatArray, BoolArray]:
        """Return the greatest height over squares about places, and where all of a square is known.

        Parameters
        ----------
        x, y
            Middles of the squares [m].
        side
            Of a square [m].

        Returns
        -------
        height, whole
            [m], NaN where nothing of the square is known.
        """
        number = max(round(side / CELL_M), 1)
        steps = (np.arange(number) + 0.5) * side / number - side / 2
        found = np.stack([self.at(x + east, y + north) for east in steps for north in steps])
        whole = np.asarray(np.isfinite(found).all(axis=0), dtype=bool)
        return np.asarray(np.fmax.reduce(found, axis=0)), whole


class Returns:
    """Returns of point clouds gathered on a grid: as many as there are, in little memory."""

    def __init__(self, grid: Grid) -> None:
        """Begin with none."""
        self.grid = grid
        self.top = np.full(grid.shape, -np.inf)
        self.count = np.zeros(grid.shape, dtype=np.int32)
        self.ground_sum = np.zeros(grid.shape)
        self.ground_count = np.zeros(grid.shape, dtype=np.int32)

    def add(self, returns: FloatArray) -> int:
        """Add returns (east, north, height [m], 1 for ground or 0) and return how many lie here."""
        row, col, inside = self.grid.index(returns[:, 0], returns[:, 1])
        at = row[inside], col[inside]
        height, ground = returns[inside, 2], returns[inside, 3] == 1
        np.maximum.at(self.top, at, height)
        np.add.at(self.count, at, 1)
        on = at[0][ground], at[1][ground]
        np.add.at(self.ground_sum, on, height[ground])
        np.add.at(self.ground_count, on, 1)
        return int(inside.sum())

    def join(self, other: Returns) -> None:
        """Add the returns of another gathering on the same grid."""
        np.maximum(self.top, other.top, out=self.top)
        self.count += other.count
        self.ground_sum += other.ground_sum
        self.ground_count += other.ground_count

    def canopy(self) -> Canopy | None:
        """Return the height of the highest return of each cell above the ground nearest to it.

        None where no ground was seen.
        """
        bare = self.ground_count > 0
        if not bare.any():
            return None
        ground = self.ground_sum / np.maximum(self.ground_count, 1)
        away, (row, col) = distance_transform_edt(~bare, return_indices=True)
        above = self.top - ground[row, col]
        near = away * self.grid.cell <= GROUND_M
        tells = near & ((self.count >= FEWEST_RETURNS) | (above >= LEAST_M)) & (self.count > 0)
        height = np.where(tells, np.clip(above, 0.0, None), np.nan).astype(np.float32)
        west, _, _, north = self.grid.bounds
        return Canopy(west, north, height)
