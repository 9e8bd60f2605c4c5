"""Division of the river into strips, each rotated so that it runs up the page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline

MOST_STRIPS = 4
"""Most strips side by side; more would be too narrow to read; our choice, range 3-5."""


@dataclass(frozen=True, slots=True)
class Strip:
    """One piece of river on the page.

    Parameters
    ----------
    line
        Its piece of the main line [m].
    around
        Area shown: a buffer around that piece [m].
    turn
        Rotation, anticlockwise [rad], so that it runs up the page.
    middle
        Point at the centre of the strip [m].
    scale
        Page units (CSS px) per metre.
    width, height
        Of the strip on the page [px].
    """

    line: LineString
    around: Polygon
    turn: float
    middle: tuple[float, float]
    scale: float
    width: float
    height: float

    def placed(self, points: FloatArray) -> FloatArray:
        """Return points [m], shape (n, 2), on the strip [px], y down."""
        shifted = np.asarray(points, dtype=np.float64)[:, :2] - np.array(self.middle)
        c, s = math.cos(self.turn), math.sin(self.turn)
        x = shifted[:, 0] * c - shifted[:, 1] * s
        y = shifted[:, 0] * s + shifted[:, 1] * c
        return np.column_stack((self.width / 2 + self.scale * x, self.height / 2 - self.scale * y))

    def drawn(self, shape: BaseGeometry) -> BaseGeometry:
        """Return a shape's part in this strip, on the page [px]."""
        return shapely.transform(shape.intersection(self.around), self.placed)

    def all_drawn(self, shapes: NDArray[np.object_]) -> list[BaseGeometry]:
        """Return the parts of shapes in this strip, on the page [px], without empty ones."""
        shapely.prepare(self.around)
        inside = shapes[shapely.intersects(self.around, shapes)]
        parts = shapely.intersection(inside, self.around)
        return list(shapely.transform(parts, self.placed))


def cut_strips(ground: xr.Dataset, *, width: float, height: float, gap: float) -> list[Strip]:
    """Return the strips of a reach, from the head down, all at one scale.

    The number of strips is the one with the largest scale.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    width, height
        Of the space for all strips side by side [px].
    gap
        Between strips [px].
    """
    river = Centreline.of(ground)
    best: list[Strip] = []
    for count in range(1, MOST_STRIPS + 1):
        room = (width - gap * (count - 1)) / count
        strips = _fitted(_even_pieces(river.line(), river.median_width, count), room, height)
        if not best or strips[0].scale > best[0].scale:
            best = strips
    return best


@dataclass(frozen=True, slots=True)
class _Piece:
    """A piece of river without a scale: as `Strip`, its extent across and along the page in m."""

    line: LineString
    around: Polygon
    turn: float
    middle: tuple[float, float]
    across: float
    along: float


@lru_cache(maxsize=MOST_STRIPS)
def _even_pieces(line: LineString, bank: float, count: int) -> tuple[_Piece, ...]:
    """Return pieces of equal length, identical for the sheets of all flows."""
    step = line.length / count
    pieces = [substring(line, index * step, (index + 1) * step) for index in range(count)]
    turned_pieces = []
    for piece in pieces:
        start, end = np.array(piece.coords[0]), np.array(piece.coords[-1])
        turn = math.pi / 2 - math.atan2(*(end - start)[::-1])
        around = piece.buffer(1.6 * bank, cap_style="flat")
        if isinstance(around, shapely.MultiPolygon):
            around = max(around.geoms, key=lambda part: part.area)
        turned = shapely.affinity.rotate(around, turn, origin=(0, 0), use_radians=True)
        x0, y0, x1, y1 = turned.bounds
        centre = shapely.affinity.rotate(
            shapely.Point((x0 + x1) / 2, (y0 + y1) / 2), -turn, origin=(0, 0), use_radians=True
        )
        turned_pieces.append(_Piece(piece, around, turn, (centre.x, centre.y), x1 - x0, y1 - y0))
    return tuple(turned_pieces)


def _fitted(pieces: Sequence[_Piece], width: float, height: float) -> list[Strip]:
    """Return pieces as strips at the largest scale at which all fit."""
    scale = min(min(width / one.across, height / one.along) for one in pieces)
    return [
        Strip(one.line, one.around, one.turn, one.middle, scale, width, height) for one in pieces
    ]
