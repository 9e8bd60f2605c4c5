"""A river 35 m wide, slope 0.004, over four ledges of rock, with pools, shelves and boulders."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import xarray as xr
from scipy.ndimage import gaussian_filter1d

from reachmap.base.words import Cover
from scripts.sample.cover import ROUGHNESS
from scripts.sample.line import Bend, Line, bent_line
from scripts.sample.raster import Cells, Facts
from scripts.sample.shapes import Crest, eased, pool_riffle_profile, section_depth, window
from tests.reaches.laid import CRS, covered, ground_from
from tests.reaches.uneven import held_level, uneven

SLOPE = 0.004
HEAD = 90.0
HALF = 16.8
LOW_WATER = 0.4
"""Height of the low water over what holds it [m]."""
BANKFUL = 0.95
LEDGES_FLOWS = (9.0, 27.0, 80.0)
"""Low, middle and high flow [m3/s]."""

BENDS = (Bend(90, 0), Bend(210, 38), Bend(250, -60), Bend(270, 52), Bend(240, -44), Bend(170, 26),
         Bend(90, 0))  # fmt: skip


@dataclass(frozen=True)
class Ledge:
    """A ledge of rock from bank to bank.

    Station of its lip on the line, fall, length of the fall [m]; its lip lies `skew` metres farther
    down a metre to the left, and `vee` metres farther down a metre from the line (negative: up).
    """

    station: float
    fall: float
    run: float
    skew: float
    vee: float

    def lip(self, offset: np.ndarray) -> np.ndarray:
        """Return the lip's station at offsets from the line [m]."""
        return np.asarray(self.station + self.skew * offset + self.vee * np.abs(offset))


LEDGES = (Ledge(230, 0.80, 4.0, 0.40, 0.0), Ledge(520, 0.55, 3.0, 0.0, 0.48),
          Ledge(830, 1.00, 6.0, -0.46, 0.0), Ledge(1110, 0.70, 5.0, 0.0, -0.42))  # fmt: skip

RIFFLES = ((0, 0.0), (95, 0.6), (230, 0.7), (375, 1.05), (520, 0.6), (655, 1.05), (830, 0.8),
           (960, 1.1), (1110, 0.6), (1245, 1.1), (1320, 0.5))  # fmt: skip
"""Stations of crests, ledges' lips among them, and residual depth of the pool above each [m]."""

SCOUR = 0.65
"""How much deeper the pool is at a ledge's foot [m]."""


@dataclass(frozen=True)
class Shelf:
    """A flat shelf of bedrock: stations, side (+1 left), breadth from the bank, depth [m]."""

    begin: float
    end: float
    side: float
    breadth: float
    depth: float


SHELVES = (Shelf(255, 345, 1.0, 11.0, 0.45), Shelf(560, 625, -1.0, 13.0, 0.55),
           Shelf(860, 940, -1.0, 10.0, 0.40), Shelf(1135, 1215, 1.0, 12.0, 0.50))  # fmt: skip


class Rock(NamedTuple):
    """The ledges and shelves of a river."""

    ledges: tuple[Ledge, ...]
    shelves: tuple[Shelf, ...]


ROCK = Rock(LEDGES, SHELVES)

SLANTED = Rock(
    (Ledge(230, 0.60, 5.0, 0.0, -0.50), Ledge(520, 0.40, 5.0, 0.90, 0.0),
     Ledge(830, 0.70, 4.0, 0.20, 0.40), Ledge(1110, 0.50, 3.0, -0.30, 0.0)),
    (Shelf(245, 345, -1.0, 9.0, 0.35), Shelf(540, 630, -1.0, 13.0, 0.40),
     Shelf(845, 940, 1.0, 12.0, 0.35), Shelf(1125, 1200, 1.0, 9.0, 0.45)),
)  # fmt: skip
BROKEN = Rock(
    (Ledge(230, 0.45, 8.0, -0.60, 0.0), Ledge(520, 0.90, 4.0, 0.30, 0.20),
     Ledge(830, 0.35, 3.0, 0.0, -0.50), Ledge(1110, 0.60, 10.0, 0.50, 0.0)),
    (Shelf(250, 330, -1.0, 12.0, 0.40), Shelf(545, 640, 1.0, 11.0, 0.50),
     Shelf(850, 930, 1.0, 13.0, 0.45), Shelf(1130, 1215, -1.0, 11.0, 0.40)),
)  # fmt: skip
"""Other ledges and shelves in the same bends: rivers on which no rule was chosen."""

BOULDERS = 60
FINE = 0.5
"""Distance of the points at which a boulder's height is taken [m]."""

N = {**ROUGHNESS, Cover.GRAVEL: 0.040, Cover.ROCK: 0.035}
"""Bare rock as a smooth cut in rock: Chow (1959) table 5-6, 0.025/0.035/0.040 (from memory)."""


def ledges_line() -> Line:
    """Return the centreline."""
    return bent_line(BENDS, heading_deg=40.0, start=(490_000.0, 5_106_000.0))


