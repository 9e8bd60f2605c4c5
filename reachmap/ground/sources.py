"""Source of each cell's bed elevation, and the confidence each source deserves."""

from __future__ import annotations

from enum import IntEnum

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray


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
        Share of the variance of the bed's error that soundings remove, 0 to 1.
    """
    table = np.array([TRUST[Source(code)] for code in range(len(Source))])
    base = table[source]
    lifted = base + np.maximum(SOUNDED - base, 0) * nearness
    unseen = np.isin(source, (Source.NONE, Source.UNDRAWN))
    return np.asarray(np.where(unseen, base, lifted))


def is_dem_ground(known: FloatArray) -> BoolArray:
    """Return where a confidence is that of ground a DEM saw dry."""
    return np.asarray(known >= TRUST[Source.DEM] - 1e-6)


def sounded_share(known: FloatArray, vertical: str) -> FloatArray:
    """Return the share of a form's variance that soundings removed, 0 to 1.

    The inverse of `confidence` for cells of a form.

    Parameters
    ----------
    known
        Confidence of the cells.
    vertical
        The ground's attribute of that name: "dem" where the form follows a DEM's water.
    """
    floor = TRUST[Source.FORM_SURFACE if vertical == "dem" else Source.FORM_DRAWN]
    return np.asarray(np.clip((known - floor) / (SOUNDED - floor), 0, 1))
