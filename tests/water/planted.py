"""Made straight rivers with structures planted in them, at sizes other than `structure_river`'s.

The rules of structure were set on that one river, 40 m wide. Here are a creek 12 m wide with a
ledge and pocket water, a river 18 m wide, and one 90 m wide with buckets of two depths, large
boulders and a wide shelf. The creek and the large boulders showed that two lengths were of one size
of river; the river 18 m wide was made after that was mended and had no part in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import xarray as xr
from scipy import ndimage

from reachmap.base.fields import check_fields, with_labels
from reachmap.base.words import COVER_CODES, Cover, UnitSystem
from reachmap.base.words_runs import StructureKind
from reachmap.flow import FlowSettings, solve
from tests.made import CRS, ORIGIN_X, ORIGIN_Y

Stone = tuple[float, float, float, float]
"""Station, offset, radius and height [m]."""

Planted = tuple[StructureKind, np.ndarray]
"""Kind and cells of a structure."""

BANK_RISE_M, BANK_RUN_M = 3.0, 3.0
FAR_SHARE = 0.35
"""Bed farther from every structure than this share of half the width, and 5 m, is plain; no
more than 14 m."""


@dataclass(frozen=True, slots=True)
class Hollow:
    """A hollow with a smooth floor: its middle, half its length and width, its depth [m].

    `taper` [m] is 0 for a bowl; else the hollow is of one section, and ends over so much.
    """

    name: str
    kind: StructureKind
    station: float
    offset: float
    half_long: float
    half_wide: float
    deep: float
    taper: float = 0.0

    def depth(self, s: np.ndarray, n: np.ndarray) -> np.ndarray:
        """Return how deep it is at places [m]."""
        along, across = (s - self.station) / self.half_long, (n - self.offset) / self.half_wide
        if self.taper == 0:
            return self.deep * hump(np.hypot(along, across))
        ends = (1 - np.abs(along)) * self.half_long / self.taper
        return self.deep * hump(np.abs(across)) * np.clip(ends, 0, 1)


@dataclass(frozen=True, slots=True)
class Ledge:
    """A step of rock from bank to bank, with its pool: its lip, how far the bed rises to it [m]."""

    station: float
    step: float
    rise_over: float
    pool_deep: float
    pool_long: float


@dataclass(frozen=True, slots=True)
class Shelf:
    """A flat shelf along the left bank: its edge's offset, ends, and height above the bed [m]."""

    edge: float
    begin: float
    end: float
    tall: float
    fall_over: float


@dataclass(frozen=True, slots=True)
class Point:
    """A spur of the left bank: its station, how long it is along the river, how far out [m]."""

    station: float
    half_long: float
    out: float


