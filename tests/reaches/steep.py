"""A narrow steep river: 20 m wide, slope 0.008, steps of boulders with plunge pools between."""

from __future__ import annotations

import numpy as np
import xarray as xr

from reachmap.base.words import Cover
from scripts.sample.cover import ROUGHNESS
from scripts.sample.line import Bend, Line, bent_line
from scripts.sample.raster import Cells, Facts
from scripts.sample.shapes import eased, section_depth, wavy_ground
from tests.reaches.laid import CRS, covered, ground_from

SLOPE = 0.008
HEAD = 120.0
HALF = 9.0
STEEP_FLOWS = (3.0, 10.0, 25.0)
"""Low, middle and high flow [m3/s]."""

BENDS = (Bend(50, 0), Bend(95, 45), Bend(120, -75), Bend(85, 55), Bend(110, -50), Bend(130, 80),
         Bend(90, -45), Bend(60, 0))  # fmt: skip

STEPS = np.cumsum([35.0, 52, 61, 44, 70, 55, 48, 66, 50, 58, 63, 47, 54])
"""Stations of the steps' lips [m]: two to four widths apart."""

N = {**ROUGHNESS, Cover.GRAVEL: 0.050}
"""Cobbles and large boulders: Chow (1959) table 5-6, mountain streams, 0.040/0.050/0.070."""


def steep_line() -> Line:
    """Return the centreline."""
    return bent_line(BENDS, heading_deg=25.0, start=(484_000.0, 5_110_000.0))


def steep_profile(station: np.ndarray) -> np.ndarray:
    """Return the height of the deepest line [m]: tread, lip, fall over 4 m, plunge pool."""
    lips = STEPS
    number = np.clip(np.searchsorted(lips, station), 0, lips.size - 1)
    before = np.where(number > 0, lips[np.maximum(number - 1, 0)], 0.0)
    share = np.clip((station - before) / (lips[number] - before), 0, 1)
    level = HEAD - SLOPE * lips[number]
    above = HEAD - SLOPE * before
    fall = above + (level - above) * eased(station - before, 0.0, 5.0)
    pool = 0.55 * np.sin(np.pi * np.clip((share - 0.08) / 0.87, 0, 1)) ** 1.5
    past = np.maximum(station - lips[-1], 0)
    return np.where(station > lips[-1], HEAD - SLOPE * lips[-1] - SLOPE * past, fall - pool)


def steep_ground(cell: float = 2.0) -> xr.Dataset:
    """Return the true ground of the narrow steep river; `cell` divides 4 m."""
    line = steep_line()
    along = line.station
    bend_along = np.tanh(70.0 * np.interp(along - 10.0, along, line.curvature))
    half_along = HALF + 1.2 * np.sin(along / 37.0) + 0.7 * np.sin(along / 11.0)

    def formulas(cells: Cells, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        s, n = cells.station, cells.offset
        bend, half = np.interp(s, along, bend_along), np.interp(s, along, half_along)
        half_left, half_right = half + 2.0 * np.clip(bend, 0, 1), half + 2.0 * np.clip(-bend, 0, 1)
        top = HEAD - SLOPE * s + 1.15
        thread = np.interp(s, along, steep_profile(along))
        across = (half_left - n) / (half_left + half_right)
        bed = top - (top - thread) * section_depth(across, 0.5 + 0.22 * bend, np.full(s.shape, 2.6))
        out = np.maximum(n - half_left, -n - half_right)
        bed = np.where(out > 0, top + 2.5 * np.tanh(out / 5.0) + 0.05 * np.maximum(out, 0), bed)
        rough = np.where(out > 0, 0.10, 0.07)
        bed = bed + rough * wavy_ground(x, y, longest=9.0, shortest=2.5, seed=101)
        return bed, covered(cells, [(out > 1, Cover.BRUSH), (out > 6, Cover.TREES)])

    width = 2 * half_along + 2.0 * np.abs(bend_along)
    return ground_from(line, 38.0, cell, formulas, Facts(CRS, SLOPE, width, N))
