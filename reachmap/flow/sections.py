"""Cross-sections from the raster: cells distributed along the station, tabulated by level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np
import xarray as xr
from scipy.ndimage import minimum_filter1d

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.errors import BuildError, Fault
from reachmap.base.packed import known_cells, values_at
from reachmap.base.resistance import resistance_at
from reachmap.flow import _kernels
from reachmap.flow.carry import SidedCells
from reachmap.flow.settings import FlowSettings

TABLE_ROWS = 96
"""Rows of a section's table up to `TABLE_HEIGHT`; higher ones have more, as close together. Our
choice: with it the level is off by less than 2 mm."""
TABLE_HEIGHT = 12.0
"""How high above the surface of a vanishing flow the tables go [m] where the water asked for stands
no higher (`table_height.py`). Our choice: a flood no one fishes, but in a canyon."""
Places: TypeAlias = np.ndarray[tuple[int], np.dtype[np.int64]]
STRETCH_LOW, STRETCH_HIGH = 0.4, 2.5
"""Limits of the station's gradient: beyond them a cell lies past the centre of a bend's circle."""


class SectionTables(NamedTuple):
    """Area, conveyance, width and energy coefficient of each section by level.

    All of shape (sections, rows) but `station` and `bottom`, shape (sections,).

    Parameters
    ----------
    station
        Metres downstream, rising, evenly spaced [m].
    bottom
        Lowest point [m].
    level
        Water level of each row, rising [m].
    area, conveyance, width
        Flow area [m2], K of Q = K sqrt(S) [m3/s], surface width [m].
    energy
        Energy coefficient alpha, >= 1.
    """

    station: FloatArray
    bottom: FloatArray
    level: FloatArray
    area: FloatArray
    conveyance: FloatArray
    width: FloatArray
    energy: FloatArray

    @property
    def step(self) -> float:
        """Return the distance between sections [m]."""
        return float(self.station[1] - self.station[0])


@dataclass(frozen=True, slots=True)
class CutGround:
    """The ground cut into sections: their tables, and the cells they are made of.

    Parameters
    ----------
    cells
        Cells between head and foot with a known bed, as rising indices into the raveled raster,
        shape (n,).
    along_x, along_y
        Gradient of the station towards east and north there [m/m], shape (n,).
    node, share
        Section at or above each of them, and how much of the cell belongs to the section below it,
        0 to 1, shape (n,).
    seeds
        Flat index into the raster of the lowest main-channel cell of each section, shape
        (sections,).
    tables
        The sections by level.
    cell
        Size of a cell [m].
    head, foot
        Stations of the ends [m].
    river_width
        Median width between the drawn banks [m].
    """

    cells: IntArray
    along_x: FloatArray
    along_y: FloatArray
    node: IntArray
    share: FloatArray
    seeds: Places
    tables: SectionTables
    cell: float
    head: float
    foot: float
    river_width: float


def sections_of(ground: xr.Dataset, settings: FlowSettings) -> CutGround:
    """Return the ground cut into sections; its cost grows with the cells whose station is known.

    Parameters
    ----------
    ground
        The ground stage's Dataset; `attrs["table_height"]`, if given, is how high the tables go
        above the surface of a vanishing flow [m].
    settings
        `section_step_m` and `sill_step_m` are used.

    Raises
    ------
    BuildError
        If the line is too short, or sections have no known bed between the banks.

    Notes
    -----
    A cell stands for a strip of its section as wide as cell^2 |grad station| / step, and is shared
    out between the sections above and below it by nearness. By the coarea formula the sum is then
    the mean of the true sections thereabouts, on bends too, and the raster's grain cancels out.
    """
    cells, station = known_cells(ground["station"])
    station = station.astype(np.float64)
    bed, offset = (values_at(ground[name], cells).astype(np.float64) for name in ("bed", "offset"))
    roughness, stone_term = resistance_at(ground, cells)
    cell = float(ground.attrs["cell"])
    line = Centreline.of(ground)
    head, foot = line.head, line.foot
    number = round((foot - head) / max(settings.section_step_m, 2 * cell))
    if number < 4:
        raise BuildError([_too_short(foot - head)])
    nodes = np.linspace(head, foot, number + 1)
    inside = np.isfinite(bed) & (station > head) & (station < foot)
    place = np.where(inside, (station - head) / (nodes[1] - nodes[0]), -1.0)
    node = np.clip(place[inside], 0, number - 1).astype(np.int32)
    channel = inside & (np.abs(offset) <= 0.5 * line.width(station))
    lowest, thalweg = _lowest(bed, np.where(channel, np.round(place), -1), nodes)
    listed = SidedCells.of(cells, (ground.sizes["y"], ground.sizes["x"]))
    height = float(ground.attrs.get("table_height", TABLE_HEIGHT))
    flood_level = _flood_levels(
        np.where(inside, bed, np.inf),
        station,
        listed.neighbours,
        lowest,
        nodes,
        thalweg,
        (settings.sill_step_m, height),
    )[inside]
    along_x, along_y = _gradient(station, listed, inside, cell)
    share: FloatArray = np.subtract(place[inside], node)
    stretch = np.hypot(along_x, along_y)
    slope = float(ground.attrs["slope"])
    step = float(nodes[1] - nodes[0])
    use = np.isfinite(flood_level)
    strips = _kernels.Strips(
        section=node[use],
        share=share[use],
        bed=bed[inside][use],
        flood_level=flood_level[use],
        width=cell**2 * stretch[use] / step,
        conductance=np.sqrt(stretch[use]) / roughness[inside][use],
        stone_term=np.zeros(int(use.sum())) if stone_term is None else stone_term[inside][use],
    )
    tables = _tables(strips, nodes, thalweg, slope * step if np.isfinite(slope) else 0.0, height)
    return CutGround(
        cells=cells[inside],
        along_x=along_x,
        along_y=along_y,
        node=node,
        share=share,
        seeds=cells[lowest].astype(np.int64),
        tables=tables,
        cell=cell,
        head=head,
        foot=foot,
        river_width=line.median_width,
    )


def _gradient(
    station: FloatArray, listed: SidedCells, wanted: BoolArray, cell: float
) -> tuple[FloatArray, FloatArray]:
    """Return the station's gradient east and north, smoothed and kept within sane limits."""
    around = np.append(station, np.nan)[listed.neighbours]  # -1, no neighbour, is the NaN
    ways = []
    for place, size, before, after in (
        (listed.cols, listed.number.shape[1], 0, 1),
        (listed.rows, listed.number.shape[0], 2, 3),
    ):
        first, last = place == 0, place == size - 1
        low = np.where(first, station, around[:, before])
        high = np.where(last, station, around[:, after])
        ways.append((high - low) / np.where(first | last, cell, 2 * cell))
    known = np.isfinite(ways[0]) & np.isfinite(ways[1])
    # Rows run south: the sign turns the gradient along rows into one towards north.
    right, down = np.where(known, ways[0], 0.0), np.where(known, -ways[1], 0.0)
    # Limited before smoothing, or one wild cell would bend its neighbours, and after it, since
    # opposite directions average to nearly nothing.
    right, down = _limited(right, down)
    fields = np.stack([known.astype(np.float64), right, down], axis=1)
    rows, cols = listed.rows[wanted], listed.cols[wanted]
    weight, east, up = _kernels.square_sums(listed.number, rows, cols, fields, 2).T
    weight = np.maximum(weight, 1e-6)
    return _limited(east / weight, up / weight)


