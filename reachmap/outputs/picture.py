"""Small pictures of a reach and its map for notebooks: inline SVG, no script, no network."""

from __future__ import annotations

import html
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import FloatArray
from reachmap.base.units import LENGTH, flow_words, from_si
from reachmap.base.words import WadeGrade
from reachmap.markup.model import Markup
from reachmap.outputs.palette import BY_KIND, FISHING, INK, PAPER, PLAIN_DAY
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.hatch import hatch_lines
from reachmap.outputs.webmap.unknown import off_map, unknown_water
from reachmap.text.map_notes import map_notes

LONGER_SIDE, EDGE = 560.0, 12.0
"""Longer side of a picture, and empty border around the drawing [px]."""

HATCH_GAP = 6.0
"""Spacing of the hatch of unknown water [px]."""

STATED = (WadeGrade.NO.value, WadeGrade.UNKNOWN.value)
"""Wading grades that are drawn: those that must not be left blank."""


@dataclass(frozen=True, slots=True)
class _Page:
    """Transformation of metres to the page: scale [px/m], west and north edge [m], size [px]."""

    scale: float
    west: float
    north: float
    width: float
    height: float

    def placed(self, shape: BaseGeometry) -> BaseGeometry:
        """Return a shape in page coordinates [px], y down."""

        def onto(points: FloatArray) -> FloatArray:
            x = EDGE + (points[:, 0] - self.west) * self.scale
            return np.column_stack((x, EDGE + (self.north - points[:, 1]) * self.scale))

        return shapely.transform(shape, onto)

    def path(self, shape: BaseGeometry, look: str) -> str:
        """Return a shape in metres as an SVG path; empty for nothing."""
        return _drawn(self.placed(shape), look)


def reach_picture(drawing: Markup) -> str:
    """Return the drawing of a reach as HTML: banks, river, soundings, hazards, its name and size.

    Every text of the angler's is escaped.
    """
    lines = [river.line for river in drawing.rivers]
    page = _page_of([*lines, *(bank.outline for bank in drawing.banks)])
    parts = [page.path(bank.outline, f'fill="{PAPER}" stroke="{INK}"') for bank in drawing.banks]
    parts += [
        page.path(line, f'fill="none" stroke="{_ink("lane")}" stroke-width="2"') for line in lines
    ]
    parts += [
        page.path(one.shape.buffer(3 / page.scale), f'fill="{_ink("hazard")}"')
        for one in drawing.hazards
    ]
    parts += [
        page.path(one.place.buffer(2 / page.scale), f'fill="{_ink("sounding")}"')
        for one in drawing.soundings
    ]
    unit = LENGTH[drawing.plan.units]
    captions = [
        f"{from_si(drawing.main.line.length, unit):,.0f} {unit} of river",
        f"{len(drawing.banks)} bank polygons",
        f"{len(drawing.soundings)} soundings",
        f"{len(drawing.edges)} seen edges",
        f"{len(drawing.dems)} DEM files",
        f"{len(drawing.hazards)} hazards marked",
        "gauge" if drawing.gauge is not None else "no gauge",
        drawing.crs,
    ]
    return _figure(page, parts, drawing.plan.name, [", ".join(captions)])


def map_picture(product: Product) -> str:
    """Return the map of a product's highest flow as HTML, unknown water hatched.

    All user texts are escaped. Water beyond the limits or not graded is drawn as such; the caution
    is printed below.
    """
    index = len(product.labels) - 1
    label = product.labels[index]
    layers = {
        name: frame[frame["flow_label"] == label]
        for name, frame in product.layers.items()
        if name in ("wetted", "water", "wading")
    }
    page = _page_of([*layers["wetted"].geometry, product.markup.main.line])
    parts = [
        page.path(shape, f'fill="{PLAIN_DAY}" stroke="{INK}" stroke-width="0.7"')
        for shape in layers["wetted"].geometry
    ]
    water = layers["water"]
    for kind in FISHING:
        tone = BY_KIND[kind].day
        look = f'fill="{tone.fill}" stroke="{tone.ink}"'
        parts += [page.path(shape, look) for shape in water[water["kind"] == kind].geometry]
    wading = layers["wading"]
    blind = unknown_water(product.flows, index, off_map(product.flows))
    stated = [*wading[wading["grade"].isin(STATED)].geometry, *blind]
    parts += [_hatched(page, shape) for shape in stated]
    units = product.markup.plan.units
    flow = flow_words(float(product.flows["flow"].to_numpy()[index]), units)
    more = f" of {len(product.labels)} flows" if index else ""
    captions = [
        f"At {flow}{more}. Hatched: beyond your limits, or not known - treat it as deep and fast.",
        *map_notes(units, preview=product.preview, between=product.between),
    ]
    return _figure(page, parts, product.markup.plan.name, captions)


def _ink(kind: str) -> str:
    """Return the line colour of a kind by day."""
    return BY_KIND[kind].day.ink


def _page_of(shapes: Sequence[BaseGeometry]) -> _Page:
    """Return a page fitted to the shapes."""
    west, south, east, north = shapely.total_bounds(np.array(shapes, dtype=object))
    scale = (LONGER_SIDE - 2 * EDGE) / max(east - west, north - south, 1.0)
    width, height = (2 * EDGE + side * scale for side in (east - west, north - south))
    return _Page(scale, float(west), float(north), width, height)


def _hatched(page: _Page, shape: BaseGeometry) -> str:
    """Return a shape as outline and hatch of unknown water."""
    style = BY_KIND["unknown_water"]
    placed = page.placed(shape)
    strokes = hatch_lines(placed, style.pattern, HATCH_GAP)
    outline = f'fill="{style.day.fill}" fill-opacity="0.5" stroke="{style.day.ink}"'
    return _drawn(placed, outline) + _drawn(strokes, f'fill="none" stroke="{style.day.ink}"')


def _drawn(placed: BaseGeometry, look: str) -> str:
    """Return a shape in page coordinates as an SVG path; empty for nothing."""
    data = " ".join(_moves(placed.simplify(0.4)))
    return f'<path d="{data}" fill-rule="evenodd" {look}/>' if data else ""


def _moves(shape: BaseGeometry) -> Iterator[str]:
    """Yield the path data of each line and ring of a shape."""
    for part in shapely.get_parts(shape):
        closed = part.geom_type == "Polygon"
        rings = shapely.get_rings(part) if closed else [part]
        for ring in rings:
            points = shapely.get_coordinates(ring)
            if len(points) > 1:
                steps = " L".join(f"{x:.1f} {y:.1f}" for x, y in points)
                yield f"M{steps}{'Z' if closed else ''}"


def _figure(page: _Page, parts: Sequence[str], name: str, lines: Sequence[str]) -> str:
    """Return the picture with its name above and lines below, all text escaped."""
    title, *rest = (html.escape(text) for text in (name, *lines))
    size = f'width="{page.width:.0f}" height="{page.height:.0f}"'
    box = f'viewBox="0 0 {page.width:.0f} {page.height:.0f}"'
    below = "".join(f"<div>{line}</div>" for line in rest)
    return (
        f'<div style="max-width:{LONGER_SIDE:.0f}px"><strong>{title}</strong>'
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box} role="img" aria-label="{title}" '
        f'style="display:block;background:#fff">{"".join(parts)}</svg>{below}</div>'
    )
