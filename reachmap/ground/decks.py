"""Walls across a DEM's water: bridge decks are removed, longer walls are reported."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import label, median_filter

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.errors import Fault
from reachmap.base.patches import EIGHT
from reachmap.ground.dem import Dem
from reachmap.ground.layout import Layout
from reachmap.ground.sections import Sections
from reachmap.markup.evidence import Finding, Weight
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.model import Markup
from reachmap.markup.places import length_words, place_words

SLICES = (3, 20)
"""Least and most parts of the channel's width, about a cell each, of which a wall covers most."""

FLANK_SHARE = 0.5
"""Ground beside the water belongs to a wall from this share of its height on (our choice)."""

LOW_PERCENTILE = 20.0
"""Percentile of a row's heights that is taken as its water (our choice, 10-40)."""

BED_PERCENTILE = 90.0
"""The same where the DEM is said to know the bed: the water stands as high as the ground at its
edges, else a riffle would be a wall between two pools. Our choice, 80-95."""


@dataclass(frozen=True, slots=True)
class Wall:
    """Ground across the whole water of a channel, higher than the water.

    Parameters
    ----------
    channel
        Number of the channel.
    cells
        Numbers of the corridor's cells: within the drawn water, and joined to it beside.
    station
        Middle along its channel [m].
    length
        Along the river [m]: area within the water over the channel's width.
    rise
        Median height above the water [m].
    level
        Water's level there [m].
    """

    channel: int
    cells: np.ndarray
    station: float
    length: float
    rise: float
    level: float


def without_decks(
    layout: Layout, markup: Markup, dem: Dem | None, settings: EvidenceSettings
) -> tuple[Dem | None, list[Finding]]:
    """Return the DEM without the walls short enough to be bridge decks, and what was found.

    Where a deck stood the DEM knows nothing: water between the drawn edges, unknown ground beside.
    Nothing is taken out where reach.toml accepts "decks" as ground.

    Parameters
    ----------
    layout, markup
        The drawing.
    dem
        On the layout's grid; None without one.
    settings
        Thresholds.
    """
    if dem is None or dem.height.shape != layout.corridor.grid.shape:
        return dem, []
    seen = dem.height[layout.corridor.row, layout.corridor.col].astype(np.float64)
    walls = find_walls(layout, seen, settings, bed=markup.plan.dem.below_water)
    findings = [_finding(layout, markup, wall, settings) for wall in walls]
    if not walls or "decks" in markup.plan.accepted:
        return dem, findings
    height = dem.height.copy()
    for wall in walls:
        if wall.length <= settings.deck_length_m:
            height[layout.corridor.row[wall.cells], layout.corridor.col[wall.cells]] = np.nan
    return replace(dem, height=height), findings


def find_walls(
    layout: Layout, seen: FloatArray, settings: EvidenceSettings, *, bed: bool = False
) -> list[Wall]:
    """Return the walls across the drawn water, by channel and then downstream.

    Parameters
    ----------
    layout
        The drawing laid out.
    seen
        The DEM at the cells [m], NaN where it does not know.
    settings
        Thresholds.
    bed
        Whether the DEM is said to know the bed under water.
    """
    walls = []
    percentile = BED_PERCENTILE if bed else LOW_PERCENTILE
    for number, sections in enumerate(layout.sections):
        width = sections.channel.median_width
        window = max(settings.deck_window_widths * width, settings.deck_window_m)
        level = water_near(sections, seen, window, percentile)
        if level is None:
            continue
        mine = (layout.owner == number) & layout.along
        above = seen - np.interp(layout.station, sections.station, level)
        high = mine & (above > settings.deck_rise_m)
        pieces, count = label(layout.corridor.spread(high & layout.water, 0), EIGHT)
        piece = pieces[layout.corridor.row, layout.corridor.col]
        for one in range(1, count + 1):
            wall = _wall(layout, number, piece == one, (high, above), settings)
            if wall is not None:
                walls.append(replace(wall, level=_at(wall.station, sections.station, level)))
    return sorted(walls, key=lambda wall: (wall.channel, wall.station))


