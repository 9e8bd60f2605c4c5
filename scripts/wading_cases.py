"""Made rivers, the evidence given of each, and their true water, to judge wading grades against."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
import xarray as xr
from scipy.ndimage import gaussian_filter
from shapely import Point

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import FloatArray, IntArray  # noqa: E402
from reachmap.base.cache import remembered  # noqa: E402
from reachmap.base.fields import with_labels  # noqa: E402
from reachmap.base.fingerprint import stage_key  # noqa: E402
from reachmap.base.words import UnitSystem  # noqa: E402
from reachmap.flow import VERSION, FlowSettings, solve  # noqa: E402
from reachmap.ground import Dem, GroundSettings, build_ground, grid_of, read_dem  # noqa: E402
from reachmap.markup import read_markup  # noqa: E402
from reachmap.markup.dem_note import DemNote  # noqa: E402
from reachmap.markup.model import Edge, Markup, Sounding  # noqa: E402
from reachmap.water.edges import edge_layers  # noqa: E402
from scripts.ground_cases import (  # noqa: E402
    SOUNDING_ERROR_M,
    Case,
    drawn_at,
    true_ground,
    variants,
    with_soundings,
)
from scripts.measure_given import Surveyor  # noqa: E402
from scripts.measure_ground import Truth  # noqa: E402
from scripts.sample import plan as sample_plan  # noqa: E402
from tests import reaches  # noqa: E402
from tests.ground.scenes import drawing, flown, pool_riffle  # noqa: E402
from tests.reaches.ledges import BROKEN, SLANTED, Rock  # noqa: E402
from tests.truth import true_ground as sample_truth  # noqa: E402

ENGINE = FlowSettings(method="engine")
FINE_M = 1.0
"""Cells of the true water [m]."""

STALE = 1.25
"""What a stale gauge hides: the river carries this many times the flow of the map."""

MANY_SOUNDINGS = 250
"""As many as one takes who sounds a river for its own sake, or a boat's echo sounder thinned."""

SECTION_WIDTHS, SECTION_STEP_M, SECTION_DEPTH_M = 0.5, 2.5, 0.1
"""A survey by cross-sections: their spacing in usual widths, the step of the soundings across and
the least depth sounded [m]. What a thorough angler or a surveyor leaves (our choice)."""

LOW_SHARE = 0.75
"""Flow of the terrain model's day over the lowest mapped flow."""

BED_ERROR_M, BED_SET_M, BED_PATCH_M = 0.10, 0.05, 4.0
"""Errors of a topobathymetric model under water: from place to place, of the whole flight, and how
far they are alike [m]. From memory, 0.1-0.2 m: green laser through rivers."""
DARK_M = 2.0
"""Deeper than this such a model holds nothing [m]: a clear river's. Our choice, 1-4."""
DRIVES = {"DEM + one drift": 1, "DEM + three tracks": 3}
"""Drives with an echo sounder down the deepest water, and besides it a fifth of the width off."""
BED_MODEL = "topobathymetric DEM"


@dataclass(frozen=True)
class TrueRiver:
    """A river as it is: its ground on cells of 1 m, its flows, what an angler draws of it.

    `water` holds the flow of the terrain's day, the mapped flows and `STALE` times these; `dem`
    makes the terrain model on the grid of any cell size.
    """

    name: str
    ground: xr.Dataset
    water: xr.Dataset
    markup: Markup
    dem: Callable[[GroundSettings], Dem]
    flows: tuple[float, ...]
    slope: float

    def at(self, flow: float) -> xr.Dataset:
        """Return the true water at one of its flows [m3/s]."""
        return self.water.isel(flow=int(np.abs(self.water["flow"].to_numpy() - flow).argmin()))


@dataclass(frozen=True)
class Given:
    """What an angler gives of a river, and the ground made from it."""

    river: str
    evidence: str
    markup: Markup
    ground: xr.Dataset


def needed_flows(flows: Sequence[float]) -> list[float]:
    """Return every flow at which the true water is needed, rising [m3/s]."""
    return sorted({LOW_SHARE * flows[0], *flows, *(STALE * flow for flow in flows)})


def _true_water(name: str, ground: xr.Dataset, flows: Sequence[float]) -> xr.Dataset:
    """Return the true water at every needed flow, kept in the folder `REACHMAP_TRUTH` if set.

    A kept file belongs to the engine's version and the true bed: solving a river takes minutes.
    """
    folder = os.environ.get("REACHMAP_TRUTH", "")
    if not folder:
        return with_labels(solve(ground, needed_flows(flows), ENGINE), UnitSystem.METRIC)
    inputs = {"bed": hashlib.sha256(ground["bed"].to_numpy().tobytes()).hexdigest()}
    key = stage_key("truth", VERSION, {"flows": needed_flows(flows)}, inputs)
    path = Path(folder) / f"truth-{name}-{key}.nc"
    return remembered(
        path, lambda: with_labels(solve(ground, needed_flows(flows), ENGINE), UnitSystem.METRIC)
    )


