"""A made straight river with one of each structure planted in it, and where each lies.

A gravel bed 40 m wide between banks of 1 in 3, a little dished and a little rough, so that plain
bed is not ideal. Each structure stands alone, some widths from the next.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import xarray as xr
from scipy import ndimage

from reachmap.base.fields import check_fields
from reachmap.base.words import COVER_CODES, Cover
from reachmap.base.words_runs import StructureKind
from reachmap.flow.engine import EngineSettings, solve_engine
from tests.made import CRS, ORIGIN_X, ORIGIN_Y

LENGTH, HALF_BED, HALF_ALL, CELL = 760.0, 20.0, 34.0, 2.0
SLOPE, ROUGHNESS = 0.003, 0.035
FLOWS = (20.0, 40.0, 70.0, 110.0)
"""From low water to a good push of it; the third is about a winter's middle flow."""
LONE_BOULDER = (345.0, -6.0, 2.4, 1.1)
"""Station, offset, radius and height [m]."""
GARDEN = (
    (398.0, 2.0, 1.8, 0.8),
    (404.0, 10.0, 2.0, 0.9),
    (408.0, -3.0, 1.6, 0.7),
    (413.0, 5.0, 2.2, 1.0),
    (418.0, 13.0, 1.7, 0.8),
    (421.0, -1.0, 2.0, 0.9),
    (427.0, 8.0, 1.8, 0.8),
    (431.0, 1.0, 1.7, 0.9),
    (434.0, 12.0, 1.9, 0.8),
)
SHELF_M = 0.6
FAR_M = 14.0
"""Bed farther than this from every structure, its lee and its stones is plain [m]."""


def _places() -> tuple[np.ndarray, np.ndarray]:
    """Return station and offset of each cell, rows run south, the river runs east."""
    station = np.arange(CELL / 2, LENGTH, CELL)
    offset = np.arange(-HALF_ALL + CELL / 2, HALF_ALL, CELL)[::-1]
    s, n = np.meshgrid(station, offset)
    return s, n


def _taper(s: np.ndarray, low: float, high: float, over: float) -> np.ndarray:
    """Return 1 between two stations, falling to 0 over a length within them."""
    return np.clip(np.minimum(s - low, high - s) / over, 0.0, 1.0)


def _bump(rho: np.ndarray) -> np.ndarray:
    """Return a smooth hump of height 1 that ends at 1."""
    return np.where(rho < 1, 0.5 * (1 + np.cos(np.pi * np.minimum(rho, 1.0))), 0.0)


def _hollows(s: np.ndarray, n: np.ndarray) -> dict[StructureKind, np.ndarray]:
    """Return how deep the hollow of each kind is [m]."""
    pool = np.clip((s - 190.0) / 26.0, 0.0, 1.0)
    return {
        StructureKind.LEDGE_POOL: 0.8
        * np.sin(np.pi * pool)
        * np.clip((19.0 - np.abs(n)) / 4, 0, 1),
        StructureKind.BUCKET: 0.8 * _bump(np.hypot((s - 285.0) / 9.0, (n - 2.0) / 7.0)),
        StructureKind.SLOT: 0.7 * _bump(np.abs(n + 14.0) / 4.5) * _taper(s, 470.0, 545.0, 8.0),
    }


def _stones(s: np.ndarray, n: np.ndarray) -> np.ndarray:
    """Return the height of the boulders [m]."""
    height = np.zeros(s.shape)
    for at, out, radius, tall in (LONE_BOULDER, *GARDEN):
        rho = np.hypot(s - at, n - out) / radius
        height = np.maximum(height, np.where(rho < 1, tall * (1 - rho**3), 0.0))
    return height


