"""Source of each cell's bed elevation, and the confidence each source deserves."""

from __future__ import annotations

from enum import IntEnum

import numpy as np

from reachmap.base.arrays import FloatArray


class Source(IntEnum):
    """Evidence behind a cell's bed, weakest first; UNDRAWN: ground that may be water's surface."""

    NONE = 0
    FORM_DRAWN = 1
    FORM_SURFACE = 2
    ISLAND = 3
    RISE = 4
    EDGES = 5
    DEM = 6
    UNDRAWN = 7


TRUST: dict[Source, float] = {
    Source.NONE: 0.0,
    Source.FORM_DRAWN: 0.25,
    Source.FORM_SURFACE: 0.40,
    Source.ISLAND: 0.25,
    Source.RISE: 0.40,
    Source.EDGES: 0.50,
    Source.DEM: 0.90,
    Source.UNDRAWN: 0.10,
}
"""Confidence of each source, 0 to 1 (our choice, ordered by the error measured on made rivers)."""

SOUNDED = 0.85
"""Confidence at a sounding (our choice: next to a DEM on dry ground)."""


def confidence(source: np.ndarray, nearness: FloatArray) -> FloatArray:
    """Return how well each cell's bed is known, 0 to 1.

    Parameters
    ----------
    source
        Codes of `Source`.
    nearness
        Share of the bed's doubt that soundings take away, 0 to 1.
    """
    table = np.array([TRUST[Source(code)] for code in range(len(Source))])
    base = table[source]
    lifted = base + np.maximum(SOUNDED - base, 0) * nearness
    unseen = np.isin(source, (Source.NONE, Source.UNDRAWN))
    return np.asarray(np.where(unseen, base, lifted))
