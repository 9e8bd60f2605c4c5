"""Swings tried from each place: angle and tip changed until the fly swims as wanted."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

import numpy as np

from reachmap.angler._kernels_swing import HANGS, TIMEOUT, UNKNOWN
from reachmap.angler.choose import Aims, Choice, tips_by_sinking
from reachmap.angler.line import Line, build_line
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.stations import Piece, Stands
from reachmap.angler.swing import (
    LEAVES,
    Current,
    Swings,
    Throw,
    across_speed,
    current_of,
    swing_many,
    touching,
)
from reachmap.angler.view import View
from reachmap.base.shapes import B1, F8, I4
from reachmap.markup.kit import Kit

LENGTH_STEP_M = 0.5
"""Lines are made in lengths of this step, so that like casts share one; our choice."""


@dataclass(frozen=True, slots=True)
class Scene:
    """All that a trial needs.

    `worth` (n, angles) is how good the room is behind; `rod` and `head` (n,) what is cast with;
    `wanted` the speed of the fly across the current, `pace` its slowest and quickest [m/s]; `lines`
    keeps lines already made.
    """

    view: View
    stands: Stands
    pieces: list[Piece]
    aims: Aims
    worth: F8
    rod: I4
    head: I4
    kit: Kit
    settings: AnglerSettings
    wanted: float
    pace: tuple[float, float]
    lines: dict[tuple[float, int, int], Line] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Judged:
    """What swings did, arrays of shape (n,); NaN where the fly never swam in the swing water.

    `seconds` to the end; `pace` of the fly across the current, `depth` of the fly and its `share`
    of the water's depth, means while in the swing water; `swim_s` seconds there, `zone_s` those at
    the wanted pace;
    `slows_s` when it first slows into that pace; `wait_s` from the floating line hanging straight
    to the fly doing so; `touches` whether it touches bottom in the swing water; `end` codes of
    `ENDS`.
    """

    seconds: F8
    pace: F8
    depth: F8
    share: F8
    swim_s: F8
    zone_s: F8
    slows_s: F8
    wait_s: F8
    touches: B1
    end: I4


@dataclass(frozen=True, slots=True)
class Tried:
    """The best swing found from each place: angle, tip (by number), what it did, and its path.

    `wants` is +1 where a heavier tip than any owned is called for, -1 a lighter one, 0 neither.
    `path` (n, records, 2) is where the fly went [m], NaN after the end.
    """

    angle: I4
    tip: I4
    judged: Judged
    wants: I4
    path: F8


def judge(
    swings: Swings,
    current: Current,
    inside: B1,
    settings: AnglerSettings,
    pace: tuple[float, float],
) -> Judged:
    """Return what swings did.

    Parameters
    ----------
    swings, current
        The swings and their field.
    inside
        Whether the fly is over the swing water, shape (n, records).
    settings
        Angles that end a swing; time between records.
    pace
        Slowest and quickest wanted speed across the current [m/s].
    """
    step = settings.line.record_s
    across = across_speed(swings, current)
    fly, water = -swings.column("z"), swings.column("depth")
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(water > 0.1, fly / water, np.nan)
        wanted = inside & (across >= pace[0]) & (across <= pace[1])
        slow = inside & (across <= pace[1])
        straight = swings.column("bend") <= np.radians(settings.swing.hang_deg)
    times = swings.column("t")
    seconds, end = _ended(swings, inside, times)
    return Judged(
        seconds=seconds,
        pace=_mean(across, inside),
        depth=_mean(fly, inside),
        share=_mean(share, inside),
        swim_s=np.where(swings.end == UNKNOWN, np.nan, inside.sum(axis=1) * step),
        zone_s=np.where(inside.any(axis=1), wanted.sum(axis=1) * step, np.nan),
        slows_s=_first(times, slow),
        wait_s=np.where(
            swings.end == HANGS, np.maximum(swings.seconds - _first(times, straight), 0.0), np.nan
        ),
        touches=np.asarray((touching(swings) & inside).any(axis=1)),
        end=end,
    )


def try_swings(scene: Scene, choice: Choice) -> Tried:
    """Return the best swing found from each place.

    Parameters
    ----------
    scene
        Where one stands, what one could cast, and what is wanted.
    choice
        Where to begin: the cast the closed forms choose.

    Notes
    -----
    A fly too quick is cast farther downstream next, one too slow more across; a fly too deep or on
    the bottom gets the next lighter tip, one too high the next heavier. At most `rounds` swings a
    place; the one with the least cost is kept.
    """
    tips = tips_by_sinking(scene.kit)
    count, current = len(choice.angle), current_of(scene.view)
    angle = choice.angle.copy()
    tip = np.argsort(tips)[np.maximum(choice.tip, 0)].astype(np.int32)
    best = _nothing(count, scene)
    best_angle, best_tip = np.where(angle >= 0, angle, -1), tip.copy()
    least = np.full(count, np.inf)
    seen: list[set[tuple[int, int]]] = [set() for _ in range(count)]
    todo = np.flatnonzero(angle >= 0).astype(np.int32)
    for _ in range(scene.settings.swing.rounds):
        if not todo.size:
            break
        throws = [_throw(scene, int(i), int(angle[i]), int(tips[tip[i]])) for i in todo]
        swings = swing_many(throws, current, scene.settings.line, scene.settings.swing)
        judged = judge(swings, current, _inside(scene, swings, todo), scene.settings, scene.pace)
        cost = _cost(scene, judged, todo, angle[todo])
        better = (cost < least[todo]) | np.array([not seen[i] for i in todo])
        _keep(best, todo, better, judged, swings)
        won = todo[better]
        least[won], best_angle[won], best_tip[won] = cost[better], angle[won], tip[won]
        for i in todo:
            seen[i].add((int(angle[i]), int(tip[i])))
        turn, sink = _next(judged, scene)
        angle[todo] = np.clip(angle[todo] + turn, 0, scene.aims.cast_m.shape[1] - 1)
        tip[todo] = np.clip(tip[todo] + sink, 0, len(tips) - 1)
        todo = todo[[_fresh(scene, int(i), angle, tip, best_angle, seen) for i in todo]]
    _, asked = _next(best.judged, scene)
    wants = np.where(
        ((asked > 0) & (best_tip == len(tips) - 1)) | ((asked < 0) & (best_tip == 0)), asked, 0
    )
    return Tried(
        best_angle.astype(np.int32),
        np.where(best_angle >= 0, tips[best_tip], -1).astype(np.int32),
        best.judged,
        wants.astype(np.int32),
        best.path,
    )


def closed_trial(scene: Scene, choice: Choice) -> Tried:
    """Return the closed forms' own swing from each place, where no line is worked out."""
    blank = _nothing(len(choice.angle), scene)
    i = np.arange(len(choice.angle)), np.maximum(choice.angle, 0)
    judged = replace(
        blank.judged,
        seconds=choice.seconds,
        pace=choice.pace,
        depth=choice.depth,
        share=choice.depth / scene.aims.depth[i],
    )
    return Tried(choice.angle, choice.tip, judged, np.zeros_like(choice.angle), blank.path)


