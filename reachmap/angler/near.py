"""Drawn hazards near places to stand: within the cast, down the current, on foot, straight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import shapely
from numpy.typing import NDArray

from reachmap.angler.follow import Drifts, follow_current, nearest_water, walk_distance
from reachmap.angler.hazard_settings import HazardSettings
from reachmap.angler.hazards import hazard_cells
from reachmap.angler.stations import Stands
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.grid import Cutout
from reachmap.base.words import HazardWay, Toward
from reachmap.markup.model import Hazard

WAYS = tuple(HazardWay)
"""Ways in the order in which they count."""
TOWARD = tuple(Toward)


@dataclass(frozen=True, slots=True)
class Near:
    """Drawn hazards as seen from n places: arrays of shape (n, hazards), NaN not within the look.

    `here` the distance of a hazard within a cast's sweep or where one stands [m]; `current` along
    the drift; `walk` on foot; `straight` as the crow flies; `toward` codes of `TOWARD`; `whole`
    (n,) whether drift and walk could be followed, so that absence means something.
    """

    here: FloatArray
    current: FloatArray
    walk: FloatArray
    straight: FloatArray
    toward: IntArray
    whole: BoolArray

    def take(self, index: IntArray | BoolArray) -> Near:
        """Return some of the places."""
        return Near(**{one.name: getattr(self, one.name)[index] for one in fields(self)})

    def ways(self) -> tuple[IntArray, FloatArray]:
        """Return way, by its number in `WAYS` (-1 none), and distance along it [m] of each."""
        stack = np.stack([self.here, self.current, self.walk, self.straight])
        known = np.isfinite(stack)
        way = np.where(known.any(axis=0), known.argmax(axis=0), -1).astype(np.int32)
        far = np.take_along_axis(stack, np.maximum(way, 0)[None], axis=0)[0]
        return way, np.where(way >= 0, far, np.nan)

    def first(self) -> IntArray:
        """Return the hazard that matters most at each place, -1 none, shape (n,).

        The nearest of those one comes to (here, by the current, on foot); where there is none the
        nearest straight.
        """
        way, far = self.ways()
        if not far.shape[1]:
            return np.full(far.shape[0], -1, dtype=np.int32)
        away = np.where(
            way < 0, np.inf, far + np.where(way == WAYS.index(HazardWay.STRAIGHT), 1e6, 0)
        )
        best = away.argmin(axis=1)
        return np.where(np.isfinite(away.min(axis=1)), best, -1).astype(np.int32)


@dataclass(frozen=True, slots=True)
class Look:
    """Masks and distances for finding hazards at one flow.

    `masks` are the cells within a drift's width of each hazard, `near_walk` those a walk comes to
    it by, `walks` how far each cell is from those on foot [m], `cost` how far from a drawn access
    [m], inf where no way leads.
    """

    view: View
    hazards: Sequence[Hazard]
    masks: tuple[Cutout, ...]
    near_walk: tuple[Cutout, ...]
    walks: tuple[Cutout, ...]
    cost: FloatArray
    settings: HazardSettings
    look_m: float


def look_of(
    view: View,
    hazards: Sequence[Hazard],
    reach: BoolArray,
    cost: FloatArray,
    settings: HazardSettings,
    look_m: float,
) -> Look:
    """Return the masks and distances at one flow; `look_m` is how far to look [m]."""
    near_walk = tuple(hazard_cells(view, one, settings.walk_m) for one in hazards)
    return Look(
        view,
        hazards,
        tuple(hazard_cells(view, one, settings.drift_width_m) for one in hazards),
        near_walk,
        tuple(walk_distance(reach, one, view.cell, look_m) for one in near_walk),
        cost,
        settings,
        look_m,
    )


def drifts_of(look: Look, stands: Stands) -> tuple[Drifts, BoolArray]:
    """Return the drift from each place after a slip, and which places cannot slip into water."""
    row, col, _ = look.view.grid.index(*stands.point.T)
    water_row, water_col, slips = nearest_water(look.view, row, col, look.settings.slip_m)
    return follow_current(look.view, water_row, water_col, look.look_m), ~slips


def near_stands(look: Look, stands: Stands, sweeps: NDArray[np.object_]) -> Near:
    """Return the drawn hazards near places to stand.

    Parameters
    ----------
    look
        Masks and distances from `look_of`.
    stands
        Places, n of them.
    sweeps
        What each cast sweeps, swing and back cast with it, n shapes [m].

    Notes
    -----
    Where no way in is drawn, or none leads there on foot, the walk is not known: `whole` is no.
    """
    view, count, kinds = look.view, len(stands), len(look.hazards)
    row, col, _ = view.grid.index(*stands.point.T)
    drifts, dry = drifts_of(look, stands)
    here, current, walk, straight = (np.full((count, kinds), np.nan) for _ in range(4))
    toward = np.zeros((count, kinds), dtype=np.int32)
    places, swept = shapely.points(stands.point), shapely.STRtree(sweeps)
    for number, hazard in enumerate(look.hazards):
        if hazard.shape.is_empty:
            continue
        away = shapely.distance(places, hazard.shape)
        straight[:, number] = np.where(away <= look.look_m, away, np.nan)
        reach_m = max(look.settings.keep_off(hazard.kind), look.settings.walk_m)
        at = away <= reach_m
        at[swept.query(hazard.shape, predicate="dwithin", distance=look.settings.sweep_m)] = True
        here[:, number] = np.where(at, away, np.nan)
        met = drifts.first(look.masks[number])
        current[:, number] = np.where(dry, np.nan, met)
        walk[:, number] = look.walks[number].at(row, col, np.nan)
        toward[:, number] = _toward(stands, hazard)
    whole = (drifts.whole | dry) & np.isfinite(look.cost[row, col])
    return Near(here, current, walk, straight, toward, np.asarray(whole))


def _toward(stands: Stands, hazard: Hazard) -> IntArray:
    """Return on which side of each place a hazard lies, by the current there, codes of `TOWARD`."""
    ends = shapely.get_coordinates(
        shapely.shortest_line(shapely.points(stands.point), hazard.shape)
    ).reshape(-1, 2, 2)
    way = ends[:, 1] - ends[:, 0]
    along = (way * stands.down).sum(axis=1)
    share = along / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)
    up, down, across = (TOWARD.index(one) for one in (Toward.UP, Toward.DOWN, Toward.ACROSS))
    return np.select([share < -0.5, share > 0.5], [up, down], across).astype(np.int32)
