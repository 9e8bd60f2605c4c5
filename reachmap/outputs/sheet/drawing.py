"""The small map of one run for a pocket sheet: black, white and hatch, no grey, for copiers."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from reachmap.base.centreline import Centreline
from reachmap.base.language import tr
from reachmap.outputs.palette import Pattern
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.hatch import hatch_dots, hatch_lines
from reachmap.outputs.sheet.signs import (
    INK,
    LETTER_PX,
    PAPER,
    Spots,
    access_and_hazards,
    map_spots,
    north,
    path_data,
    scale_bar,
    word_at,
)
from reachmap.outputs.sheet.strips import Strip
from reachmap.outputs.sheet.walked import Walked
from reachmap.outputs.sheet.water import SmoothWater, smooth_water

ROUND_PX = 16.0
"""Margin around what a map must show [px]."""

LEAST_SPAN_M = 60.0
"""Least extent of a map [m], so that the surroundings are visible; our choice, 40-100."""


@dataclass(frozen=True, slots=True)
class Hatching:
    """Fill of an area: pattern, gap and width of its strokes, or radius of its dots [px]."""

    pattern: Pattern
    gap: float
    ink: float


APART_PX = 11.0
"""Least distance between places to stand on the paper; nearer ones are drawn as one [px]."""

MARKED_PX2 = 500.0
"""Least area of unknown water that carries a question mark [px2]."""

STEPS = (
    Hatching(Pattern.DOTS, 6.0, 1.0),
    Hatching(Pattern.LEVEL, 6.0, 0.7),
    Hatching(Pattern.LEVEL, 2.6, 0.8),
)
"""Hatchings by depth class: denser is deeper; water is never blank, since blank is dry ground."""

UNKNOWN = Hatching(Pattern.BRICK, 6.5, 1.5)
"""Hatching of unknown water: bold bricks on white, over everything else."""


FISHED, WALK = 'stroke-width="2" stroke-dasharray="5.5 3"', 'stroke-width="3.2"'
"""Stroke styles of the outline of the fished water, and of the walked line."""


@dataclass(frozen=True, slots=True)
class Shown:
    """Contents of a map that its key must explain: letters, and whether anything is unknown.

    `letters` maps each letter to its meaning.
    """

    letters: dict[str, str]
    unknown: bool


def run_view(
    product: Product,
    label: str,
    walked: Walked,
    span: tuple[float, float],
    size: tuple[float, float],
) -> Strip:
    """Return the view of a run on its map: the river runs upwards, the whole walk is visible.

    Parameters
    ----------
    product, label
        The built reach and the flow.
    walked
        The line one walks.
    span
        Stations of its upper and lower end [m].
    size
        Width and height of the map [px].
    """
    river = Centreline.of(product.ground)
    start, end = (min(max(one, river.head), river.foot) for one in sorted(span))
    if end - start < LEAST_SPAN_M:
        middle = (start + end) / 2
        start = min(max(middle - LEAST_SPAN_M / 2, river.head), river.foot - 1.0)
        end = min(start + LEAST_SPAN_M, river.foot)
    line = substring(river.line(), start - river.head, end - river.head)
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    turn = math.pi / 2 - math.atan2(y1 - y0, x1 - x0)
    held: list[BaseGeometry] = [line.buffer(0.55 * river.median_width), *walked.stands]
    turned = shapely.affinity.rotate(
        shapely.GeometryCollection(held), turn, origin=(0, 0), use_radians=True
    )
    west, south, east, top = turned.bounds
    width, height = size
    scale = min((width - 2 * ROUND_PX) / (east - west), (height - 2 * ROUND_PX) / (top - south))
    half_x, half_y = width / 2 / scale, height / 2 / scale
    frame = _framed((west + east) / 2, (south + top) / 2, half_x, half_y, turn)
    frame = _over_water(product, label, frame, turn, (west, east), (half_x, half_y))
    centre = frame.centroid
    return Strip(line, frame, turn, (centre.x, centre.y), scale, width, height)


def _framed(x: float, y: float, half_x: float, half_y: float, turn: float) -> Polygon:
    """Return the frame around a centre given in rotated coordinates [m]."""
    frame = box(x - half_x, y - half_y, x + half_x, y + half_y)
    return Polygon(shapely.affinity.rotate(frame, -turn, origin=(0, 0), use_radians=True))


def _over_water(
    product: Product,
    label: str,
    frame: Polygon,
    turn: float,
    held: tuple[float, float],
    half: tuple[float, float],
) -> Polygon:
    """Return a frame shifted sideways so that the water at this flow is centred.

    `held` is the extent across the river that must stay visible, in rotated coordinates [m], `half`
    the frame's half-size.
    """
    wetted = product.layers["wetted"]
    mine = wetted[(wetted["flow_label"] == label)].geometry.to_numpy()
    wet = shapely.union_all([one.intersection(frame) for one in mine])
    if wet.is_empty:
        return frame
    west, _, east, _ = shapely.affinity.rotate(wet, turn, (0, 0), use_radians=True).bounds
    middle = shapely.affinity.rotate(frame.centroid, turn, (0, 0), use_radians=True)
    least, most = held[1] - half[0], held[0] + half[0]
    x = min(max((west + east) / 2, min(least, most)), max(least, most))
    return _framed(x, middle.y, *half, turn)


def run_map(
    product: Product,
    label: str,
    view: Strip,
    walked: Walked,
    fished: Sequence[BaseGeometry],
) -> tuple[str, Shown]:
    """Return the map of a run as an SVG element, and what its key must explain.

    Parameters
    ----------
    product, label
        The built reach and the flow.
    view
        View of the run.
    walked
        The line one walks.
    fished
        Water fished from it [m].
    """
    flow = product.flows.isel(flow=product.labels.index(label))
    units = product.markup.plan.units
    water = smooth_water(product.ground, flow, view.around.bounds, units)
    spots = map_spots(view)
    ends = _ends(spots, walked)
    signs = list(access_and_hazards(product, spots))
    heard = html.escape(tr("Map of the run, the river running up it"))
    parts = [
        f'<svg viewBox="0 0 {view.width:.1f} {view.height:.1f}" width="{view.width:.1f}" '
        f'height="{view.height:.1f}" class="map" role="img" '
        f'aria-label="{heard}">',
        *drawn_water(view, water),
        *_fished(view, fished),
        *_unknown(view, water),
        _arrow(view),
        *(drawn for drawn, *_ in signs),
        *_walk(view, walked),
        *ends,
        north(view),
        scale_bar(product, view),
        f'<rect x="0.8" y="0.8" width="{view.width - 1.6:.1f}" height="{view.height - 1.6:.1f}" '
        f'fill="none" stroke="{INK}" stroke-width="1.2"/></svg>',
    ]
    letters = {letter: words for _, letter, words in signs}
    return "".join(parts), Shown(letters, not view.drawn(water.unknown).is_empty)


def drawn_water(view: Strip, water: SmoothWater) -> list[str]:
    """Return the depth classes and the edge over them."""
    parts = [
        hatched(view.drawn(shape), look) for shape, look in zip(water.steps, STEPS, strict=True)
    ]
    edge = path_data(view.drawn(water.edge))
    parts.append(f'<path d="{edge}" fill="none" stroke="{INK}" stroke-width="1.7"/>')
    return parts


def _unknown(view: Strip, water: SmoothWater) -> list[str]:
    """Return the unknown water, hatched with bricks."""
    shape = view.drawn(water.unknown)
    if shape.is_empty:
        return []
    under = f'<path d="{path_data(shape)}" fill="{PAPER}" fill-rule="evenodd"/>'
    rim = f'<path d="{path_data(shape)}" fill="none" stroke="{INK}" stroke-width="1.6"/>'
    parts = [one for one in getattr(shape, "geoms", [shape]) if one.area > MARKED_PX2]
    marks = [one.representative_point() for one in parts]
    asked = [word_at(mark.x, mark.y + 4.3, "?") for mark in marks]
    return [under, hatched(shape, UNKNOWN), rim, *asked]


def hatched(shape: BaseGeometry, look: Hatching) -> str:
    """Return an area filled with strokes or dots, as SVG; empty for an empty area."""
    strokes = path_data(hatch_lines(shape, look.pattern, look.gap))
    drawn = (
        f'<path d="{strokes}" fill="none" stroke="{INK}" stroke-width="{look.ink:g}"/>'
        if strokes
        else ""
    )
    found = hatch_dots(shape, look.pattern, look.gap)
    dots = "".join(f"M{dot.x:.1f} {dot.y:.1f}h0" for dot in found)
    if dots:
        drawn += (
            f'<path d="{dots}" fill="none" stroke="{INK}" stroke-width="{2 * look.ink:g}" '
            'stroke-linecap="round"/>'
        )
    return drawn


def _fished(view: Strip, fished: Sequence[BaseGeometry]) -> list[str]:
    """Return the outline of the fished water: dashes cased in white, visible on hatching."""
    shape = view.drawn(shapely.union_all(list(fished))) if fished else Polygon()
    data = path_data(shape)
    if not data:
        return []
    looks = (f'stroke="{PAPER}" stroke-width="5.2"', f'stroke="{INK}" {FISHED}')
    return [f'<path d="{data}" fill="none" stroke-linejoin="round" {look}/>' for look in looks]


def _walk(view: Strip, walked: Walked) -> list[str]:
    """Return the walked line and its places, without those that would overlap on the paper."""
    parts = []
    if walked.line is not None:
        data = path_data(shapely.transform(walked.line, view.placed))
        parts.append(
            f'<path d="{data}" fill="none" stroke="{PAPER}" stroke-width="7"/>'
            f'<path d="{data}" fill="none" stroke="{INK}" {WALK} '
            'stroke-linejoin="round"/>'
        )
    shown: list[tuple[float, float]] = [_placed(view, place) for place in walked.stands[:1]]
    last = [_placed(view, place) for place in walked.stands[-1:]]
    for place in walked.stands[1:-1]:
        x, y = _placed(view, place)
        if any(math.hypot(x - a, y - b) < APART_PX for a, b in (*shown, *last)):
            continue
        shown.append((x, y))
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.7" fill="{PAPER}" stroke="{INK}" '
            'stroke-width="1.5"/>'
        )
    return parts


def _ends(spots: Spots, walked: Walked) -> list[str]:
    """Return both ends of the walk: a bold dot each, labelled START or OUT."""
    parts = []
    below, above = math.pi / 2, -math.pi / 2  # to the side of the walk, which runs up the map
    for place, word, turn in ((walked.start, tr("START"), below), (walked.end, tr("OUT"), above)):
        if place is None:
            continue
        x, y = _placed(spots.view, place)
        spots.taken.append((x, y, 5.0, 5.0))
        half = (LETTER_PX * len(word) / 2 + 2, 7.0)
        at, middle = spots.put(place, half, beside=14.0, first=turn)
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.4" fill="{INK}" stroke="{PAPER}" '
            f'stroke-width="1.5"/>{word_at(at, middle + 4.3, word)}'
        )
    return parts


def _placed(view: Strip, place: Point) -> tuple[float, float]:
    """Return a place on the page [px]."""
    ((x, y),) = view.placed(np.array([[place.x, place.y]]))
    return float(x), float(y)


def _arrow(view: Strip) -> str:
    """Return an arrow on the middle of the river in the direction of flow."""
    drawn = shapely.transform(view.line, view.placed)
    if not isinstance(drawn, LineString) or drawn.length < 20:
        return ""
    half = drawn.length * 0.5
    shaft = substring(drawn, half - 12, half + 12)
    (x0, y0), (x1, y1) = shaft.coords[0], shaft.coords[-1]
    way = np.array([x1 - x0, y1 - y0]) / max(math.hypot(x1 - x0, y1 - y0), 1e-9)
    side = np.array([-way[1], way[0]]) * 6
    tip, foot = np.array([x1, y1]), np.array([x1, y1]) - way * 11
    corners = [foot + side, tip, foot - side]
    head = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in corners)
    data = f"M{x0:.1f} {y0:.1f}L{tip[0]:.1f} {tip[1]:.1f}{head}"
    return (
        f'<path d="{data}" fill="none" stroke="{PAPER}" stroke-width="6"/>'
        f'<path d="{data}" fill="none" stroke="{INK}" stroke-width="2.6"/>'
    )
