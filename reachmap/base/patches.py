"""Patches of connected cells of a mask: what is joined to what, and how large they are."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from reachmap.base.arrays import BoolArray, IntArray

FOUR = ndimage.generate_binary_structure(2, 1)
"""Cells that share a side are connected."""
EIGHT = ndimage.generate_binary_structure(2, 2)
"""Cells that share a side or a corner are connected."""


def joined_to(seeds: BoolArray, mask: BoolArray, structure: BoolArray = FOUR) -> BoolArray:
    """Return the patches of `mask` that hold one of `seeds` or more; shapes (y, x)."""
    labels, count = ndimage.label(mask, structure)
    held = np.zeros(count + 1, dtype=bool)
    held[labels[seeds]] = True
    held[0] = False
    return np.asarray(held[labels])


def patch_sizes(mask: BoolArray, structure: BoolArray = FOUR) -> IntArray:
    """Return for each cell how many cells its patch has, 0 outside `mask`; shape (y, x)."""
    labels, _ = ndimage.label(mask, structure)
    sizes = np.bincount(labels.ravel())
    sizes[0] = 0
    return np.asarray(sizes[labels], dtype=np.int32)


def on_border(shape: tuple[int, ...]) -> BoolArray:
    """Return the outermost cells of a raster."""
    border = np.ones(shape, dtype=bool)
    border[1:-1, 1:-1] = False
    return border
