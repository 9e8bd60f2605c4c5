"""The ground as a shaded picture: relief from the bed, tints from what stands on it.

Contours run over all of it. Beyond the mapped ground the angler's terrain model is shaded on plain
paper: ground to find the way by, of which nothing else is known.
"""

from __future__ import annotations

import io

import numpy as np
import xarray as xr
from PIL import Image
from scipy import ndimage

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray
from reachmap.base.errors import MarkupError
from reachmap.base.grid import Grid
from reachmap.base.picture import MapPicture
from reachmap.base.shading import shade
from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.ground import read_dem
from reachmap.markup.model import Markup
from reachmap.outputs.webmap.page_grid import PageGrid

BARE, LOW_GROWTH, TALL_GROWTH = (236, 228, 208), (205, 209, 174), (158, 177, 141)
"""Tints of bare ground, of chest-high cover, and of trees."""

LOW_FROM_M, TALL_FROM_M = 0.5, 4.0
"""Heights of cover from which it is tinted as low and as tall [m] (our choice)."""

FADE_CELLS = 24
"""Width over which the picture fades out at the border of the known ground [cells]."""

BEYOND_M = 150.0
"""The terrain model is drawn this far beyond the mapped ground [m]; our choice, 50-300."""

PAPER_TINT, LINE = (240, 235, 221), (140, 104, 58)
"""Of ground beyond the mapped one, and of contours, laid half over the ground."""

SMOOTHED_M = 4.0
"""Spread over which heights are evened before contours are drawn [m]; our choice, 2-8."""

MOST_LINES = 12
"""Contours between the lowest and the highest ground shown, at most; our choice, 8-20."""

STEPS = {
    UnitSystem.US: tuple(to_si(step, "ft") for step in (5, 10, 20, 40, 100, 200)),
    UnitSystem.METRIC: (1.0, 2.0, 5.0, 10.0, 20.0, 50.0),
}
"""Intervals between contours [m]."""

QUALITY = 62
"""Quality of the picture's compression, 0 to 100."""


def beyond(ground: xr.Dataset, markup: Markup, *, coarser: int = 1) -> FloatArray | None:
    """Return heights of the terrain model around the mapped ground [m], in the picture's cells.

    NaN on the mapped ground, beyond `BEYOND_M` of it and where the model has none. None without a
    terrain model, or where its files cannot be read any more.
    """
    thin = _thinned(ground, coarser)
    if not markup.dems:
        return None
    try:
        height = read_dem(markup.dems, Grid.of(thin), markup.plan.dem).height
    except (MarkupError, OSError):
        return None
    known = np.isfinite(thin["bed"].to_numpy())
    cells = max(round(BEYOND_M / (float(ground.attrs["cell"]) * coarser)), 1)
    near = ndimage.distance_transform_cdt(~known, "chessboard") <= cells
    return np.where(near & ~known, height, np.nan)


def shown_heights(
    ground: xr.Dataset, around: FloatArray | None = None, *, coarser: int = 1
) -> FloatArray:
    """Return the heights that the picture shows [m]: the ground's, those around it elsewhere.

    Parameters
    ----------
    ground, around, coarser
        As for `relief`.
    """
    bed = _thinned(ground, coarser)["bed"].to_numpy()
    return bed if around is None else np.where(np.isfinite(bed), bed, around)


def interval(heights: FloatArray, units: UnitSystem) -> float:
    """Return the interval between contours over heights, both [m]; 0 where none is known."""
    if not np.isfinite(heights).any():
        return 0.0
    low, high = np.nanquantile(heights, [0.02, 0.98])
    fitting = (step for step in STEPS[units] if high - low <= MOST_LINES * step)
    return float(next(fitting, STEPS[units][-1]))


def contour_cells(heights: FloatArray, step: float, cell: float) -> BoolArray:
    """Return the cells through which a contour runs.

    Parameters
    ----------
    heights
        Shape (rows, columns) [m]; NaN where there are none.
    step
        Interval between contours [m].
    cell
        Side of a cell [m].
    """
    known = np.isfinite(heights)
    spread = SMOOTHED_M / cell
    weight = ndimage.gaussian_filter(known.astype(np.float64), spread)
    even = ndimage.gaussian_filter(np.where(known, heights, 0.0), spread)
    even = even / np.maximum(weight, 1e-6)
    band = np.floor(even / step)
    found = np.zeros(heights.shape, dtype=bool)
    found[:, :-1] |= (band[:, :-1] != band[:, 1:]) & known[:, 1:]
    found[:-1] |= (band[:-1] != band[1:]) & known[1:]
    return found & known


def _thinned(ground: xr.Dataset, coarser: int) -> xr.Dataset:
    """Return bed and surface in the picture's cells."""
    steps = slice(None, None, coarser)
    return ground[["bed", "surface"]].isel(y=steps, x=steps)


def relief(
    ground: xr.Dataset,
    *,
    coarser: int = 1,
    around: FloatArray | None = None,
    units: UnitSystem = UnitSystem.US,
) -> MapPicture:
    """Return the shaded picture of the ground.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    coarser
        How many project cells make the side of one picture cell.
    around
        Heights around the mapped ground, as `beyond` returns them.
    units
        Of the contours.
    """
    thin = _thinned(ground, coarser)
    cell = float(ground.attrs["cell"]) * coarser
    bed, surface = thin["bed"].to_numpy(), thin["surface"].to_numpy()
    heights = shown_heights(ground, around, coarser=coarser)
    bright = shade(heights, cell)
    picture = _tinted(bright, surface - bed)
    if around is not None:
        outside = np.isfinite(around)
        level = _lit(bright)[..., None]
        picture[outside] = np.clip(np.array(PAPER_TINT) * level, 0, 255)[outside]
    step = interval(heights, units)
    if step > 0:
        on_line = contour_cells(heights, step, cell)
        picture[on_line] = (picture[on_line].astype(np.uint16) + LINE) // 2
    known = _fading(np.isfinite(bright))
    page = PageGrid.over(Grid.of(thin))
    rows, columns, inside = page.whole()
    cover = np.where(inside, known[rows, columns], 0).astype(np.uint8)
    stream = io.BytesIO()
    image = Image.fromarray(np.dstack([picture[rows, columns], cover]))
    image.save(stream, "WEBP", quality=QUALITY, method=3)
    return MapPicture.on(page.grid, stream.getvalue())


def _tinted(bright: FloatArray, growth: FloatArray) -> CodeArray:
    """Return the picture in the project's grid, shape (rows, columns, 3)."""
    level = _lit(bright)[..., None]
    stands = np.nan_to_num(growth, nan=0.0)[..., None]
    low = np.where(stands >= LOW_FROM_M, LOW_GROWTH, BARE)
    tint = np.where(stands >= TALL_FROM_M, TALL_GROWTH, low)
    return np.clip(tint * level, 0, 255).astype(np.uint8)


def _lit(bright: FloatArray) -> FloatArray:
    """Return by how much a tint is lightened or darkened."""
    return np.asarray(np.clip(0.45 + 0.82 * np.nan_to_num(bright, nan=0.7), 0.0, 1.08))


def _fading(known: BoolArray) -> CodeArray:
    """Return the opacity of each cell: full where the ground is known, fading out to its border."""
    walled = np.pad(known, 1)
    inside = ndimage.distance_transform_cdt(walled, "chessboard")[1:-1, 1:-1]
    return np.asarray(np.clip(inside * (255.0 / FADE_CELLS), 0, 255), dtype=np.uint8)
