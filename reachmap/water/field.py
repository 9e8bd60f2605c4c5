"""One flow prepared for the rules: direction downstream and section across at each cell."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr
from scipy import ndimage

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid, Window
from reachmap.base.packed import PackedRaster, packed_raster, values_at
from reachmap.base.patches import EIGHT, Patches, cells_of, on_border, patch_sizes
from reachmap.base.words import Wet
from reachmap.flow.notes import NoteKind, notes_of
from reachmap.uncertainty.model_error import ModelError
from reachmap.water._kernels import BANK, ISLAND, OPEN, UNKNOWN, look_across
from reachmap.water.known_bed import is_levelled
from reachmap.water.wet_cells import roughness_of, spreads_of

LOOK_WIDTHS = 3.0
"""Half length of the section across, in river widths; our choice, 2-5."""


@dataclass(frozen=True, eq=False)
class WaterField:
    """One flow: fields of shape (y, x), NaN where not known to be wet; some held by wet cell.

    `across_row, across_col` point to river left, in cells of the raster; `gap_left, gap_right` are
    distances to the end of the water [m], `section` their sum; `code` and `end_left, end_right` say
    what is there (codes of `_kernels`); `quickest` is the largest speed on the section through
    the cell [m/s]; `thalweg` holds row and column of its largest
    discharge per width. `levelled` says whether the low water's surface was measured; `mouths` are
    stations at which tributaries' water is let in [m]. `cover` holds codes, `roughness` Manning's n
    at this depth; `depth_spread` [m] and `speed_spread` [m/s] are standard deviations of what the
    map may be off, NaN where not known.
    """

    grid: Grid
    flow: float
    label: str
    inflow: float
    wet: BoolArray
    unknown: BoolArray
    code: CodeArray
    level: PackedRaster
    depth: FloatArray
    speed: FloatArray
    east: FloatArray
    north: FloatArray
    station: PackedRaster
    offset: PackedRaster
    confidence: PackedRaster
    across_row: FloatArray
    across_col: FloatArray
    gap_left: PackedRaster
    gap_right: PackedRaster
    end_left: CodeArray
    end_right: CodeArray
    quickest: PackedRaster
    thalweg: tuple[PackedRaster, PackedRaster]
    section: PackedRaster
    width: float
    levelled: bool
    cover: PackedRaster
    roughness: PackedRaster
    depth_spread: PackedRaster
    speed_spread: PackedRaster
    mouths: tuple[float, ...] = ()

    @cached_property
    def placed(self) -> BoolArray:
        """Return the wet cells that have a station."""
        placed = self.wet.copy()
        placed[self.wet] = np.isfinite(self.station[self.wet])
        return placed

    @cached_property
    def _by_station(self) -> tuple[FloatArray, IntArray, IntArray]:
        """Return stations of the wet cells that have one, rising, with their rows and columns."""
        rows, cols = cells_of(self.placed)
        station = self.station[rows, cols]
        order = np.argsort(station, kind="stable")
        return station[order], rows[order], cols[order]

    def between(self, low: float, high: float) -> tuple[IntArray, IntArray]:
        """Return rows and columns of the wet cells from one station to another [m], both in it."""
        station, rows, cols = self._by_station
        span = slice(np.searchsorted(station, low), np.searchsorted(station, high, side="right"))
        return rows[span], cols[span]


def field_of(
    ground: xr.Dataset,
    flow: xr.Dataset,
    *,
    island_low_m2: float,
    pool_low_m2: float,
    uncertainty: xr.Dataset | None = None,
    model: ModelError | None = None,
) -> WaterField:
    """Return one flow of the flow stage, made ready for the rules.

    Parameters
    ----------
    ground
        The ground stage's Dataset (y, x).
    flow
        The flow stage's Dataset with one flow.
    island_low_m2
        Dry ground within the water smaller than this [m2] does not end a look across.
    pool_low_m2
        Water cut off from the rest and smaller than this [m2] is left out.
    uncertainty
        Dataset of the uncertainty stage with that flow; None where no ensemble was run.
    model
        Error of the flow model; the only error counted where `uncertainty` is None.

    Raises
    ------
    ValueError
        If `flow` or `uncertainty` does not hold exactly one flow, or is not on the raster of
        `ground`.
    """
    for one in (flow, flow if uncertainty is None else uncertainty):
        if one.sizes.get("flow", 0) != 1:
            msg = f"one flow at a time, found {one.sizes.get('flow', 0)}"
            raise ValueError(msg)
        if one.sizes["x"] != ground.sizes["x"] or one.sizes["y"] != ground.sizes["y"]:
            msg = "flow and ground lie on different rasters"
            raise ValueError(msg)
    here = flow.isel(flow=0)
    codes = here["wet"].to_numpy()
    cell = float(ground.attrs["cell"])
    wet = _without_pools(_known_wet(codes, here["depth"]), pool_low_m2 / cell**2)
    window = _window(wet)
    grid = Grid.of(ground).part(window)
    wet = wet[window]
    fields = {
        name: _of_water(here[name], wet, window) for name in ("depth", "east_speed", "north_speed")
    }
    unknown = codes[window] == Wet.UNKNOWN
    line = Centreline.of(ground)
    ground = ground.isel(y=window[0], x=window[1])
    station = packed_raster(ground["station"])
    across = _across(line, grid, wet, fields, station)
    code = _codes(wet, unknown, island_low_m2 / grid.cell**2)
    looks = _look(grid, code, wet, fields, across, line.median_width)
    speed = np.hypot(fields["east_speed"], fields["north_speed"])
    spreads = spreads_of(uncertainty, window, _flat(wet), speed[wet], model or ModelError())
    return WaterField(
        grid=grid,
        flow=float(here["flow"]),
        label=str(here["asked"].item()),
        inflow=float(here["inflow"]),
        wet=wet,
        unknown=unknown,
        code=code,
        level=packed_by_mask(wet, values_at(here["level"][window], _flat(wet))),
        depth=fields["depth"],
        speed=speed,
        east=fields["east_speed"],
        north=fields["north_speed"],
        station=station,
        offset=packed_raster(ground["offset"]),
        confidence=packed_by_mask(wet, values_at(ground["confidence"], _flat(wet))),
        across_row=across[0],
        across_col=across[1],
        width=line.median_width,
        levelled=is_levelled(ground),
        mouths=_mouths(flow),
        cover=packed_by_mask(wet, values_at(ground["cover"], _flat(wet)), 0),
        roughness=packed_by_mask(wet, roughness_of(ground, _flat(wet), fields["depth"][wet])),
        depth_spread=packed_by_mask(wet, spreads[0]),
        speed_spread=packed_by_mask(wet, spreads[1]),
        **looks,
    )


def _mouths(flow: xr.Dataset) -> tuple[float, ...]:
    """Return the stations at which tributaries' water was let in [m]."""
    notes = notes_of(flow)
    return tuple(
        note.station
        for note in notes
        if note.kind is NoteKind.TRIBUTARY and note.station is not None
    )


