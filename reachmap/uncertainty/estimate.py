"""The doubt stage's door: how far the rivers differ that the evidence allows."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from os import cpu_count
from typing import Protocol

import numpy as np
import xarray as xr

from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.fields import check_fields
from reachmap.base.listed import CellList
from reachmap.base.packed import PackedRaster, known_cells, packed_field, values_at
from reachmap.base.patches import nearest_cells
from reachmap.base.words import Wet
from reachmap.markup.model import SeasonLimits
from reachmap.uncertainty.coarse import Coarse, Corners, coarse_factor

VERSION = 3
"""Raised when the stage's numbers change."""

Member = tuple[PackedRaster, PackedRaster]
"""One bed [m] and roughness [s/m^(1/3)] on the map's cells, shape (y, x)."""


class Members(Protocol):
    """Members, drawn one after the other."""

    def __len__(self) -> int:
        """Return how many there are."""
        ...

    def __iter__(self) -> Iterator[Member]:
        """Return each in turn."""
        ...


class Solve(Protocol):
    """The flow stage with its settings, rough enough for a coarse raster."""

    def __call__(
        self, ground: xr.Dataset, flows: Sequence[float], *, near: xr.Dataset | None = None
    ) -> xr.Dataset:
        """Return the flow stage's Dataset, started from water near the answer."""
        ...


NAMES = ("depth_spread", "speed_spread", "wet_chance", "suits_chance", "agreement")


@dataclass(frozen=True, slots=True)
class DoubtSettings:
    """Settings of the doubt stage.

    Parameters
    ----------
    members
        How many beds and roughnesses are drawn; our choice, 8-30: a dozen gives a spread to within
        a fifth of itself.
    seed
        Of the draw: the same evidence gives the same members.
    depth_same_m, speed_same_m_s, same_share
        A member agrees with the map at a cell where depth and speed differ by no more than these,
        or than this share of the mapped one. Our choice: half a foot, half a foot a second, a
        quarter.
    dry_m
        Water thinner than this counts as dry [m]; as the flow stage's.
    reach_m, margin_m
        How far from the mapped water, and how high above it, ground is looked at that a member may
        flood [m]; our choice.
    holding
        What the chance that at least half of a piece of water is there is made from (see
        `confidence.chance_of_half`): a constant, and weights of the log odds of its mean
        `suits_chance`, its score, the logarithm of its area over the river's width squared, and the
        log odds of its mean `agreement`. Fitted by logistic regression to 1,922 pieces on four made
        rivers whose truth is known (docs/ground.md): the score and the size count since small, poor
        pieces come and go with little.
    good_from, fair_from
        Chance from which a piece is called good or fair; our choice, so that four of five called
        good hold on a river that took no part in the fit.
    """

    members: int = 12
    seed: int = 1
    depth_same_m: float = 0.15
    speed_same_m_s: float = 0.15
    same_share: float = 0.25
    dry_m: float = 0.01
    reach_m: float = 25.0
    margin_m: float = 1.0
    holding: tuple[float, float, float, float, float] = (-0.81, 0.16, 1.91, 0.39, 0.29)
    good_from: float = 0.78
    fair_from: float = 0.5


def weigh_doubt(
    ground: xr.Dataset,
    flowing: xr.Dataset,
    members: Members,
    solve: Solve,
    limits: Sequence[SeasonLimits],
    settings: DoubtSettings,
) -> xr.Dataset:
    """Return how far an ensemble of grounds differs from the map at each flow.

    Each member runs on a coarse raster, and so does the map's own ground; what the member's level
    and speed differ from the latter's is put upon the map's, whose cells then see the member's own
    bed. So the coarse raster's own error drops out.

    Parameters
    ----------
    ground
        The ground stage's Dataset.
    flowing
        The flow stage's, at any flows.
    members
        Beds and roughnesses on the ground's raster.
    solve
        Runs the flow stage on a coarse ground.
    limits
        What suits the season's fish at each flow.
    settings
        Of the stage.

    Returns
    -------
    xr.Dataset
        The fields of stage "doubt"; attrs `members` (how many ran) of `drawn`, `cell` of the coarse
        raster [m].

    Raises
    ------
    BuildError
        If the map's own ground, or more than half of the members, cannot be run.
    """
    coarse = Coarse.of(ground, coarse_factor(ground))
    flows = [float(flow) for flow in flowing["flow"].to_numpy()]
    central = solve(coarse.template, flows)
    counts = [
        _Count(ground, flowing.isel(flow=index), central.isel(flow=index), coarse, limit, settings)
        for index, limit in enumerate(limits)
    ]
    ran = 0
    for bed, roughness in members:
        try:
            water = solve(coarse.with_bed(bed, roughness), flows, near=central)
        except BuildError:
            continue
        ran += 1
        with ThreadPoolExecutor(cpu_count() or 1) as pool:  # a flow each: nothing is shared
            added = [
                pool.submit(count.add, water.isel(flow=index), bed)
                for index, count in enumerate(counts)
            ]
        for one in added:
            one.result()
    if 2 * ran < len(members):
        found = f"only {ran} of {len(members)} grounds that the evidence allows could be run"
        raise BuildError([Fault("the ensemble", found, "Build with --no-ensemble")])
    results = [count.result() for count in counts]
    stacks = {name: [one[name] for one in results] for name in NAMES}
    return _dataset(stacks, flowing, coarse, ran, len(members))


