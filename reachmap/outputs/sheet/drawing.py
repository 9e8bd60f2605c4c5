"""Draws the strips of a flow as inline SVG, in ink that holds up in black and white."""

from __future__ import annotations

import html
import math
from collections.abc import Iterator, Sequence

import numpy as np
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from reachmap.base.units import DISTANCE, to_si
from reachmap.base.words import WadeGrade
from reachmap.outputs.palette import BY_KIND, Style
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.hatch import hatch_dots, hatch_lines
from reachmap.outputs.sheet.rows import Row
from reachmap.outputs.sheet.strips import Strip

INK = "#000000"
WATER = "#dbe9ec"
GAP = 4.2
"""Between strokes of a hatch [px]."""

LETTERS = (
    'font-size="8.3" font-weight="700" text-anchor="middle" '
    'font-family="DejaVu Sans, Verdana, sans-serif"'
)
"""How writing in a strip looks; as attributes, since not every PDF maker reads classes there."""

SCALE_SIZES = (25, 50, 100, 200, 500, 1000)
"""Round lengths of a scale bar, in the distance unit of the reach folder."""

BADGE = 7.0
"""Radius of a number's disc [px]."""


def strip_svg(product: Product, label: str, strip: Strip, rows: Sequence[Row]) -> str:
    """Return one strip as an SVG element.

    Parameters
    ----------
    product
        The built reach.
    label
        The flow.
    strip
        Which piece of river, and how it lies on the page.
    rows
        The table's rows: each is drawn where its water lies, with its number.
    """
    parts = [
        f'<svg viewBox="0 0 {strip.width:.0f} {strip.height:.0f}" class="strip" role="img" '
        'aria-label="The river, running up the page">'
    ]
    parts += _water(product, label, strip)
    parts += _grades(product, label, strip)
    parts += _pieces(product, strip, rows)
    parts += _lines(product, label, strip)
    parts += _places(product, strip)
    parts += _numbers(product, strip, rows)
    parts += [_north(strip), _scale(product, strip), _arrow(strip), "</svg>"]
    return "".join(parts)


def path_data(shape: BaseGeometry) -> str:
    """Return a shape as SVG path data, one decimal."""
    return "".join(
        "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in line) + ("Z" if closed else "")
        for line, closed in _rings(shape)
    )


def _rings(shape: BaseGeometry) -> Iterator[tuple[Sequence[tuple[float, float]], bool]]:
    """Yield the rings and lines of a shape."""
    for part in getattr(shape, "geoms", [shape]):
        if isinstance(part, Polygon):
            yield list(part.exterior.coords), True
            yield from ((list(ring.coords), True) for ring in part.interiors)
        elif isinstance(part, LineString) and not part.is_empty:
            yield list(part.coords), False
        elif hasattr(part, "geoms"):
            yield from _rings(part)


def _layer(product: Product, name: str, label: str) -> Sequence[BaseGeometry]:
    """Return the shapes of a layer at a flow."""
    frame = product.layers[name]
    return list(frame[frame["flow_label"] == label].geometry)


def _water(product: Product, label: str, strip: Strip) -> list[str]:
    """Return the wet area."""
    shapes = [strip.drawn(shape) for shape in _layer(product, "wetted", label)]
    return [
        f'<path d="{path_data(shape)}" fill="{WATER}" fill-rule="evenodd" stroke="{INK}" '
        'stroke-width="1.1"/>'
        for shape in shapes
        if not shape.is_empty
    ]


def _grades(product: Product, label: str, strip: Strip) -> list[str]:
    """Return the water nobody knows; only that grade is drawn, the table tells the others."""
    wading = product.layers["wading"]
    unknown = wading[(wading["flow_label"] == label) & (wading["grade"] == WadeGrade.UNKNOWN)]
    return [
        filled(shape, BY_KIND["unknown"]) for shape in strip.all_drawn(unknown.geometry.to_numpy())
    ]


def filled(shape: BaseGeometry, style: Style, *, unsure: bool = False) -> str:
    """Return an area in its colour, hatched and outlined, as SVG; paler and dashed if unsure."""
    tone = style.day
    data = path_data(shape)
    veil, dash = (0.4 * style.veil, ' stroke-dasharray="3 2"') if unsure else (style.veil, "")
    parts = [
        f'<path d="{data}" fill="{tone.fill or "none"}" fill-opacity="{veil:g}" '
        f'fill-rule="evenodd" stroke="{tone.ink}" stroke-width="1.2"{dash}/>'
    ]
    strokes = path_data(hatch_lines(shape, style.pattern, GAP))
    if strokes:
        parts.append(f'<path d="{strokes}" fill="none" stroke="{tone.ink}" stroke-width="0.7"/>')
    parts += [
        f'<circle cx="{dot.x:.1f}" cy="{dot.y:.1f}" r="0.8" fill="{tone.ink}"/>'
        for dot in hatch_dots(shape, style.pattern, GAP)
    ]
    return "".join(parts)


def _pieces(product: Product, strip: Strip, rows: Sequence[Row]) -> list[str]:
    """Return the pieces of water in the table."""
    water = product.layers["water"]
    shapes = ((strip.drawn(water.geometry[row.index]), row) for row in rows)
    return [
        filled(shape, BY_KIND[row.kind], unsure=row.unsure)
        for shape, row in shapes
        if not shape.is_empty
    ]