def _known_wet(codes: CodeArray, depth: xr.DataArray) -> BoolArray:
    """Return the wet cells of known depth."""
    wet = np.asarray(codes == Wet.YES)
    cells = _flat(wet)
    wet.ravel()[cells] = np.isfinite(values_at(depth, cells))
    return wet


def _of_water(field: xr.DataArray, wet: BoolArray, window: Window) -> FloatArray:
    """Return a field of one flow in a window, NaN where it is not wet."""
    rows, cols = cells_of(wet)
    cells = (rows + window[0].start) * field.shape[1] + cols + window[1].start
    values = values_at(field, cells)
    found = np.full(wet.shape, np.nan, dtype=values.dtype)
    found[rows, cols] = values
    return found


def _without_pools(wet: BoolArray, cells_low: float) -> BoolArray:
    """Return the wet cells without pieces of fewer than `cells_low` cells; a single piece stays."""
    sizes = patch_sizes(wet, EIGHT)
    return np.asarray(wet & ((sizes >= cells_low) | (sizes == wet.sum())))


def _window(wet: BoolArray) -> tuple[slice, slice]:
    """Return the slices that hold all wet cells and two more all round, within the raster."""
    if not wet.any():
        return slice(0, min(2, wet.shape[0])), slice(0, min(2, wet.shape[1]))
    found = []
    for axis, size in ((1, wet.shape[0]), (0, wet.shape[1])):
        where = np.flatnonzero(wet.any(axis=axis))
        found.append(slice(max(int(where[0]) - 2, 0), min(int(where[-1]) + 3, size)))
    return found[0], found[1]


