"""Symbols of a small map: access, drawn hazards by kind, north arrow, scale bar."""

from __future__ import annotations

import html
import math
from collections.abc import Iterator, Mapping

import numpy as np
from shapely import Point
from shapely.geometry.base import BaseGeometry

from reachmap.base.language import tr
from reachmap.base.units import DISTANCE, to_si
from reachmap.base.words import AccessKind, HazardKind
from reachmap.outputs.product import Product
from reachmap.outputs.sheet.paper import FACES, TYPE_PX
from reachmap.outputs.sheet.strips import Strip
from reachmap.text.plain_words import in_words

INK, PAPER = "#000000", "#ffffff"

LETTERS = f'font-size="{TYPE_PX:g}" font-weight="700" text-anchor="middle" font-family=\'{FACES}\''
"""Text style in a map; as attributes, since not every PDF maker supports CSS classes in SVG."""

HAZARD_LETTERS: Mapping[HazardKind, str] = {
    HazardKind.STRAINER: "S",
    HazardKind.LEDGE: "L",
    HazardKind.UNDERCUT: "U",
    HazardKind.SOFT_BOTTOM: "M",
    HazardKind.COLD_INFLOW: "C",
    HazardKind.OTHER: "!",
}
"""Letter in the triangle of a drawn hazard; M for mud, since S is the strainer's."""

ACCESS_LETTERS: Mapping[AccessKind, str] = {
    AccessKind.PARKING: "P",
    AccessKind.PATH: "w",
    AccessKind.LANDING: "b",
    AccessKind.FORD: "x",
}
"""Letter in the square of an access point; a capital P only for parking."""

SCALE_SIZES = (10, 20, 25, 50, 100, 200, 500, 1000)
"""Round lengths of a scale bar, in the distance unit of the reach folder."""

LETTER_PX = 8.4
"""Assumed width of a capital letter of that type [px]."""

Spot = tuple[float, float]
"""A position on a map: x to the right, y down [px]."""


class Spots:
    """Occupied positions on a map, so that no symbol or label covers another [px]."""

    def __init__(self, view: Strip) -> None:
        self.view = view
        self.taken: list[tuple[float, float, float, float]] = []

    def put(
        self,
        place: Point,
        half: tuple[float, float],
        *,
        beside: float = 0.0,
        first: float = math.pi / 2,
    ) -> Spot:
        """Return the free position nearest to a place for a symbol of a given half-size [px].

        `beside` is its least distance from the place itself [px], `first` the direction tried
        first, clockwise from the right [rad]. If none is free that one is used: a symbol is never
        left out.
        """
        ((x, y),) = self.view.placed(np.array([[place.x, place.y]]))
        tried = [
            self._inside(x + away * math.cos(turn), y + away * math.sin(turn), half)
            for away in (beside, *np.arange(max(beside, 8.0), 60.0, 4.0))
            for turn in first + np.array((0, 1, -1, 2, -2, 3, -3, 4)) * math.pi / 4
        ]
        spot = next((one for one in tried if self._free(one, half)), tried[0])
        self.taken.append((*spot, *half))
        return spot

    def _inside(self, x: float, y: float, half: tuple[float, float]) -> Spot:
        """Return a position moved inside the border of the map."""
        wide, high = half[0] + 2, half[1] + 2
        return (
            min(max(float(x), wide), self.view.width - wide),
            min(max(float(y), high), self.view.height - high),
        )

    def _free(self, spot: Spot, half: tuple[float, float]) -> bool:
        """Return whether a position is free."""
        return all(
            abs(spot[0] - x) > half[0] + wide or abs(spot[1] - y) > half[1] + high
            for x, y, wide, high in self.taken
        )


def map_spots(view: Strip) -> Spots:
    """Return the positions of a map, the corners for north arrow and scale bar occupied."""
    spots = Spots(view)
    spots.taken = [(20.0, 16.0, 20.0, 16.0), (view.width - 30, view.height - 12, 32.0, 13.0)]
    return spots


def access_and_hazards(product: Product, spots: Spots) -> Iterator[tuple[str, str, str]]:
    """Yield the symbols of a map as SVG, each with its letter and meaning."""
    markup, view = product.markup, spots.view
    for hazard in markup.hazards:
        shown = hazard.shape.intersection(view.around)
        if not shown.is_empty:
            letter, words = HAZARD_LETTERS[hazard.kind], str(hazard.kind)
            spot = spots.put(Point(shown.representative_point()), (11.0, 10.0))
            yield _extent(view, shown) + _triangle(spot, letter, words), letter, words
    for access in markup.access:
        if view.around.contains(access.place):
            letter, words = ACCESS_LETTERS[access.kind], str(access.kind)
            yield _square(spots.put(access.place, (8.0, 8.0)), letter, words), letter, words