@dataclass(frozen=True, eq=False)
class PlantedRiver:
    """A straight river: its size, flows from low to high [m3/s], and what is planted."""

    name: str
    length: float
    half_bed: float
    margin: float
    cell: float
    slope: float
    roughness: float
    flows: tuple[float, ...]
    hollows: tuple[Hollow, ...]
    boulder: Stone
    garden: tuple[Stone, ...]
    ledge: Ledge
    point: Point
    shelf: Shelf | None = None
    noise_m: float = 0.04
    seed: int = 5

    def places(self) -> tuple[np.ndarray, np.ndarray]:
        """Return station and offset of each cell; rows run south, the river runs east."""
        half = self.half_bed + self.margin
        station = np.arange(self.cell / 2, self.length, self.cell)
        offset = np.arange(-half + self.cell / 2, half, self.cell)[::-1]
        s, n = np.meshgrid(station, offset)
        return s, n

    def bank(self, n: np.ndarray) -> np.ndarray:
        """Return how far the bank rises above the bed [m]."""
        return np.clip((np.abs(n) - self.half_bed) / BANK_RUN_M, 0, 1) * BANK_RISE_M

    def ground(self, *, plain: bool = False) -> xr.Dataset:
        """Return the ground, its bed known everywhere; `plain` without any structure."""
        s, n = self.places()
        rng = np.random.default_rng(self.seed)
        rough = ndimage.gaussian_filter(rng.normal(size=s.shape), 3.0 / self.cell)
        bed = 100.0 - self.slope * s + 0.15 * (n / self.half_bed) ** 2 + self.bank(n)
        bed = bed + self.noise_m * rough / rough.std()
        if plain:
            return self._dataset(bed, s, n)
        for hollow in self.hollows:
            bed = bed - hollow.depth(s, n)
        bed = bed - self.pool(s, n)
        one = self.ledge
        step = np.clip((s - one.station + one.rise_over) / one.rise_over, 0, 1) * (s < one.station)
        bed = bed + one.step * step * (np.abs(n) < self.half_bed + 2)
        if self.shelf is not None:
            rise = np.clip((n - self.shelf.edge) / self.shelf.fall_over, 0, 1)
            ends = np.clip(np.minimum(s - self.shelf.begin, self.shelf.end - s) / 15.0, 0, 1)
            bed = bed + np.maximum(self.shelf.tall * rise * ends - self.bank(n), 0)
        bed = bed + heights((self.boulder, *self.garden), s, n)
        spur = np.abs(s - self.point.station) <= self.point.half_long
        spur &= n >= self.half_bed - self.point.out
        bed = np.where(spur, np.maximum(bed, 103.0), bed)
        return self._dataset(bed, s, n)

    def _dataset(self, bed: np.ndarray, s: np.ndarray, n: np.ndarray) -> xr.Dataset:
        """Return the ground Dataset of a bed."""
        line = np.arange(0.0, self.length + 1.0, 2.0)
        dims = ("y", "x")
        fields = {
            "bed": bed,
            "cover": np.full(bed.shape, COVER_CODES[Cover.GRAVEL], np.uint8),
            "roughness": np.full(bed.shape, self.roughness),
            "surface": bed,
            "station": s,
            "offset": n,
            "confidence": np.full(bed.shape, 0.9),
        }
        lines = {
            "line_x": ORIGIN_X + line,
            "line_y": np.full(line.shape, ORIGIN_Y),
            "line_station": line,
            "line_width": np.full(line.shape, 2 * self.half_bed),
        }
        made = xr.Dataset(
            {name: (dims, values) for name, values in fields.items()}
            | {name: (("vertex",), values) for name, values in lines.items()},
            coords={"x": ORIGIN_X + s[0], "y": ORIGIN_Y + n[:, 0]},
            attrs={"crs": CRS, "cell": self.cell, "slope": self.slope},
        )
        return check_fields(made, "ground")

    def water(self, *, plain: bool = False) -> xr.Dataset:
        """Return how the river runs at each flow, by the engine."""
        ground = self.ground(plain=plain)
        solved = solve(ground, list(self.flows), FlowSettings(method="engine"))
        return with_labels(solved, UnitSystem.METRIC)

    def pool(self, s: np.ndarray, n: np.ndarray) -> np.ndarray:
        """Return how deep the ledge's pool is [m]."""
        share = np.clip((s - self.ledge.station) / self.ledge.pool_long, 0, 1)
        across = np.clip((0.95 * self.half_bed - np.abs(n)) / (0.2 * self.half_bed), 0, 1)
        return self.ledge.pool_deep * np.sin(np.pi * share) * across

    def planted(self) -> dict[str, Planted]:
        """Return kind and cells of each structure by name: of a lee or eddy what it shelters."""
        s, n = self.places()
        found: dict[str, Planted] = {}
        for one in self.hollows:
            found[one.name] = one.kind, one.depth(s, n) >= 0.25 * one.deep
        deep = self.pool(s, n)
        found["ledge pool"] = StructureKind.LEDGE_POOL, deep >= 0.25 * self.ledge.pool_deep
        at, out, radius, _ = self.boulder
        lee = (np.abs(n - out) <= radius) & (s > at + radius) & (s < at + 4.3 * radius)
        found["boulder lee"] = StructureKind.BOULDER_LEE, lee
        garden = np.zeros(s.shape, dtype=bool)
        for at, out, radius, _ in self.garden:
            garden |= np.hypot(s - at, n - out) <= 3.0 * radius
        found["rock garden"] = StructureKind.ROCK_GARDEN, garden
        tip, below = self.half_bed - self.point.out, self.point.station + self.point.half_long
        eddy = (s > below) & (s < below + 2 * self.point.out)
        eddy &= (n > tip + 1.0) & (n < self.half_bed)
        found["eddy below a point"] = StructureKind.EDDY_LINE, eddy
        if self.shelf is not None:
            middle, ends = self.shelf.edge + 0.5 * self.shelf.fall_over, 15.0
            fall = np.abs(n - middle) <= 0.5 * self.shelf.fall_over + 1.5
            fall &= (s > self.shelf.begin + ends) & (s < self.shelf.end - ends)
            found["drop-off"] = StructureKind.DROP_OFF, fall
        return found

    def plain_bed(self) -> np.ndarray:
        """Return the cells of bed far from every structure and from the reach's ends."""
        s, n = self.places()
        near = heights((self.boulder, *self.garden), s, n) > 0
        for _, mask in self.planted().values():
            near |= mask
        for one in self.hollows:
            near |= one.depth(s, n) > 0
        rise = s > self.ledge.station - self.ledge.rise_over
        near |= rise & (s < self.ledge.station + self.ledge.pool_long)
        near |= (np.abs(s - self.point.station) < self.point.half_long + 2) & (n > 0)
        if self.shelf is not None:
            near |= (s > self.shelf.begin) & (s < self.shelf.end) & (n > self.shelf.edge)
        apart = min(max(FAR_SHARE * self.half_bed, 5.0), 14.0)
        far = ndimage.distance_transform_edt(~near) * self.cell > apart
        ends = 1.5 * self.half_bed
        return far & (s > ends) & (s < self.length - ends)


