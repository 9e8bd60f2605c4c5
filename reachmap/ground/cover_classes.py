"""Classes of cover that have a roughness of their own, and which of them stand under water."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
import xarray as xr

from reachmap.base.arrays import CodeArray, FloatArray, IntArray
from reachmap.base.words import COVER_CODES, Cover

CHANNEL = COVER_CODES[Cover.GRAVEL]
"""Code of the channel's class. A bare bar belongs to it: the same stones, seen dry, which the river
moves from one to the other, and hardly any evidence separates the two."""

UNKNOWN_COVER = "unknown"
"""Name of the class of ground whose cover is unknown, code 0."""

CLASS_CODES: dict[str, int] = {UNKNOWN_COVER: 0} | {
    str(cover): code for cover, code in COVER_CODES.items() if code != CHANNEL
}
"""Code of each class beside the channel, by name: the words of cover, and `UNKNOWN_COVER`."""

NOTHING: Mapping[str, float] = MappingProxyType({})
"""No class has a number of its own."""


def by_cover(
    codes: CodeArray | IntArray, channel: float, covers: Mapping[str, float], other: float = 1.0
) -> FloatArray:
    """Return a number of each cell by its class of cover, in the shape of `codes`.

    Parameters
    ----------
    codes
        Of `COVER_CODES`, 0 unknown.
    channel
        The channel's number.
    covers
        Of classes by name.
    other
        Of classes that are not among them.
    """
    table = np.full(max(COVER_CODES.values()) + 1, other)
    table[CHANNEL] = channel
    for name, value in covers.items():
        table[CLASS_CODES[name]] = value
    return np.asarray(table[codes])


def wet_covers(ground: xr.Dataset, water: xr.Dataset) -> tuple[str, ...]:
    """Return the names of the classes that stand under water at any flow, the channel apart.

    Parameters
    ----------
    ground, water
        Datasets of the ground and of the flow stage on one raster.
    """
    wet = np.isfinite(water["depth"].to_numpy()).any(axis=0)
    found = np.unique(ground["cover"].to_numpy()[wet])
    return tuple(name for name, code in CLASS_CODES.items() if code in found)
