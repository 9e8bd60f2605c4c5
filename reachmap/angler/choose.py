"""Landing points of casts at each angle for a strip, and a first choice by closed forms."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from reachmap.angler.line import sink_rate
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.stations import Stands
from reachmap.angler.strips import Strips
from reachmap.angler.swing_closed import closed_depth, closed_pace, closed_time
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.words import Strip
from reachmap.markup.kit import Kit

RAY_STEP_CELLS = 0.5
"""Distance between samples along a cast, in cells; our choice."""


@dataclass(frozen=True, slots=True)
class Aims:
    """Casts at every angle tried from each place, arrays of shape (n, angles).

    `target_rad` is the direction, from east to north; `cast_m` the distance to where the fly lands,
    NaN where that cast does not reach the strip; `near_m` the distance at which it enters the
    strip; `end_m` how far known wet water reaches along it; `speed` and `depth` the water's along
    the cast within the strip [m/s, m].
    """

    target_rad: FloatArray
    cast_m: FloatArray
    near_m: FloatArray
    end_m: FloatArray
    speed: FloatArray
    depth: FloatArray

    def take(self, index: IntArray) -> Aims:
        """Return those from some of the places."""
        return Aims(**{one.name: getattr(self, one.name)[index] for one in fields(self)})


@dataclass(frozen=True, slots=True)
class Choice:
    """The cast chosen for each place, shape (n,).

    `angle` is the number of the angle, -1 where none serves; `tip` that of the tip; the swing by
    its closed form: `seconds`, `pace` of the fly [m/s], its `depth` at the hang [m].
    """

    angle: IntArray
    tip: IntArray
    seconds: FloatArray
    pace: FloatArray
    depth: FloatArray


def first_cast(kit: Kit, settings: AnglerSettings) -> float:
    """Return the shortest cast made [m]: the shortest rod, and `start_rods` times it of line.

    So a run is begun: common practice, no published source. Such a cast needs no whole head outside
    the rod tip.
    """
    rod = min(one.length_m for one in kit.rods)
    return rod * (1.0 + settings.plan.start_rods)


def find_aims(
    view: View, stands: Stands, strips: Strips, strip: Strip, kit: Kit, settings: AnglerSettings
) -> Aims:
    """Return where a cast at each angle lands for a strip.

    The fly lands just beyond the outer edge of the strip; no nearer than the first cast of a run,
    no farther than the angler casts, and always on water that is known to be wet.
    """
    angle = np.radians(np.asarray(settings.stations.angles_deg))
    target = (
        np.cos(angle)[None, :, None] * stands.across[:, None, :]
        + np.sin(angle)[None, :, None] * stands.down[:, None, :]
    )
    shape = target.shape[:2]
    out = {name: np.full(shape, np.nan) for name in ("cast", "near", "end", "speed", "depth")}
    step = RAY_STEP_CELLS * view.cell
    # From a quarter of a cell on, so that no sample of a ray along the raster lies right between
    # two cells, where rounding would choose.
    distance = np.arange(0.5 * step, kit.angler.cast_limit_m + 1e-9, step)
    shortest, speed = first_cast(kit, settings), view.speed
    for bank in range(len(strips.edges)):
        mine = np.flatnonzero(strips.bank == bank)
        places = stands.point[mine, None, None] + distance[:, None] * target[mine][:, :, None, :]
        row, col, on_map = view.grid.index(*places.reshape(-1, 2).T)
        inside = on_map & strips.holds(view, bank, strip, row, col)
        grid = (mine.size, shape[1], distance.size)
        wet = (on_map & view.wet[row, col]).reshape(grid)
        beyond = settings.stations.beyond_m
        land, near, end = _landing(inside.reshape(grid), wet, distance, shortest, beyond)
        out["cast"][mine], out["near"][mine], out["end"][mine] = land, near, end
        swept = inside.reshape(grid) & (distance <= land[..., None])
        for name, values in (("speed", speed), ("depth", view.depth)):
            out[name][mine] = _mean(values[row, col].reshape(grid), swept)
    return Aims(
        np.arctan2(target[..., 1], target[..., 0]),
        out["cast"],
        out["near"],
        out["end"],
        out["speed"],
        out["depth"],
    )


def _landing(
    inside: BoolArray, wet: BoolArray, distance: FloatArray, shortest: float, beyond_m: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return where the fly lands, where the ray enters the strip and where known water ends [m].

    NaN where the ray does not meet the strip, or cannot land in or beyond it.
    """
    hit = inside.any(axis=-1)
    first = np.argmax(inside, axis=-1)
    last = distance.size - 1 - np.argmax(inside[..., ::-1], axis=-1)
    order = np.arange(distance.size)
    ends = ~wet & (order > first[..., None])
    end = np.where(ends.any(axis=-1), np.argmax(ends, axis=-1), distance.size) - 1
    far = distance[np.minimum(last, end)]
    land = np.minimum(np.maximum(far + beyond_m, shortest), distance[end])
    none = np.nan
    return (
        np.where(hit, land, none),
        np.where(hit, distance[first], none),
        np.where(hit, distance[end], none),
    )