def _square(spot: Spot, letter: str, words: str) -> str:
    """Return the symbol of an access point: its letter in a square."""
    x, y = spot
    return (
        f'<g><rect x="{x - 7.5:.1f}" y="{y - 7.5:.1f}" width="15" height="15" fill="{PAPER}" '
        f'stroke="{INK}" stroke-width="1.6"/><text x="{x:.1f}" y="{y + 4.3:.1f}" {LETTERS}>'
        f"{letter}</text><title>{html.escape(in_words(words))}</title></g>"
    )


def _triangle(spot: Spot, letter: str, words: str) -> str:
    """Return the symbol of a drawn hazard: its letter in a bold triangle."""
    x, y = spot
    return (
        f'<g><path d="M{x:.1f} {y - 12:.1f}l11.5 20h-23z" fill="{PAPER}" stroke="{INK}" '
        f'stroke-width="2.4" stroke-linejoin="round"/><text x="{x:.1f}" y="{y + 5.6:.1f}" '
        f"{LETTERS}>{letter}</text><title>{html.escape(in_words(words))}</title></g>"
    )


def _extent(view: Strip, shape: BaseGeometry) -> str:
    """Return the outline of a hazard drawn as a line or an area; empty for a point."""
    if shape.geom_type in {"Point", "MultiPoint"}:
        return ""
    from_shape = view.drawn(shape)
    data = path_data(from_shape)
    return (
        f'<path d="{data}" fill="none" stroke="{PAPER}" stroke-width="5"/><path d="{data}" '
        f'fill="none" stroke="{INK}" stroke-width="2.6" stroke-dasharray="7 3"/>'
    )


def north(view: Strip) -> str:
    """Return a north arrow in the upper left corner."""
    degrees = -math.degrees(view.turn)
    return (
        f'<g transform="translate(13,17) rotate({degrees:.0f})"><path d="M0 -12L5 7L0 3L-5 7Z" '
        f'fill="{INK}" stroke="{PAPER}" stroke-width="1"/></g>'
        f"{word_at(29, 17, tr('N'))}"
    )


def word_at(x: float, y: float, words: str) -> str:
    """Return a label in a white box over the hatching, its baseline at `y` [px].

    A box instead of a white outline: not every PDF maker draws an outline behind its letters.
    """
    half = LETTER_PX * len(words) / 2 + 2
    return (
        f'<rect x="{x - half:.1f}" y="{y - 10.5:.1f}" width="{2 * half:.1f}" height="13" '
        f'fill="{PAPER}"/><text x="{x:.1f}" y="{y:.1f}" {LETTERS}>{html.escape(words)}</text>'
    )


def scale_bar(product: Product, view: Strip) -> str:
    """Return a scale bar of a round length, in the lower right corner."""
    unit = DISTANCE[product.markup.plan.units]
    room = view.width * 0.4 / view.scale
    fitting = (size for size in SCALE_SIZES if to_si(float(size), unit) <= room)
    size = max(fitting, default=SCALE_SIZES[0])
    length = to_si(float(size), unit) * view.scale
    right, low = view.width - 6, view.height - 5
    words = f"{size} {unit}"
    box_px = max(length, 7.0 * len(words)) + 6
    return (
        f'<rect x="{right + 3 - box_px:.1f}" y="{low - 21:.1f}" width="{box_px:.1f}" height="25" '
        f'fill="{PAPER}"/><path d="M{right - length:.1f} {low - 5:.1f}v5h{length:.1f}v-5" '
        f'fill="none" stroke="{INK}" stroke-width="1.6"/>'
        f'<text x="{right + 3 - box_px / 2:.1f}" y="{low - 8:.1f}" {LETTERS}>{words}</text>'
    )


def path_data(shape: BaseGeometry) -> str:
    """Return a shape as SVG path data, one decimal; points give nothing."""
    if hasattr(shape, "geoms"):
        return "".join(path_data(part) for part in shape.geoms)
    if shape.geom_type == "Polygon":
        rings = [] if shape.is_empty else [shape.exterior, *shape.interiors]
        return "".join(_steps(ring.coords) + "Z" for ring in rings)
    return _steps(shape.coords) if shape.geom_type in {"LineString", "LinearRing"} else ""


def _steps(corners: object) -> str:
    """Return coordinates as a segment of SVG path data."""
    points = np.asarray(corners, dtype=np.float64)[:, :2] if len(corners) else ()  # type: ignore[arg-type]
    corners_px = [f"{x:.1f} {y:.1f}" for x, y in points]
    return "M" + "L".join(corners_px) if corners_px else ""
