"""The surface model: ground plus cover or crowns, single trees as discs and rocks as domes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.base.arrays import CodeArray, FloatArray, IntArray
from reachmap.base.words import COVER_CODES, Cover
from reachmap.ground.corridor import Corridor
from reachmap.ground.cover import ROUGHNESS, cells_of
from reachmap.markup.canopy import LEAST_M, Canopy
from reachmap.markup.model import Bank, Standing

TREE_HEIGHT_M, ROCK_HEIGHT_M = 15.0, 0.8
"""Heights where none are given [m] (our choice)."""

DOME_STEP = 0.1
"""Distance of the points at which a rock's height is taken, in its radius or in cells, whichever is
less; our choice, 0.05-0.2."""


def raise_rocks(
    corridor: Corridor, bed: FloatArray, rocks: Sequence[Standing], seen: FloatArray
) -> FloatArray:
    """Return the bed with the drawn rocks on it, where no DEM already shows them.

    Parameters
    ----------
    corridor
        The cells.
    bed
        At the cells [m].
    rocks
        Heights above the ground around them [m].
    seen
        A DEM's ground at the cells [m]; NaN where it saw none.

    Notes
    -----
    A rock is half an ellipsoid of its width and height, and each cell is raised by the mean of it
    there: its bulk, 2/3 pi r^2 h, is kept on cells of any size. A whole disc of its height would
    hold the current off as half a rock more. Rocks narrower than a cell are left out.
    """
    raised = bed.copy()
    for rock in rocks:
        if not rock.radius_m >= corridor.grid.cell / 2:
            continue
        cells, height = _dome(corridor, rock)
        unseen = np.isnan(seen[cells])
        raised[cells[unseen]] += height[unseen]
    return raised


def _dome(corridor: Corridor, rock: Standing) -> tuple[IntArray, FloatArray]:
    """Return the cells that a rock lies over, and its mean height over each [m]."""
    radius = rock.radius_m
    height = ROCK_HEIGHT_M if np.isnan(rock.height_m) else rock.height_m
    share = DOME_STEP * min(1.0, corridor.grid.cell / radius)
    step = np.arange(-1 + share / 2, 1, share)
    east, north = (one.ravel() for one in np.meshgrid(step, step))
    tall = height * np.sqrt(np.clip(1.0 - east**2 - north**2, 0.0, None))
    x, y = rock.place.x + radius * east, rock.place.y + radius * north
    row, col, inside = corridor.grid.index(x, y)
    number = corridor.number[row, col]
    keep = inside & (tall > 0) & (number >= 0)
    cells, where = np.unique(number[keep], return_inverse=True)
    part = (radius * share / corridor.grid.cell) ** 2
    mean = part * np.bincount(where, tall[keep], minlength=cells.size)
    return cells.astype(np.int32), np.asarray(mean, dtype=np.float64)


def with_crowns(
    corridor: Corridor,
    canopy: Canopy | None,
    banks: Sequence[Bank],
    bank: np.ndarray,
    tall: FloatArray,
) -> FloatArray:
    """Return the height of what stands on each cell, by a lidar's returns where they tell it.

    A height that the angler gave is never lowered: returns only add crowns to it. Elsewhere crowns
    and gaps stand for the one height of the bank, and beyond the banks for none, but only where all
    of a cell is known. Over water they add crowns that hang over it.

    Parameters
    ----------
    corridor
        The cells.
    canopy
        Of the returns; None without a point cloud.
    banks
        The polygons.
    bank
        Number of the polygon over each cell, from 1; 0 none.
    tall
        Height above the ground without the returns [m]: that of the bank, 0 on the bare channel,
        NaN unknown.

    Returns
    -------
    FloatArray
        Above the ground [m]; NaN unknown.
    """
    if canopy is None:
        return tall
    height, whole = canopy.over(corridor.x, corridor.y, corridor.grid.cell)
    said = [np.isfinite(one.cover_height_m) and not one.from_cloud for one in banks]
    given = np.array([False, *said], dtype=bool)[bank]
    bare = (bank == 0) & (tall == 0)
    replaced = whole & ~given & ~bare
    higher = np.isfinite(tall) & (height > np.maximum(tall, LEAST_M))
    return np.where(replaced | higher, height, tall)


def stand_trees(
    corridor: Corridor,
    standing: tuple[Sequence[Standing], Sequence[Standing]],
    bed: FloatArray,
    fields: tuple[FloatArray, CodeArray, FloatArray],
) -> tuple[FloatArray, CodeArray, FloatArray]:
    """Return surface, cover and roughness with single trees and rocks standing on them.

    A disc stands on the highest known ground beneath it; where none is known it stays unknown.
    A rock is already part of the bed, so it adds no height of its own.

    Parameters
    ----------
    corridor
        The cells.
    standing
        Trees, rocks.
    bed
        At the cells, rocks on it [m].
    fields
        Surface [m], cover code, Manning's n without them.
    """
    surface, cover, roughness = fields[0].copy(), fields[1].copy(), fields[2].copy()
    trees, rocks = standing
    for one, kind in [*((rock, Cover.ROCK) for rock in rocks), *((t, Cover.TREES) for t in trees)]:
        cells = cells_of(corridor, one)
        if not np.isfinite(bed[cells]).any():
            continue
        usual = TREE_HEIGHT_M if kind is Cover.TREES else 0.0
        given = usual if np.isnan(one.height_m) else one.height_m
        peak = np.nanmax(bed[cells]) + (given if kind is Cover.TREES else 0.0)
        surface[cells] = np.fmax(surface[cells], peak)
        cover[cells] = COVER_CODES[kind]
        roughness[cells] = np.maximum(roughness[cells], ROUGHNESS[kind])
    return surface, cover, roughness