def _mean(values: FloatArray, mask: BoolArray) -> FloatArray:
    """Return the mean of the known values under a mask along the last axis; NaN where none is."""
    use = mask & np.isfinite(values)
    count = use.sum(axis=-1)
    total = np.where(use, values, 0.0).sum(axis=-1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def choose_closed(
    aims: Aims, fit: FloatArray, kit: Kit, settings: AnglerSettings, wanted_pace: float
) -> Choice:
    """Return the cast to make from each place, by the closed forms.

    Parameters
    ----------
    aims
        Casts at every angle.
    fit
        How good the best cast is that has room at each angle: 1 fits, 0.5 tight, 0 none, shape
        (n, angles).
    kit
        Tips and rods.
    settings
        What is wanted.
    wanted_pace
        Wanted speed of the fly [m/s].

    Notes
    -----
    The cost of an angle is how far the fly's pace is off, in shares of the wanted one;
    `length_cost` for the cast's length over the longest; `room_cost` for room that is tight or
    missing; `square_cost` for one squarer than 45 degrees. The tip is the lightest that takes the
    fly into the wanted share of the depth, else the one that comes nearest. Our choice.
    """
    angles = np.asarray(settings.stations.angles_deg)
    swing, plan = settings.swing, settings.plan
    pace = closed_pace(aims.speed, angles, swing)
    cost = np.abs(pace / wanted_pace - 1)
    cost = cost + plan.length_cost * aims.cast_m / kit.angler.cast_limit_m
    cost = cost + plan.room_cost * (1 - fit)
    cost = cost + plan.square_cost * np.maximum(45.0 - angles, 0.0) / 45.0
    cost = np.where(np.isfinite(cost), cost, np.inf)
    best = np.argmin(cost, axis=1) if cost.size else np.zeros(0, dtype=np.int64)
    pick = np.arange(len(best)), best
    good = np.isfinite(cost[pick])
    tip, depth = _tip(aims.depth[pick], aims.speed[pick], kit, settings)
    seconds = closed_time(aims.cast_m[pick], aims.speed[pick], angles[best], swing)
    return Choice(
        np.where(good, best, -1).astype(np.int32),
        np.where(good, tip, -1).astype(np.int32),
        np.where(good, seconds, np.nan),
        np.where(good, pace[pick], np.nan),
        np.where(good, depth, np.nan),
    )


def tips_by_sinking(kit: Kit) -> IntArray:
    """Return the tips' numbers, lightest first, by length times sinking speed."""
    pull = [tip.length_m * tip.sink_m_s for tip in kit.tips]
    return np.argsort(pull, kind="stable").astype(np.int32)


def _tip(
    depth: FloatArray, speed: FloatArray, kit: Kit, settings: AnglerSettings
) -> tuple[IntArray, FloatArray]:
    """Return the tip for each place and the fly's depth with it [m]."""
    order = tips_by_sinking(kit)
    low, high = settings.swing.depth_share_low, settings.swing.depth_share_high
    reached = np.stack(
        [
            closed_depth(
                kit.tips[i].length_m,
                sink_rate(kit.tips[i], settings.line),
                speed,
                settings.swing,
            )
            for i in order
        ]
    )
    share = reached / depth
    with np.errstate(invalid="ignore"):
        miss = np.maximum(low - share, 0) + np.maximum(share - high, 0)
    choice = np.argmin(np.where(np.isfinite(miss), miss, np.inf), axis=0)
    fly = np.minimum(reached[choice, np.arange(choice.size)], depth)
    return order[choice], np.asarray(fly)
