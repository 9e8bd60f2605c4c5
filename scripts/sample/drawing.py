"""What the angler drew: river, banks and edges, traced from the true water by a human hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon, make_valid
from shapely.geometry.base import BaseGeometry

from reachmap.base.units import from_si
from reachmap.base.words import Cover, Side

from . import bed, cover, plan
from .line import Line
from .water import TrueWater

FloatArray = NDArray[np.float64]
Row = Mapping[str, Any]

VERTEX = 12.0
"""Distance of the drawn vertices of banks and edges [m]."""

OUTER = 55.0
"""How far beyond the bank tops the angler drew [m]."""

WATER_HAND, LAND_HAND = 0.6, 1.8
"""How far a drawn water's edge and a drawn border on land lie off, standard error [m]."""

BARS = (
    (Side.LEFT, 150, 470), (Side.RIGHT, 480, 905), (Side.LEFT, 900, 1345),
    (Side.LEFT, 1760, 2100), (Side.RIGHT, 2080, 2460),
)  # fmt: skip
"""Gravel bars drawn as such: side, stations."""


@dataclass(frozen=True, slots=True)
class Borders:
    """Borders along one side as drawn, at the same stations: offsets [m] from the water outwards.

    water's edge, bank top, beginnings of bands 1 and 2, outer limit.
    """

    station: FloatArray
    offsets: tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]


def river_rows(line: Line) -> list[Row]:
    """Return the river's lines: a vertex every 15 to 40 m, 2 to 5 m off."""
    rng = np.random.default_rng(51)
    main_at = np.cumsum(np.r_[0.0, rng.uniform(15, 40, 200)])
    main_at = np.r_[main_at[main_at < line.length - 10], line.length]
    off = rng.choice([-1.0, 1.0], main_at.size) * rng.uniform(2, 5, main_at.size)
    main = np.column_stack(line.place(main_at, off))
    begin, end = plan.SIDE_BEGIN - 12, plan.SIDE_END + 12
    side_at = np.r_[begin, np.arange(begin + 18, end - 10, 24.0), end]
    side_off = bed.side_offset(side_at) + rng.uniform(-2.5, 2.5, side_at.size)
    side_off[[0, -1]] = -9.0
    side = np.column_stack(line.place(side_at, side_off))
    return [
        {"name": plan.NAME, "part": "main", "geometry": LineString(main)},
        {"name": "Brushy side channel (invented)", "part": "side", "geometry": LineString(side)},
    ]


def drawn_borders(water: TrueWater, side: Side) -> Borders:
    """Return one side's borders as drawn."""
    sign = 1 if side is Side.LEFT else -1
    rng = np.random.default_rng(52 + (sign > 0))
    cuts = sorted({strip.begin for strip in cover.STRIPS if strip.side is side}
                  | {strip.end for strip in cover.STRIPS if strip.side is side}
                  | {float(s) for which, *ends in BARS if which is side for s in ends})  # fmt: skip
    even = np.arange(0.0, water.line.length, VERTEX)
    near_cut = np.abs(even[:, None] - np.array(cuts)[None, :]).min(axis=1) < VERTEX / 3
    station = np.unique(np.r_[even[~near_cut], cuts])
    edge, _ = water.edge(plan.TRACED_FLOW_CFS, station, sign)
    out = sign * edge + rng.normal(0, WATER_HAND, station.size)
    made = [out]
    lines = cover.band_edges(water.line, side)
    for border in lines:
        true = sign * np.interp(station, water.line.station, border)
        drawn = true + rng.normal(0, LAND_HAND, station.size)
        made.append(np.maximum(drawn, made[-1] + 1.5))
    top = sign * np.interp(station, water.line.station, lines[0])
    made.append(np.maximum(top + OUTER + rng.normal(0, LAND_HAND, station.size), made[-1] + 5))
    first, second, third, fourth, fifth = (sign * border for border in made)
    return Borders(station, (first, second, third, fourth, fifth))