def _across(
    line: Centreline,
    grid: Grid,
    wet: BoolArray,
    fields: dict[str, FloatArray],
    station: PackedRaster,
) -> tuple[FloatArray, FloatArray]:
    """Return the unit vector to river left at each wet cell, in rows and columns; else NaN.

    Across the discharge averaged over about a quarter of a width; where that stands still or runs
    upriver (an eddy), across the centreline.
    """
    size = max(3, 2 * round(0.125 * line.median_width / grid.cell) + 1)
    carried = [
        ndimage.uniform_filter(
            np.where(wet, fields["depth"] * fields[name], 0.0), size, mode="nearest"
        )
        for name in ("east_speed", "north_speed")
    ]
    cells = cells_of(wet)
    carried = [values[cells] for values in carried]
    turn = line.direction(station[cells])
    along = np.cos(turn), np.sin(turn)
    strength = np.hypot(*carried)
    with np.errstate(invalid="ignore", divide="ignore"):
        east, north = carried[0] / strength, carried[1] / strength
        lost = ~(strength > 1e-3) | (east * along[0] + north * along[1] < -0.2)
    east, north = np.where(lost, along[0], east), np.where(lost, along[1], north)
    east, north = np.where(np.isfinite(east), east, 1.0), np.where(np.isfinite(north), north, 0.0)
    across = np.full((2, *wet.shape), np.nan)
    across[0][cells], across[1][cells] = -east, -north
    return across[0], across[1]


def _look(
    grid: Grid,
    code: CodeArray,
    wet: BoolArray,
    fields: dict[str, FloatArray],
    across: tuple[FloatArray, FloatArray],
    width: float,
) -> dict[str, Any]:
    """Return the section across at each wet cell."""
    rows, cols = cells_of(wet)
    carry_row = -fields["north_speed"] * fields["depth"]
    carry_col = fields["east_speed"] * fields["depth"]
    speed = np.hypot(fields["east_speed"], fields["north_speed"])
    steps = int(2 * LOOK_WIDTHS * width / grid.cell)
    left, right, ends, quickest, _, deepest = look_across(
        code, fields["depth"], *across, carry_row, carry_col, speed, rows, cols, steps
    )

    def spread(values: FloatArray, fill: float) -> FloatArray:
        out = np.full(wet.shape, fill, dtype=values.dtype)
        out[rows, cols] = values
        return out

    return {
        "section": packed_by_mask(wet, (left + right + 1.0) * grid.cell),
        "gap_left": packed_by_mask(wet, (left + 0.5) * grid.cell),
        "gap_right": packed_by_mask(wet, (right + 0.5) * grid.cell),
        "end_left": spread(ends[0], UNKNOWN),
        "end_right": spread(ends[1], UNKNOWN),
        "quickest": packed_by_mask(wet, quickest),
        "thalweg": tuple(packed_by_mask(wet, one.astype(np.int32), -1) for one in deepest),
    }


def _flat(mask: BoolArray) -> IntArray:
    """Return the cells of a mask, counted in the flattened raster."""
    return np.flatnonzero(mask).astype(np.int32)


def packed_by_mask(mask: BoolArray, values: np.ndarray, fill: float = np.nan) -> PackedRaster:
    """Return values of the cells of a mask, shape (n,), as a raster; `fill` elsewhere."""
    rows, cols = mask.shape
    return PackedRaster((rows, cols), np.asarray(fill, values.dtype), _flat(mask), values)


def square_sections(
    field: WaterField, across: tuple[FloatArray, FloatArray], rows: IntArray, cols: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return gaps left and right [m] and the discharge [m3/s] of sections laid along `across`.

    Parameters
    ----------
    across
        Unit vectors to the left of each section's own way downstream, in rows and columns, shape
        (y, x); used at the cells asked for.
    rows, cols
        Cells to look from.
    """
    left, right, _, _, through, _ = look_across(
        field.code,
        field.depth,
        *across,
        -field.north * field.depth,
        field.east * field.depth,
        field.speed,
        rows,
        cols,
        int(2 * LOOK_WIDTHS * field.width / field.grid.cell),
    )
    cell = field.grid.cell
    return (left + 0.5) * cell, (right + 0.5) * cell, through * cell


def _codes(wet: BoolArray, unknown: BoolArray, cells_low: float) -> CodeArray:
    """Return the code of each cell for the sections across; dry specks are open."""
    dry = Patches.of(~wet)
    speck = (dry.sizes < cells_low) & ~dry.holding(unknown)
    kinds = np.where(speck, OPEN, ISLAND)
    kinds[dry.holding(on_border(wet.shape))] = BANK
    kinds[0] = OPEN  # the water itself
    codes = kinds.astype(np.uint8)[dry.labels]
    codes[unknown] = UNKNOWN
    return np.asarray(codes)
