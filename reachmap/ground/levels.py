"""The water's level at any flow, from a standard-step profile over the bed as first made.

Only to give depths that were measured at some flow a height; the maps have their own flow field.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.physics import GRAVITY
from reachmap.base.resistance import unit_conveyance

BIN_WIDTHS = 1 / 3
"""Distance between the profile's sections, in widths (our choice)."""

TABLE_M = np.concatenate([np.arange(-2.0, 2.0, 0.05), np.arange(2.0, 8.01, 0.2)])
"""Heights above the low water at which sections are tabled [m]."""


@dataclass(frozen=True, slots=True)
class SectionTables:
    """Conveyance and area of sections over height.

    Parameters
    ----------
    station
        Of each section along the main line [m].
    low
        Low water there [m].
    conveyance, area
        (sections, len(TABLE_M)): sum of h^(5/3)/n dy [m3/s] and of h dy [m2].
    slope
        Mean slope of the low water.
    """

    station: FloatArray
    low: FloatArray
    conveyance: FloatArray
    area: FloatArray
    slope: float


def tabled(
    station: FloatArray,
    bed: FloatArray,
    roughness: FloatArray,
    use: BoolArray,
    low: tuple[FloatArray, FloatArray],
    sizes: tuple[float, float],
    stone_term: FloatArray | None = None,
) -> SectionTables:
    """Return tables of the cells' sections, side channels counted in.

    Each cell counts for the sections before and after it by how near it is, so that the raster's
    grain does not show in the sections' areas.

    Parameters
    ----------
    station
        Of the cells along the main line [m].
    bed, roughness
        At the cells; Manning's n in deep water.
    use
        Cells that take part.
    low
        Stations and levels of the low water along the main line.
    sizes
        Cell and width of the channel [m].
    stone_term
        Of the stones at the cells (`base.resistance`) [m^(5/3)]; None: there are none.
    """
    cell, width = sizes
    count = max(int(low[0][-1] / max(BIN_WIDTHS * width, 2 * cell)), 2) + 1
    nodes = np.linspace(low[0][0], low[0][-1], count)
    use = use & np.isfinite(bed) & (station >= nodes[0]) & (station <= nodes[-1])
    height = bed[use] - np.interp(station[use], *low)
    order = np.argsort(height)
    length = nodes[1] - nodes[0]
    place = (station[use][order] - nodes[0]) / length
    height, rough = height[order], roughness[use][order]
    stony = None if stone_term is None else stone_term[use][order]
    before = np.minimum(place.astype(np.int64), count - 2)
    part = place - before
    conveyance, area = np.zeros((2, count, len(TABLE_M)))
    for column, level in enumerate(TABLE_M):
        # Cells are sorted by height: those under water are the first ones.
        under = slice(0, int(np.searchsorted(height, level)))
        depth = level - height[under]
        carried = unit_conveyance(depth, rough[under], None if stony is None else stony[under])
        for into, values in ((area, depth), (conveyance, carried)):
            into[:, column] += np.bincount(before[under], values * (1 - part[under]), count)
            into[:, column] += np.bincount(before[under] + 1, values * part[under], count)
    scale = np.full((count, 1), cell**2 / length)
    scale[[0, -1]] *= 2  # half a stretch lies beside each end
    slope = max((low[1][0] - low[1][-1]) / (low[0][-1] - low[0][0]), 1e-5)
    return SectionTables(nodes, np.interp(nodes, *low), conveyance * scale, area * scale, slope)


