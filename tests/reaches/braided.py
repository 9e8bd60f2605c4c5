"""A wide braided river: a belt 120 m wide, slope 0.003, threads that part and join round bars."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.words import Cover
from scripts.sample.cover import ROUGHNESS
from scripts.sample.line import Bend, Line, bent_line
from scripts.sample.raster import Cells, Facts
from scripts.sample.shapes import wavy_ground
from tests.reaches.laid import CRS, covered, ground_from

SLOPE = 0.003
HEAD = 80.0
HALF = 60.0
BRAIDED_FLOWS = (15.0, 60.0, 180.0)
"""Low, middle and high flow [m3/s]."""

BENDS = (Bend(150, 0), Bend(500, 28), Bend(600, -40), Bend(450, 24), Bend(100, 0))

THREADS = ((34.0, 540.0, 0.3, 13.0, 1.05), (38.0, 700.0, 2.4, 11.0, 0.90),
           (30.0, 430.0, 4.1, 8.0, 0.70), (44.0, 880.0, 5.5, 7.0, 0.55))  # fmt: skip
"""Threads: swing [m], wavelength [m], phase [rad], half width [m], depth [m]."""

N = {**ROUGHNESS, Cover.GRAVEL: 0.033}


def braided_line() -> Line:
    """Return the belt's centreline."""
    return bent_line(BENDS, heading_deg=-30.0, start=(486_000.0, 5_108_000.0))


def braided_ground(cell: float = 2.0) -> xr.Dataset:
    """Return the true ground of the wide braided river; `cell` divides 4 m."""
    line = braided_line()

    def formulas(cells: Cells, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        s, n = cells.station, cells.offset
        carved = np.zeros(s.shape)
        for swing, wavelength, phase, half, deep in THREADS:
            turn = 2 * np.pi * s / wavelength + phase
            middle = swing * np.sin(turn) + 0.12 * swing * np.sin(2.3 * turn)
            # each thread deepens in its bends and shoals where it crosses over
            local = deep * (1 + 0.30 * np.cos(2 * turn + 0.6))
            carved = np.hypot(carved, local * np.exp(-(np.abs((n - middle) / half) ** 2.5)))
        bars = 0.22 * wavy_ground(x, y, longest=160.0, shortest=45.0, seed=201)
        top = HEAD - SLOPE * s
        bed = top + bars - carved
        out = np.abs(n) - HALF
        bank = top + 0.4 + 1.6 * np.tanh(np.maximum(out, 0) / 3.0) + 0.03 * np.maximum(out, 0)
        share = np.clip((out + 6.0) / 8.0, 0, 1)
        bed = bed * (1 - share) + bank * share
        bed = bed + 0.03 * wavy_ground(x, y, longest=9.0, shortest=2.5, seed=202)
        grown = (np.abs(n) < HALF - 8) & (bars > 0.33) & (carved < 0.1)
        return bed, covered(
            cells, [(grown, Cover.BRUSH), (out > 2, Cover.GRASS), (out > 12, Cover.TREES)]
        )

    width = np.full(line.station.shape, 2 * HALF)
    return ground_from(line, HALF + 45.0, cell, formulas, Facts(CRS, SLOPE, width, N))
