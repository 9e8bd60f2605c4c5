"""The doubt stage's door: how far the rivers differ that the evidence allows."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import xarray as xr
from scipy.ndimage import distance_transform_edt

from reachmap.base.arrays import BoolArray, Float32Array, FloatArray
from reachmap.base.errors import BuildError, Fault
from reachmap.base.fields import STACK, check_fields
from reachmap.base.patches import joined_to
from reachmap.base.words import Wet
from reachmap.markup.model import SeasonLimits
from reachmap.uncertainty.coarse import Coarse, coarse_factor, filled, read_at

VERSION = 3
"""Raised when the stage's numbers change."""

Member = tuple[FloatArray, FloatArray]
"""One bed [m] and roughness [s/m^(1/3)] on the map's cells, shape (y, x)."""


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
    members: Sequence[Member],
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
        with ThreadPoolExecutor() as pool:  # a flow each: nothing is shared
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
    stacks = {name: np.stack([one.pop(name) for one in results]) for name in NAMES}
    return _dataset(stacks, flowing, coarse, ran, len(members))


def _dataset(
    stacks: dict[str, Float32Array], flowing: xr.Dataset, coarse: Coarse, ran: int, drawn: int
) -> xr.Dataset:
    """Return the fields as a checked Dataset."""
    made = xr.Dataset(
        {name: (STACK, values) for name, values in stacks.items()},
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
    cells: tuple[np.ndarray, ...] = field(init=False)
    places: FloatArray = field(init=False)
    level: FloatArray = field(init=False)
    depth: FloatArray = field(init=False)
    speed: FloatArray = field(init=False)
    sums: dict[str, FloatArray] = field(init=False)

    def __post_init__(self) -> None:
        """Look up the cells that any member may wet, and the mapped water at them."""
        depth, level = (self.mapped[name].to_numpy() for name in ("depth", "level"))
        wet = np.isfinite(depth)
        bed = self.ground["bed"].to_numpy()
        cell = float(self.ground.attrs["cell"])
        away, nearest = distance_transform_edt(~wet, return_indices=True)
        # The level of the nearest mapped water carried
        # out over dry ground: a member may stand there.
        spread_out = level[tuple(nearest)] if wet.any() else np.full(wet.shape, np.nan)
        with np.errstate(invalid="ignore"):
            near = (away * cell <= self.settings.reach_m) & np.isfinite(bed)
            near &= bed < spread_out + self.settings.margin_m
        near |= wet
        self.cells = np.nonzero(near)
        self.places = self.coarse.places(*self.cells)
        self.level = spread_out[self.cells]
        self.depth = depth[self.cells]
        self.speed = _speed(self.mapped)[self.cells]
        names = ("depth", "depth2", "speed", "speed2", "wet", "suits", "agrees")
        self.sums = {name: np.zeros(self.level.shape) for name in names}

    def add(self, water: xr.Dataset, bed: FloatArray) -> None:
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

    def _member_depth(self, water: xr.Dataset, bed: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return a member's depth at the cells [m], and its speed over the central one's.

        The ratio is freed of what the depth does within a coarse cell, which the caller adds.
        """
        mine, theirs = water["depth"].to_numpy(), self.central["depth"].to_numpy()
        both = np.isfinite(mine) & np.isfinite(theirs)
        rise = (water["level"] - self.central["level"]).to_numpy()
        level = self.level + read_at(filled(rise, both), self.places)
        with np.errstate(invalid="ignore", divide="ignore"):
            quicker = _speed(water) / _speed(self.central)
            deeper = np.clip(mine / theirs, 0.2, 3.0) ** (2 / 3)
            ratio = np.clip(quicker / deeper, 0.3, 3.0)
            # In thin or still water the quotient of two small
            # numbers says nothing; the nearest sure one is used.
            sure = both & (theirs > 0.1) & (_speed(self.central) > 0.05) & np.isfinite(ratio)
        depth = level - bed[self.cells]
        depth = np.where(depth > self.settings.dry_m, depth, 0.0)
        return self._joined(depth), read_at(filled(ratio, sure), self.places)

    def _joined(self, depth: FloatArray) -> FloatArray:
        """Return depths without water that nothing joins to the mapped river."""
        shape = self.ground["bed"].shape
        wet = np.zeros(shape, dtype=bool)
        wet[self.cells] = depth > 0
        river = np.zeros(shape, dtype=bool)
        river[self.cells] = np.isfinite(self.depth)
        return np.where(joined_to(river, wet)[self.cells], depth, 0.0)

    def result(self) -> dict[str, Float32Array]:
        """Return the fields over the raster: single precision, for a long river has many cells."""
        count = max(self.number, 1)
        means = {name: total / count for name, total in self.sums.items()}
        wet = np.isfinite(self.depth)
        code = self.mapped["wet"].to_numpy()
        unknown = (code == Wet.UNKNOWN) | ~np.isfinite(self.ground["bed"].to_numpy())

        def over(
            values: FloatArray, elsewhere: float, *, hidden: BoolArray | None = None
        ) -> Float32Array:
            raster = np.full(code.shape, elsewhere, dtype=np.float32)
            raster[self.cells] = values
            if hidden is not None:
                raster[hidden] = np.nan
            return raster

        def deviation(name: str) -> FloatArray:
            # of a sample: over n - 1, so that twelve do not look surer than they are
            spread = np.maximum(means[f"{name}2"] - means[name] ** 2, 0.0)
            return np.sqrt(spread * count / max(count - 1, 1))

        return {
            "depth_spread": over(np.where(wet, deviation("depth"), np.nan), np.nan),
            "speed_spread": over(np.where(wet, deviation("speed"), np.nan), np.nan),
            "wet_chance": over(means["wet"], 0.0, hidden=unknown),
            "suits_chance": over(means["suits"], 0.0, hidden=unknown),
            "agreement": over(np.where(wet, means["agrees"], np.nan), np.nan),
        }


def _speed(water: xr.Dataset) -> FloatArray:
    """Return the speed of the water [m/s]; NaN where not wet."""
    return np.asarray(np.hypot(water["east_speed"].to_numpy(), water["north_speed"].to_numpy()))
