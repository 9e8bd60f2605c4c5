"""Depth, speed and wading grade as one byte per cell, in tiles that the page colours itself."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.grid import Grid
from reachmap.base.packed import numbers_in
from reachmap.base.words import Wet
from reachmap.outputs.webmap.encode import packed
from reachmap.outputs.webmap.grades import grade_codes
from reachmap.outputs.webmap.page_grid import PageGrid
from reachmap.outputs.webmap.signed import (
    DRY,
    OFF_MAP,
    TOP,
    UNKNOWN,
    depth_codes,
    signed_depth,
)
from reachmap.outputs.webmap.unknown import SURE_BOUNDS, off_map

SPREAD_STEPS_M = (0.1, 0.2, 0.3, 0.5, 0.8, 1.2)
"""Steps to which the uncertainty of a depth is rounded up [m] (our choice)."""

SPEEDS = ("east_speed", "north_speed")

Cells = tuple[IntArray, IntArray, BoolArray]
"""Rows and columns of the raster under a tile, and which of its cells are on the map."""


@dataclass(frozen=True, slots=True)
class Tiles:
    """Coded rasters.

    Parameters
    ----------
    blocks
        Row and column of each stored tile: those with water or unknown ground at some flow.
    speed_step
        Speed per code [m/s]; `signed.depth_values` has the depth of each code.
    depth, speed, grade
        For each flow, the codes of all tiles, packed: signed depth, speed, wading grade.
    sure
        Confidence of each cell, packed: 1 low, 2 fair, 3 good, 0 unknown; plus 4 times the number
        of steps of `SPREAD_STEPS_M` that twice the spread of the depth reaches, where computed. One
        byte for four cells, the lowest confidence of them; one for all flows, or one for each.
    """

    blocks: tuple[tuple[int, int], ...]
    speed_step: float
    depth: tuple[str, ...]
    speed: tuple[str, ...]
    grade: tuple[str, ...]
    sure: tuple[str, ...]


def coded(values: FloatArray, wet: CodeArray, step: float) -> CodeArray:
    """Return values as codes, rounded up, so that no speed is understated.

    Parameters
    ----------
    values
        Speed [m/s], >= 0; NaN where dry or not known.
    wet
        Codes of `base.words.Wet`, same shape.
    step
        Size of one code, > 0. Values beyond 253 steps take code 253.
    """
    known = np.isfinite(values)
    steps = np.ceil(np.where(known, values, 0) / step - 1e-9)
    codes = np.clip(steps, 1, TOP)
    codes = np.where(known, codes, UNKNOWN)
    return np.where(wet == Wet.NO, DRY, np.where(wet == Wet.UNKNOWN, UNKNOWN, codes)).astype(
        np.uint8
    )


def step_for(largest: float, finest: float) -> float:
    """Return the size of one code so that the largest value is within the range of codes."""
    return max(finest, math.ceil(largest / TOP * 1000) / 1000)


def cut(
    page: PageGrid,
    ground: xr.Dataset,
    flows: xr.Dataset,
    *,
    doubt: xr.Dataset | None = None,
    zones: gpd.GeoDataFrame | None = None,
    finest: float = 0.05,
) -> Tiles:
    """Return the flows' depth, speed and wading grades as coded tiles.

    Parameters
    ----------
    page
        The page's grid.
    ground, flows
        The stages' Datasets on one raster.
    doubt
        The uncertainty stage's Dataset, if any: then each flow has its own confidence.
    zones
        The layer `wading` at these flows; None: all water is beyond the limits.
    finest
        Smallest size of one code of speed [m/s].
    """
    water = cut_water(page, ground, flows, doubt=doubt, finest=finest)
    return replace(water, grade=cut_grades(page, flows, water.blocks, zones))


def cut_water(
    page: PageGrid,
    ground: xr.Dataset,
    flows: xr.Dataset,
    *,
    doubt: xr.Dataset | None = None,
    finest: float = 0.05,
) -> Tiles:
    """Return the tiles without wading grades; arguments as for `cut`."""
    known, beyond = confidence_codes(ground, doubt), off_map(flows)
    each = [flows.isel(flow=index) for index in range(flows.sizes["flow"])]
    fastest = [
        math.hypot(*(_largest(np.abs(numbers_in(one[name]))) for name in SPEEDS)) for one in each
    ]
    speed_step = step_for(max(fastest), finest)
    ever = np.zeros(beyond.shape, dtype=bool)
    for one in each:
        ever |= one["wet"].to_numpy() != Wet.NO
    ever &= ~beyond
    kept: list[tuple[int, int]] = []
    cells: list[Cells] = []
    blocks = page.blocks
    for block, (rows, columns, inside) in zip(blocks, page.source_cells(blocks), strict=True):
        if (ever[rows, columns] & inside).any():
            kept.append(block)
            cells.append((rows, columns, inside & ~beyond[rows, columns]))
    sures = [
        [_least_sure(np.where(inside, codes[*at], 0)).tobytes() for *at, inside in cells]
        for codes in known
    ]
    depths: list[list[bytes]] = []
    speeds: list[list[bytes]] = []
    for index, one in enumerate(each):  # no more than one is dense
        wet, east, north = (one[name].to_numpy() for name in ("wet", *SPEEDS))
        for stack, codes in (
            (depths, depth_codes(signed_depth(ground, flows, index), wet)),
            (speeds, coded(np.hypot(east, north), wet, speed_step)),
        ):
            stack.append([_tile(codes[*at], inside) for *at, inside in cells])
    return Tiles(
        tuple(kept),
        speed_step,
        _packed_all(depths),
        _packed_all(speeds),
        (),
        _packed_all(sures),
    )


def cut_grades(
    page: PageGrid,
    flows: xr.Dataset,
    blocks: Sequence[tuple[int, int]],
    zones: gpd.GeoDataFrame | None,
) -> tuple[str, ...]:
    """Return the wading grades of tiles, packed, for each flow; arguments as for `cut`.

    `blocks` are the tiles that `cut_water` kept.
    """
    grid, beyond = Grid.of(flows), off_map(flows)
    cells = [
        (rows, columns, inside & ~beyond[rows, columns])
        for rows, columns, inside in page.source_cells(blocks)
    ]
    grades = []
    for index in range(flows.sizes["flow"]):  # no more than one is dense
        one = flows.isel(flow=index)
        here = None if zones is None else zones[zones["flow_label"] == str(one["asked"].item())]
        codes = grade_codes(grid, here, one["wet"].to_numpy())
        grades.append([_tile(codes[*at], inside) for *at, inside in cells])
    return _packed_all(grades)


def _tile(codes: CodeArray, inside: BoolArray) -> bytes:
    """Return a tile of codes, `OFF_MAP` outside the raster."""
    return np.where(inside, codes, OFF_MAP).astype(np.uint8).tobytes()


def _packed_all(stacks: Sequence[Sequence[bytes]]) -> tuple[str, ...]:
    """Return each flow's tiles packed together."""
    return tuple(packed(b"".join(stack)) for stack in stacks)