def true_sample() -> TrueRiver:
    """Return the sample river, drawn as it is in `data_samples`."""
    reach = read_markup(ROOT / "data_samples" / "madeup_river")
    flows = tuple(reach.plan.flows[number] for number in (1, 4, 6))
    ground = sample_truth(round(FINE_M))
    water = _true_water("sample", ground, flows)

    def dem(settings: GroundSettings) -> Dem:
        grid = grid_of(reach, settings.cell, settings.margin_m)
        return read_dem(reach.dems, grid, reach.plan.dem)

    return TrueRiver("sample", ground, water, reach, dem, flows, sample_plan.SLOPE)


def true_bends(low: float = 20.0) -> TrueRiver:
    """Return a river of regular bends and pools."""
    river = pool_riffle(length=1500, bumps=0.12)
    markup = drawing(river, low, say_slope=False)
    fine = GroundSettings(cell=FINE_M)
    grid = grid_of(markup, fine.cell, fine.margin_m)
    bed = river.at(*np.meshgrid(grid.x, grid.y))
    rough = np.full(bed.shape, river.roughness)
    seen = flown(river, markup, LOW_SHARE * low, cell=FINE_M)
    flows = (low, 3 * low, 7 * low)
    case = Case("bends", markup, seen, bed, rough, flows, river.slope)
    ground = true_ground(case, build_ground(markup, seen, fine))
    return _seen("bends", ground, markup, flows, river.slope)


def true_reach(name: str) -> TrueRiver:
    """Return one of the rivers of `tests.reaches` by its name."""
    ground = getattr(reaches, f"{name}_ground")(FINE_M)
    flows = getattr(reaches, f"{name.upper()}_FLOWS")
    return _seen(name, ground, None, flows, float(ground.attrs["slope"]))


def true_ledges(name: str, rock: Rock) -> TrueRiver:
    """Return a river of other ledges, on which no rule of grading was chosen."""
    ground = reaches.ledges_ground(FINE_M, rock)
    return _seen(name, ground, None, reaches.LEDGES_FLOWS, float(ground.attrs["slope"]))


RIVERS: dict[str, Callable[[], TrueRiver]] = {
    "sample": true_sample,
    "bends": true_bends,
    **{
        name: partial(true_reach, name)
        for name in ("braided", "steep", "winding", "islands", "ledges")
        if hasattr(reaches, f"{name}_ground")
    },
    "slanted ledges": partial(true_ledges, "slanted ledges", SLANTED),
    "broken ledges": partial(true_ledges, "broken ledges", BROKEN),
}
"""Every made river by name."""


def _seen(
    name: str,
    ground: xr.Dataset,
    markup: Markup | None,
    flows: tuple[float, ...],
    slope: float,
) -> TrueRiver:
    """Return a river with edges, drawing and terrain model taken from its true water."""
    water = _true_water(name, ground, flows)
    low = LOW_SHARE * flows[0]
    numbers = [int(np.abs(water["flow"].to_numpy() - flow).argmin()) for flow in (low, *flows)]
    drawn = markup or drawn_at(ground, flows, ENGINE, water=water.isel(flow=numbers[1:2]))
    edges = tuple(
        Edge(line, flow, "")
        for number, flow in zip(numbers[2:], flows[1:], strict=True)
        for side in ("edge_left", "edge_right")
        for line in edge_layers(ground, water.isel(flow=[number]))[side].geometry
    )
    level = water["level"].isel(flow=numbers[0]).to_numpy()
    # the water of the day hides its own bed only; beyond, the ground was dry
    height = ground["bed"].copy(data=np.where(np.isfinite(level), level, ground["bed"]))
    plan = replace(drawn.plan, dem=DemNote(low, "m", ""), flows=flows)
    drawn = replace(drawn, edges=edges, plan=plan)

    def dem(settings: GroundSettings) -> Dem:
        grid = grid_of(drawn, settings.cell, settings.margin_m)
        return Dem(_block_means(height, grid.x, grid.y, settings.cell), low, "made datum")

    return TrueRiver(name, ground, water, drawn, dem, flows, slope)


def _block_means(values: xr.DataArray, x: FloatArray, y: FloatArray, cell: float) -> np.ndarray:
    """Return the mean of 1 m values over each cell of a coarser raster, float32 (y, x)."""
    times = round(cell / FINE_M)
    shifts = (np.arange(times) - (times - 1) / 2) * FINE_M
    parts = [
        values.reindex(x=x + dx, y=y + dy, method="nearest", tolerance=0.3 * FINE_M).to_numpy()
        for dy in shifts
        for dx in shifts
    ]
    known = np.isfinite(np.stack(parts))
    total = np.where(known, np.stack(parts), 0.0).sum(axis=0)
    count = known.sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan).astype(np.float32)


