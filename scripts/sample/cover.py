"""What truly grows and lies along the made-up river, where, how high, how rough."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from reachmap.base.words import COVER_CODES, Cover, Side

from . import bed, plan
from .line import Line
from .raster import Cells

FloatArray = NDArray[np.float64]

Putter: TypeAlias = Callable[[NDArray[np.bool_], Cover, float], None]
"""Puts a cover of a height where a mask says."""

ROUGHNESS: dict[Cover, float] = {
    Cover.GRAVEL: 0.037,
    Cover.SAND: 0.030,
    Cover.GRASS: 0.040,
    Cover.BRUSH: 0.080,
    Cover.TREES: 0.100,
    Cover.ROCK: 0.050,
    Cover.CUTBANK: 0.045,
    Cover.BUILT: 0.030,
}
"""True Manning's n of each cover [s/m^(1/3)].

Within the ranges of Chow (1959), table 5-6, as shipped in the package `fluids`: gravel as a
straight stream with more stones, sand as a clean one, grass as high grass, brush as medium to dense
brush in winter, trees as a heavy stand of timber, rock as a mountain stream with large boulders;
raw banks and walls are our choice. Gravel, grass, brush and raw banks are on purpose not what a
mapper would take without being told.
"""


@dataclass(frozen=True, slots=True)
class Strip:
    """One kind of cover along one bank: from station to station, from one band's edge outwards.

    `band` counts from the channel: 0 begins at the bank tops, 1 and 2 farther out; `height` is the
    cover's [m].
    """

    side: Side
    band: int
    begin: float
    end: float
    cover: Cover
    height: float


L, R = Side.LEFT, Side.RIGHT
LENGTH = 2630.0

STRIPS = (
    Strip(L, 0, 0, 470, Cover.GRASS, 0.5),
    Strip(L, 0, 470, 900, Cover.CUTBANK, 0.2),
    Strip(L, 0, 900, 1345, Cover.GRASS, 0.5),
    Strip(L, 0, 1345, 1760, Cover.BRUSH, 3.0),
    Strip(L, 0, 1760, 2100, Cover.SAND, 0.0),
    Strip(L, 0, 2100, 2430, Cover.CUTBANK, 0.2),
    Strip(L, 0, 2430, LENGTH, Cover.ROCK, 0.3),
    Strip(L, 1, 0, 470, Cover.GRASS, 0.6),
    Strip(L, 1, 470, 900, Cover.GRASS, 0.6),
    Strip(L, 1, 900, 1345, Cover.GRASS, 0.6),
    Strip(L, 1, 1345, 1760, Cover.TREES, 14.0),
    Strip(L, 1, 1760, 2100, Cover.GRASS, 0.6),
    Strip(L, 1, 2100, LENGTH, Cover.TREES, 16.0),
    Strip(L, 2, 0, 900, Cover.BRUSH, 2.5),
    Strip(L, 2, 900, 1345, Cover.GRASS, 0.5),
    Strip(L, 2, 1345, LENGTH, Cover.TREES, 16.0),
    Strip(R, 0, 0, 480, Cover.BRUSH, 2.5),
    Strip(R, 0, 480, 905, Cover.TREES, 18.0),
    Strip(R, 0, 905, 1305, Cover.TREES, 20.0),
    Strip(R, 0, 1715, 2080, Cover.ROCK, 0.4),
    Strip(R, 0, 2080, 2460, Cover.GRASS, 0.5),
    Strip(R, 0, 2460, LENGTH, Cover.BRUSH, 2.0),
    Strip(R, 1, 0, 480, Cover.TREES, 12.0),
    Strip(R, 1, 480, 1305, Cover.TREES, 20.0),
    Strip(R, 1, 1715, 2080, Cover.TREES, 15.0),
    Strip(R, 1, 2080, 2460, Cover.GRASS, 0.6),
    Strip(R, 1, 2460, LENGTH, Cover.BRUSH, 3.0),
    Strip(R, 2, 0, 1305, Cover.TREES, 20.0),
    Strip(R, 2, 1715, LENGTH, Cover.TREES, 15.0),
)
"""Both banks but for the island's stretch on the right, which `_island` tells."""

