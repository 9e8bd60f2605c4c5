"""Terrains for drafts: formulas of a river's place, level and bed, as a flight would see them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter

from reachmap.base.grid import Grid
from reachmap.draft import Place

CRS = "EPSG:32607"
WEST, NORTH = 476_000.0, 5_116_000.0


@dataclass(frozen=True)
class Terrain:
    """A made terrain.

    Parameters
    ----------
    grid, height
        What the flight shows [m].
    line
        True middle: easting and northing, shape (n, 2), downstream.
    wet
        Cells of the water.
    """

    grid: Grid
    height: np.ndarray
    line: np.ndarray
    wet: np.ndarray

    def on(self, grid):
        """Return the terrain on another raster, by the nearest cell."""
        row, col, inside = self.grid.index(*np.meshgrid(grid.x, grid.y))
        return np.where(inside, self.height[row, col], np.nan)

    def place(self, **more):
        """Return where to draft."""
        return Place(CRS, self.grid.bounds, self.grid.cell, **more)


def valley(
    *,
    cell=2.0,
    slope=0.003,
    half=15.0,
    length=1600.0,
    amplitude=90.0,
    island=False,
    bed=False,
    pools=0.0,
    noise=0.03,
    tributary=True,
    seed=4,
):
    """Return a river that winds from the west edge to the east edge of a valley with hillsides.

    The water lies 1.2 m below the flood plain; hillsides begin 150 m from it. `island`: one in the
    middle of the reach, with as much water on either side. `bed`: the bed is known beneath, 0.9 m
    deep, pools of `pools` [m] in it. `tributary`: a side valley with a brook, steeper.
    """
    grid = Grid.at_corner(WEST, NORTH, cell, (round(800 / cell), round(length / cell)), CRS)
    x, y = np.meshgrid(grid.x - WEST, grid.y - (NORTH - 800.0))
    wave = 2 * np.pi / 700.0
    middle = 400.0 + amplitude * np.sin(wave * x)
    tilt = np.cos(np.arctan(amplitude * wave * np.cos(wave * x)))
    away = (y - middle) * tilt
    along = x / tilt.mean()
    water = 100.0 - slope * along
    half_here = np.full(x.shape, half)
    dry = np.zeros(x.shape, dtype=bool)
    if island:
        off = (x - length / 2) / 90.0
        half_here = half + 14.0 * np.clip(1 - off**2, 0, None)
        dry = (np.abs(off) < 0.9) & (
            np.abs(away) < 9.0 * np.sqrt(np.clip(1 - (off / 0.9) ** 2, 0, 1))
        )
    wet = (np.abs(away) < half_here) & ~dry
    plain = water + 1.2 + 0.004 * np.abs(away)
    hills = plain + 0.25 * np.clip(np.abs(away) - 150.0, 0, None)
    if tributary:
        side = np.abs(x - 0.35 * length - 0.2 * (y - middle))
        brook = water + 0.6 + 0.03 * np.clip(y - middle, 0, None) + 0.35 * side
        hills = np.where(y > middle + half, np.minimum(hills, brook), hills)
    height = np.where(wet, water, np.where(dry, water + 1.0, hills))
    if bed:
        deep = 0.9 + pools * np.sin(2 * np.pi * x / 170.0)
        shape = 1 - (np.clip(np.abs(away) / half_here, 0, 1)) ** 2.5
        height = np.where(wet, water - deep * shape, height)
    rough = gaussian_filter(np.random.default_rng(seed).standard_normal(x.shape), 0.7)
    height = height + noise * rough / rough.std()
    at = np.arange(0.0, length, 4.0)
    line = np.column_stack([at + WEST, 400.0 + amplitude * np.sin(wave * at) + NORTH - 800.0])
    return Terrain(grid, height, line, wet)


def creek(*, cell=5.0, fall=36.0, length=1300.0, seed=6):
    """Return a creek of 28 in a thousand on coarse cells: a notch in a valley, no flat water."""
    return valley(
        cell=cell, slope=fall / length, half=3.0, length=length, amplitude=40.0, noise=0.1,
        tributary=False, bed=True, pools=0.3, seed=seed,
    )  # fmt: skip
