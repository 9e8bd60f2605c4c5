"""Patches of connected cells of a mask, what is joined to what, and the nearest cell of a mask.

The compiled searches are imported where they are called: the compiler takes longer to load than a
check of a drawing takes, and a check needs none of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from reachmap.base.arrays import BoolArray, FloatArray, IntArray

FOUR = ndimage.generate_binary_structure(2, 1)
"""Cells that share a side are connected."""
EIGHT = ndimage.generate_binary_structure(2, 2)
"""Cells that share a side or a corner are connected."""

RINGS = 32
"""Cells within which the nearest is looked for ring by ring; beyond, a transform of the whole
raster is the cheaper."""


def cells_of(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """Return rows and columns of the cells of a mask, shape (n,), in the order of the raster."""
    at = np.flatnonzero(mask)
    rows, cols = np.divmod(at, mask.shape[1])
    return rows.astype(np.int32), cols.astype(np.int32)


def disc(reach: float) -> BoolArray:
    """Return a disc of radius `reach` cells as a footprint; never less than the four neighbours."""
    radius = max(reach, 1.0)
    size = int(radius + 1e-9)
    rows, cols = np.mgrid[-size : size + 1, -size : size + 1]
    return np.asarray(np.hypot(rows, cols) <= radius + 1e-9)


def steps_in(footprint: BoolArray) -> tuple[IntArray, IntArray]:
    """Return rows and columns of a footprint's cells, counted from its middle, shape (n,)."""
    rows, cols = cells_of(footprint)
    middle_row, middle_col = (np.int32(size // 2) for size in footprint.shape)
    return rows - middle_row, cols - middle_col


def widened(mask: BoolArray) -> BoolArray:
    """Return the cells of a mask and those side by side with them; shape (y, x)."""
    wide = mask.copy()
    wide[1:] |= mask[:-1]
    wide[:-1] |= mask[1:]
    wide[:, 1:] |= mask[:, :-1]
    wide[:, :-1] |= mask[:, 1:]
    return wide


def narrowed(mask: BoolArray) -> BoolArray:
    """Return the cells of a mask all four of whose sides touch it; off the raster there is none."""
    inner = mask.copy()
    inner[1:] &= mask[:-1]
    inner[:-1] &= mask[1:]
    inner[:, 1:] &= mask[:, :-1]
    inner[:, :-1] &= mask[:, 1:]
    inner[[0, -1]] = False
    inner[:, [0, -1]] = False
    return inner


def joined_to(seeds: BoolArray, mask: BoolArray, structure: BoolArray = FOUR) -> BoolArray:
    """Return the patches of `mask` that hold one of `seeds` or more; shapes (y, x)."""
    from reachmap.base._kernels_cells import fill_from

    return np.asarray(fill_from(*cells_of(seeds & mask), mask, *steps_in(structure)))


def filled_from(cells: IntArray, mask: BoolArray, structure: BoolArray = FOUR) -> BoolArray:
    """Return the patches of `mask` that hold one of some cells or more; shape (y, x).

    `cells` are counted in the flattened raster, shape (n,); those outside `mask` hold nothing.
    """
    from reachmap.base._kernels_cells import fill_from

    rows, cols = (one.astype(np.int32) for one in np.divmod(cells, mask.shape[1]))
    return np.asarray(fill_from(rows, cols, mask, *steps_in(structure)))


def patch_sizes(mask: BoolArray, structure: BoolArray = FOUR) -> IntArray:
    """Return for each cell how many cells its patch has, 0 outside `mask`; shape (y, x)."""
    patches = Patches.of(mask, structure)
    return patches.sizes[patches.labels]


def nearest_cells(
    mask: BoolArray, rows: IntArray, cols: IntArray, reach: int | None = None
) -> tuple[FloatArray, IntArray, IntArray]:
    """Return how far the nearest cell of a mask lies from each of n cells, and its row and column.

    Parameters
    ----------
    mask
        Shape (y, x).
    rows, cols
        Cells of the same raster, shape (n,).
    reach
        How far to look [cells]; without a limit where not given.

    Returns
    -------
    away, row, col
        Distance between centres [cells]; inf, and the cell itself, where there is none in reach.

    Notes
    -----
    Of cells equally near the westernmost counts, then the northernmost: the choice of scipy's
    Euclidean distance transform, whose result this is for some cells of the raster.
    """
    from reachmap.base._kernels_cells import nearest_of

    rings = RINGS if reach is None else min(reach, RINGS)
    away, row, col = nearest_of(mask, rows, cols, rings)
    beyond = ~np.isfinite(away)
    if rings == reach or not beyond.any() or not mask.any():
        return away, row, col
    far, near = ndimage.distance_transform_edt(~mask, return_indices=True)
    beyond &= far[rows, cols] <= (np.inf if reach is None else reach)
    at = rows[beyond], cols[beyond]
    away[beyond], row[beyond], col[beyond] = far[at], near[0][at], near[1][at]
    return away, row, col


@dataclass(frozen=True, slots=True)
class Patches:
    """The patches of a mask, numbered once for several look-ups.

    Parameters
    ----------
    labels
        Number of the patch of each cell from 1, 0 outside the mask; shape (y, x).
    sizes
        Cells of each patch by its number; that of 0 is 0.
    """

    labels: IntArray
    sizes: IntArray

    @classmethod
    def of(cls, mask: BoolArray, structure: BoolArray = FOUR) -> Patches:
        """Return the patches of a mask."""
        labels, count = ndimage.label(mask, structure)
        sizes = np.bincount(labels.ravel(), minlength=count + 1)
        sizes[0] = 0
        return cls(np.asarray(labels, np.int32), np.asarray(sizes, np.int32))

    def holding(self, seeds: BoolArray) -> BoolArray:
        """Return which patches, by number, hold one of `seeds` or more; 0 never does."""
        held = np.zeros(self.sizes.size, dtype=bool)
        held[self.labels[seeds]] = True
        held[0] = False
        return held


def on_border(shape: tuple[int, ...]) -> BoolArray:
    """Return the outermost cells of a raster."""
    border = np.ones(shape, dtype=bool)
    border[1:-1, 1:-1] = False
    return border