def bank_rows(water: TrueWater) -> list[Row]:
    """Return the bank polygons, numbers in feet."""
    rows: list[Row] = []
    drawn = {side: drawn_borders(water, side) for side in (Side.LEFT, Side.RIGHT)}
    for side, borders in drawn.items():
        bars = [(begin, end) for which, begin, end in BARS if which is side]
        for begin, end in bars:
            rows.append(_piece(water, borders, (0, 1), (begin, end), (side, Cover.GRAVEL, 0.0)))
        for strip in cover.STRIPS:
            if strip.side is not side:
                continue
            beside = bars if strip.band == 0 else []
            for low, high, barred in _split(strip.begin, strip.end, beside):
                inner = strip.band + 1 if strip.band > 0 or barred else 0
                rows.append(_piece(water, borders, (inner, strip.band + 2), (low, high),
                                   (side, strip.cover, strip.height)))  # fmt: skip
    return rows + _island_rows(water, drawn[Side.RIGHT]) + _bar_rows(water)


def _split(
    begin: float, end: float, bars: Sequence[tuple[float, float]]
) -> list[tuple[float, float, bool]]:
    """Return a stretch cut at the bars' ends, each part with whether a bar lies before it."""
    cuts = sorted({begin, end} | {float(s) for bar in bars for s in bar if begin < s < end})
    return [
        (low, high, any(first <= (low + high) / 2 <= last for first, last in bars))
        for low, high in pairwise(cuts)
    ]


def _piece(
    water: TrueWater,
    borders: Borders,
    bands: tuple[int, int],
    stations: tuple[float, float],
    what: tuple[Side, Cover, float],
) -> Row:
    """Return one bank polygon between two borders and two stations."""
    use = (borders.station >= stations[0] - 1e-6) & (borders.station <= stations[1] + 1e-6)
    s = borders.station[use]
    # borders passed over leave their corner in the ends, where they meet a neighbour's
    inner, *passed, outer = (border[use] for border in borders.offsets[bands[0] : bands[1] + 1])
    ends = ([border[0] for border in passed], [border[-1] for border in passed])
    return _bank(water, (s, inner), (s, outer), what, ends=ends)


def _bank(
    water: TrueWater,
    inner: tuple[FloatArray, FloatArray],
    outer: tuple[FloatArray, FloatArray],
    what: tuple[Side, Cover, float],
    *,
    ends: tuple[Sequence[float], Sequence[float]] = ((), ()),
) -> dict[str, Any]:
    """Return a bank's row: the ring from its inner to its outer border, rise read at the outer.

    `ends` are offsets of corners between the two borders, at the upper and the lower end.
    """
    upper, lower = ends
    station = np.r_[inner[0], np.full(len(lower), inner[0][-1]), outer[0][::-1],
                    np.full(len(upper), inner[0][0])]  # fmt: skip
    offset = np.r_[inner[1], list(lower), outer[1][::-1], list(upper)[::-1]]
    ring = np.column_stack(water.line.place(station, offset))
    level = water.level_at(plan.TRACED_FLOW_CFS, outer[0])
    rise = float(np.nanmedian(water.bed_at(*outer) - level))
    side, kind, height = what
    return {
        "geometry": _whole(Polygon(ring)),
        "side": side.value,
        "cover": kind.value,
        "rise": _to_half(from_si(rise, "ft")),
        "cover_height": _to_half(from_si(height, "ft")),
        "note": "invented",
    }