def _nothing(count: int, scene: Scene) -> Tried:
    """Return the result of no swing: nothing known."""
    line = scene.settings.line
    records = int(line.longest_s / line.record_s) + 1
    none = np.full(count, -1, dtype=np.int32)
    numbers = {
        one.name: np.full(count, np.nan)
        for one in fields(Judged)
        if one.name not in {"touches", "end"}
    }
    judged = Judged(
        **numbers,
        touches=np.zeros(count, dtype=bool),
        end=np.full(count, UNKNOWN, dtype=np.int32),
    )
    return Tried(none, none.copy(), judged, none.copy(), np.full((count, records, 2), np.nan))


def _keep(best: Tried, todo: I4, better: B1, judged: Judged, swings: Swings) -> None:
    """Put the better swings into the best so far, in place."""
    for one in fields(Judged):
        getattr(best.judged, one.name)[todo[better]] = getattr(judged, one.name)[better]
    best.path[todo[better]] = swings.tracks[better, :, 1:3]


def _fresh(
    scene: Scene, i: int, angle: I4, tip: I4, best_angle: I4, seen: list[set[tuple[int, int]]]
) -> bool:
    """Return whether the next cast from a place is new, reaches the water and has no less room."""
    if (int(angle[i]), int(tip[i])) in seen[i]:
        return False
    lands = np.isfinite(scene.aims.cast_m[i, angle[i]])
    return bool(lands and scene.worth[i, angle[i]] >= scene.worth[i, best_angle[i]])