@cache
def ground(*, plain: bool = False) -> xr.Dataset:
    """Return the ground; `plain` without any structure."""
    s, n = _places()
    rng = np.random.default_rng(11)
    rough = ndimage.gaussian_filter(rng.normal(size=s.shape), 1.5)
    bed = 100.0 - SLOPE * s + 0.15 * (n / HALF_BED) ** 2 + 0.04 * rough / rough.std()
    bed = bed + np.clip((np.abs(n) - HALF_BED) / 3.0, 0.0, 3.0)
    if not plain:
        bed = bed - sum(_hollows(s, n).values())
        # the ledge: the bed above it rises to a rock step of half a metre
        step = np.clip((s - 140.0) / 48.0, 0.0, 1.0) * (s < 190.0)
        bed = bed + 0.5 * step * (np.abs(n) < HALF_BED + 2)
        shelf = np.clip((n - 2.5) / 3.5, 0.0, 1.0) * _taper(s, 580.0, 680.0, 15.0)
        bank = np.clip((np.abs(n) - HALF_BED) / 3.0, 0.0, 3.0)
        bed = bed + np.maximum(SHELF_M * shelf - bank, 0.0)
        bed = bed + _stones(s, n)
        point = (np.abs(s - 90.0) <= 4.0) & (n >= 8.0)
        bed = np.where(point, np.maximum(bed, 103.0), bed)
    dims = ("y", "x")
    cover = np.where(np.abs(n) < HALF_BED + 4, COVER_CODES[Cover.GRAVEL], COVER_CODES[Cover.BRUSH])
    line = np.arange(0.0, LENGTH + 1.0, 2.0)
    made = xr.Dataset(
        {
            "bed": (dims, bed),
            "cover": (dims, cover.astype(np.uint8)),
            "roughness": (dims, np.full(bed.shape, ROUGHNESS)),
            "surface": (dims, bed),
            "station": (dims, s),
            "offset": (dims, n),
            "confidence": (dims, np.full(bed.shape, 0.9)),
            "line_x": (("vertex",), ORIGIN_X + line),
            "line_y": (("vertex",), np.full(line.shape, ORIGIN_Y)),
            "line_station": (("vertex",), line),
            "line_width": (("vertex",), np.full(line.shape, 2 * HALF_BED)),
        },
        coords={"x": ORIGIN_X + s[0], "y": ORIGIN_Y + n[:, 0]},
        attrs={"crs": CRS, "cell": CELL, "slope": SLOPE},
    )
    return check_fields(made, "ground")


def normal_level(flow: float) -> float:
    """Return the level of uniform flow at the foot [m], by Manning on the plain section."""
    n = _places()[1][:, 0]
    bed = 0.15 * (n / HALF_BED) ** 2 + np.clip((np.abs(n) - HALF_BED) / 3.0, 0.0, 3.0)
    fills = np.linspace(0.05, 2.9, 600)
    carried = [
        (np.clip(fill - bed, 0, None) ** (5 / 3)).sum() * CELL / ROUGHNESS * SLOPE**0.5
        for fill in fills
    ]
    return 100.0 - SLOPE * LENGTH + float(np.interp(flow, carried, fills))


@cache
def flows(*, plain: bool = False) -> xr.Dataset:
    """Return how the river runs at each flow, by the engine; `plain` without any structure."""
    feet = [normal_level(flow) for flow in FLOWS]
    solved = solve_engine(ground(plain=plain), FLOWS, feet, EngineSettings(), workers=1)
    return solved.assign_coords(asked=("flow", [f"{flow:g}m3s" for flow in FLOWS]))


def planted() -> dict[StructureKind, np.ndarray]:
    """Return the cells of each structure: for a lee or an eddy the water it shelters."""
    s, n = _places()
    found = {kind: deep >= 0.25 * deep.max() for kind, deep in _hollows(s, n).items()}
    at, out, radius, _ = LONE_BOULDER
    found[StructureKind.BOULDER_LEE] = (np.abs(n - out) <= radius) & (
        (s > at + radius) & (s < at + radius + 8.0)
    )
    garden = np.zeros(s.shape, dtype=bool)
    for at, out, radius, _ in GARDEN:
        garden |= np.hypot(s - at, n - out) <= radius + 4.0
    found[StructureKind.ROCK_GARDEN] = garden
    found[StructureKind.EDDY_LINE] = (s > 94.0) & (s < 118.0) & (n > 9.0) & (n < HALF_BED)
    found[StructureKind.DROP_OFF] = (n > 1.0) & (n < 7.0) & (s > 595.0) & (s < 665.0)
    return found


def plain_bed() -> np.ndarray:
    """Return the cells of bed far from every structure, from stones and from the reach's ends."""
    s, n = _places()
    near = _stones(s, n) > 0
    for mask in planted().values():
        near |= mask
    near |= (np.abs(s - 90.0) < 6.0) & (n > 6.0)
    near |= (s > 138.0) & (s < 190.0)  # the ledge's own rise
    near |= (s > 578.0) & (s < 682.0) & (n > 0.0)  # the shelf
    far = ndimage.distance_transform_edt(~near) * CELL > FAR_M
    return far & (s > 60.0) & (s < LENGTH - 60.0)