def _limited(east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a gradient with its size kept between the limits; where it is 0 it stays so."""
    size = np.hypot(east, north)
    scale = np.clip(size, STRETCH_LOW, STRETCH_HIGH) / np.maximum(size, 1e-9)
    return east * scale, north * scale


def _lowest(bed: FloatArray, nearest: FloatArray, nodes: FloatArray) -> tuple[Places, FloatArray]:
    """Return the number and height of the lowest cell between the banks at each section."""
    listed = np.flatnonzero(nearest >= 0)
    order = listed[np.lexsort((bed[listed], nearest[listed]))]
    found, first = np.unique(nearest[order].astype(np.int64), return_index=True)
    if found.size < nodes.size:
        bare = np.setdiff1d(np.arange(nodes.size), found)
        raise BuildError([_no_bed(nodes[bare])])
    seeds = order[first].astype(np.int64)
    return seeds, bed[seeds]


def _flood_levels(
    bed: FloatArray,
    station: FloatArray,
    neighbours: IntArray,
    seeds: Places,
    nodes: FloatArray,
    thalweg: FloatArray,
    steps: tuple[float, float],
) -> FloatArray:
    """Return the level at which water from the main channel first floods each cell [m].

    The bed is taken against the water surface of a vanishing flow, which lies level behind each
    crest of the thalweg; a cell floods when the water stands above the lowest sill on its way. A
    bed of inf never floods. `steps` are the step of height and the highest level looked at [m].
    """
    step, height = steps
    still = np.interp(station, nodes, still_water(thalweg))
    above = bed - still
    low = float(above[seeds].min())
    rows = int((height - low) / step)
    # Heights in whole steps so that the flood is a bucket queue. The rounding shows only where a
    # sill stands above the cell itself: elsewhere the cell keeps its own height.
    rank = np.clip(np.ceil((np.minimum(above, 2 * height) - low) / step), 0, rows)
    sill = _kernels.sill_ranks(rank.astype(np.int32), neighbours, seeds, rows)
    flooded = np.where(sill > rank, low + sill * step, above)
    return np.asarray(np.where(sill < rows, still + flooded, np.inf))


def still_water(thalweg: FloatArray) -> FloatArray:
    """Return the surface of a vanishing flow: level behind each crest of the thalweg [m]."""
    return np.asarray(np.maximum.accumulate(thalweg[::-1])[::-1])


def _tables(
    strips: _kernels.Strips, nodes: FloatArray, thalweg: FloatArray, fall: float, height: float
) -> SectionTables:
    """Return the sections tabled by level up to a height; rows lie closer near the bottom."""
    # Lowest of three: each section takes shares of the cells up to its neighbours.
    bottom = minimum_filter1d(thalweg, 3)
    high = still_water(thalweg) - bottom + height
    # The gap between rows at a depth goes as the root of the height over the number of rows.
    rows = round(TABLE_ROWS * np.sqrt(height / TABLE_HEIGHT))
    part = (np.arange(rows) / (rows - 1)) ** 2
    level = bottom[:, None] + high[:, None] * part[None, :]
    return SectionTables(nodes, bottom, level, *_kernels.section_sums(strips, fall, level))


def _too_short(length: float) -> Fault:
    """Return the fault of a line too short for a profile."""
    return Fault(
        "river",
        f"the main line is {length:.0f} m long",
        "Draw at least some five river widths of it",
    )


def _no_bed(stations: FloatArray) -> Fault:
    """Return the fault of sections without a known bed."""
    return Fault(
        "bed",
        f"no height is known between the banks at {stations.size} sections, the first "
        f"{stations[0]:.0f} m down the line",
        "Give a DEM, soundings or bank polygons with rise there, or shorten the river line",
    )
