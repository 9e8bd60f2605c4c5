"""Hillshade of the ground: relief from the bed, tints from the cover."""

from __future__ import annotations

import io

import numpy as np
import xarray as xr
from PIL import Image
from scipy import ndimage

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray
from reachmap.base.grid import Grid
from reachmap.base.picture import MapPicture
from reachmap.base.shading import shade
from reachmap.outputs.webmap.page_grid import PageGrid

BARE, LOW_GROWTH, TALL_GROWTH = (236, 228, 208), (205, 209, 174), (158, 177, 141)
"""Tints of bare ground, of chest-high cover, and of trees."""

LOW_FROM_M, TALL_FROM_M = 0.5, 4.0
"""Heights of cover from which it is tinted as low and as tall [m] (our choice)."""

FADE_CELLS = 24
"""Width over which the picture fades out at the border of the known ground [cells]."""

QUALITY = 62
"""Quality of the picture's compression, 0 to 100."""


def relief(ground: xr.Dataset, *, coarser: int = 1) -> MapPicture:
    """Return the hillshade of the ground.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    coarser
        Number of project cells along the side of one picture cell.
    """
    thin = ground[["bed", "surface"]].isel(
        y=slice(None, None, coarser), x=slice(None, None, coarser)
    )
    cell = float(ground.attrs["cell"]) * coarser
    bed, surface = thin["bed"].to_numpy(), thin["surface"].to_numpy()
    bright = shade(bed, cell)
    picture = _tinted(bright, surface - bed)
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
    level = np.clip(0.45 + 0.82 * np.nan_to_num(bright, nan=0.7), 0.0, 1.08)[..., None]
    stands = np.nan_to_num(growth, nan=0.0)[..., None]
    low = np.where(stands >= LOW_FROM_M, LOW_GROWTH, BARE)
    tint = np.where(stands >= TALL_FROM_M, TALL_GROWTH, low)
    return np.clip(tint * level, 0, 255).astype(np.uint8)


def _fading(known: BoolArray) -> CodeArray:
    """Return the opacity of each cell: full where the ground is known, fading out to its border."""
    walled = np.pad(known, 1)
    inside = ndimage.distance_transform_cdt(walled, "chessboard")[1:-1, 1:-1]
    return np.asarray(np.clip(inside * (255.0 / FADE_CELLS), 0, 255), dtype=np.uint8)