def _lines(product: Product, label: str, strip: Strip) -> list[str]:
    """Return seams and lanes."""
    parts = []
    for layer, kind in (("seams", "seam_line"), ("lanes", "lane")):
        style = BY_KIND[kind]
        dash = " ".join(f"{max(length * 0.5, 0.1):g}" for length in style.dash)
        for shape in _layer(product, layer, label):
            data = path_data(strip.drawn(shape))
            if data:
                parts.append(
                    f'<path d="{data}" fill="none" stroke="{style.day.ink}" stroke-width="1.5" '
                    f'stroke-linecap="round" stroke-dasharray="{dash}"/>'
                )
    return parts


def _places(product: Product, strip: Strip) -> list[str]:
    """Return access and hazards as signs."""
    markup = product.markup
    told = [(a.place, BY_KIND["access"], str(a.kind)) for a in markup.access]
    told += [
        (h.shape.representative_point(), BY_KIND["hazard"], str(h.kind)) for h in markup.hazards
    ]
    parts = []
    for place, style, words in told:
        if not strip.around.contains(place):
            continue
        (x, y), *_ = strip.placed(np.array(place.coords))
        shape = (
            f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" '
            if style.letter != "!"
            else f'<path d="M{x:.1f} {y - 7:.1f}l6.5 11.5h-13z" '
        )
        parts.append(
            f'<g>{shape}fill="#ffffff" stroke="{INK}" stroke-width="1.2"/>'
            f'<text x="{x:.1f}" y="{y + 3:.1f}" {LETTERS}>{style.letter}</text>'
            f"<title>{html.escape(words)}</title></g>"
        )
    return parts


def _numbers(product: Product, strip: Strip, rows: Sequence[Row]) -> list[str]:
    """Return each row's name in a tag beside its water, pushed apart where they would touch."""
    water = product.layers["water"]
    taken: list[tuple[float, float]] = []
    parts = []
    for row in rows:
        shape = strip.drawn(water.geometry[row.index])
        if shape.is_empty or not strip.around.contains(water.geometry[row.index].centroid):
            continue
        spot = shape.representative_point()
        name = f"{row.name}{'~' if row.unsure else ''}"
        half = 12.0 if len(name) < 4 else 15.5  # a tag as wide as its name
        x = half + 1.0 if spot.x < strip.width / 2 else strip.width - half - 1.0
        y = _free(x, spot.y, taken, strip.height)
        taken.append((x, y))
        edge = x + (half if x < spot.x else -half)
        parts.append(
            f'<line x1="{spot.x:.1f}" y1="{spot.y:.1f}" x2="{edge:.1f}" y2="{y:.1f}" '
            f'stroke="{INK}" stroke-width="0.7"/><circle cx="{spot.x:.1f}" cy="{spot.y:.1f}" '
            f'r="1.5" fill="{INK}"/><rect x="{x - half:.1f}" y="{y - 6:.1f}" width="{2 * half:g}" '
            f'height="12" rx="3" fill="#ffffff" stroke="{INK}"/>'
            f'<text x="{x:.1f}" y="{y + 3.2:.1f}" {LETTERS}>{name}</text>'
        )
    return parts


def _free(x: float, y: float, taken: Sequence[tuple[float, float]], height: float) -> float:
    """Return the height nearest to `y` at which a tag at `x` touches no other."""
    for step in range(60):
        for way in (1, -1):
            tried = min(max(y + way * step * 4.0, 34.0), height - 22.0)
            if all(abs(tried - other) >= 2 * BADGE or abs(x - at) > 26 for at, other in taken):
                return tried
    return y


def _north(strip: Strip) -> str:
    """Return an arrow that points north."""
    degrees = -math.degrees(strip.turn)
    return (
        f'<g transform="translate(14,16) rotate({degrees:.0f})">'
        f'<path d="M0 -12L4 6L0 3L-4 6Z"/></g><text x="28" y="19" {LETTERS}>N</text>'
    )


def _scale(product: Product, strip: Strip) -> str:
    """Return a scale bar of a round length."""
    unit = DISTANCE[product.markup.plan.units]
    room = strip.width * 0.4 / strip.scale
    fitting = (size for size in SCALE_SIZES if to_si(float(size), unit) <= room)
    size = max(fitting, default=SCALE_SIZES[0])
    length = to_si(float(size), unit) * strip.scale
    right, low = strip.width - 6, strip.height - 5
    return (
        f'<path d="M{right - length:.1f} {low - 4:.1f}v4h{length:.1f}v-4" fill="none" '
        f'stroke="{INK}" stroke-width="1.2"/><text x="{right - length / 2:.1f}" y="{low - 5:.1f}" '
        f"{LETTERS}>{size} {unit}</text>"
    )


def _arrow(strip: Strip) -> str:
    """Return an arrow that shows which way the water runs."""
    (x0, y0), (x1, y1) = strip.placed(
        np.array([strip.line.coords[0], strip.line.interpolate(1, normalized=True).coords[0]])
    )
    start = Point(x0, y0)
    way = np.array([x1 - x0, y1 - y0]) / max(math.hypot(x1 - x0, y1 - y0), 1e-9)
    tip = np.array([start.x, start.y]) + way * 16
    side = np.array([-way[1], way[0]]) * 4
    left, right = tip - way * 6 + side, tip - way * 6 - side
    return (
        f'<path d="M{x0:.1f} {y0:.1f}L{tip[0]:.1f} {tip[1]:.1f}M{left[0]:.1f} {left[1]:.1f}'
        f'L{tip[0]:.1f} {tip[1]:.1f}L{right[0]:.1f} {right[1]:.1f}" fill="none" stroke="{INK}" '
        'stroke-width="1.6"/>'
    )
