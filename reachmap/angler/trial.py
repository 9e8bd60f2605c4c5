"""Swings tried from each place: angle and tip changed until the fly swims as wanted."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

import numpy as np

from reachmap.angler._kernels_swing import UNKNOWN
from reachmap.angler.choose import Aims, Choice, tips_by_sinking
from reachmap.angler.judge import Judged, judge
from reachmap.angler.line import Line, build_line
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.stations import Piece, Stands
from reachmap.angler.swing import Current, Swings, Throw, current_of, swing_many
from reachmap.angler.view import View
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.markup.kit import Kit


@dataclass(frozen=True, slots=True)
class Scene:
    """All that a trial needs.

    `worth` (n, angles) is how good the room is behind; `rod` and `head` (n,) what is cast with;
    `wanted` the speed of the fly across the current, `pace` its slowest and quickest [m/s]; `lines`
    keeps lines already made; `castable` (n,) are places where some cast may have room, None: all.
    """

    view: View
    stands: Stands
    pieces: list[Piece]
    aims: Aims
    worth: FloatArray
    rod: IntArray
    head: IntArray
    kit: Kit
    settings: AnglerSettings
    wanted: float
    pace: tuple[float, float]
    lines: dict[tuple[float, int, int], Line] = field(default_factory=dict)
    castable: BoolArray | None = None


@dataclass(frozen=True, slots=True)
class Tried:
    """The best swing found from each place: angle, tip (by number), what it did, and its path.

    `wants` is +1 where a heavier tip than any owned is called for, -1 a lighter one, 0 neither.
    `path` (n, records, 2) is where the fly went [m], NaN after the end.
    """

    angle: IntArray
    tip: IntArray
    judged: Judged
    wants: IntArray
    path: FloatArray


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
    place; the one with the least cost is kept. Every `scout_every`-th place down a piece of water
    begins with the closed forms' choice; the places between begin with what served their nearest
    scout, since neighbours fish alike: it saves a third of all swings.
    """
    tips = tips_by_sinking(scene.kit)
    tip = np.argsort(tips)[np.maximum(choice.tip, 0)].astype(np.int32)
    hunt = _Hunt.begun(scene, choice.angle.copy(), tip)
    scouts = _scouts(scene)
    hopeful = choice.angle >= 0 if scene.castable is None else (choice.angle >= 0) & scene.castable
    current = current_of(scene.view)
    _try_out(scene, hunt, current, np.flatnonzero(hopeful & scouts).astype(np.int32))
    rest = np.flatnonzero(hopeful & ~scouts).astype(np.int32)
    hoped = _begin_like_scouts(scene, hunt, rest, scouts)
    _try_out(scene, hunt, current, rest, hoped=hoped)
    _, asked = _next(hunt.best.judged, scene)
    best_tip = hunt.best_tip
    wants = np.where(
        ((asked > 0) & (best_tip == len(tips) - 1)) | ((asked < 0) & (best_tip == 0)), asked, 0
    )
    return Tried(
        hunt.best_angle.astype(np.int32),
        np.where(hunt.best_angle >= 0, tips[best_tip], -1).astype(np.int32),
        hunt.best.judged,
        wants.astype(np.int32),
        hunt.best.path,
    )


@dataclass(slots=True)
class _Hunt:
    """Where the search stands at each place, changed in place.

    `angle` and `tip` (by sinking) are tried next; `best_angle` and `best_tip` were best so far, at
    the cost `least`; `seen` holds what was tried.
    """

    angle: IntArray
    tip: IntArray
    best_angle: IntArray
    best_tip: IntArray
    best: Tried
    least: FloatArray
    seen: list[set[tuple[int, int]]]

    @classmethod
    def begun(cls, scene: Scene, angle: IntArray, tip: IntArray) -> _Hunt:
        """Return a search of which nothing has been tried."""
        count = len(angle)
        return cls(
            angle,
            tip,
            np.where(angle >= 0, angle, -1).astype(np.int32),
            tip.copy(),
            _nothing(count, scene),
            np.full(count, np.inf),
            [set() for _ in range(count)],
        )


def _try_out(
    scene: Scene,
    hunt: _Hunt,
    current: Current,
    todo: IntArray,
    *,
    hoped: FloatArray | None = None,
) -> None:
    """Swing from the places `todo` until each is served, or has had its rounds.

    One is served too where its cost is no more than was `hoped` for, shape (all places,).
    """
    tips = tips_by_sinking(scene.kit)
    settings = scene.settings
    angle, tip = hunt.angle, hunt.tip
    for _ in range(settings.swing.rounds):
        if not todo.size:
            return
        throws = [_throw(scene, int(i), int(angle[i]), int(tips[tip[i]])) for i in todo]
        swings = swing_many(throws, current, settings.line, settings.swing)
        judged = judge(swings, current, _inside(scene, swings, todo), settings, scene.pace)
        cost = _cost(scene, judged, todo, angle[todo])
        better = (cost < hunt.least[todo]) | np.array([not hunt.seen[i] for i in todo])
        _keep(hunt.best, todo, better, judged, swings)
        won = todo[better]
        hunt.least[won] = cost[better]
        hunt.best_angle[won], hunt.best_tip[won] = angle[won], tip[won]
        for i in todo:
            hunt.seen[i].add((int(angle[i]), int(tip[i])))
        turn, sink = _next(judged, scene)
        angle[todo] = np.clip(angle[todo] + turn, 0, scene.aims.cast_m.shape[1] - 1)
        tip[todo] = np.clip(tip[todo] + sink, 0, len(tips) - 1)
        if hoped is not None:
            todo = todo[~(hunt.least[todo] <= hoped[todo])]
        todo = todo[[_fresh(scene, int(i), hunt) for i in todo]]


