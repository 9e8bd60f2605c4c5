"""Banks of the drafted water: outlines by cover, each with the rise of its outer edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.ndimage import distance_transform_edt, grey_dilation, uniform_filter
from shapely import Polygon

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Grid
from reachmap.base.patches import FOUR, Patches, cells_of
from reachmap.base.words import Cover, Side
from reachmap.draft.channels import island_cells
from reachmap.draft.settings import BankSettings
from reachmap.draft.water import Water

UNKNOWN, GRAVEL, GRASS, BRUSH, TREES, CUTBANK = range(1, 7)
COVERS = {GRAVEL: Cover.GRAVEL, GRASS: Cover.GRASS, BRUSH: Cover.BRUSH, TREES: Cover.TREES,
          CUTBANK: Cover.CUTBANK}  # fmt: skip
"""Classes of cells; unknown ones get no cover: the angler has to fill it in."""


@dataclass(frozen=True, slots=True)
class DraftBank:
    """A piece of bank.

    Parameters
    ----------
    outline
        From the water outwards.
    side
        Left, right or island.
    cover
        Cover; None where the terrain does not show it.
    rise
        Its outer edge above the water of the flight; of an island its top [m].
    cover_height
        90th percentile of its cover's height [m]; NaN where unknown or bare.
    """

    outline: Polygon
    side: Side
    cover: Cover | None
    rise: float
    cover_height: float


def banks(
    height: FloatArray, canopy: FloatArray | None, water: Water, grid: Grid, settings: BankSettings
) -> list[DraftBank]:
    """Return the banks on both sides and the islands, in order down the river.

    Parameters
    ----------
    height
        Terrain [m], NaN where unknown.
    canopy
        Growth above it [m], NaN where unknown; None without a surface model or a point cloud.
    water
        The drafted water.
    grid
        Their raster.
    settings
        Of the banks.
    """
    islands = island_cells(water)
    whole = water.wet | islands
    away, (row, col) = distance_transform_edt(~whole, return_indices=True)
    along = water.station[row, col]
    ends = (water.station[row, col] <= 0) | (water.station[row, col] >= water.line.length)
    band = ~whole & (away * grid.cell <= settings.wide_m) & np.isfinite(height) & ~ends
    above = height - water.level_at
    kinds = cover_classes(height, canopy, above, band | islands, grid.cell, settings)
    side = _sides(water, grid, band)
    piece = np.floor(along / settings.long_m).astype(np.int64)
    # 1 and 2 for left and right, 3 for islands: pieces never join across the river
    part = np.where(islands, 3, np.where(band, side, 0))
    key = np.where(part == 3, 0, piece) * 100 + part * 10 + kinds
    key = np.where(part > 0, key + 1000, 0).astype(np.int64)
    labels = _patches(key, settings.least_m2 / grid.cell**2)
    found = []
    for number, outline in _outlines(labels, water.wet, grid, settings):
        mine = labels == number
        where = Side.ISLAND if (part[mine] == 3).all() else Side(_LEFT_RIGHT[_mode(part[mine])])
        kind = _mode(kinds[mine])
        rise = _rise(above, away, mine, island=where is Side.ISLAND)
        tall = float("nan")
        if canopy is not None and kind in {BRUSH, TREES}:
            tall = _tall(canopy[mine], settings)
        bank = DraftBank(outline, where, COVERS.get(kind), rise, tall)
        found.append((float(np.median(along[mine])), bank))
    return [bank for _, bank in sorted(found, key=lambda one: one[0])]


_LEFT_RIGHT = {1: "left", 2: "right"}


def cover_classes(
    height: FloatArray,
    canopy: FloatArray | None,
    above: FloatArray,
    wanted: BoolArray,
    cell: float,
    settings: BankSettings,
) -> IntArray:
    """Return the class of each wanted cell: the most frequent class within `blur_m`.

    Steep bare ground is a raw bank, low bare ground a gravel bar. Other cover comes from the canopy
    alone; without one it stays unknown.
    """
    level = np.where(np.isfinite(height), height, np.nan)
    north, east = np.gradient(np.nan_to_num(level, nan=float(np.nanmedian(level))), cell)
    steep = np.hypot(north, east) >= settings.steep
    low = above <= settings.bar_rise_m
    if canopy is None:
        kind = np.where(steep, CUTBANK, np.where(low, GRAVEL, UNKNOWN))
    else:
        reach = max(2 * round(1.5 / cell) + 1, 3)
        tall = grey_dilation(np.nan_to_num(canopy, nan=-1.0), size=(reach, reach))
        bare = np.where(steep, CUTBANK, np.where(low, GRAVEL, GRASS))
        kind = np.where(tall >= settings.brush_m, BRUSH, bare)
        kind = np.where(tall >= settings.trees_m, TREES, kind)
        kind = np.where(np.isnan(canopy), UNKNOWN, kind)
    size = max(2 * round(settings.blur_m / cell) + 1, 3)
    votes = [
        uniform_filter((wanted & (kind == one)).astype(np.float32), size=size, mode="constant")
        for one in range(UNKNOWN, CUTBANK + 1)
    ]
    return np.where(wanted, np.argmax(votes, axis=0) + UNKNOWN, 0).astype(np.int32)


def _sides(water: Water, grid: Grid, band: BoolArray) -> IntArray:
    """Return 1 for cells of river left, 2 for river right, by the nearest point of the line."""
    row, col = cells_of(band)
    points = grid.points(row, col)
    _, offset = water.line.to_station_offset(points[:, 0], points[:, 1])
    out = np.zeros(grid.shape, dtype=np.int32)
    out[row, col] = np.where(offset >= 0, 1, 2)
    return out


def _patches(key: IntArray, least: float) -> IntArray:
    """Return connected cells of one key as labels from 1; small patches merged into neighbours.

    A small patch goes to the nearest kept one of its own part of the river; an island that is
    small as a whole stays.
    """
    labels = np.zeros(key.shape, dtype=np.int32)
    count = 0
    for one in np.unique(key[key > 0]):
        found = Patches.of(key == one, FOUR)
        labels = np.where(found.labels > 0, found.labels + count, labels)
        count += int(found.labels.max())
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    part = key // 10 % 10 * (key > 0)
    kept = (labels > 0) & (sizes[labels] >= least)
    out = np.zeros(key.shape, dtype=np.int32)
    for one in np.unique(part[part > 0]):
        mine = part == one
        zones = Patches.of(mine, FOUR)
        good = mine & kept
        has = zones.holding(good)
        has[0] = False
        lonely = mine & ~has[zones.labels]
        out = np.where(lonely, count + zones.labels, out)
        count += int(zones.labels.max())
        if good.any():
            _, (row, col) = distance_transform_edt(~good, return_indices=True)
            out = np.where(mine & ~lonely, labels[row, col], out)
    _, dense = np.unique(out, return_inverse=True)
    return _split(dense.reshape(key.shape).astype(np.int32), least)


def _split(labels: IntArray, least: float) -> IntArray:
    """Return labels of one connected piece each; pieces below a fifth of `least` are dropped."""
    out = np.zeros(labels.shape, dtype=np.int32)
    count = 0
    for one in range(1, int(labels.max()) + 1):
        found = Patches.of(labels == one, FOUR)
        large = found.sizes >= min(least / 5, found.sizes[1:].max(initial=0))
        large[0] = False
        numbers = np.cumsum(large) * large
        here = numbers[found.labels]
        out = np.where(here > 0, here + count, out)
        count += int(large.sum())
    return out


def _outlines(
    labels: IntArray, wet: BoolArray, grid: Grid, settings: BankSettings
) -> list[tuple[int, Polygon]]:
    """Return the outline of each label, simplified so that neighbours still meet exactly.

    The water is simplified with them, so that banks and water share their edge.
    """
    water = int(labels.max()) + 1
    full = np.where(wet, water, labels).astype(np.int32)
    pairs = [(outline, label) for outline, label in grid.polygons(full)]
    simple = shapely.coverage_simplify(
        [outline for outline, _ in pairs], max(settings.simple_m, grid.cell)
    )
    found: dict[int, Polygon] = {}
    for (_, label), shape in zip(pairs, simple, strict=True):
        if label == water or shape.is_empty:
            continue
        outline = shape if shape.is_valid else shape.buffer(0)
        if outline.geom_type != "Polygon":
            outline = max(outline.geoms, key=lambda one: one.area)
        if label not in found or outline.area > found[label].area:
            found[label] = outline
    return list(found.items())


def _mode(values: IntArray) -> int:
    """Return the most frequent value."""
    return int(np.bincount(values).argmax())


def _rise(above: FloatArray, away: FloatArray, mine: BoolArray, *, island: bool) -> float:
    """Return the height of a bank's outer edge, of an island its top, above the water [m]."""
    heights = above[mine & np.isfinite(above)]
    if not heights.size:
        return float("nan")
    if island:
        return round(float(np.percentile(heights, 90)), 2)
    far = away[mine & np.isfinite(above)]
    outer = heights[far >= np.percentile(far, 85)]
    return round(float(np.median(outer)), 2)


def _tall(canopy: FloatArray, settings: BankSettings) -> float:
    """Return the 90th percentile of the cover's height [m]."""
    grown = canopy[np.isfinite(canopy) & (canopy >= settings.brush_m / 2)]
    return round(float(np.percentile(grown, 90)), 1) if grown.size else float("nan")