def water_near(
    sections: Sections, seen: FloatArray, window_m: float, percentile: float = LOW_PERCENTILE
) -> FloatArray | None:
    """Return the DEM's water along a channel [m], not raised by short walls; None where unknown.

    The running median, over `window_m` along the river, of a percentile of each row: a fall
    stays a fall, a wall shorter than half of the window vanishes.
    """
    inside = np.where(sections.within(), sections.sample(seen, np.nan), np.nan)
    known = np.isfinite(inside).any(axis=1)
    if known.sum() < 3:
        return None
    low = np.full(len(inside), np.nan)
    low[known] = np.nanpercentile(inside[known], percentile, axis=1)
    rows = np.arange(len(low))
    filled = np.interp(rows, rows[known], low[known])
    line = sections.channel.line
    size = 2 * int(window_m / line.step / 2) + 1
    return np.asarray(median_filter(filled, size=size, mode="nearest"))


def _wall(
    layout: Layout,
    number: int,
    cells: BoolArray,
    height: tuple[BoolArray, FloatArray],
    settings: EvidenceSettings,
) -> Wall | None:
    """Return a piece of high ground as a wall if it crosses the channel, else None."""
    channel = layout.channels[number]
    high, above = height
    station, offset = layout.station[cells], layout.offset[cells]
    left = np.interp(station, channel.line.station, channel.left)
    right = np.interp(station, channel.line.station, channel.right)
    width = left - right
    part = np.clip((offset - right) / width, 0.0, 1.0 - 1e-9)
    slices = int(np.clip(np.median(width) / layout.corridor.grid.cell, *SLICES))
    if np.unique((part * slices).astype(np.int64)).size < settings.deck_across * slices:
        return None
    length = float(cells.sum() * layout.corridor.grid.cell**2 / np.median(width))
    rise = float(np.median(above[cells]))
    whole = _joined(layout, cells, high & (above > rise * FLANK_SHARE))
    return Wall(
        number, np.flatnonzero(whole), float(np.median(station)), length, rise, float("nan")
    )


def _joined(layout: Layout, cells: BoolArray, high: BoolArray) -> BoolArray:
    """Return a wall's cells with the high ground beside the water, in line with it, it runs into.

    The wall's own line is the principal line of its cells in the water.
    """
    corridor = layout.corridor
    places = np.column_stack([corridor.x, corridor.y])
    middle = places[cells].mean(axis=0)
    _, vectors = np.linalg.eigh(np.cov((places[cells] - middle).T))
    away = np.abs((places - middle) @ vectors[:, 0])
    near = high & (away <= away[cells].max() + corridor.grid.cell / 2)
    return corridor.joined(near | cells, cells)


def _finding(layout: Layout, markup: Markup, wall: Wall, settings: EvidenceSettings) -> Finding:
    """Return what is reported of a wall."""
    units, channel = markup.plan.units, layout.channels[wall.channel]
    x, y = channel.line.from_station_offset(np.array([wall.station]), np.zeros(1))
    level, top = (length_words(h, units) for h in (wall.level, wall.level + wall.rise))
    where = f"DEM, {length_words(wall.station, units)} down {_line(wall.channel, channel.name)}"
    found = (
        f"its ground crosses the whole water {length_words(wall.rise, units)} above it ({top}, the "
        f"water above and below it {level}) along {length_words(wall.length, units)}, at "
        f"{place_words(float(x[0]), float(y[0]), markup.crs)}"
    )
    if wall.length <= settings.deck_length_m:
        fix = (
            "Most likely a bridge deck, or a log jam: it was taken out, its place is water between "
            "the drawn edges and unknown ground beside them. Mark a jam or a weir as a hazard"
        )
        return Finding("decks", Weight.WARNING, Fault(where, found, fix))
    fix = (
        "A dam, a slide, or a river line drawn across land? Correct the line or the banks there, "
        "or bring a DEM of bare ground; if it knows the bed under water say below_water = true "
        "under [dem]"
    )
    return Finding("decks", Weight.STOP, Fault(where, found, fix))


def _line(number: int, name: str) -> str:
    """Return which river line a place lies on."""
    return "the river line" if number == 0 else f"the side channel {name!r}"


def _at(station: float, stations: FloatArray, level: FloatArray) -> float:
    """Return a level at one station."""
    return float(np.interp(station, stations, level))
