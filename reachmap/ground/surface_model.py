"""What stands on the ground: its top, with single trees and rocks as discs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reachmap.base.arrays import CodeArray, FloatArray
from reachmap.base.words import COVER_CODES, Cover
from reachmap.ground.cover import ROUGHNESS, cells_of
from reachmap.ground.raster import Corridor
from reachmap.markup.model import Standing

TREE_HEIGHT_M, ROCK_HEIGHT_M = 15.0, 0.8
"""Heights where the angler did not say (our choice)."""


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
    """
    raised = bed.copy()
    for rock in rocks:
        cells = cells_of(corridor, rock)
        unseen = cells[np.isnan(seen[cells])]
        if rock.radius_m >= corridor.grid.cell / 2 and unseen.size:
            height = ROCK_HEIGHT_M if np.isnan(rock.height_m) else rock.height_m
            raised[unseen] += height
    return raised


def tops(bed: FloatArray, cover_height: FloatArray) -> FloatArray:
    """Return the top of what stands at each cell [m]; NaN where ground or cover is unknown."""
    return bed + cover_height


def stand_trees(
    corridor: Corridor,
    standing: tuple[Sequence[Standing], Sequence[Standing]],
    bed: FloatArray,
    fields: tuple[FloatArray, CodeArray, FloatArray],
) -> tuple[FloatArray, CodeArray, FloatArray]:
    """Return top, cover and roughness with single trees and rocks standing on them.

    A disc stands on the highest known ground beneath it; where none is known its top stays unknown.
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
        Top [m], cover code, Manning's n without them.
    """
    top, cover, roughness = fields[0].copy(), fields[1].copy(), fields[2].copy()
    trees, rocks = standing
    for one, kind in [*((rock, Cover.ROCK) for rock in rocks), *((t, Cover.TREES) for t in trees)]:
        cells = cells_of(corridor, one)
        if not np.isfinite(bed[cells]).any():
            continue
        usual = TREE_HEIGHT_M if kind is Cover.TREES else 0.0
        given = usual if np.isnan(one.height_m) else one.height_m
        peak = np.nanmax(bed[cells]) + (given if kind is Cover.TREES else 0.0)
        top[cells] = np.fmax(top[cells], peak)
        cover[cells] = COVER_CODES[kind]
        roughness[cells] = np.maximum(roughness[cells], ROUGHNESS[kind])
    return top, cover, roughness
