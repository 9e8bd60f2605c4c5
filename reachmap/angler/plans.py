"""The swing plans of a flow's places: the near strip first, the water outside it second."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from reachmap.angler._kernels_swing import UNKNOWN
from reachmap.angler.choose import Aims, choose_closed
from reachmap.angler.judge import TRACK, Judged
from reachmap.angler.picks import Pick, room_worth
from reachmap.angler.place_gear import RoomBehind, loops_of, pick_gear
from reachmap.angler.search import find_plans
from reachmap.angler.settings import AnglerSettings
from reachmap.angler.stations import Stands
from reachmap.angler.tip_search import Waters, waters_of
from reachmap.angler.tries import Scene, Tries, make_tries, swing_tries
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.words import Strip


@dataclass(frozen=True, slots=True)
class StripPlan:
    """The plan of every place for one strip, arrays of shape (n,).

    `tries` is the cast made, angle -1 where there is no plan; `picks` the cast, rod and head;
    `judged` what the swing does; `track` (n, records, 7) the fly's way, columns `judge.TRACK`, NaN
    after its end; `target_rad` the direction of the cast.
    """

    tries: Tries
    picks: list[Pick]
    judged: Judged
    track: FloatArray
    target_rad: FloatArray

    @property
    def path(self) -> FloatArray:
        """Return where each fly goes [m], shape (n, records, 2)."""
        return self.track[:, :, TRACK.index("x") : TRACK.index("y") + 1]


@dataclass(frozen=True, slots=True)
class Ladder:
    """How every tip owned swims in each piece of water from one bank, shape (groups, tips).

    With the group's own cast and art, means over the places tried; NaN where none was: `depth` of
    the fly and `above` the bed [m], `in_bands` share of the strip, `drag` and `tick` as of
    `Judged`, `wait_s`, `swing_s`. `first` (groups,) is a place of each group, `tip` (groups,) the
    tip chosen, -1 none.
    """

    depth: FloatArray
    above: FloatArray
    in_bands: FloatArray
    drag: FloatArray
    tick: FloatArray
    wait_s: FloatArray
    swing_s: FloatArray
    first: IntArray
    tip: IntArray


@dataclass(frozen=True, slots=True)
class Plans:
    """Plans of n places: for the near strip, for the water outside it, and the tips' ladder."""

    inside: StripPlan
    outside: StripPlan
    waters: Waters
    ladder: Ladder


def make_plans(
    scene: Scene, aims: dict[Strip, Aims], behind: RoomBehind, castable: BoolArray
) -> Plans:
    """Return the plans of every place.

    Parameters
    ----------
    scene
        Places, gear, current and the wanted pace.
    aims
        Casts at every angle for either strip.
    behind
        Room behind at every angle.
    castable
        Places where some cast may have room, shape (n,); no line is worked out at the others.
    """
    settings = scene.settings
    eligible = castable & np.isfinite(aims[Strip.INSIDE].cast_m).any(axis=1)
    waters = waters_of(scene.stands, eligible, settings.plan.scout_every, settings.plan.tip_run_m)
    usable = scene.gear.usable
    if not settings.line.full:
        near, far = (_closed(scene, aims[strip], behind) for strip in Strip)
        return Plans(near, far, waters, _no_ladder(scene, waters))
    loops = loops_of(scene, behind)
    masked = {strip: _only(aims[strip], eligible) for strip in Strip}
    first = find_plans(
        scene, masked[Strip.INSIDE], loops, Strip.INSIDE, waters, [usable] * waters.count
    )
    # The outer water is deeper and quicker: the same tip or a heavier one.
    own = _tip_of(first.best, waters)
    heavier = [usable[_at(usable, tip) :] for tip in own]
    rare = replace(waters, scouts=_every_other(waters, scene.stands))
    second = find_plans(
        scene, masked[Strip.OUTSIDE], loops, Strip.OUTSIDE, rare, heavier, brief=True
    )
    # One rod is carried for both passes: it is chosen by the cast halfway between theirs.
    both = np.stack([first.best.cast_m, np.fmax(first.best.cast_m, second.best.cast_m)])
    far = both.mean(axis=0)
    inside, outside = (
        _finished(scene, found.best, masked[strip], behind, strip, far)
        for strip, found in ((Strip.INSIDE, first), (Strip.OUTSIDE, second))
    )
    ladder = _ladder(scene, first.best, masked[Strip.INSIDE], waters)
    return Plans(inside, outside, waters, ladder)