BAND_WIDTHS = {L: (9.0, 26.0), R: (5.0, 24.0)}
"""Where bands 1 and 2 begin, outwards from the bank tops [m]."""

ISLAND_BRUSH, ISLAND_TREES, SIDE_BRUSH, FAR_TREES = 3.0, 9.0, 1.8, 14.0
"""Heights of cover on the island, in the side channel, and beyond it [m]."""


def band_edges(line: Line, side: Side) -> list[FloatArray]:
    """Return the offsets of the bank top and of the beginnings of bands 1 and 2 along the line [m].

    The borders of cover wander a little, as they do.
    """
    channel = bed.main_channel(line)
    s = line.station
    top = channel.left if side is Side.LEFT else channel.right
    sign = 1.0 if side is Side.LEFT else -1.0
    sway = 1.2 * np.sin(s / 23.0 + sign) + 0.8 * np.sin(s / 9.0)
    first, second = BAND_WIDTHS[side]
    return [sign * top, sign * (top + first + sway), sign * (top + second + 2 * sway)]


def true_cover(line: Line, cells: Cells) -> tuple[NDArray[np.uint8], FloatArray]:
    """Return the cover's code and height [m] at the cells."""
    s, n = cells.station, cells.offset
    code = np.full(s.shape, COVER_CODES[Cover.GRAVEL], dtype=np.uint8)
    tall = np.zeros(s.shape)

    def put(where: NDArray[np.bool_], cover: Cover, height: float) -> None:
        code[where] = COVER_CODES[cover]
        tall[where] = height

    for strip in STRIPS:
        sign = 1.0 if strip.side is Side.LEFT else -1.0
        edges = [sign * np.interp(s, line.station, edge) for edge in band_edges(line, strip.side)]
        outer = edges[strip.band + 1] if strip.band < 2 else np.full(s.shape, np.inf)
        in_band = (sign * n > edges[strip.band]) & (sign * n <= outer)
        put(in_band & (s >= strip.begin) & (s < strip.end), strip.cover, strip.height)
    _island(line, cells, put)
    for _, on, _ in bed.near_boulders(line, cells):
        put(np.isin(np.arange(s.size), on), Cover.ROCK, 0.0)
    for at, off, height, crown in plan.SINGLE_TREES:
        put(np.hypot(s - at, n - off) <= crown / 2, Cover.TREES, height)
    lip = bed.ledge_station(n)
    low, high = plan.LEDGE_OFFSETS
    put((n > low) & (n < high) & (s > 900) & (s < lip + 2), Cover.ROCK, 0.0)
    return code, tall


def _island(line: Line, cells: Cells, put: Putter) -> None:
    """Put the cover of the island, of its side channel and of the ground beyond it."""
    s, n = cells.station, cells.offset
    _, _, right = bed.main_channel(line).at(s)
    middle = bed.side_offset(s)
    half = np.interp(s, line.station, bed.side_half_width(line.station))
    begin, end = plan.ISLAND_STRETCH
    along = (s >= begin) & (s < end)
    in_side = (s >= plan.SIDE_BEGIN) & (s <= plan.SIDE_END) & (np.abs(n - middle) < half)
    put(along & (n < -right), Cover.TREES, FAR_TREES)
    island = along & (n < -right) & (n > middle)
    put(island, Cover.BRUSH, ISLAND_BRUSH)
    put(island & (s > 1440) & (s < 1600) & (n > middle + half + 4) & (n < -right - 7),
        Cover.TREES, ISLAND_TREES)  # fmt: skip
    put(along & (n <= middle) & (n > middle - half - 6), Cover.BRUSH, ISLAND_BRUSH)
    put(in_side & (n < -right + 2), Cover.BRUSH, SIDE_BRUSH)
