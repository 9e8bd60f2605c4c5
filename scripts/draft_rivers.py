"""Made rivers as a flight at low flow would see them, for scripts/measure_draft.py."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import xarray as xr
from scipy.ndimage import gaussian_filter
from shapely import LineString

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.arrays import BoolArray, FloatArray  # noqa: E402
from reachmap.base.grid import Grid  # noqa: E402
from reachmap.base.patches import Patches  # noqa: E402
from reachmap.flow import FlowSettings, solve  # noqa: E402
from reachmap.ground.dem import read_dem  # noqa: E402
from reachmap.markup import read_markup  # noqa: E402
from scripts.sample import plan as sample_plan  # noqa: E402
from scripts.sample.truth import read_truth, truth_ground  # noqa: E402
from tests.draft.terrains import valley  # noqa: E402
from tests.ground.scenes import pool_riffle  # noqa: E402
from tests.reaches import (  # noqa: E402
    BRAIDED_FLOWS,
    ISLANDS_FLOWS,
    LEDGES_FLOWS,
    STEEP_FLOWS,
    WINDING_FLOWS,
    braided_ground,
    islands_ground,
    ledges_ground,
    steep_ground,
    winding_ground,
)

NOISE_M = 0.03
"""Lidar's noise from cell to cell [m], standard deviation (our choice, of what surveys state)."""

LEAST_RISE_M = 0.25
"""A crest holds a pool at least this deep above it [m], of the bed's deepest line."""


@dataclass(frozen=True)
class River:
    """A made river as a flight sees it, and as it is.

    Parameters
    ----------
    name
        Of it.
    grid
        Raster of the rest.
    height
        Terrain with the water of the flight [m], without noise.
    wet
        Cells of that water.
    line
        The true middle.
    crests
        True stations of crests along it [m]; None where it has no pools.
    """

    name: str
    grid: Grid
    height: FloatArray
    wet: BoolArray
    line: LineString
    crests: FloatArray | None


def rivers() -> Iterator[Callable[[], River]]:
    """Yield the makers of the rivers."""
    yield sample_river
    yield bends_river
    for name, ground, flows in (
        ("winding", winding_ground, WINDING_FLOWS),
        ("islands", islands_ground, ISLANDS_FLOWS),
        ("braided", braided_ground, BRAIDED_FLOWS),
        ("steep", steep_ground, STEEP_FLOWS),
        ("ledges", ledges_ground, LEDGES_FLOWS),
    ):
        yield lambda name=name, ground=ground, flows=flows: reach_river(name, ground(), flows[0])
    yield valley_river


def sample_river() -> River:
    """Return the sample, its own terrain model as it is."""
    reach = read_markup(ROOT / "data_samples" / "madeup_river")
    laid = read_truth(ROOT / "tests" / "truth" / "true_river.tif")
    truth = truth_ground(laid, sample_plan.centreline(), cell=1)
    grid = Grid.of(truth.assign_attrs(crs=reach.crs))
    dem = read_dem(reach.dems, grid, reach.plan.dem)
    height = dem.height.astype(np.float64)
    water = solve(truth, [reach.plan.dem.flow], FlowSettings(method="profile"))
    wet = _main_water(np.isfinite(water["depth"].to_numpy()[0]), truth)
    line = sample_plan.centreline()
    crests = np.array([one.station for one in sample_plan.crests()])
    return River("sample", grid, height, wet, LineString(np.column_stack((line.x, line.y))), crests)


def bends_river() -> River:
    """Return regular bends with a pool each."""
    made = pool_riffle(length=1500, bumps=0.12)
    area = made.line.line().buffer(90).bounds
    grid = Grid.around(area, 2.0, "EPSG:32607")
    x, y = np.meshgrid(grid.x, grid.y)
    bed = made.at(x, y)
    level = made.level_at(made.section_level(15.0), x, y)
    wet = (bed < level) & np.isfinite(bed)
    low = made.bed.min(axis=1)
    crests = crests_of(made.line.station, low)
    height = np.where(wet, level, bed)
    return River("steady bends", grid, height, _largest(wet), made.line.line(), crests)


def valley_river() -> River:
    """Return a river with an island in a valley with hillsides and a brook, from edge to edge."""
    made = valley(island=True, noise=0.0)
    return River("valley", made.grid, made.height, made.wet, LineString(made.line), None)


def reach_river(name: str, truth: xr.Dataset, flow: float) -> River:
    """Return a river of the tests' reaches at a flow."""
    grid = Grid.of(truth)
    water = solve(truth, [0.75 * flow], FlowSettings(method="profile"))
    level = water["level"].to_numpy()[0]
    wet = np.isfinite(water["depth"].to_numpy()[0])
    height = np.where(wet, level, truth["bed"].to_numpy())
    line = LineString(np.column_stack((truth["line_x"], truth["line_y"])))
    low = _deepest(truth, wet)
    crests = crests_of(truth["line_station"].to_numpy(), low)
    return River(name, grid, height, _main_water(wet, truth), line, crests)


def _deepest(truth: xr.Dataset, wet: BoolArray) -> FloatArray:
    """Return the lowest bed of the water about each vertex of the line [m]."""
    station, bed = truth["station"].to_numpy(), truth["bed"].to_numpy()
    at = truth["line_station"].to_numpy()
    good = wet & np.isfinite(station)
    which = np.clip(np.searchsorted(at, station[good]), 0, at.size - 1)
    low = np.full(at.size, np.inf)
    np.minimum.at(low, which, bed[good])
    known = np.isfinite(low)
    return np.interp(at, at[known], low[known])


def crests_of(station: FloatArray, low: FloatArray) -> FloatArray:
    """Return stations at which the deepest line crests: each holds a pool above it.

    Walking upstream, the brim is the highest bed so far; where the bed above falls `LEAST_RISE_M`
    under a brim, that brim is a crest.
    """
    found: list[float] = []
    brim, at, held = low[-1], station[-1], False
    for z, s in zip(low[::-1], station[::-1], strict=True):
        if z >= brim:
            brim, at, held = z, s, False
        elif brim - z >= LEAST_RISE_M and not held:
            found.append(float(at))
            held = True
    return np.array(found[::-1])


def _largest(mask: BoolArray) -> BoolArray:
    """Return the largest connected piece."""
    pieces = Patches.of(mask)
    sizes = pieces.sizes.copy()
    sizes[0] = 0
    return np.asarray(pieces.labels == int(np.argmax(sizes)))


def _main_water(wet: BoolArray, truth: xr.Dataset) -> BoolArray:
    """Return the water that joins the main channel, along the line only."""
    station = truth["station"].to_numpy()
    end = float(truth["line_station"].to_numpy()[-1])
    return _largest(wet & (station >= 0) & (station <= end))


def flown(river: River, seed: int = 1) -> FloatArray:
    """Return the river's terrain with lidar's noise."""
    rng = np.random.default_rng(seed)
    noise = gaussian_filter(rng.standard_normal(river.height.shape), 0.7)
    return river.height + NOISE_M * noise / noise.std()