def ledges_profile(station: np.ndarray, ledges: tuple[Ledge, ...] = LEDGES) -> np.ndarray:
    """Return the height of the deepest line [m], with every ledge straight across."""
    falls = sum(ledge.fall for ledge in ledges)
    gentle = SLOPE - falls / RIFFLES[-1][0]
    crests = [Crest(s, HEAD - gentle * s, pool) for s, pool in RIFFLES]
    height = pool_riffle_profile(crests, station)
    for ledge in ledges:
        past = station - ledge.station
        height = height - ledge.fall * eased(past, 0.0, ledge.run)
        height = height - SCOUR * window(past, ledge.run + 3, ledge.run + 16, 7.0)
    return np.asarray(height)


def straightened(
    station: np.ndarray, offset: np.ndarray, ledges: tuple[Ledge, ...] = LEDGES
) -> np.ndarray:
    """Return stations as if every ledge lay straight across the river [m]."""
    straight = np.array(station, dtype=np.float64)
    for ledge in ledges:
        shift = ledge.lip(np.clip(offset, -HALF, HALF)) - ledge.station
        straight = straight - shift * window(station - ledge.station, -12.0, 12.0, 26.0)
    return straight


def boulders(line: Line) -> np.ndarray:
    """Return the boulders: x, y, radius, height [m], shape (n, 4)."""
    rng = np.random.default_rng(324)
    station, share = rng.uniform(30, line.length - 30, BOULDERS), rng.uniform(-0.8, 0.8, BOULDERS)
    x, y = line.place(station, share * HALF)
    return np.column_stack([x, y, rng.uniform(0.5, 1.0, BOULDERS), rng.uniform(0.5, 1, BOULDERS)])


def boulder_height(cells: Cells, stones: np.ndarray) -> np.ndarray:
    """Return the mean height of boulders over each cell [m]: their bulk is kept at any size."""
    total = np.zeros(cells.shape)
    for x, y, radius, height in stones:
        reach = int(radius / FINE) + 2
        points = (np.arange(-reach, reach) + 0.5) * FINE
        east = np.round(x / FINE) * FINE + points[:, None]
        north = np.round(y / FINE) * FINE + points[None, :]
        away = np.hypot(east - x, north - y) / radius
        dome = height * np.sqrt(np.clip(1 - away**2, 0, 1))
        row = np.floor((cells.north - north) / cells.cell).astype(int)
        col = np.floor((east - cells.west) / cells.cell).astype(int)
        np.add.at(total, np.broadcast_arrays(row, col), dome * (FINE / cells.cell) ** 2)
    return np.asarray(total[cells.row, cells.col])


def ledges_ground(cell: float = 2.0, rock: Rock = ROCK) -> xr.Dataset:
    """Return the true ground of a river of ledges; `cell` divides 4 m."""
    line = ledges_line()
    along = line.station
    thread_along = ledges_profile(along, rock.ledges)
    low_along = held_level(thread_along) + LOW_WATER
    top_along = gaussian_filter1d(held_level(thread_along), 14.0) + BANKFUL
    bend_along = np.tanh(120.0 * np.interp(along - 12.0, along, line.curvature))
    half_along = HALF + 0.9 * np.sin(along / 37.0) + 0.5 * np.sin(along / 12.0)
    lips = [ledge.station for ledge in rock.ledges]
    stone_along = sum(window(along, lip - 6.0, lip + 8.0, 14.0) for lip in lips)
    stones = boulders(line)

    def formulas(cells: Cells, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        n = cells.offset
        s = straightened(cells.station, n, rock.ledges)
        bend, half, stone, thread, low, top = (
            np.interp(s, along, values)
            for values in (bend_along, half_along, stone_along, thread_along, low_along, top_along)
        )
        deepest = 0.5 + 0.22 * bend * (1 - stone)
        shape = section_depth((half - n) / (2 * half), deepest, 2.8 + 3.0 * stone)
        bed = top - (top - thread) * shape
        flat = np.zeros(s.shape)
        for shelf in rock.shelves:
            inward = np.clip(half, 0, None) - shelf.side * n
            on = window(s, shelf.begin, shelf.end, 6.0) * (
                1 - eased(inward, shelf.breadth, shelf.breadth + 1.8)
            )
            bed = bed + np.maximum(low - shelf.depth - bed, 0) * on
            flat = np.maximum(flat, on)
        out = np.abs(n) - half
        over = np.maximum(out, 0)
        bed = np.where(out > 0, top + 2.2 * np.tanh(over / 3.0) + 0.05 * over, bed)
        smooth = np.maximum(flat, stone)
        bed = bed + uneven(x, y, cells.station, n, 321) * (1 - 0.6 * smooth)
        bed = bed + boulder_height(cells, stones)
        return bed, covered(
            cells,
            [(smooth > 0.5, Cover.ROCK), (out > 2, Cover.BRUSH), (out > 6, Cover.TREES)],
        )

    width = 2 * half_along
    return ground_from(line, 46.0, cell, formulas, Facts(CRS, SLOPE, width, N))
