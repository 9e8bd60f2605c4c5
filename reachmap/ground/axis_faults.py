"""Check of the main channel's axis: it stays simple and near the line that was drawn."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, Point

from reachmap.base.centreline import Centreline
from reachmap.base.errors import Fault
from reachmap.ground.channels import Channel, main_edges
from reachmap.markup.model import Markup
from reachmap.markup.outlines import crossing_point
from reachmap.markup.places import along_words, length_words, place_words

FIX = (
    "Draw the banks on both sides there, from the water's edge outwards and on their side, and the "
    "river line down the middle of the water"
)


def axis_faults(main: Channel, markup: Markup) -> list[Fault]:
    """Return a fault, one at most, where the axis crosses itself or leaves the drawn line.

    The axis lies within half the river's width of the drawn line: a line drawn in the water lies no
    farther from the middle. The width is the local one or the usual one, whichever is larger.

    Parameters
    ----------
    main
        The main channel as centred between the banks.
    markup
        The drawing.
    """
    drawn = markup.main.line
    crossed = crossing_point(main.line.line())
    if crossed is not None:
        found = "the river's axis, laid midway between the banks, crosses itself"
        return [_fault(main, markup, Point(crossed), found)]
    places = shapely.points(main.line.x, main.line.y)
    away = shapely.distance(places, drawn)
    limit = np.maximum(main.width, main.median_width) / 2 + main.line.step
    worst = int(np.argmax(away - limit))
    if away[worst] <= limit[worst]:
        return []
    far, half = (length_words(one, markup.plan.units) for one in (away[worst], limit[worst]))
    found = (
        f"the river's axis, laid midway between the banks, lies {far} from the line you drew "
        f"(at most half the river's width, {half}, is possible)"
    )
    return [_fault(main, markup, places[worst], found)]


def _fault(main: Channel, markup: Markup, place: Point, found: str) -> Fault:
    """Return the fault at a place, with the sides that have no bank near it."""
    drawn: LineString = markup.main.line
    where = f"{along_words(drawn, place, markup.plan.units)} "
    where += f"({place_words(place.x, place.y, markup.crs)})"
    open_sides = _open_sides(main, markup, place)
    missing = f"; no bank faces the water there on river {open_sides}" if open_sides else ""
    return Fault(f"river {main.name!r}", f"{found} {where}{missing}", FIX)


def _open_sides(main: Channel, markup: Markup, place: Point) -> str:
    """Return the sides where no bank faces some of the drawn line within one width of a place."""
    line = Centreline.along(markup.main.line, main.line.step)
    near = np.hypot(line.x - place.x, line.y - place.y) <= main.median_width
    return " and ".join(
        side
        for side, edge in zip(("left", "right"), main_edges(line, markup.banks), strict=True)
        if np.isnan(edge[near]).any()
    )