def _finished(
    scene: Scene, best: Tries, aims: Aims, behind: RoomBehind, strip: Strip, far_m: FloatArray
) -> StripPlan:
    """Return a strip's plan with the gear picked and the swing worked out finely."""
    picks = pick_gear(scene, behind, best.angle, best.tip, best.cast_m, far_m)
    best = replace(
        best,
        rod=np.array([pick.rod for pick in picks], dtype=np.int32),
        head=np.array([pick.head for pick in picks], dtype=np.int32),
    )
    judged, track = _nothing(len(best), scene.settings)
    mine = np.flatnonzero(best.angle >= 0).astype(np.int32)
    line = scene.settings.line
    if strip is Strip.OUTSIDE:  # reported in fewer numbers
        line = replace(line, step_s=scene.settings.plan.step_s)
    if mine.size:
        did, way = swing_tries(scene, best.take(mine), aims.target_rad, strip, line)
        for one in fields(Judged):
            getattr(judged, one.name)[mine] = getattr(did, one.name)
        track[mine] = way
    return StripPlan(best, picks, judged, track, _target(aims, best.angle))


def _closed(scene: Scene, aims: Aims, behind: RoomBehind) -> StripPlan:
    """Return the closed forms' own plan for a strip, where no line is worked out."""
    room = room_worth(behind.fit)
    choice = choose_closed(aims, room, scene.kit, scene.settings, scene.wanted)
    every = np.arange(choice.angle.size, dtype=np.int32)
    at = every, np.maximum(choice.angle, 0)
    cast = np.where(choice.angle >= 0, aims.cast_m[at], np.nan)
    best = make_tries(every, choice.angle, cast, choice.tip)
    picks = pick_gear(scene, behind, choice.angle, choice.tip, cast, cast)
    judged, track = _nothing(every.size, scene.settings)
    judged = replace(
        judged,
        seconds=choice.seconds,
        pace=choice.pace,
        depth=choice.depth,
        above=np.maximum(aims.depth[at] - choice.depth, 0.0),
        share=choice.depth / aims.depth[at],
    )
    return StripPlan(best, picks, judged, track, _target(aims, choice.angle))


def _target(aims: Aims, angle: IntArray) -> FloatArray:
    """Return the direction of the cast of every place [rad]."""
    return np.asarray(aims.target_rad[np.arange(angle.size), np.maximum(angle, 0)])


def _only(aims: Aims, eligible: BoolArray) -> Aims:
    """Return aims without a cast at places that are not eligible."""
    return replace(aims, cast_m=np.where(eligible[:, None], aims.cast_m, np.nan))


def _tip_of(best: Tries, waters: Waters) -> IntArray:
    """Return the tip of each group."""
    found = np.zeros(waters.count, dtype=np.int32)
    found[waters.group] = best.tip
    return found


def _at(usable: IntArray, tip: int) -> int:
    """Return the place of a tip among the usable ones, 0 where it is not."""
    at = np.flatnonzero(usable == tip)
    return int(at[0]) if at.size else 0


def _every_other(waters: Waters, stands: Stands) -> BoolArray:
    """Return every other scout of each group, its first one always."""
    kept = np.zeros_like(waters.scouts)
    for group in range(waters.count):
        mine = np.flatnonzero((waters.group == group) & waters.scouts)
        kept[mine[np.argsort(stands.station[mine], kind="stable")][::2]] = True
    return kept


def _ladder(scene: Scene, best: Tries, aims: Aims, waters: Waters) -> Ladder:
    """Return what every tip owned would do with each group's plan."""
    found = _no_ladder(scene, waters)
    some = _every_other(waters, scene.stands)
    scouts = np.flatnonzero(some & (best.angle >= 0)).astype(np.int32)
    tips = scene.gear.usable
    if not scouts.size:
        return found
    at = np.repeat(scouts, tips.size)
    lot = replace(best.take(at), tip=np.tile(tips, scouts.size))
    line = replace(scene.settings.line, step_s=scene.settings.plan.step_s)
    did, _ = swing_tries(scene, lot, aims.target_rad, Strip.INSIDE, line)
    group = waters.group[at]
    values = {
        "depth": did.depth,
        "above": did.above,
        "in_bands": did.in_bands,
        "drag": did.drag,
        "tick": did.tick,
        "wait_s": did.wait_s,
        "swing_s": did.seconds,
    }
    for number in np.unique(group):
        mine = scouts[waters.group[scouts] == number]
        found.first[number] = mine[np.argmin(scene.stands.station[mine])]
        found.tip[number] = best.tip[mine[0]]
        for tip in tips:
            here = (group == number) & (lot.tip == tip)
            for name, value in values.items():
                known = value[here][np.isfinite(value[here])]
                getattr(found, name)[number, tip] = known.mean() if known.size else np.nan
    return found


def _no_ladder(scene: Scene, waters: Waters) -> Ladder:
    """Return a ladder of which nothing is known."""
    shape = (waters.count, len(scene.kit.tips))
    none = np.full(waters.count, -1, dtype=np.int32)
    blank = {
        one.name: np.full(shape, np.nan)
        for one in fields(Ladder)
        if one.name not in {"first", "tip"}
    }
    return Ladder(**blank, first=none, tip=none.copy())


def _nothing(count: int, settings: AnglerSettings) -> tuple[Judged, FloatArray]:
    """Return the judgement of no swing, nothing known, and an empty track."""
    line = settings.line
    records = int(line.longest_s / line.record_s) + 1
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
    return judged, np.full((count, records, len(TRACK)), np.nan)
