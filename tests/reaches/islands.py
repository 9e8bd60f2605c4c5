"""A river 45 m wide, slope 0.002, that splits round three wooded islands; a side channel wakes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from reachmap.base.words import Cover
from scripts.sample.cover import ROUGHNESS
from scripts.sample.line import Bend, Line, bent_line
from scripts.sample.raster import Cells, Facts
from scripts.sample.shapes import Crest, eased, knots, pool_riffle_profile, section_depth, window
from tests.reaches.laid import CRS, covered, ground_from
from tests.reaches.uneven import held_level, uneven

SLOPE = 0.002
HEAD = 60.0
HALF = 21.5
BANKFUL = 0.95
LOW_WATER = 0.63
"""Height of the low water over what holds it, the riffles' crests [m]."""
ISLANDS_FLOWS = (14.0, 40.0, 90.0)
"""Low, middle and high flow [m3/s]."""

BENDS = (Bend(130, 0), Bend(270, 34), Bend(310, -52), Bend(340, 46), Bend(240, -30),
         Bend(110, 0))  # fmt: skip


@dataclass(frozen=True)
class Island:
    """Stations of its head and foot, offset of its middle, breadth [m]."""

    head: float
    foot: float
    offset: float
    breadth: float

    def inward(self, station: np.ndarray, offset: np.ndarray) -> np.ndarray:
        """Return about how far within the island's foot a place lies [m], less than 0 outside."""
        half = (self.foot - self.head) / 2
        along = (station - self.head - half) / half
        across = (offset - self.offset) / (self.breadth / 2)
        return np.asarray((1 - np.hypot(along, across)) * self.breadth / 2)


ISLANDS = (Island(205, 295, 2.0, 18.0), Island(520, 640, -4.0, 22.0), Island(1115, 1255, 3.0, 25.0))
RISE = 1.2
"""Height of the islands over the low water [m]."""

RIFFLES = ((0, 0.0), (70, 0.5), (200, 0.6), (365, 1.2), (515, 0.7), (725, 1.4), (870, 1.0),
           (990, 0.9), (1110, 0.6), (1345, 1.5), (1400, 0.4))  # fmt: skip
"""Stations of the riffles' crests, residual depth of the pool above each [m]."""

CHUTE = ((742, -14.0), (775, -24.0), (830, -52.0), (930, -54.0), (985, -30.0), (1012, -16.0))
"""Stations and offsets of the side channel's middle [m]."""
CHUTE_HALF = 5.0
CHUTE_SILL = 0.15
"""Height of the side channel's floor over the low water [m]."""

N = {**ROUGHNESS, Cover.GRAVEL: 0.035}


def islands_line() -> Line:
    """Return the centreline, through the islands."""
    return bent_line(BENDS, heading_deg=-20.0, start=(478_000.0, 5_114_000.0))


def nearest_island(station: np.ndarray, offset: np.ndarray) -> np.ndarray:
    """Return how far within any island places lie [m], less than 0 outside."""
    return np.max([island.inward(station, offset) for island in ISLANDS], axis=0)


def chute_across(station: np.ndarray, offset: np.ndarray) -> np.ndarray:
    """Return the distance of places from the side channel's middle [m], inf past its ends."""
    away = np.abs(offset - knots(station, *CHUTE))
    return np.where((station > CHUTE[0][0]) & (station < CHUTE[-1][0]), away, np.inf)


def islands_ground(cell: float = 2.0) -> xr.Dataset:
    """Return the true ground of the river with islands; `cell` divides 4 m."""
    line = islands_line()
    along = line.station
    crests = [Crest(s, HEAD - SLOPE * s, pool) for s, pool in RIFFLES]
    thread_along = pool_riffle_profile(crests, along)
    low_along = held_level(thread_along) + LOW_WATER
    bend_along = np.tanh(150.0 * np.interp(along - 20.0, along, line.curvature))
    split_along = sum(window(along, isle.head + 10, isle.foot - 10, 55.0) for isle in ISLANDS)
    spread_along = sum(
        0.42 * isle.breadth * window(along, isle.head + 10, isle.foot - 10, 55.0)
        for isle in ISLANDS
    )
    half_along = HALF + spread_along + 1.0 * np.sin(along / 53.0) + 0.6 * np.sin(along / 17.0)

    def formulas(cells: Cells, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        s, n = cells.station, cells.offset
        bend, half, split, low, thread = (
            np.interp(s, along, values)
            for values in (bend_along, half_along, split_along, low_along, thread_along)
        )
        top = HEAD - SLOPE * s + BANKFUL
        deepest = 0.5 + 0.24 * bend * (1 - split)
        shape = section_depth((half - n) / (2 * half), deepest, 3.0 + 2.5 * split)
        bed = top - (top - thread) * shape
        for isle in ISLANDS:
            away = np.hypot((s - isle.foot - 14.0) / 16.0, (n - isle.offset) / 9.0)
            bed = bed - 0.55 * np.exp(-(away**2))
        out = np.abs(n) - half
        over = np.maximum(out, 0)
        bed = np.where(out > 0, top + 1.5 * np.tanh(over / 3.0) + 0.02 * over, bed)
        inner = nearest_island(s, n)
        bed = bed + (low + RISE - bed) * eased(inner, 0.0, 3.5)
        away = chute_across(s, n)
        bed = np.minimum(bed, low + CHUTE_SILL + 1.2 * (away / (CHUTE_HALF + 2.0)) ** 3)
        dry = (out > 0) | (inner > 1)
        bed = bed + uneven(x, y, s, n, 311) * np.where(dry, 0.4, 1.0)
        bare = (away < CHUTE_HALF) & (out > 0)
        return bed, covered(
            cells,
            [(out > 2, Cover.BRUSH), (out > 8, Cover.TREES), (inner > 1.5, Cover.BRUSH),
             (inner > 4, Cover.TREES), (bare, Cover.GRAVEL)],
        )  # fmt: skip

    width = 2 * half_along
    return ground_from(line, 78.0, cell, formulas, Facts(CRS, SLOPE, width, N))
