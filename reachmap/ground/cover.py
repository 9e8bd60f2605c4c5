"""Land cover: codes on the raster, with roughness and height of the growth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray
from reachmap.base.words import COVER_CODES, Cover
from reachmap.ground.corridor import Corridor
from reachmap.markup.model import Bank, Standing

ROUGHNESS: dict[Cover, float] = {
    Cover.GRAVEL: 0.035,
    Cover.SAND: 0.030,
    Cover.GRASS: 0.035,
    Cover.BRUSH: 0.070,
    Cover.TREES: 0.100,
    Cover.ROCK: 0.050,
    Cover.CUTBANK: 0.040,
    Cover.BUILT: 0.035,
}
"""Manning's n of each cover, from the ranges of Chow (1959) table 5-6 as shipped in the package
`fluids` (`open_flow.n_natural`): gravel as a clean straight stream with more stones and weeds
(0.030/0.035/0.040); sand as a clean straight one (0.025/0.030/0.033); grass as pasture with high
grass (0.030/0.035/0.050); brush as medium to dense brush in winter (0.045/0.070/0.110); trees as a
heavy stand of timber (0.080/0.100/0.120); rock as a mountain stream with cobbles and large boulders
(0.040/0.050/0.070). Raw banks and walls: our choice, 0.03-0.05."""

UNKNOWN_ROUGHNESS = 0.05
"""Manning's n of unknown cover: between grass and brush (our choice)."""

HEIGHT_M: dict[Cover, float] = {
    Cover.GRAVEL: 0.0,
    Cover.SAND: 0.0,
    Cover.GRASS: 0.5,
    Cover.BRUSH: 3.0,
    Cover.TREES: 15.0,
    Cover.ROCK: 0.5,
    Cover.CUTBANK: 0.3,
    Cover.BUILT: 1.0,
}
"""Height of a cover where none is given [m] (our choice; the tall side of common, since a line that
clears it clears less). For cover no better figure than looking exists."""


def cover_heights(banks: Sequence[Bank]) -> FloatArray:
    """Return the height of each bank's cover above ground [m], given or typical."""
    return np.array(
        [
            HEIGHT_M[bank.cover] if np.isnan(bank.cover_height_m) else bank.cover_height_m
            for bank in banks
        ],
        dtype=np.float64,
    )


def cover_of_cells(
    bank: np.ndarray, channel_bed: BoolArray, banks: Sequence[Bank], channel_roughness: float
) -> tuple[CodeArray, FloatArray, FloatArray]:
    """Return cover code, Manning's n and height of cover of each cell.

    Parameters
    ----------
    bank
        Number of the bank polygon over each cell, from 1; 0 none.
    channel_bed
        Cells of the open channel: bare bed, taken as gravel.
    banks
        The polygons.
    channel_roughness
        Manning's n of the open channel [s/m^(1/3)].

    Returns
    -------
    tuple
        Codes of `COVER_CODES` (0 unknown); n [s/m^(1/3)]; height above ground [m], NaN unknown.
    """
    codes = np.array([0, *(COVER_CODES[one.cover] for one in banks)], dtype=np.uint8)
    rough = np.array([UNKNOWN_ROUGHNESS, *(ROUGHNESS[one.cover] for one in banks)])
    tall = np.r_[np.nan, cover_heights(banks)]
    bare = channel_bed & (bank == 0)
    code = np.where(bare, COVER_CODES[Cover.GRAVEL], codes[bank]).astype(np.uint8)
    roughness = np.where(bare, channel_roughness, rough[bank])
    return code, roughness, np.where(bare, 0.0, tall[bank])


def cells_of(corridor: Corridor, standing: Standing) -> np.ndarray:
    """Return the numbers of the cells a tree or rock stands on; at least the one that holds it.

    One whose size is not known stands on that cell alone.
    """
    grid, radius = corridor.grid, float(np.nan_to_num(standing.radius_m))
    reach = int(np.ceil(radius / grid.cell)) + 1
    row, col, held = grid.index(np.array([standing.place.x]), np.array([standing.place.y]))
    if not held[0]:
        return np.empty(0, dtype=np.int64)
    rows = np.arange(max(row[0] - reach, 0), min(row[0] + reach + 1, grid.shape[0]))
    cols = np.arange(max(col[0] - reach, 0), min(col[0] + reach + 1, grid.shape[1]))
    far = np.hypot(
        grid.x[cols][None, :] - standing.place.x, grid.y[rows][:, None] - standing.place.y
    )
    near = far <= radius
    near |= (rows[:, None] == row[0]) & (cols[None, :] == col[0])
    found = corridor.number[np.ix_(rows, cols)][near]
    return np.asarray(found[found >= 0], dtype=np.int64)