def _throw(scene: Scene, i: int, angle: int, tip: int) -> Throw:
    """Return the cast from place i."""
    kit, line, stands = scene.kit, scene.settings.line, scene.stands
    rod = kit.rods[int(scene.rod[i])].length_m
    out = max(float(scene.aims.cast_m[i, angle]) - rod, 2.0)
    out = LENGTH_STEP_M * round(out / LENGTH_STEP_M)
    down = stands.down[i]
    return Throw(
        stand=stands.point[i],
        tip_m=max(line.tip_height_m - float(stands.wade[i]), 0.3),
        reach_m=rod,
        line=_line(out, int(scene.head[i]), tip, scene),
        target_rad=float(scene.aims.target_rad[i, angle]),
        down_rad=float(np.arctan2(down[1], down[0])),
    )


def _line(out_m: float, head: int, tip: int, scene: Scene) -> Line:
    """Return the line, made once for each length, head and tip."""
    key = (out_m, head, tip)
    if key not in scene.lines:
        kit = scene.kit
        scene.lines[key] = build_line(
            out_m, kit.heads[head], kit.tips[tip], kit.angler.leader_m, scene.settings.line
        )
    return scene.lines[key]


def _inside(scene: Scene, swings: Swings, todo: I4) -> B1:
    """Return whether the fly is over its swing water, shape (n, records)."""
    x, y = swings.column("x"), swings.column("y")
    known = np.isfinite(x)
    points = np.column_stack([np.where(known, a, 0.0).ravel() for a in (x, y)])
    row, col, on_map = scene.view.cells(points)
    row, col = row.reshape(x.shape), col.reshape(x.shape)
    inside = np.zeros(x.shape, dtype=bool)
    for piece in scene.pieces:
        mine = scene.stands.water[todo] == piece.number
        inside[mine] = piece.holds(row[mine], col[mine])
    return inside & known & on_map.reshape(x.shape)


def _cost(scene: Scene, judged: Judged, todo: I4, angle: I4) -> F8:
    """Return what each swing costs; infinite where it never swam in the swing water."""
    swing = scene.settings.swing
    depth = np.maximum(swing.depth_share_low - judged.share, 0.0)
    depth = depth + np.maximum(judged.share - swing.depth_share_high, 0.0) + judged.touches
    cost = np.abs(judged.pace / scene.wanted - 1.0) + swing.depth_cost * depth
    cost = cost + swing.length_cost * scene.aims.cast_m[todo, angle] / scene.kit.angler.cast_limit_m
    cost = cost + swing.room_cost * (1.0 - scene.worth[todo, angle])
    return np.where(np.isfinite(cost), cost, np.inf)


def _next(judged: Judged, scene: Scene) -> tuple[I4, I4]:
    """Return which way to change the angle (+1 farther downstream) and the tip (+1 heavier)."""
    swing = scene.settings.swing
    with np.errstate(invalid="ignore"):
        turn = np.select(
            [judged.pace > swing.near * scene.wanted, judged.pace * swing.near < scene.wanted],
            [1, -1],
        )
        deep = judged.touches | (judged.share > swing.depth_share_high)
        sink = np.select([deep, judged.share < swing.depth_share_low], [-1, 1])
    return turn.astype(np.int32), sink.astype(np.int32)


def _ended(swings: Swings, inside: B1, times: F8) -> tuple[F8, I4]:
    """Return the seconds of swings and how they end.

    A swing that outlasts the longest time is over when its fly leaves the swing water.
    """
    last = inside.shape[1] - 1 - inside[:, ::-1].argmax(axis=1)
    gone = (swings.end == TIMEOUT) & inside.any(axis=1) & (last < swings.counts - 1)
    out = np.where(gone, times[np.arange(len(times)), last], swings.seconds)
    return out, np.where(gone, LEAVES, swings.end).astype(np.int32)


def _first(times: F8, mask: B1) -> F8:
    """Return the time of the first record under a mask, row by row; NaN where there is none."""
    when = times[np.arange(len(times)), mask.argmax(axis=1)]
    return np.where(mask.any(axis=1), when, np.nan)


def _mean(values: F8, mask: B1) -> F8:
    """Return the mean of the known values under a mask, row by row; NaN where there is none."""
    use = mask & np.isfinite(values)
    count = use.sum(axis=1)
    total = np.where(use, values, 0.0).sum(axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
