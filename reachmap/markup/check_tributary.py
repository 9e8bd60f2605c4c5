"""Checks of tributaries: side lines that bring a share of the flow."""

from __future__ import annotations

import math

from shapely import LineString, Point

from reachmap.base.errors import Fault
from reachmap.base.words import Part
from reachmap.markup.drawing import Drawing
from reachmap.markup.features import Feature
from reachmap.markup.places import length_words

MOUTH = 150.0
"""Largest distance of a tributary's mouth from the main line [m] (our choice)."""

MOST_SHARE = 0.95
"""Largest share of the flow that all tributaries bring, so that some is left for the head of the
reach (our choice)."""


def tributaries(drawing: Drawing) -> list[Fault]:
    """Return a fault for each share on a line that is no tributary, and for too large a total."""
    main = drawing.main
    if main is None:
        return []
    faults: list[Fault] = []
    total = 0.0
    for one in drawing.features["river"]:
        share = one.values["share"]
        if math.isnan(share):
            continue
        if one.values["part"] is not Part.SIDE:
            fix = "Leave share empty, or say part = side if it is a tributary"
            faults.append(Fault(one.where, "the main line has a share of the flow", fix))
            continue
        total += share
        faults += _mouth_faults(drawing, main, one)
    if total > MOST_SHARE:
        found = f"the tributaries bring {100 * total:.0f} % of the flow together"
        fix = f"Give them {100 * MOST_SHARE:.0f} % at most: the rest comes down the main channel"
        faults.append(Fault("river", found, fix))
    return faults


def _mouth_faults(drawing: Drawing, main: LineString, one: Feature) -> list[Fault]:
    """Return what is wrong with where a tributary begins and ends."""
    if one.shape is None:
        return []
    begin, end = (main.distance(Point(one.shape.coords[index])) for index in (0, -1))
    if begin < end:
        found = "this tributary is drawn upstream: it begins nearer to the river than it ends"
        return [Fault(one.where, found, "Reverse the line, so that it runs down to the river")]
    if end > MOUTH:
        found = f"this tributary ends {length_words(end, drawing.units)} from the main line"
        return [Fault(one.where, found, "Draw it down to where it meets the river")]
    return []