def _sure(confidence: FloatArray) -> CodeArray:
    """Return 1, 2 or 3 for low, fair or good confidence in the bed; 0 where unknown."""
    classes = 1 + np.digitize(np.nan_to_num(confidence, nan=0.0), SURE_BOUNDS)
    return np.where(np.isfinite(confidence), classes, 0).astype(np.uint8)


def confidence_codes(ground: xr.Dataset, doubt: xr.Dataset | None) -> Iterator[CodeArray]:
    """Yield the confidence codes of each cell: of the bed, or with an ensemble at each flow."""
    if doubt is None:
        yield _sure(ground["confidence"].to_numpy())
        return
    for index in range(doubt.sizes["flow"]):  # no more than one is dense
        one = doubt.isel(flow=index)
        spread = _spread_step(one["depth_spread"].to_numpy())
        yield _sure(one["agreement"].to_numpy()) + 4 * spread


def _least_sure(codes: CodeArray) -> CodeArray:
    """Return codes of blocks of 2 x 2 cells: lowest known class, highest step of spread."""
    side = codes.shape[0] // 2
    four = codes.reshape(side, 2, side, 2).swapaxes(1, 2).reshape(side, side, 4)
    classes = np.where(four % 4 == 0, 4, four % 4).min(axis=2) % 4
    return np.asarray(classes + 4 * (four >> 2).max(axis=2), dtype=np.uint8)


def _spread_step(spread: FloatArray) -> CodeArray:
    """Return the step of twice a spread [m]: 1 to 7, 0 where it was not computed."""
    known = np.isfinite(spread)
    steps = 1 + np.digitize(np.where(known, 2 * spread, 0.0), SPREAD_STEPS_M, right=True)
    return np.where(known, steps, 0).astype(np.uint8)


def _largest(values: FloatArray) -> float:
    """Return the largest known value, 0 where none is known."""
    return float(np.nanmax(values, initial=0.0))