def hump(rho: np.ndarray) -> np.ndarray:
    """Return a smooth hump of height 1 that ends at 1."""
    return np.where(rho < 1, 0.5 * (1 + np.cos(np.pi * np.minimum(rho, 1.0))), 0.0)


def heights(stones: tuple[Stone, ...], s: np.ndarray, n: np.ndarray) -> np.ndarray:
    """Return the height of boulders above the bed [m]."""
    tall = np.zeros(s.shape)
    for at, out, radius, height in stones:
        rho = np.hypot(s - at, n - out) / radius
        tall = np.maximum(tall, np.where(rho < 1, height * (1 - rho**3), 0.0))
    return tall


CREEK = PlantedRiver(
    name="creek 12 m wide",
    length=460.0,
    half_bed=6.0,
    margin=8.0,
    cell=1.0,
    slope=0.006,
    roughness=0.045,
    flows=(1.5, 3.5, 7.0, 12.0),
    hollows=(
        Hollow("bucket", StructureKind.BUCKET, 190.0, 0.5, 4.5, 3.0, 0.6),
        Hollow("slot", StructureKind.SLOT, 350.0, -3.4, 17.0, 2.0, 0.5, taper=4.0),
    ),
    boulder=(240.0, 1.0, 1.3, 0.8),
    garden=(
        (276.0, -1.0, 1.0, 0.6), (279.0, 2.5, 1.2, 0.7), (282.5, -3.2, 1.1, 0.7),
        (285.0, 0.3, 0.9, 0.5), (288.0, 3.4, 1.3, 0.8), (291.5, -1.6, 1.1, 0.6),
        (295.0, 1.8, 1.0, 0.6), (297.0, -3.8, 1.2, 0.7),
    ),
    ledge=Ledge(110.0, 0.4, 20.0, 0.6, 13.0),
    point=Point(50.0, 2.0, 4.0),
    noise_m=0.03,
)  # fmt: skip

WIDE = PlantedRiver(
    name="river 90 m wide",
    length=1100.0,
    half_bed=45.0,
    margin=15.0,
    cell=2.0,
    slope=0.0012,
    roughness=0.032,
    flows=(45.0, 100.0, 190.0, 300.0),
    hollows=(
        Hollow("deep bucket", StructureKind.BUCKET, 420.0, 6.0, 16.0, 11.0, 1.4),
        Hollow("shallow bucket", StructureKind.BUCKET, 500.0, -18.0, 8.0, 6.0, 0.5),
        Hollow("slot", StructureKind.SLOT, 760.0, -33.0, 62.0, 7.0, 1.0, taper=15.0),
    ),
    boulder=(560.0, -8.0, 3.6, 1.6),
    garden=(
        (625.0, 2.0, 3.0, 1.1), (632.0, 16.0, 3.6, 1.4), (638.0, -9.0, 2.6, 1.0),
        (645.0, 6.0, 4.0, 1.6), (652.0, 21.0, 3.0, 1.2), (657.0, -2.0, 3.4, 1.3),
        (665.0, 11.0, 2.8, 1.0),
    ),
    ledge=Ledge(260.0, 0.6, 60.0, 1.1, 38.0),
    point=Point(130.0, 5.0, 22.0),
    shelf=Shelf(18.0, 840.0, 1000.0, 0.9, 5.0),
)  # fmt: skip

SMALL = PlantedRiver(
    name="river 18 m wide",
    length=620.0,
    half_bed=9.0,
    margin=9.0,
    cell=1.0,
    slope=0.004,
    roughness=0.04,
    flows=(3.5, 8.0, 15.0, 25.0),
    hollows=(
        Hollow("bucket", StructureKind.BUCKET, 255.0, -1.5, 6.5, 4.0, 0.55),
        Hollow("slot", StructureKind.SLOT, 460.0, 5.0, 24.0, 2.8, 0.6, taper=6.0),
    ),
    boulder=(310.0, 2.0, 1.9, 0.9),
    garden=(
        (352.0, -2.0, 1.5, 0.7), (357.0, 3.5, 1.8, 0.9), (361.0, -5.0, 1.4, 0.7),
        (366.0, 0.5, 1.6, 0.8), (371.0, 5.0, 1.7, 0.8), (375.0, -2.5, 1.5, 0.7),
    ),
    ledge=Ledge(150.0, 0.45, 30.0, 0.7, 18.0),
    point=Point(70.0, 2.5, 6.0),
    noise_m=0.035,
    seed=8,
)  # fmt: skip

RIVERS: dict[str, PlantedRiver] = {"creek": CREEK, "small": SMALL, "wide": WIDE}


@cache
def solved(name: str, *, plain: bool = False) -> tuple[xr.Dataset, xr.Dataset]:
    """Return ground and water of one of the rivers, worked out once."""
    river = RIVERS[name]
    return river.ground(plain=plain), river.water(plain=plain)