def _scouts(scene: Scene) -> BoolArray:
    """Return which places are tried first: every so many down each piece, bank by bank."""
    stands, every = scene.stands, max(scene.settings.swing.scout_every, 1)
    order = np.lexsort((stands.station, stands.side, stands.water))
    group = stands.water[order].astype(np.int64) * 3 + stands.side[order]
    first = np.r_[True, group[1:] != group[:-1]] if len(group) else np.zeros(0, dtype=bool)
    start = np.maximum.accumulate(np.where(first, np.arange(len(group)), 0))
    place = np.arange(len(group)) - start
    size = np.diff(np.r_[np.flatnonzero(first), len(group)])[np.cumsum(first) - 1]
    chosen = np.zeros(len(group), dtype=bool)
    chosen[order] = place % every == np.minimum(every // 2, (size - 1) // 2)
    return chosen


def _begin_like_scouts(scene: Scene, hunt: _Hunt, rest: IntArray, scouts: BoolArray) -> FloatArray:
    """Let places begin with the angle and tip that served the nearest scout beside their water.

    Only where that cast reaches the water and has no less room than the closed forms' choice.
    Returns the cost to be content with: that scout's and `near_cost`, NaN where there is none.
    """
    stands, worth = scene.stands, scene.worth
    hoped = np.full(len(hunt.angle), np.nan)
    good = np.flatnonzero(scouts & np.isfinite(hunt.least))
    for i in rest:
        mine = good[(stands.water[good] == stands.water[i]) & (stands.side[good] == stands.side[i])]
        if not mine.size:
            continue
        near = mine[np.argmin(np.abs(stands.station[mine] - stands.station[i]))]
        angle = hunt.best_angle[near]
        if not np.isfinite(scene.aims.cast_m[i, angle]):
            continue
        if worth[i, angle] >= worth[i, hunt.angle[i]]:
            hunt.angle[i], hunt.tip[i] = angle, hunt.best_tip[near]
            hunt.best_angle[i], hunt.best_tip[i] = angle, hunt.best_tip[near]
            hoped[i] = hunt.least[near] + scene.settings.swing.near_cost
    return hoped


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


def _keep(best: Tried, todo: IntArray, better: BoolArray, judged: Judged, swings: Swings) -> None:
    """Put the better swings into the best so far, in place."""
    for one in fields(Judged):
        getattr(best.judged, one.name)[todo[better]] = getattr(judged, one.name)[better]
    best.path[todo[better]] = swings.tracks[better, :, 1:3]


def _fresh(scene: Scene, i: int, hunt: _Hunt) -> bool:
    """Return whether the next cast from a place is new, reaches the water and has no less room."""
    angle = int(hunt.angle[i])
    if (angle, int(hunt.tip[i])) in hunt.seen[i]:
        return False
    lands = np.isfinite(scene.aims.cast_m[i, angle])
    return bool(lands and scene.worth[i, angle] >= scene.worth[i, hunt.best_angle[i]])


def _throw(scene: Scene, i: int, angle: int, tip: int) -> Throw:
    """Return the cast from place i."""
    kit, line, stands = scene.kit, scene.settings.line, scene.stands
    rod = kit.rods[int(scene.rod[i])].length_m
    out = max(float(scene.aims.cast_m[i, angle]) - rod, 2.0)
    out = line.length_step_m * round(out / line.length_step_m)
    down = stands.down[i]
    return Throw(
        stand=stands.point[i],
        tip_m=max(line.tip_height_m - float(stands.wade[i]), line.tip_low_m),
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


def _inside(scene: Scene, swings: Swings, todo: IntArray) -> BoolArray:
    """Return whether the fly is over its swing water, shape (n, records)."""
    x, y = swings.column("x"), swings.column("y")
    known = np.isfinite(x)
    points = np.column_stack([np.where(known, a, 0.0).ravel() for a in (x, y)])
    row, col, on_map = scene.view.grid.index(*points.T)
    row, col = row.reshape(x.shape), col.reshape(x.shape)
    inside = np.zeros(x.shape, dtype=bool)
    for piece in scene.pieces:
        mine = scene.stands.water[todo] == piece.number
        inside[mine] = piece.holds(row[mine], col[mine])
    return inside & known & on_map.reshape(x.shape)


def _cost(scene: Scene, judged: Judged, todo: IntArray, angle: IntArray) -> FloatArray:
    """Return what each swing costs; infinite where it never swam in the swing water."""
    swing = scene.settings.swing
    depth = np.maximum(swing.depth_share_low - judged.share, 0.0)
    depth = depth + np.maximum(judged.share - swing.depth_share_high, 0.0) + judged.touches
    cost = np.abs(judged.pace / scene.wanted - 1.0) + swing.depth_cost * depth
    cost = cost + swing.length_cost * scene.aims.cast_m[todo, angle] / scene.kit.angler.cast_limit_m
    cost = cost + swing.room_cost * (1.0 - scene.worth[todo, angle])
    return np.where(np.isfinite(cost), cost, np.inf)


def _next(judged: Judged, scene: Scene) -> tuple[IntArray, IntArray]:
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
