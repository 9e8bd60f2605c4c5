"""Hatching as geometry clipped to a shape, so that every printer and PDF maker draws it."""

from __future__ import annotations

import numpy as np
from shapely import LineString, MultiLineString, MultiPoint, Point
from shapely.geometry.base import BaseGeometry

from reachmap.outputs.palette import Pattern


def hatch_lines(shape: BaseGeometry, pattern: Pattern, gap: float) -> BaseGeometry:
    """Return the strokes of a pattern inside a shape; empty where the pattern is made of dots.

    Parameters
    ----------
    shape
        Area on the page [px].
    pattern
        How it is filled.
    gap
        Between strokes [px].
    """
    if shape.is_empty:
        return MultiLineString()
    x0, y0, x1, y1 = shape.bounds
    reach = (x1 - x0) + (y1 - y0) + gap
    strokes = []
    if pattern in {Pattern.LEVEL, Pattern.BRICK}:
        strokes += [LineString([(x0, y), (x1, y)]) for y in np.arange(_snap(y0, gap), y1, gap)]
    if pattern in {Pattern.UPRIGHT, Pattern.BRICK}:
        step = gap * (2 if pattern is Pattern.BRICK else 1)
        strokes += [LineString([(x, y0), (x, y1)]) for x in np.arange(_snap(x0, step), x1, step)]
    if pattern in {Pattern.SLANT, Pattern.CROSS}:
        starts = np.arange(_snap(x0 + y0, gap * 1.4), x0 + y0 + reach, gap * 1.4)
        strokes += [LineString([(s - y1, y1), (s - y0, y0)]) for s in starts]
    if pattern is Pattern.CROSS:
        starts = np.arange(_snap(x0 - y1, gap * 1.4), x0 - y1 + reach, gap * 1.4)
        strokes += [LineString([(s + y0, y0), (s + y1, y1)]) for s in starts]
    return MultiLineString(strokes).intersection(shape) if strokes else MultiLineString()


def hatch_dots(shape: BaseGeometry, pattern: Pattern, gap: float) -> list[Point]:
    """Return the dots of a pattern inside a shape; none where the pattern is made of strokes."""
    if shape.is_empty or pattern not in {Pattern.DOTS, Pattern.SPECKS}:
        return []
    step = gap if pattern is Pattern.DOTS else gap * 1.6
    x0, y0, x1, y1 = shape.bounds
    xs, ys = np.meshgrid(np.arange(_snap(x0, step), x1, step), np.arange(_snap(y0, step), y1, step))
    ys = ys + np.where(np.rint(xs / step) % 2 == 0, 0.0, step / 2)
    inside = MultiPoint(np.column_stack((xs.ravel(), ys.ravel()))).intersection(shape)
    if inside.is_empty:
        return []
    return list(inside.geoms) if isinstance(inside, MultiPoint) else [Point(inside)]


def _snap(value: float, step: float) -> float:
    """Return the first multiple of a step at or above a value; neighbours' strokes then align."""
    return float(np.ceil(value / step) * step)
