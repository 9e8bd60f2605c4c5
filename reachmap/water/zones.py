"""Masks of cells to zones with smooth outlines."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from contourpy import FillType, contour_generator
from scipy import ndimage
from shapely import LinearRing, Polygon, make_valid
from shapely.geometry.base import BaseGeometry

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.grid import Grid, Window
from reachmap.base.patches import EIGHT, narrowed, widened
from reachmap.base.words import Side, WaterKind

BLUR_CELLS = 1.2
"""Standard deviation of the blur that rounds outlines, in cells; our choice, 0.8-1.5."""
BESIDE = 2
"""Cells beside a zone that are looked at for where its odds fall off."""
AREA_OFF = 0.01
"""Share by which an outline's area may differ from that of its cells; our choice, 0.005-0.03."""


@dataclass(frozen=True, slots=True)
class Zone:
    """Cells of one candidate: its window, its mask in it, kind, bank, section of the main line.

    `odds` are those it was claimed by, over the whole raster of the field, NaN where not known.
    """

    kind: WaterKind
    place: Window
    mask: BoolArray
    side: Side
    odds: FloatArray
    section: int = 0


def tidied(mask: BoolArray, allowed: BoolArray) -> BoolArray:
    """Return a mask with gaps of one cell closed and spits of one cell cut, within `allowed`."""
    closed = narrowed(widened(np.pad(mask, 2)))
    opened = widened(narrowed(closed))[2:-2, 2:-2]
    return np.asarray(opened & allowed)


def pieces(mask: BoolArray, cells_low: float) -> Iterator[tuple[Window, BoolArray]]:
    """Yield each connected piece of at least `cells_low` cells, as a window and a mask in it."""
    labels, count = ndimage.label(mask, EIGHT)
    size = np.bincount(labels[labels > 0], minlength=count + 1)
    for number, (rows, cols) in enumerate(ndimage.find_objects(labels), start=1):
        if size[number] >= cells_low:
            yield (rows, cols), np.asarray(labels[rows, cols] == number)


def wider(place: Window, cells: int, shape: tuple[int, ...]) -> Window:
    """Return a window with so many cells more on all sides, within a raster."""
    rows, cols = (
        slice(max(one.start - cells, 0), min(one.stop + cells, size))
        for one, size in zip(place, shape, strict=True)
    )
    return rows, cols


def outline(mask: BoolArray, place: Window, grid: Grid) -> Polygon | None:
    """Return the smooth outline of a mask [m]: its largest part, holes of under four cells filled.

    Parameters
    ----------
    mask
        Cells of the zone within the window.
    place
        Where the window lies in the grid.

    Notes
    -----
    The mask is blurred by a Gaussian of `BLUR_CELLS` and traced at the value that holds as large an
    area as the mask does, so that corners are rounded and the area stays; the line lies within a
    cell and a half of the cells' own.
    """
    pad = int(np.ceil(4 * BLUR_CELLS))
    soft = ndimage.gaussian_filter(np.pad(mask.astype(np.float64), pad), BLUR_CELLS)
    count = int(mask.sum())
    if not count:
        return None
    traced = _tracer(soft)
    parts = traced(level := 0.5)
    for _ in range(3):
        off = sum(part.area for part in parts) - count
        if abs(off) <= AREA_OFF * count:
            break
        # across a straight edge the blurred value falls by 1 / (sigma sqrt(2 pi)) a cell
        length = max(sum(part.length for part in parts), 4.0 * np.sqrt(count))
        level = float(np.clip(level + off / (length * BLUR_CELLS * np.sqrt(2 * np.pi)), 0.1, 0.9))
        parts = traced(level) or parts
    return _placed(parts, (place[0].start - pad, place[1].start - pad), grid)


def outline_of_odds(
    mask: BoolArray, place: Window, odds: FloatArray, level: float, grid: Grid
) -> Polygon | None:
    """Return the outline of a zone [m], drawn where the odds fall below a level: its largest part.

    Parameters
    ----------
    mask
        Cells of the zone within the window, odds >= `level` in all of them.
    place
        Where the window lies in the grid.
    odds
        Of the whole grid, 0 to 1; NaN where not known, which counts as 0.
    level
        At which the line is drawn, 0 to 1.

    Notes
    -----
    The line runs between cells where the odds, linear from one to the next, cross the level. Where
    the zone ends in water that suits as well - at a cut, at another piece - there is no such line:
    there its own border is drawn, with the stairs smoothed as by `outline`. Holes of under four
    cells are filled.
    """
    if not mask.any():
        return None
    wide = tuple(
        slice(max(side.start - BESIDE, 0), min(side.stop + BESIDE, size))
        for side, size in zip(place, odds.shape, strict=True)
    )
    mine = np.zeros(odds[wide].shape, dtype=bool)
    first = [side.start - more.start for side, more in zip(place, wide, strict=True)]
    mine[first[0] : first[0] + mask.shape[0], first[1] : first[1] + mask.shape[1]] = mask
    pad = int(np.ceil(4 * BLUR_CELLS))
    mine, value = np.pad(mine, pad), np.pad(np.nan_to_num(odds[wide]), pad)
    near = mine
    for _ in range(BESIDE):
        near = widened(near)
    # The zone and what does not suit beside it: the border of this is that to other good water.
    ground = ndimage.gaussian_filter((near & (mine | (value < level))).astype(float), BLUR_CELLS)
    # Blurred, a straight border falls through one half; scaled so that it meets the level there.
    parts = _tracer(np.minimum(value, 2.0 * level * ground))(level)
    return _placed(parts, (wide[0].start - pad, wide[1].start - pad), grid)


def _placed(parts: list[Polygon], first: tuple[int, int], grid: Grid) -> Polygon | None:
    """Return the largest of some outlines in rows and columns from `first`, on the ground [m]."""
    if not parts:
        return None
    best = max(parts, key=lambda part: part.area)
    corner = np.array(first[::-1])
    rings = [grid.points(*(np.asarray(ring.coords) + corner).T[::-1]) for ring in _rings(best)]
    holes = [ring for ring in rings[1:] if Polygon(ring).area >= 4 * grid.cell**2]
    return largest(make_valid(Polygon(rings[0], holes).simplify(0.1 * grid.cell)))


def _tracer(values: FloatArray) -> Callable[[float], list[Polygon]]:
    """Return what gives where values exceed a level, in columns and rows."""
    made = contour_generator(z=values, fill_type=FillType.OuterOffset)

    def traced(level: float) -> list[Polygon]:
        found: Any = made.filled(level, np.inf)
        parts = []
        for points, ends in zip(*found, strict=True):
            rings = [points[a:b] for a, b in pairwise(ends)]
            parts.append(Polygon(rings[0], rings[1:]))
        return parts

    return traced


def _rings(polygon: Polygon) -> list[LinearRing]:
    """Return the outer ring and the holes."""
    return [polygon.exterior, *polygon.interiors]


def largest(area: BaseGeometry) -> Polygon | None:
    """Return the largest polygon of an area, None where there is none."""
    parts = [p for p in getattr(area, "geoms", [area]) if isinstance(p, Polygon) and not p.is_empty]
    return max(parts, key=lambda p: p.area) if parts else None
