"""One flow over the ground as plain arrays on one raster, for the angler stage."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from types import EllipsisType

import numpy as np
import xarray as xr
from scipy import ndimage

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.centreline import Centreline
from reachmap.base.grid import Grid
from reachmap.base.packed import PLANE, PackedRaster, packed_fields, packed_raster, values_at
from reachmap.base.patches import EIGHT, Patches, cells_of, filled_from, on_border
from reachmap.base.words import Wet

Cells = tuple[IntArray, IntArray] | EllipsisType
"""Rows and columns of some cells of a raster, shape (n,); `...` for all of it."""

NO_LINE = np.zeros(0), np.zeros(0)
"""Level line of a ground made without one."""


@dataclass(frozen=True, eq=False)
class View:
    """One flow over the ground; arrays of shape (y, x), NaN unknown, some held by their cells.

    `length` is that of the river line, `width` the river's usual width [m]. `land` is ground joined
    to the outside of the river by dry ground, reached without wading; `rim` the mapped cells next
    to the end of the mapped ground. `side` is +1 on river left's land, -1 on river right's, 0
    elsewhere. `wet_on_terrain_day` marks the cells wet at the flow of the day the terrain model was
    surveyed, none where that is not known; `from_terrain` whether heights come
    from a terrain model, `bed_seen` whether it includes the bed under water; `bed_doubt` the factor
    on the usual error of the synthesised bed (`ground.bed_doubt`); `line` that of the river, None
    where its bends are not known; `low_line` stations and levels [m] of the lowest water seen
    along it, each (n,).
    """

    grid: Grid
    flow: float
    label: str
    wet: BoolArray
    dry: BoolArray
    unknown: BoolArray
    level: PackedRaster
    depth: FloatArray
    east: FloatArray
    north: FloatArray
    bed: PackedRaster
    surface: PackedRaster
    confidence: PackedRaster
    cover: PackedRaster
    station: PackedRaster
    offset: PackedRaster
    length: float
    land: BoolArray
    rim: BoolArray
    side: IntArray
    width: float
    wet_on_terrain_day: BoolArray
    from_terrain: bool
    bed_seen: bool = False
    bed_doubt: float = 1.0
    line: Centreline | None = None
    low_line: tuple[FloatArray, FloatArray] = NO_LINE

    @property
    def cell(self) -> float:
        """Return the side of a cell [m]."""
        return self.grid.cell

    @cached_property
    def speed(self) -> FloatArray:
        """Return the speed of the water [m/s], shape (y, x)."""
        cells = cells_of(~np.isnan(self.east))
        speed = np.full(self.east.shape, np.nan)
        speed[cells] = np.hypot(self.east[cells], self.north[cells])
        return speed

    @cached_property
    def wet_cells(self) -> tuple[IntArray, IntArray]:
        """Return rows and columns of the wet cells, shape (n,), in the order of the raster."""
        return cells_of(self.wet)

    def spread(self, values: FloatArray) -> FloatArray:
        """Return values of the wet cells as a raster (y, x), 0 elsewhere."""
        out = np.zeros(self.wet.shape)
        out[self.wet_cells] = values
        return out

    def at(self, array: PackedRaster, points: FloatArray) -> FloatArray:
        """Return the nearest cells' values at points [m], shape (n,); NaN outside the raster."""
        row, col, inside = self.grid.index(*points.T)
        return np.where(inside, array[row, col], np.nan)


def view_of(ground: xr.Dataset, flow: xr.Dataset, terrain_day: xr.Dataset | None = None) -> View:
    """Return one flow over the ground.

    Parameters
    ----------
    ground
        The ground stage's Dataset, with or without `marked_ends`.
    flow
        The flow stage's Dataset, with one flow or at one flow.
    terrain_day
        The flow stage's Dataset at the flow of the day the terrain model was surveyed; None where
        not known.

    Raises
    ------
    ValueError
        If `flow` holds several flows or lies on another raster.
    """
    return with_flow(ground_view(ground, terrain_day), ground, flow)


def ground_view(ground: xr.Dataset, terrain_day: xr.Dataset | None = None) -> View:
    """Return the ground without a flow, for `with_flow`; arguments of `view_of`.

    No cell is wet, dry or land; depth and speeds are empty arrays, the level has no meaning.
    """
    bed, line = packed_raster(ground["bed"]), Centreline.of(ground)
    nowhere, none = np.zeros(bed.shape, dtype=bool), np.zeros((0, 0))
    rim, wet_on_terrain_day = nowhere.copy(), nowhere
    rim.ravel()[land_ends(ground).rim] = True
    if terrain_day is not None:
        wet_on_terrain_day = np.asarray(_one(terrain_day, bed)["wet"].to_numpy() == Wet.YES)
    return View(
        grid=Grid.of(ground),
        flow=np.nan,
        label="",
        wet=nowhere,
        dry=nowhere,
        unknown=nowhere,
        level=bed,
        depth=none,
        east=none,
        north=none,
        bed=bed,
        surface=packed_raster(ground["surface"]),
        confidence=packed_raster(ground["confidence"]),
        cover=packed_raster(ground["cover"]),
        station=packed_raster(ground["station"]),
        offset=packed_raster(ground["offset"]),
        length=line.foot,
        land=nowhere,
        rim=rim,
        side=np.zeros((0, 0), dtype=np.int32),
        width=line.median_width,
        wet_on_terrain_day=wet_on_terrain_day,
        from_terrain=ground.attrs.get("vertical", "dem") == "dem",
        bed_seen=bool(ground.attrs.get("bed_seen", 0)),
        bed_doubt=max(float(ground.attrs.get("bed_doubt", 1.0)), 1.0),
        line=line,
        low_line=level_line(ground),
    )


