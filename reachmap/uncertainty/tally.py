"""Statistics of the ensemble at one flow, accumulated cell by cell."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import xarray as xr
from scipy.special import ndtr

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.listed import CellList
from reachmap.base.packed import PackedRaster, known_cells, values_at
from reachmap.base.patches import nearest_cells
from reachmap.base.words import Wet
from reachmap.markup.model import SeasonLimits
from reachmap.uncertainty.coarse import Coarse, Corners
from reachmap.uncertainty.model_error import LEAST, chance_between
from reachmap.uncertainty.settings import UncertaintySettings


@dataclass(slots=True)
class Tally:
    """Statistics of the ensemble at one flow at the cells near the mapped water."""

    ground: xr.Dataset
    mapped: xr.Dataset
    central: xr.Dataset
    coarse: Coarse
    limits: SeasonLimits
    settings: UncertaintySettings
    number: int = 0
    cells: IntArray = field(init=False)
    river: CellList = field(init=False)
    corners: Corners = field(init=False)
    theirs: WaterAt = field(init=False)
    level: FloatArray = field(init=False)
    depth: FloatArray = field(init=False)
    speed: FloatArray = field(init=False)
    sums: dict[str, FloatArray] = field(init=False)

    def __post_init__(self) -> None:
        """Look up the cells that any member may wet, and the mapped water at them."""
        shape = (self.ground.sizes["y"], self.ground.sizes["x"])
        self.cells, nearest = self._near(shape)
        self.river = CellList.of_cells(self.cells, shape)
        coarse = self.central["depth"].shape
        places = self.coarse.places(*np.divmod(self.cells, shape[1]))
        self.corners = Corners.of(places, (coarse[0], coarse[1]))
        self.theirs = WaterAt.of(self.central, known_cells(self.central["depth"])[0])
        # The level of the nearest mapped water, carried out over dry ground: a member may stand
        # there.
        self.level = values_at(self.mapped["level"], nearest)
        mapped = WaterAt.of(self.mapped, self.cells)
        self.depth, self.speed = mapped.depth, mapped.speed
        names = ("depth", "depth2", "speed", "speed2", "quick2", "wet", "suits", "agrees")
        self.sums = {name: np.zeros(self.level.shape) for name in names}

    def _near(self, shape: tuple[int, int]) -> tuple[IntArray, IntArray]:
        """Return the cells that any member may wet, rising, and the mapped water nearest to each.

        Both as indices into the raveled raster.
        """
        settings, cell = self.settings, float(self.ground.attrs["cell"])
        wet, _ = known_cells(self.mapped["depth"])
        cells, bed = known_cells(self.ground["bed"])
        mask = np.zeros(shape, dtype=bool)
        mask.ravel()[wet] = True
        dry = ~mask.ravel()[cells]
        cells, bed = cells[dry], bed[dry]
        rows, cols = (one.astype(np.int32) for one in np.divmod(cells, shape[1]))
        away, row, col = nearest_cells(mask, rows, cols, math.ceil(settings.reach_m / cell))
        nearest = row * shape[1] + col
        near = away * cell <= settings.reach_m
        near[near] = bed[near] < values_at(self.mapped["level"], nearest[near]) + settings.margin_m
        cells, nearest = np.r_[wet, cells[near]], np.r_[wet, nearest[near]]
        order = np.argsort(cells)
        return cells[order].astype(np.int32), nearest[order].astype(np.int32)

    def add(self, water: xr.Dataset, bed: PackedRaster) -> None:
        """Count one member in, with the flow model's own error about it."""
        below, depth, ratio = self._member_depth(water, bed)
        wet = depth > 0
        with np.errstate(invalid="ignore", divide="ignore"):
            # Manning within a coarse cell, at one slope and roughness: speed goes with depth^(2/3).
            local = np.clip(depth / self.depth, 0.2, 3.0) ** (2 / 3)
        speed = np.nan_to_num(np.where(wet, self.speed * ratio * local, 0.0))
        limits, settings = self.limits, self.settings
        deep, quick = settings.model.depth_m, settings.model.of_speed(speed)
        suits = chance_between(below, limits.depth_low_m, limits.depth_high_m, deep)
        suits *= chance_between(speed, limits.speed_low_m_s, limits.speed_high_m_s, quick)
        tolerance = np.maximum(settings.depth_same_m, settings.same_share * self.depth)
        agrees = chance_between(below, self.depth - tolerance, self.depth + tolerance, deep)
        tolerance = np.maximum(settings.speed_same_m_s, settings.same_share * self.speed)
        agrees *= chance_between(speed, self.speed - tolerance, self.speed + tolerance, quick)
        for name, values in (
            ("depth", depth), ("depth2", depth**2), ("speed", speed), ("speed2", speed**2),
            ("quick2", np.where(wet, quick, 0.0) ** 2),
            ("wet", ndtr((below - settings.dry_m) / max(deep, LEAST))),
            ("suits", suits), ("agrees", agrees),
        ):  # fmt: skip
            self.sums[name] += values
        self.number += 1

    def _member_depth(
        self, water: xr.Dataset, bed: PackedRaster
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return a member's level over the bed at the cells [m], its depth, and its speed's ratio.

        The first is negative above the water, and minus infinity in hollows that nothing joins to
        the river. The ratio is to the central one's speed, freed of what the depth does within a
        coarse cell, which the caller adds.
        """
        theirs, mine = self.theirs, WaterAt.of(water, self.theirs.cells)
        both = np.isfinite(mine.depth)
        rise = mine.level - theirs.level
        level = self.level + self._read(rise, both)
        with np.errstate(invalid="ignore", divide="ignore"):
            quicker = mine.speed / theirs.speed
            deeper = np.clip(mine.depth / theirs.depth, 0.2, 3.0) ** (2 / 3)
            ratio = np.clip(quicker / deeper, 0.3, 3.0)
            # In thin or still water the quotient of two small numbers means nothing; that of the
            # nearest cell with enough of both is used.
            sure = both & (theirs.depth > 0.1) & (theirs.speed > 0.05) & np.isfinite(ratio)
        below = level - bed.at(self.cells)
        wet = below > self.settings.dry_m
        # Water that nothing joins to the mapped river is none.
        joined = self.river.joined_to(np.isfinite(self.depth), wet)
        below = np.where(wet & ~joined, -np.inf, below)
        return below, np.where(joined, below, 0.0), self._read(ratio, sure)

    def _read(self, values: FloatArray, known: BoolArray) -> FloatArray:
        """Return values on the central water's coarse cells, where known, read at the cells."""
        return self.corners.read(self.corners.filled(self.theirs.cells[known], values[known]))

    def result(self) -> dict[str, PackedRaster]:
        """Return the fields over the raster: single precision, for a long river has many cells."""
        count = max(self.number, 1)
        means = {name: total / count for name, total in self.sums.items()}
        wet = np.isfinite(self.depth)
        shape = (self.ground.sizes["y"], self.ground.sizes["x"])
        known, _ = known_cells(self.ground["bed"])
        known = known[values_at(self.mapped["wet"], known) != Wet.UNKNOWN]

        def over(cells: IntArray, values: FloatArray) -> PackedRaster:
            return PackedRaster(
                shape, np.array(np.nan, np.float32), cells, values.astype(np.float32)
            )

        def chance(name: str) -> PackedRaster:
            own = PackedRaster(shape, np.array(0.0), self.cells, means[name])
            return over(known, own.at(known))

        def deviation(name: str, model: FloatArray | float) -> FloatArray:
            # of a sample: over n - 1, so that twelve do not look surer than they are
            spread = np.maximum(means[f"{name}2"] - means[name] ** 2, 0.0)
            return np.asarray(np.sqrt(spread * count / max(count - 1, 1) + model)[wet])

        here = self.cells[wet]
        return {
            "depth_spread": over(here, deviation("depth", self.settings.model.depth_m**2)),
            "speed_spread": over(here, deviation("speed", means["quick2"])),
            "wet_chance": chance("wet"),
            "suits_chance": chance("suits"),
            "agreement": over(here, means["agrees"][wet]),
        }


@dataclass(frozen=True, slots=True)
class WaterAt:
    """Water at some cells, as rising indices into the raveled raster, all of shape (n,).

    Depth and level [m] and speed [m/s], NaN where not wet.
    """

    cells: IntArray
    depth: FloatArray
    level: FloatArray
    speed: FloatArray

    @classmethod
    def of(cls, water: xr.Dataset, cells: IntArray) -> WaterAt:
        """Return the water of a flow stage's Dataset of one flow, dims (y, x)."""
        depth, level, east, north = (
            values_at(water[name], cells)
            for name in ("depth", "level", "east_speed", "north_speed")
        )
        return cls(cells, depth, level, np.hypot(east, north))