def profile(tables: SectionTables, flow: float) -> FloatArray:
    """Return the level above the low water at each section [m] for a steady flow [m3/s].

    Standard step upstream: the energy lines of neighbouring sections differ by the friction slope
    of their mean conveyance, Sf = (2 Q / (K1 + K2))^2; normal depth at the foot. Levels stay at or
    above the critical one, at which the specific energy is least.
    """
    count = len(tables.station)
    level = np.empty(count)
    area = np.maximum(tables.area, 1e-6)
    head = np.minimum((flow / area) ** 2 / (2 * GRAVITY), 1e3)
    critical = np.argmin(TABLE_M + head, axis=1)
    level[-1] = float(np.interp(flow, tables.conveyance[-1] * np.sqrt(tables.slope), TABLE_M))
    level[-1] = max(level[-1], TABLE_M[critical[-1]])
    step = np.diff(tables.station)
    for row in range(count - 2, -1, -1):
        below = row + 1
        carry = float(np.interp(level[below], TABLE_M, tables.conveyance[below]))
        energy = level[below] + tables.low[below]
        energy += float(np.interp(level[below], TABLE_M, head[below]))
        first = critical[row]
        miss = TABLE_M[first:] + tables.low[row] + head[row, first:] - energy
        # Energy here less energy below and friction, at every tabled level at once.
        miss -= step[row] * (2 * flow / (carry + tables.conveyance[row, first:])) ** 2
        level[row] = _last_root(TABLE_M[first:], miss)
    return level


def _last_root(height: FloatArray, miss: FloatArray) -> float:
    """Return the highest height at which `miss` turns positive; the first where it always is."""
    # Below the root energy is wanting (miss < 0): the last such height and the next bracket it.
    low = np.flatnonzero(miss < 0)
    if not low.size:
        return float(height[0])
    at = min(int(low[-1]), len(height) - 2)
    share = -miss[at] / max(miss[at + 1] - miss[at], 1e-9)
    return float(height[at] + min(share, 1.0) * (height[at + 1] - height[at]))


@dataclass(frozen=True, slots=True)
class Anchor:
    """A known rise of the water above the low one: flow [m3/s] and rise over that computed."""

    flow: float
    ratio: float


@dataclass(frozen=True, slots=True)
class Levels:
    """How far the water stands above the low water, by flow and station.

    Parameters
    ----------
    tables
        Of the bed as first made.
    low_flow
        Discharge of the low water [m3/s].
    anchors
        Known rises, flows rising.
    """

    tables: SectionTables
    low_flow: float
    anchors: tuple[Anchor, ...] = ()

    def rise(self, flow: float, station: FloatArray) -> FloatArray:
        """Return the rise above the low water [m] at stations of the main line."""
        raw = profile(self.tables, flow) - profile(self.tables, self.low_flow)
        return np.interp(station, self.tables.station, raw) * self.ratio(flow)

    def ratio(self, flow: float) -> float:
        """Return by how much the computed rise is corrected at a flow."""
        if not self.anchors:
            return 1.0
        known = np.log([anchor.flow for anchor in self.anchors])
        return float(np.interp(np.log(flow), known, [anchor.ratio for anchor in self.anchors]))

    def anchored(
        self,
        known: Sequence[tuple[float, FloatArray, FloatArray]],
        rough: Sequence[tuple[float, FloatArray, FloatArray]] = (),
    ) -> Levels:
        """Return these levels corrected by known rises: (flow, stations, rise) each.

        The ratio of a `rough` one, seen at a few single places, is drawn towards 1 by how the
        variance of its logarithm compares with that of a computed rise.
        """
        anchors = []
        for number, (flow, station, rise) in enumerate([*known, *rough]):
            computed = self.rise(flow, station) / self.ratio(flow)
            if np.median(np.abs(computed)) > LEAST_RISE_M:
                ratio = float(np.median(rise) / np.median(computed))
                held = float(np.clip(ratio, *RATIO_RANGE))
                if number >= len(known):
                    error = SPOT_ERROR_M / float(np.median(computed)) / np.sqrt(len(rise))
                    held **= RISE_DOUBT**2 / (RISE_DOUBT**2 + error**2)
                anchors.append(Anchor(flow, held))
        anchors.sort(key=lambda anchor: anchor.flow)
        return Levels(self.tables, self.low_flow, tuple(anchors))


LEAST_RISE_M = 0.1
"""A known rise smaller than this corrects nothing [m] (our choice)."""

RATIO_RANGE = (0.5, 2.0)
"""A correction beyond this is not believed whole (our choice)."""

RISE_DOUBT = 0.2
"""Standard deviation of the logarithm of a computed rise (our choice, 0.1-0.3: Manning's n known to
a fifth moves a depth by an eighth)."""

SPOT_ERROR_M = 0.2
"""Standard error of a rise seen at one logged place [m]: some metres off on a bank of one in
twenty, and the DEM's own error (our choice, 0.1-0.4)."""
