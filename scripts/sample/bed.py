"""The true bed of the made-up river: a formula of station and offset, plus small roughness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from . import plan
from .line import Line
from .raster import Cells
from .shapes import eased, knots, pool_riffle_profile, rough_ground, section_depth, window

FloatArray = NDArray[np.float64]

CORRIDOR = 132.0
"""Half width of the ground that is made [m]."""

BED_LAG = 35.0
"""How far downstream of the curve the bed answers it [m]."""


@dataclass(frozen=True, slots=True)
class Channel:
    """The main channel by station: bend strength (-1 to 1, left positive), half widths [m]."""

    station: FloatArray
    bend: FloatArray
    left: FloatArray
    right: FloatArray

    def at(self, station: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return bend, left and right half width at stations."""
        bend = np.interp(station, self.station, self.bend)
        left = np.interp(station, self.station, self.left)
        return bend, left, np.interp(station, self.station, self.right)

    @property
    def width(self) -> FloatArray:
        """Return the width between the bank tops along the line [m]."""
        return self.left + self.right


def main_channel(line: Line) -> Channel:
    """Return the main channel's plan form: the inside of a bend is wide and shoal."""
    s = line.station
    step = s[1] - s[0]
    lag = round(BED_LAG / step)
    late = np.r_[np.full(lag, line.curvature[0]), line.curvature[:-lag]]
    bend = np.tanh(150.0 * gaussian_filter1d(late, 25.0 / step, mode="nearest"))
    half = 28.5 + knots(s, *plan.WIDTH_WAVE) + 7.0 * window(s, 2105, 2175, 45)
    left = half + 13.0 * np.clip(bend, 0, 1) - np.clip(-bend, 0, 1)
    right = half + 13.0 * np.clip(-bend, 0, 1) - np.clip(bend, 0, 1)
    return Channel(s, np.asarray(bend), left, right)


def bank_full_level(station: FloatArray) -> FloatArray:
    """Return the height of the bank tops [m]."""
    return np.asarray(plan.HEAD_HEIGHT - plan.SLOPE * station + plan.BANK_FULL)


def true_bed(line: Line, cells: Cells) -> FloatArray:
    """Return the true bed at the cells [m]."""
    channel = main_channel(line)
    s, n = cells.station, cells.offset
    bend, left, right = channel.at(s)
    top = bank_full_level(s)
    # what depends on station alone is worked out along the line and looked up
    riffle = np.interp(s, line.station, _riffle(line.station))
    thread = np.interp(s, line.station, pool_riffle_profile(plan.crests(), line.station))
    across = (left - n) / (left + right)
    fullness = 2.1 + 1.6 * riffle * (1 - np.abs(bend))
    bed = top - (top - thread) * section_depth(across, 0.5 + 0.3 * bend, fullness)
    out = np.maximum(n - left, -n - right)
    bed = np.where(out > 0, top + _bank_rise(line, cells, out, bend), bed)
    bed = np.minimum(bed, _side_channel(line, s, n))
    bed = _riffle_bar(s, n, bed)
    bed = bed + _ledge(s, n) * (out <= 0)
    bed = _with_boulders(line, cells, bed)
    return bed + _roughness(cells, out, riffle)


def _riffle(station: FloatArray) -> FloatArray:
    """Return 1 on a riffle's crest and face, 0 in a pool."""
    found = np.zeros(station.shape)
    for crest in plan.crests():
        found = np.maximum(found, window(station, crest.station - 15, crest.station + 65, 60))
    return found


def _bank_rise(line: Line, cells: Cells, out: FloatArray, bend: FloatArray) -> FloatArray:
    """Return the ground beyond the bank tops above them [m].

    Raw outside a bend, a shelving bar inside it; on the right a timbered slope and a rock wall.
    """
    s, n = cells.station, cells.offset
    at = line.station
    right = n < 0
    timber = right * np.interp(s, at, window(at, 680, 1215, 100))
    rock = right * np.interp(s, at, window(at, 1840, 2010, 90))
    island = right * np.interp(s, at, window(at, 1345, 1680, 70))
    outer = np.clip(np.where(right, bend, -bend), 0, 1)
    inner = np.clip(np.where(right, -bend, bend), 0, 1)
    steep = 0.32 + 0.75 * eased(outer, 0.2, 0.6) - 0.22 * inner + 0.4 * timber + 1.2 * rock
    bench = 0.9 + 1.0 * outer + 0.2 * inner + 1.3 * timber + 1.5 * rock
    steep, bench = steep * (1 - 0.4 * island), bench * (1 - island) + 0.45 * island
    plain = 0.016 + 0.03 * timber + 0.02 * rock - 0.006 * island
    away = bench / steep
    bench_rise = bench * np.tanh(np.maximum(out, 0) / away)
    valley = 0.012 * np.maximum(out - 55, 0) ** 1.25
    return np.asarray(bench_rise + plain * np.maximum(out - away, 0) + valley)


def side_offset(station: FloatArray) -> FloatArray:
    """Return the offset of the side channel's middle [m]."""
    share = np.clip((station - plan.SIDE_BEGIN) / (plan.SIDE_END - plan.SIDE_BEGIN), 0, 1)
    return np.asarray(-23.0 - plan.SIDE_SWING * np.sin(np.pi * share) ** 1.1)