def level_line(ground: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Return stations and levels [m] of the lowest water seen, (n,); empty where not given."""
    station, level = (
        np.atleast_1d(np.asarray(ground.attrs.get(f"low_line_{name}", ()), dtype=np.float64))
        for name in ("station", "level")
    )
    return station, level


def with_flow(view: View, ground: xr.Dataset, flow: xr.Dataset) -> View:
    """Return a view with a flow added; both views share the arrays of the ground."""
    flow = _one(flow, view.bed)
    wet, dry, unknown = _state(flow, view.bed)
    land, side = _land(view.offset, dry, land_ends(ground))
    return replace(
        view,
        flow=float(flow["flow"]),
        label=str(flow["asked"].item()),
        wet=wet,
        dry=dry,
        unknown=unknown,
        level=packed_raster(flow["level"]),
        depth=_floats(flow, "depth"),
        east=_floats(flow, "east_speed"),
        north=_floats(flow, "north_speed"),
        land=land,
        side=side,
    )


def _floats(dataset: xr.Dataset, name: str) -> FloatArray:
    """Return a field as an array of double precision."""
    return np.asarray(dataset[name].to_numpy(), dtype=np.float64)


def _state(flow: xr.Dataset, bed: PackedRaster) -> tuple[BoolArray, BoolArray, BoolArray]:
    """Return which cells are wet, which known ground is dry, and of which it is not known."""
    codes = flow["wet"].to_numpy()
    dry, known = np.zeros(codes.shape, dtype=bool), bed.known()[0]
    dry.ravel()[known] = codes.ravel()[known] == Wet.NO
    return np.asarray(codes == Wet.YES), dry, np.asarray(codes == Wet.UNKNOWN)


def _one(flow: xr.Dataset, bed: PackedRaster) -> xr.Dataset:
    """Return a Dataset of one flow without its flow dimension, checked against the ground."""
    if flow["wet"].ndim == 3:
        if flow.sizes["flow"] != 1:
            msg = f"one flow at a time, found {flow.sizes['flow']}"
            raise ValueError(msg)
        flow = flow.isel(flow=0)
    if flow["wet"].shape != bed.shape:
        msg = "flow and ground lie on different rasters"
        raise ValueError(msg)
    return flow


@dataclass(frozen=True, slots=True)
class LandEnds:
    """Where land begins, at any flow: cells counted in the flattened raster, shape (n,).

    `rim` are known cells of `mapped_rim`, `left` and `right` those of them beyond half the drawn
    width on that side of the line. Dry ground joined to one of these at some flow is land then.
    """

    rim: IntArray
    left: IntArray
    right: IntArray


LAND_ENDS = "land_ends"
RIM, LEFT_END, RIGHT_END = 1, 2, 3
"""Codes of the field that `marked_ends` adds: of the rim, and of its parts where land begins."""


def marked_ends(ground: xr.Dataset) -> xr.Dataset:
    """Return the ground with where land begins as one more field, so that it is found once."""
    if LAND_ENDS in ground:
        return ground
    ends = land_ends(ground)
    codes = np.zeros(ground["bed"].shape, dtype=np.uint8)
    for code, cells in ((RIM, ends.rim), (LEFT_END, ends.left), (RIGHT_END, ends.right)):
        codes.ravel()[cells] = code
    return ground.assign(packed_fields([xr.Dataset({LAND_ENDS: (PLANE, codes)})]))


def land_ends(ground: xr.Dataset) -> LandEnds:
    """Return where land begins."""
    if LAND_ENDS in ground:
        codes = ground[LAND_ENDS].to_numpy().ravel()
        marked = np.flatnonzero(codes).astype(np.int32)
        return LandEnds(marked, *(marked[codes[marked] == one] for one in (LEFT_END, RIGHT_END)))
    bed = ground["bed"].to_numpy()
    rim = np.flatnonzero(mapped_rim(bed) & np.isfinite(bed)).astype(np.int32)
    station, offset = (values_at(ground[name], rim) for name in ("station", "offset"))
    half = 0.5 * Centreline.of(ground).width(np.nan_to_num(station))
    with np.errstate(invalid="ignore"):
        return LandEnds(rim, rim[offset > half], rim[offset < -half])


def _land(offset: PackedRaster, dry: BoolArray, ends: LandEnds) -> tuple[BoolArray, IntArray]:
    """Return the dry ground outside the river, and on which side of it (+1 left, -1 right).

    A piece of dry ground is land if somewhere it lies beyond half the drawn width from the line;
    anything else is an island, a bar or a rock. A piece that lies beyond on both sides (a dry bed
    across the whole river) is land cell by cell.
    """
    left, right = (filled_from(cells, dry) for cells in (ends.left, ends.right))
    side = np.zeros(dry.shape, dtype=np.int32)
    side[cells_of(left)] += 1
    side[cells_of(right)] -= 1
    both = cells_of(left & right)
    side[both] = np.sign(np.nan_to_num(offset[both]))
    return left | right, side


def mapped_rim(bed: FloatArray) -> BoolArray:
    """Return the cells next to the end of the mapped ground: where they are dry one walks on."""
    off = np.pad(~np.isfinite(bed), 1, constant_values=True)
    patches = Patches.of(off, EIGHT)
    outside = patches.holding(on_border(off.shape))[patches.labels]
    return np.asarray(ndimage.binary_dilation(outside, EIGHT)[1:-1, 1:-1])
