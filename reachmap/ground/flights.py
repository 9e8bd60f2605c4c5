"""One ground of several flights: the later counts, and two levels of water are never mixed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.ground.dem import Dem
from reachmap.ground.flights_compared import Compared, flight_findings
from reachmap.ground.layout import Layout
from reachmap.ground.low_water import channel_levels, level_at_cells
from reachmap.ground.settings import GroundSettings
from reachmap.ground.water_surface import find_water_surface, noise_on_water, wet_that_day
from reachmap.markup.dem_note import Flight
from reachmap.markup.evidence import Finding
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.model import Markup

FEWEST_ROWS = 3
"""Rows on which two flights see water, at least, before their levels are compared (our choice)."""


@dataclass(frozen=True, slots=True)
class FlightWater:
    """A flight on the corridor's cells, and the water it shows.

    Parameters
    ----------
    flight
        Its day and flow.
    height
        Ground, or water [m]; NaN where it does not know.
    wet
        Cells that were under water.
    level
        The water's level at the cells [m]; NaN where the flight shows no water.
    rows
        Rows of the main channel at which it knows the ground between the drawn edges.
    line_level
        The level at those rows [m], NaN at the others.
    """

    flight: Flight
    height: FloatArray
    wet: BoolArray
    level: FloatArray
    rows: BoolArray
    line_level: FloatArray

    @property
    def shows_water(self) -> bool:
        """Return whether it shows a water surface."""
        return bool(np.isfinite(self.line_level).any())


def one_ground(
    layout: Layout,
    markup: Markup,
    dem: Dem | None,
    settings: GroundSettings,
    rules: EvidenceSettings,
) -> tuple[Dem | None, list[Finding]]:
    """Return a DEM of several flights as one ground with one level of water, and what was found.

    At each cell the flight that counts first and was dry there gives the ground. Ground of an
    earlier flight above the level of a later one's water is gone. Where all were wet the cell
    carries the lowest water that a flight shows; the level of another flight is lowered to it by
    how far the two stand apart, between the drawn edges only: beyond them nobody saw the ground.
    Where the flight that counts first knows the bed, no water of another is taken for it.

    Parameters
    ----------
    layout, markup
        The drawing.
    dem
        On the layout's grid; None without one.
    settings
        Of the stage.
    rules
        Thresholds of the comparison.

    Returns
    -------
    Dem, findings
        The DEM with the flow of its water's day; as it came where it is of one flight.
    """
    if dem is None or not dem.flights:
        return dem, []
    corridor = layout.corridor
    seen = [
        _water_of(layout, one[corridor.row, corridor.col].astype(np.float64), flight, settings)
        for one, flight in zip(dem.flights, markup.plan.dem.flights, strict=True)
    ]
    base = _lowest(layout, seen, rules)
    apart = [_apart(layout, one, seen[base], rules) for one in seen]
    merged = merge(layout, seen, base, apart)
    height = dem.height.copy()
    height[corridor.row, corridor.col] = merged.astype(np.float32)
    flow = seen[base].flight.flow if seen[base].shows_water else dem.flow
    findings = flight_findings(Compared(layout, markup, seen, base, apart, rules))
    return replace(dem, height=height, flow=flow, flights=()), findings


def _water_of(
    layout: Layout, height: FloatArray, flight: Flight, settings: GroundSettings
) -> FlightWater:
    """Return a flight with the water it shows; none where it is said to know the bed."""
    sections = layout.sections[0]
    within = sections.within()
    known = np.isfinite(sections.sample(height, np.nan)) & within
    rows = known.sum(axis=1) > within.sum(axis=1) / 2
    found = None
    if not flight.below_water and rows.any():
        found = find_water_surface(
            sections, height, settings.water_tolerance_m, settings.surface, among=rows
        )
    if found is None:
        nothing = np.full(height.shape, np.nan)
        dry = np.zeros(height.shape, dtype=bool)
        return FlightWater(flight, height, dry, nothing, rows, np.full(rows.shape, np.nan))
    levels = channel_levels(layout, height, found.level, settings)
    level = level_at_cells(layout, levels)
    tolerance = noise_on_water(
        height, level, layout.water, settings.surface.least_noise_m, settings.water_tolerance_m
    )
    wet = wet_that_day(layout.corridor, height, level, layout.water, tolerance)
    line_level = np.where(rows, found.level, np.nan)
    return FlightWater(flight, height, wet & np.isfinite(height), level, rows, line_level)


def _lowest(layout: Layout, seen: Sequence[FlightWater], rules: EvidenceSettings) -> int:
    """Return which flight shows the lowest water, of those that show it along enough of the river.

    Enough is half of what the flight that shows most of it does; 0 where none shows water.
    """
    length = [int(np.isfinite(one.line_level).sum()) for one in seen]
    widest = int(np.argmax(length))
    apart = [_apart(layout, one, seen[widest], rules) for one in seen]
    fit = [k for k, one in enumerate(apart) if np.isfinite(one) and 2 * length[k] >= length[widest]]
    return min(fit, key=lambda k: (apart[k], k)) if fit else 0


def _apart(layout: Layout, one: FlightWater, base: FlightWater, rules: EvidenceSettings) -> float:
    """Return how far a flight's water stands above another's [m]; NaN where nothing tells.

    From the rows that both saw; else across the gap between the two, less the river's own fall.
    """
    if one is base:
        return 0.0 if one.shows_water else float("nan")
    both = np.isfinite(one.line_level) & np.isfinite(base.line_level)
    if both.sum() >= FEWEST_ROWS:
        return float(np.median((one.line_level - base.line_level)[both]))
    mine, others = (np.flatnonzero(np.isfinite(each.line_level)) for each in (one, base))
    if not mine.size or not others.size:
        return float("nan")
    station = layout.main.line.station
    gaps = np.abs(station[mine][:, None] - station[others][None, :])
    k, j = np.unravel_index(int(gaps.argmin()), gaps.shape)
    if gaps[k, j] > rules.flight_seam_widths * layout.main.median_width:
        return float("nan")
    ends = [(each[0], each[-1]) for each in (mine, others)]
    falls = [
        (level[first] - level[last]) / max(station[last] - station[first], 1.0)
        for level, (first, last) in zip((one.line_level, base.line_level), ends, strict=True)
    ]
    fall = max(float(np.mean(falls)), 0.0)
    down = float(station[mine[k]] - station[others[j]])
    return float(one.line_level[mine[k]] - base.line_level[others[j]] + fall * down)


def merge(
    layout: Layout, seen: Sequence[FlightWater], base: int, apart: Sequence[float]
) -> FloatArray:
    """Return the ground and lowest water at the cells [m], as `one_ground` tells.

    Parameters
    ----------
    layout
        The drawing laid out.
    seen
        The flights, the one that counts first first.
    base
        Place of the flight with the lowest water.
    apart
        How far each one's water stands above that [m]; NaN unknown.
    """
    watered = any(one.shows_water for one in seen)
    ground = np.full(layout.station.shape, np.nan)
    above = np.full(layout.station.shape, np.inf)  # lowest water of the flights that count before
    for one in seen:
        dry = np.isfinite(one.height) & ~one.wet
        if watered and not one.shows_water and not one.flight.below_water:
            dry &= ~layout.water  # between the drawn edges it may be water of an unknown level
        take = np.isnan(ground) & dry & (one.height <= above)
        ground[take] = one.height[take]
        above = np.where(one.wet, np.minimum(above, one.level), above)
    water = np.full(layout.station.shape, np.nan)
    if seen[0].flight.below_water:
        return ground
    for k in sorted(range(len(seen)), key=lambda k: k != base):
        one = seen[k]
        held = np.isnan(ground) & np.isnan(water) & one.wet
        if k == base:
            water[held] = one.height[held]
        elif np.isfinite(apart[k]):
            held &= layout.water
            water[held] = one.level[held] - apart[k]
    return np.where(np.isnan(ground), water, ground)
