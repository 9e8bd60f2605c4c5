"""A feature to draw on the page, and its construction from geometry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry, BaseMultipartGeometry

from reachmap.base.arrays import FloatArray
from reachmap.outputs.product import Product
from reachmap.text.map_cards import Card

LEAST_KEPT = 0.9
"""Least share of its area that a smoothed outline keeps (our choice)."""

STRAIGHT_KEPT = 0.93
"""The same for zones side by side (our choice)."""

EVERY_FLOW = -1
"""Flow index of features common to all flows."""


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature to draw.

    Parameters
    ----------
    kind
        A kind of the palette.
    flow
        Index of its flow, or `EVERY_FLOW`.
    rings
        Lines, rings or a single point, each of shape (n, 2) in the project's CRS [m].
    closed
        Whether the rings bound an area.
    anchor
        Position of its label, and the point its card refers to [m].
    card
        Text of its card, if any.
    run
        Name of the run it belongs to, or empty.
    label
        Short label, or empty.
    mark
        Symbol of a mark, or empty.
    weight
        Priority of its label where there is no room for all; greater first.
    faded
        Whether its confidence is low, and it is drawn faded.
    near
        Index of the flow at which a feature common to all flows matters most.
    code
        Code of the piece of water that it is or that is fished from it; else empty.
    """

    kind: str
    flow: int
    rings: tuple[FloatArray, ...]
    closed: bool
    anchor: tuple[float, float]
    card: Card | None = None
    run: str = ""
    label: str = ""
    mark: str = ""
    weight: float = 0.0
    faded: bool = False
    near: int = EVERY_FLOW
    code: str = ""


class Thin:
    """Conversion of geometry into simplified rings."""

    def __init__(self, tolerance: float, steps: float = 0.0) -> None:
        """Keep the tolerances of simplification and of smoothing the cells' edges [m]."""
        self.tolerance, self.steps = tolerance, max(tolerance, steps)

    def without_steps(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return an outline with the cells' edges smoothed, unless that changes it much."""
        smooth = geometry.simplify(self.steps)
        rounded = smooth
        if smooth.geom_type == "Polygon":
            rounded = Polygon(
                _rounded(smooth.exterior, self.steps),
                [_rounded(hole, self.steps) for hole in smooth.interiors],
            )
        whole = rounded.geom_type == geometry.geom_type and rounded.is_valid
        return rounded if whole and rounded.area > LEAST_KEPT * geometry.area else geometry

    def feature(self, kind: str, flow: int, geometry: BaseGeometry, **rest: Any) -> list[Feature]:
        """Return the geometry as a list of one feature, or [] where nothing is left of it."""
        if geometry is None or geometry.is_empty:
            return []
        simple = geometry.simplify(self.tolerance)
        shown = geometry if simple.is_empty else simple
        rings = tuple(_rings(shown))
        closed = shown.geom_type in ("Polygon", "MultiPolygon")
        return [Feature(kind, flow, rings, closed, _anchor(shown), **rest)] if rings else []


def straightened(geometry: BaseGeometry, cell: float) -> BaseGeometry:
    """Return an outline with the cells' edges smoothed, moved by less than a cell [m].

    For adjacent zones; the stricter one is drawn on top, so that it is visible where smoothing
    makes two overlap.
    """
    smooth = geometry.simplify(0.75 * cell)
    whole = smooth.geom_type == geometry.geom_type and smooth.is_valid
    return smooth if whole and smooth.area > STRAIGHT_KEPT * geometry.area else geometry


def _rounded(ring: BaseGeometry, most: float) -> FloatArray:
    """Return a ring with its corners cut by a quarter of each side, `most` metres at most.

    Corner cutting after Chaikin (1974), from memory; once is enough on a screen.
    """
    points = shapely.get_coordinates(ring)
    near, far = points[:-1], points[1:]
    length = np.maximum(np.hypot(*(far - near).T), 1e-9)
    share = np.minimum(0.25, most / length)[:, None]
    cut = np.stack((near + share * (far - near), far - share * (far - near)), axis=1)
    cut = cut.reshape(-1, 2)
    return np.vstack((cut, cut[:1]))


def _rings(geometry: BaseGeometry) -> Iterator[FloatArray]:
    """Yield every line and ring of a geometry."""
    for part in _parts(geometry):
        if part.geom_type == "Polygon":
            yield shapely.get_coordinates(part.exterior)
            yield from (shapely.get_coordinates(hole) for hole in part.interiors)
        else:
            yield shapely.get_coordinates(part)


def _parts(geometry: BaseGeometry) -> Sequence[BaseGeometry]:
    """Return the parts of a geometry: itself where it is one."""
    if isinstance(geometry, BaseMultipartGeometry):
        return list(geometry.geoms)
    return (geometry,)


def _anchor(geometry: BaseGeometry) -> tuple[float, float]:
    """Return a place on the largest part: halfway along a line, well inside an area."""
    part = max(_parts(geometry), key=lambda one: (one.area, one.length))
    if part.geom_type == "LineString":
        place = part.interpolate(0.5, normalized=True)
    else:
        place = part.representative_point()
    return float(place.x), float(place.y)


def rows_of(product: Product, layer: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield a layer's rows with the index of their flow, for shown flows only."""
    positions = {label: index for index, label in enumerate(product.labels)}
    frame = product.layers.get(layer)
    for row in frame.to_dict("records") if frame is not None else ():
        index = positions.get(str(row["flow_label"]))
        if index is not None:
            yield index, row
