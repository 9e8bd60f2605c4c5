"""A lowland gravel river: one thread 30 to 35 m wide, slope 0.0012, tight bends, deep pools."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.words import Cover
from scripts.sample.cover import ROUGHNESS
from scripts.sample.line import Bend, Line, bent_line
from scripts.sample.raster import Cells, Facts
from scripts.sample.shapes import Crest, eased, pool_riffle_profile, section_depth
from tests.reaches.laid import CRS, covered, ground_from
from tests.reaches.uneven import uneven

SLOPE = 0.0012
HEAD = 40.0
HALF = 16.2
BANKFUL = 0.95
"""Height of the channel's rim over the riffles' crests [m]."""
BAR = 7.0
"""By how much a point bar widens the inside of a bend [m]."""
WINDING_FLOWS = (9.0, 28.0, 85.0)
"""Low, middle and high flow [m3/s]."""

BENDS = (Bend(70, 0), Bend(125, 48), Bend(155, -98), Bend(168, 110), Bend(150, -90), Bend(128, 75),
         Bend(165, -108), Bend(150, 95), Bend(132, -72), Bend(120, 44), Bend(80, 0))  # fmt: skip

POOLS = (0.7, 1.3, 1.75, 1.95, 1.6, 1.35, 1.95, 1.7, 1.2, 0.9, 0.6)
"""Residual depth of the pool of each bend [m]."""

N = {**ROUGHNESS, Cover.GRAVEL: 0.034}


def winding_line() -> Line:
    """Return the centreline."""
    return bent_line(BENDS, heading_deg=15.0, start=(482_000.0, 5_112_000.0))


def winding_crests() -> tuple[Crest, ...]:
    """Return the riffles' crests: one a crossing, a few metres past the bends' inflections."""
    ends = np.cumsum([0.0] + [bend.length for bend in BENDS])
    at = [0.0, *(ends[1:-1] + 6.0), ends[-1]]
    pools = (0.0, *POOLS)
    return tuple(
        Crest(float(s), HEAD - SLOPE * float(s), pool) for s, pool in zip(at, pools, strict=True)
    )


def winding_ground(cell: float = 2.0) -> xr.Dataset:
    """Return the true ground of the winding lowland river; `cell` divides 4 m."""
    line = winding_line()
    along = line.station
    # the deep water lies a little past the bend's middle
    bend_along = np.tanh(110.0 * np.interp(along - 12.0, along, line.curvature))
    half_along = HALF + 0.8 * np.sin(along / 41.0) + 0.5 * np.sin(along / 13.0)
    thread_along = pool_riffle_profile(winding_crests(), along)

    def formulas(cells: Cells, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        s, n = cells.station, cells.offset
        bend, half = np.interp(s, along, bend_along), np.interp(s, along, half_along)
        turn = np.abs(bend)
        left, right = half + BAR * np.clip(bend, 0, 1), half + BAR * np.clip(-bend, 0, 1)
        top = HEAD - SLOPE * s + BANKFUL
        across = (left - n) / (left + right)
        shape = section_depth(across, 0.5 + 0.34 * bend, 3.6 - 1.5 * turn)
        bed = top - (top - np.interp(s, along, thread_along)) * shape
        out = np.maximum(n - left, -n - right)
        outer = eased(-bend * np.sign(n), 0.1, 0.6)
        over = np.maximum(out, 0)
        cut, gentle = 1.7 * np.tanh(over / 0.8), 1.1 * np.tanh(over / 7.0)
        bed = np.where(out > 0, top + outer * cut + (1 - outer) * gentle + 0.03 * over, bed)
        bed = bed + uneven(x, y, s, n, 301) * np.where(out > 0, 0.4, 1.0)
        raw = (out > -0.5) & (out <= 2.5) & (outer > 0.5)
        return bed, covered(
            cells, [(out > 1.5, Cover.GRASS), (out > 4, Cover.BRUSH), (raw, Cover.CUTBANK)]
        )

    width = 2 * half_along
    return ground_from(line, 44.0, cell, formulas, Facts(CRS, SLOPE, width, N))