def _island_rows(water: TrueWater, right: Borders) -> list[Row]:
    """Return the island, the brushy bed of its side channel and the bank beyond it."""
    begin, end = plan.ISLAND_STRETCH
    s = np.r_[np.arange(begin, end, VERTEX), end]
    rng = np.random.default_rng(55)

    def hand(size: float) -> FloatArray:
        return np.asarray(rng.normal(0, size, s.size))

    main = water.edge(plan.TRACED_FLOW_CFS, s, -1)[0] + hand(WATER_HAND)
    half = bed.side_half_width(s)
    near = np.minimum(bed.side_offset(s) + half + hand(1.0), main - 0.5)
    far = np.minimum(bed.side_offset(s) - half + hand(1.0), near - 4.0)
    dry = water.bed_at(s, bed.side_offset(s)) > water.level_at(plan.TRACED_FLOW_CFS, s)
    on = (s >= plan.SIDE_BEGIN + 6) & (s <= plan.SIDE_END - 6)
    brushy = on & dry & (s < plan.SIDE_END - 40)
    brushy = (s >= s[brushy].min()) & (s <= s[brushy].max())
    outer = np.minimum(far - 9.0 + hand(LAND_HAND), far - 2.0)
    top = np.interp(s, water.line.station, -bed.main_channel(water.line).right)
    limit: FloatArray = np.asarray(top - OUTER - 4.0)
    limit = np.asarray(np.minimum(limit, outer - 12.0))
    # where the side channel has not begun, or has ended, the bank begins at the main channel
    inner = np.where(on, far, main)
    corners = []
    for k, station in ((0, begin), (-1, end)):
        here = int(np.abs(right.station - station).argmin())
        inner[k], shoulder, outer[k], second, limit[k] = (
            float(border[here]) for border in right.offsets
        )
        corners.append((shoulder, second))
    ends = [([a], [b]) for a, b in zip(*corners, strict=True)]
    island = (Side.ISLAND, Cover.BRUSH, cover.ISLAND_BRUSH)
    island_row = _bank(water, (s[on], main[on]), (s[on], near[on]), island)
    middle = (main[on] + near[on]) / 2
    crown = np.nanmax(water.bed_at(s[on], middle) - water.level_at(plan.TRACED_FLOW_CFS, s[on]))
    island_row |= {"name": "the island", "rise": _to_half(from_si(float(crown), "ft"))}
    brush = (Side.RIGHT, Cover.BRUSH, cover.SIDE_BRUSH)
    bed_row = _bank(water, (s[brushy], near[brushy]), (s[brushy], far[brushy]), brush)
    bed_row["name"] = "bed of the side channel"
    brush = (Side.RIGHT, Cover.BRUSH, cover.ISLAND_BRUSH)
    trees = (Side.RIGHT, Cover.TREES, cover.FAR_TREES)
    return [
        island_row,
        bed_row,
        _bank(water, (s, inner), (s, outer), brush, ends=ends[0]),
        _bank(water, (s, outer), (s, limit), trees, ends=ends[1]),
    ]


def _bar_rows(water: TrueWater) -> list[Row]:
    """Return the low bar in the middle of a riffle as far as it stood out, traced by eye."""
    s, n = (part.ravel() for part in np.meshgrid(np.arange(2080.0, 2220.0), np.arange(-12.0, 18.0)))
    out = water.bed_at(s, n) - water.level_at(plan.TRACED_FLOW_CFS, s) > 0
    if out.sum() < 40:
        return []
    rng = np.random.default_rng(56)
    at = np.linspace(np.percentile(s[out], 2), np.percentile(s[out], 98), 7)
    near = [np.abs(s - one) < 8 for one in at]
    high = np.array([np.percentile(n[out & part], 95) for part in near])
    low = np.array([np.percentile(n[out & part], 5) for part in near])
    high += np.abs(rng.normal(0, 0.4, at.size)) + 0.3
    low -= np.abs(rng.normal(0, 0.4, at.size)) + 0.3
    row = _bank(water, (at, high), (at, low), (Side.ISLAND, Cover.GRAVEL, 0.0))
    top = np.nanmax((water.bed_at(s, n) - water.level_at(plan.TRACED_FLOW_CFS, s))[out])
    row |= {"name": "the low bar", "rise": round(from_si(float(top), "ft"), 1)}
    return [row]


def edge_rows(water: TrueWater) -> list[Row]:
    """Return the water's edges traced at two more flows; the higher one on a part of the reach."""
    rows: list[Row] = []
    days = ("invented, in spring", "invented, on the day after a storm")
    low, high = plan.EDGE_FLOWS_CFS
    whole = (0.0, water.line.length)
    for flow, (begin, end), day in zip(
        (low, high), (whole, plan.EDGES_HIGH_BETWEEN), days, strict=True
    ):
        rng = np.random.default_rng(int(flow))
        s = np.arange(begin, end, VERTEX)
        for side in (1, -1):
            edge, cut = water.edge(flow, s, side)
            drawn = edge + rng.normal(0, WATER_HAND, s.size)
            for part in np.split(np.arange(s.size), np.flatnonzero(cut)):
                part = part[~cut[part]]
                if part.size >= 4:
                    shape = LineString(np.column_stack(water.line.place(s[part], drawn[part])))
                    rows.append({"flow": float(flow), "date": day, "geometry": shape})
    return rows


def _whole(shape: Polygon) -> BaseGeometry:
    """Return a polygon that does not cross itself: the largest part where a hand crossed it."""
    if shape.is_valid:
        return shape
    parts = [
        part for part in getattr(make_valid(shape), "geoms", []) if part.geom_type == "Polygon"
    ]
    return max(parts, key=lambda part: part.area)


def _to_half(feet: float) -> float:
    """Return feet as one would write them down: to the half foot."""
    return round(feet * 2) / 2