def side_half_width(station: FloatArray) -> FloatArray:
    """Return the half width of the side channel's bed [m]."""
    return knots(
        station,
        (plan.SIDE_BEGIN, 10.0),
        (plan.SIDE_BEGIN + 60, 7.0),
        (plan.SIDE_BEGIN + 200, 7.0),
        (plan.SIDE_END, 8.0),
    )


def _side_channel(line: Line, s: FloatArray, n: FloatArray) -> FloatArray:
    """Return the bed of the side channel and its banks [m]; far above all ground away from it."""
    begin, end = plan.SIDE_BEGIN, plan.SIDE_END
    sill = plan.mean_line(begin) + plan.SIDE_SILL_OVER_LINE
    foot = plan.mean_line(end) + plan.SIDE_FOOT_OVER_LINE
    at = line.station
    bottom = knots(at, (begin, sill - 0.10), (begin + 35, sill), (begin + 140, sill - 0.36),
                   (begin + 250, sill - 0.72), (end - 25, foot + 0.08), (end, foot))  # fmt: skip
    half = np.interp(s, at, side_half_width(at))
    away = np.abs(n - side_offset(s)) / half
    form = np.where(away < 1, 0.75 * away**2.4, 0.75 + (away - 1) * half * 0.30)
    beyond = np.maximum(begin - s, 0) + np.maximum(s - end, 0)
    ground = np.interp(s, at, bottom) + form + 0.22 * np.maximum(beyond - 4.0, 0)
    return np.where(beyond < 40, ground, 1e6)


def _riffle_bar(s: FloatArray, n: FloatArray, bed: FloatArray) -> FloatArray:
    """Return the bed with a low mid-channel bar on the riffle between the last two bends."""
    along, across = (s - 2150) / 52.0, (n - 3.0 - 0.06 * (s - 2150)) / 9.5
    crown = plan.HEAD_HEIGHT - plan.SLOPE * s + 0.62
    near = np.exp(-(np.abs(along) ** 3 + np.abs(across) ** 2.4))
    return np.where(near > 1e-3, bed + near * np.maximum(crown - bed, 0), bed)


def ledge_station(offset: FloatArray) -> FloatArray:
    """Return the station of the ledge's lip at offsets [m]: it lies oblique."""
    return np.asarray(926.0 + 0.22 * offset)


def _ledge(s: FloatArray, n: FloatArray) -> FloatArray:
    """Return the rock ledge on the third crest: a shelf that ends in a sudden step, a scour [m]."""
    lip = ledge_station(n)
    shelf = eased(s, 893.0, 915.0) * (1 - eased(s, lip - 1.2, lip + 1.2))
    scour = window(s, 930.0, 938.0, 6.0) * (s > lip)
    low, high = plan.LEDGE_OFFSETS
    return np.asarray((0.20 * shelf - 0.18 * scour) * window(n, low, high, 4.0))


@dataclass(frozen=True, slots=True)
class Boulder:
    """A boulder: place, radius, height above the bed about it [m]."""

    x: float
    y: float
    radius: float
    height: float


def boulders(line: Line) -> list[Boulder]:
    """Return the boulders."""
    rng = np.random.default_rng(41)
    found = []
    for count, stations, offsets in plan.BOULDER_FIELDS:
        for _ in range(count):
            s, n = rng.uniform(*stations), rng.uniform(*offsets)
            x, y = line.place(np.array([s]), np.array([n]))
            radius = rng.uniform(0.8, 1.8)
            height = radius * rng.uniform(0.55, 0.85)
            found.append(Boulder(float(x[0]), float(y[0]), radius, height))
    return found


def near_boulders(line: Line, cells: Cells) -> list[tuple[Boulder, NDArray[np.int64], FloatArray]]:
    """Return each boulder with the cells on it and their distance from its middle in radii."""
    number = np.full(cells.shape, -1)
    number[cells.row, cells.col] = np.arange(cells.row.size)
    found = []
    for boulder in boulders(line):
        reach = int(np.ceil(boulder.radius / cells.cell))
        row = int((cells.north - boulder.y) / cells.cell)
        col = int((boulder.x - cells.west) / cells.cell)
        rows = slice(max(row - reach, 0), row + reach + 1)
        cols = slice(max(col - reach, 0), col + reach + 1)
        away = np.hypot(cells.x[cols][None, :] - boulder.x, cells.y[rows][:, None] - boulder.y)
        on = (away < boulder.radius) & (number[rows, cols] >= 0)
        found.append((boulder, number[rows, cols][on], away[on] / boulder.radius))
    return found


def _with_boulders(line: Line, cells: Cells, bed: FloatArray) -> FloatArray:
    """Return the bed with the boulders on it."""
    raised = bed.copy()
    for boulder, on, away in near_boulders(line, cells):
        raised[on] += boulder.height * (1 - away**3)
    return raised


def _roughness(cells: Cells, out: FloatArray, riffle: FloatArray) -> FloatArray:
    """Return lumps [m]: about 3 cm of gravel in the channel, more on riffles and on land."""

    def lumps(scale: float, seed: int) -> FloatArray:
        return rough_ground(cells.shape, scale / cells.cell, seed)[cells.row, cells.col]

    size = np.where(out > 2, 0.05, 0.025 + 0.02 * riffle)
    fine = 0.85 * lumps(5.0, 1) + 0.5 * lumps(1.2, 2)
    return size * fine + 0.10 * lumps(40.0, 3) * eased(out, 2.0, 15.0)
