"""From masks of cells to zones with smooth outlines."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from rasterio.features import shapes
from scipy import ndimage
from shapely import Polygon, make_valid
from shapely.geometry import MultiPolygon, shape
from shapely.geometry.base import BaseGeometry

from reachmap.base.shapes import B1
from reachmap.water.field import EIGHT, Frame

CROSS = ndimage.generate_binary_structure(2, 1)


def tidied(mask: B1, allowed: B1) -> B1:
    """Return a mask with gaps of one cell closed and spits of one cell cut, within `allowed`."""
    closed = ndimage.binary_closing(np.pad(mask, 2), CROSS)[2:-2, 2:-2] | mask
    opened = ndimage.binary_opening(np.pad(closed, 2), CROSS)[2:-2, 2:-2]
    return np.asarray(opened & allowed)


def pieces(mask: B1, cells_low: float) -> Iterator[tuple[tuple[slice, slice], B1]]:
    """Yield each connected piece of at least `cells_low` cells, as a window and a mask in it."""
    labels, count = ndimage.label(mask, EIGHT)
    size = np.bincount(labels.ravel(), minlength=count + 1)
    for number, (rows, cols) in enumerate(ndimage.find_objects(labels), start=1):
        if size[number] >= cells_low:
            yield (rows, cols), np.asarray(labels[rows, cols] == number)


def outline(mask: B1, place: tuple[slice, slice], frame: Frame) -> Polygon | None:
    """Return the smooth outline of a mask [m]: its largest part, holes of under four cells filled.

    Parameters
    ----------
    mask
        Cells of the zone within the window.
    place
        Where the window lies in the frame.

    Notes
    -----
    Traced along cell edges, then corners are cut by half a cell and small inlets rounded: the
    outline stays within half a cell of the cells' own.
    """
    affine = frame.affine * frame.affine.translation(place[1].start, place[0].start)
    found = shapes(mask.astype(np.uint8), mask=mask, transform=affine, connectivity=8)
    raw = make_valid(
        MultiPolygon([p for p in (shape(g) for g, _ in found) if p.area > 0]).buffer(0)
    )
    part = largest(rounded(raw, frame.cell))
    if part is None:
        return None
    rings = [ring for ring in part.interiors if Polygon(ring).area >= 4 * frame.cell**2]
    return Polygon(part.exterior, rings)


def rounded(area: BaseGeometry, cell: float) -> BaseGeometry:
    """Return an area traced along cell edges with its staircase smoothed."""
    soft = area.simplify(0.71 * cell).buffer(0)
    soft = soft.buffer(0.6 * cell, quad_segs=3).buffer(-1.2 * cell, quad_segs=3)
    return soft.buffer(0.6 * cell, quad_segs=3).simplify(0.1 * cell)


def largest(area: BaseGeometry) -> Polygon | None:
    """Return the largest polygon of an area, None where there is none."""
    parts = [p for p in getattr(area, "geoms", [area]) if isinstance(p, Polygon) and not p.is_empty]
    return max(parts, key=lambda p: p.area) if parts else None