def _dataset(
    stacks: dict[str, list[PackedRaster]], flowing: xr.Dataset, coarse: Coarse, ran: int, drawn: int
) -> xr.Dataset:
    """Return the fields as a checked Dataset."""
    made = xr.Dataset(
        {name: packed_field(rasters) for name, rasters in stacks.items()},
        coords={name: flowing[name] for name in ("flow", "x", "y")},
        attrs={
            "crs": flowing.attrs["crs"],
            "members": ran,
            "drawn": drawn,
            "cell": float(coarse.template.attrs["cell"]),
        },
    )
    return check_fields(made, "doubt")


@dataclass(slots=True)
class _Count:
    """What the members say at one flow, summed up cell by cell near the mapped water."""

    ground: xr.Dataset
    mapped: xr.Dataset
    central: xr.Dataset
    coarse: Coarse
    limits: SeasonLimits
    settings: DoubtSettings
    number: int = 0
    cells: IntArray = field(init=False)
    river: CellList = field(init=False)
    corners: Corners = field(init=False)
    theirs: _WaterAt = field(init=False)
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
        self.theirs = _WaterAt.of(self.central, known_cells(self.central["depth"])[0])
        # The level of the nearest mapped water carried
        # out over dry ground: a member may stand there.
        self.level = values_at(self.mapped["level"], nearest)
        mapped = _WaterAt.of(self.mapped, self.cells)
        self.depth, self.speed = mapped.depth, mapped.speed
        names = ("depth", "depth2", "speed", "speed2", "wet", "suits", "agrees")
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
        """Count one member in."""
        depth, ratio = self._member_depth(water, bed)
        wet = depth > 0
        with np.errstate(invalid="ignore", divide="ignore"):
            # Manning within a coarse cell, at one slope and roughness: speed goes with depth^(2/3).
            local = np.clip(depth / self.depth, 0.2, 3.0) ** (2 / 3)
        speed = np.where(wet, self.speed * ratio * local, 0.0)
        limits, settings = self.limits, self.settings
        with np.errstate(invalid="ignore"):
            suits = (depth >= limits.depth_low_m) & (depth <= limits.depth_high_m)
            suits &= (speed >= limits.speed_low_m_s) & (speed <= limits.speed_high_m_s)
            share = settings.same_share
            deep = np.maximum(settings.depth_same_m, share * self.depth)
            quick = np.maximum(settings.speed_same_m_s, share * self.speed)
            agrees = wet & (np.abs(depth - self.depth) <= deep)
            agrees &= np.abs(speed - self.speed) <= quick
        known = np.nan_to_num(speed)
        for name, values in (
            ("depth", depth), ("depth2", depth**2), ("speed", known), ("speed2", known**2),
            ("wet", wet), ("suits", suits), ("agrees", agrees),
        ):  # fmt: skip
            self.sums[name] += values
        self.number += 1

    def _member_depth(self, water: xr.Dataset, bed: PackedRaster) -> tuple[FloatArray, FloatArray]:
        """Return a member's depth at the cells [m], and its speed over the central one's.

        The ratio is freed of what the depth does within a coarse cell, which the caller adds.
        """
        theirs, mine = self.theirs, _WaterAt.of(water, self.theirs.cells)
        both = np.isfinite(mine.depth)
        rise = mine.level - theirs.level
        level = self.level + self._read(rise, both)
        with np.errstate(invalid="ignore", divide="ignore"):
            quicker = mine.speed / theirs.speed
            deeper = np.clip(mine.depth / theirs.depth, 0.2, 3.0) ** (2 / 3)
            ratio = np.clip(quicker / deeper, 0.3, 3.0)
            # In thin or still water the quotient of two small
            # numbers says nothing; the nearest sure one is used.
            sure = both & (theirs.depth > 0.1) & (theirs.speed > 0.05) & np.isfinite(ratio)
        depth = level - bed.at(self.cells)
        depth = np.where(depth > self.settings.dry_m, depth, 0.0)
        # Water that nothing joins to the mapped river is none.
        joined = self.river.joined_to(np.isfinite(self.depth), depth > 0)
        return np.where(joined, depth, 0.0), self._read(ratio, sure)

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

        def deviation(name: str) -> FloatArray:
            # of a sample: over n - 1, so that twelve do not look surer than they are
            spread = np.maximum(means[f"{name}2"] - means[name] ** 2, 0.0)
            return np.asarray(np.sqrt(spread * count / max(count - 1, 1))[wet])

        here = self.cells[wet]
        return {
            "depth_spread": over(here, deviation("depth")),
            "speed_spread": over(here, deviation("speed")),
            "wet_chance": chance("wet"),
            "suits_chance": chance("suits"),
            "agreement": over(here, means["agrees"][wet]),
        }


@dataclass(frozen=True, slots=True)
class _WaterAt:
    """Water at some cells, as rising indices into the raveled raster, all of shape (n,).

    Depth and level [m] and speed [m/s], NaN where not wet.
    """

    cells: IntArray
    depth: FloatArray
    level: FloatArray
    speed: FloatArray

    @classmethod
    def of(cls, water: xr.Dataset, cells: IntArray) -> _WaterAt:
        """Return the water of a flow stage's Dataset of one flow, dims (y, x)."""
        depth, level, east, north = (
            values_at(water[name], cells)
            for name in ("depth", "level", "east_speed", "north_speed")
        )
        return cls(cells, depth, level, np.hypot(east, north))