def given(river: TrueRiver, cell: float, wanted: Sequence[str] = ()) -> Iterator[Given]:
    """Yield what an angler gives of a river, from edges alone to 60 soundings, and its ground.

    Parameters
    ----------
    river
        The river as it is.
    cell
        Of the map [m].
    wanted
        Names of the evidence; none: all.
    """
    settings = GroundSettings(cell=cell)
    blank = np.zeros((1, 1))
    terrain = river.dem(settings)
    case = Case(river.name, river.markup, terrain, blank, blank, river.flows[:3], river.slope)
    low = river.at(river.flows[0]).expand_dims("flow")
    many = with_soundings(case, river.ground, low, MANY_SOUNDINGS)
    surveyed, plan = with_sections(river), river.markup.plan
    driven = [(name, count) for name, count in DRIVES.items() if not wanted or name in wanted]
    for name, markup, use_dem in (
        *variants(case, river.ground, low),
        (f"DEM + {MANY_SOUNDINGS} soundings", many, True),
        ("edges + sections", replace(surveyed, plan=replace(plan, slope=river.slope)), False),
        ("DEM + sections", surveyed, True),
        *((name, with_tracks(river, case, count), True) for name, count in driven),
    ):
        if not wanted or name in wanted:
            ground = build_ground(markup, terrain if use_dem else None, settings)
            yield Given(river.name, name, markup, ground)
    if not wanted or BED_MODEL in wanted:
        markup = with_bed_said(river)
        yield Given(
            river.name,
            BED_MODEL,
            markup,
            build_ground(markup, bed_model(river, settings), settings),
        )


def with_tracks(river: TrueRiver, case: Case, count: int) -> Markup:
    """Return the drawing with drives of an echo sounder at the lowest flow, no soundings."""
    by = Surveyor(case, Truth(river.ground, river.at(river.flows[0]).expand_dims("flow"), []))
    return replace(river.markup, soundings=(), tracks=by.tracks(count))


def with_bed_said(river: TrueRiver) -> Markup:
    """Return the drawing of whoever has a topobathymetric model, and says so."""
    plan = river.markup.plan
    said = replace(plan.dem, flow=np.nan, below_water=True)
    return replace(river.markup, soundings=(), plan=replace(plan, dem=said, slope=river.slope))


def bed_model(river: TrueRiver, settings: GroundSettings) -> Dem:
    """Return a topobathymetric model of a river flown at its lowest flow, with its errors."""
    rng = np.random.default_rng(23)
    depth = np.nan_to_num(river.at(river.flows[0])["depth"].to_numpy())
    local = gaussian_filter(rng.normal(0, 1, depth.shape), BED_PATCH_M / FINE_M / 2)
    off = BED_ERROR_M * local / local.std() + rng.normal(0, BED_SET_M)
    bed = river.ground["bed"].to_numpy()
    seen = np.where(depth > DARK_M, np.nan, bed + np.where(depth > 0, off, 0.0))
    grid = grid_of(river.markup, settings.cell, settings.margin_m)
    height = _block_means(river.ground["bed"].copy(data=seen), grid.x, grid.y, settings.cell)
    return Dem(height, np.nan, "made datum")


def with_sections(river: TrueRiver) -> Markup:
    """Return the drawing with soundings in cross-sections, depths at the lowest flow."""
    rng = np.random.default_rng(17)
    depth = river.at(river.flows[0])["depth"].to_numpy()
    station, offset = river.ground["station"].to_numpy(), river.ground["offset"].to_numpy()
    width = float(np.nanmedian(river.ground["line_width"].to_numpy()))
    end = float(river.ground["line_station"].to_numpy()[-1])
    made = []
    for at in np.arange(SECTION_STEP_M, end, SECTION_WIDTHS * width):
        row, col = np.nonzero((np.abs(station - at) < FINE_M) & (depth > SECTION_DEPTH_M))
        steps = np.round(offset[row, col] / SECTION_STEP_M)
        _, first = np.unique(steps, return_index=True)
        for r, c in zip(row[first], col[first], strict=True):
            x, y = river.ground["x"].to_numpy()[c], river.ground["y"].to_numpy()[r]
            deep = float(depth[r, c]) + rng.normal(0, SOUNDING_ERROR_M)
            place = Point(x, y)
            made.append(Sounding(f"S{len(made) + 1}", place, deep, river.flows[0], np.nan))
    return replace(river.markup, soundings=tuple(made))


def true_cells(
    ground: xr.Dataset, river: TrueRiver
) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Return rows and columns of 1 m cells, and of the map's cells that hold them."""
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    known = np.isfinite(river.ground["bed"].to_numpy())
    row, col = np.nonzero(known)
    tx, ty = river.ground["x"].to_numpy()[col], river.ground["y"].to_numpy()[row]
    map_col = np.floor((tx - x[0]) / (x[1] - x[0]) + 0.5).astype(np.int32)
    map_row = np.floor((ty - y[0]) / (y[1] - y[0]) + 0.5).astype(np.int32)
    keep = (map_row >= 0) & (map_row < y.size) & (map_col >= 0) & (map_col < x.size)
    return (
        row[keep].astype(np.int32),
        col[keep].astype(np.int32),
        map_row[keep],
        map_col[keep],
    )
