"""Course of the river: flow routing over the terrain, by flow directions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter, minimum_filter, uniform_filter

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.grid import Grid
from reachmap.draft.settings import RouteSettings

NOTHING = -9999.0
"""No-data value of the library's raster."""


@dataclass(frozen=True, slots=True)
class Route:
    """Cells of the river's course, downstream.

    Parameters
    ----------
    rows, cols
        Of each.
    filled
        Terrain with its depressions filled [m], shape (y, x).
    """

    rows: IntArray
    cols: IntArray
    filled: FloatArray


def route_of(
    height: FloatArray, grid: Grid, near: tuple[float, float] | None, settings: RouteSettings
) -> Route:
    """Return the course of the main river over the terrain.

    Depressions are filled, each cell drains to its steepest neighbour (O'Callaghan and Mark 1984,
    by pyflwdir), and in the flow accumulation flat low cells, likely water, weigh more than others.
    The river starts from the cell of largest accumulation: at the edge of the terrain, or near the
    given place.

    Parameters
    ----------
    height
        Terrain [m], shape (y, x); NaN where unknown.
    grid
        Its raster.
    near
        A place on the river, east and north [m]; None for the largest river.

    Raises
    ------
    BuildError
        If there is no terrain, or no river near the place.
    """
    import pyflwdir  # slow to import: only drafts need it

    known = np.isfinite(height)
    if known.sum() < 100:
        raise BuildError([Fault("terrain", "it knows no ground", "Bring a tile that does")])
    filled_in = np.where(known, height, NOTHING)
    directions = pyflwdir.from_dem(
        filled_in, nodata=NOTHING, transform=grid.transform, latlon=False, outlets="edge"
    )
    brims, _ = pyflwdir.dem.fill_depressions(filled_in, nodata=NOTHING, outlets="edge")
    weight = 1 + settings.flat_weight * likely_water(height, grid.cell, settings)
    drained = directions.accuflux(np.where(known, weight, 0.0).astype(np.float64), nodata=-1.0)
    start = _start(drained, known, grid, near, settings)
    up = directions.main_upstream(uparea=drained.astype(np.float64))
    down = directions.idxs_ds
    least = settings.source_m2 / grid.cell**2 * settings.flat_weight
    flat = drained.ravel()
    path = [start]
    while up[path[-1]] >= 0 and up[path[-1]] != path[-1] and flat[up[path[-1]]] > least:
        path.append(int(up[path[-1]]))
    path.reverse()
    while down[path[-1]] != path[-1]:
        path.append(int(down[path[-1]]))
    rows, cols = np.divmod(np.array(path, dtype=np.int64), grid.shape[1])
    filled = np.where(known, np.asarray(brims, dtype=np.float64), np.nan)
    return Route(rows.astype(np.int32), cols.astype(np.int32), filled)


def likely_water(height: FloatArray, cell: float, settings: RouteSettings) -> BoolArray:
    """Return cells lower than the gentle ground around them, or flat ones where there is none.

    A flood plain is as flat as the river, but no lower than itself: the height over the plane
    fitted to the gentle ground within `about_m` (least squares) separates the two, on a
    slope too. In a gorge only the water is gentle.
    """
    known = np.isfinite(height)
    flat = flat_cells(height, known, cell, settings.flat_slope)
    gentle = flat_cells(height, known, cell, settings.gentle_slope)
    size = max(2 * round(settings.about_m / cell) + 1, 5)
    over = _over_plane(height, gentle, size)
    share = uniform_filter(gentle.astype(np.float64), size=size, mode="constant")
    whole = uniform_filter(known.astype(np.float64), size=size, mode="constant")
    alone = share <= settings.alone_share * whole
    return np.asarray(known & ((over <= -settings.lower_m) | (flat & alone)))


def _over_plane(height: FloatArray, use: BoolArray, size: int) -> FloatArray:
    """Return each cell's height above the plane fitted to the used cells in a window around it [m].

    The plane solves the normal equations of the window's sums, by Cramer's rule; 0 where too few
    cells, or all in one line, make none.
    """
    base = float(np.nanmean(height))
    h = np.nan_to_num(height - base)
    y, x = (axis - axis.mean() for axis in np.indices(height.shape, dtype=np.float64))

    def mean(values: FloatArray) -> FloatArray:
        summed = uniform_filter(np.where(use, values, 0.0), size=size, mode="constant")
        return np.asarray(summed)

    n = np.maximum(mean(np.ones(height.shape)), 1e-12)
    mx, my, mh = mean(x) / n, mean(y) / n, mean(h) / n
    xx, yy, xy = mean(x * x) / n - mx**2, mean(y * y) / n - my**2, mean(x * y) / n - mx * my
    xh, yh = mean(x * h) / n - mx * mh, mean(y * h) / n - my * mh
    whole = xx * yy - xy**2
    good = whole > 1e-3 * size**2
    divisor = np.where(good, whole, 1.0)
    east, south = (xh * yy - yh * xy) / divisor, (yh * xx - xh * xy) / divisor
    plane = mh + east * (x - mx) + south * (y - my)
    return np.where(good, h - plane, 0.0)


def flat_cells(height: FloatArray, known: BoolArray, cell: float, slope: float) -> BoolArray:
    """Return which cells lie on ground less steep than `slope` over three cells."""
    low = minimum_filter(np.where(known, height, np.inf), size=3)
    high = maximum_filter(np.where(known, height, -np.inf), size=3)
    return np.asarray(known & (high - low < slope * 2 * np.sqrt(2) * cell))


def _start(
    drained: FloatArray,
    known: BoolArray,
    grid: Grid,
    near: tuple[float, float] | None,
    settings: RouteSettings,
) -> int:
    """Return the cell through which most drains: of all, or of those near a place."""
    if near is None:
        return int(np.argmax(drained))
    x, y = np.meshgrid(grid.x - near[0], grid.y - near[1])
    here = known & (np.hypot(x, y) <= settings.near_m)
    if not here.any():
        found = "it knows no ground at the place that was told"
        fix = "Bring the tile that holds it, or tell another place on the river"
        raise BuildError([Fault("terrain", found, fix)])
    return int(np.argmax(np.where(here, drained, -1.0)))
