"""The search for a swing plan: angle, length, tip, mends, line fed and rod, from coarse to fine.

A tip is tied on for a whole piece of water from one bank; the rest is each place's own. Every
`scout_every`-th place down a piece is tried in full, the others begin with what serves there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reachmap.angler.choose import Aims, choose_closed, first_cast
from reachmap.angler.stations import Stands
from reachmap.angler.tries import Scene, Tries, joined, swing_tries, tries, worth_of
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.words import Strip


@dataclass(frozen=True, slots=True)
class Waters:
    """Places by piece of water and bank: `group` (n,) and which places are `scouts`."""

    group: IntArray
    scouts: BoolArray

    @property
    def count(self) -> int:
        """Return how many groups there are."""
        return int(self.group.max()) + 1 if self.group.size else 0


@dataclass(frozen=True, slots=True)
class Found:
    """The plan found for each place, and what its group's scouts make of every tip.

    `best` holds one try a place, angle -1 where none was found; `worth` (n,) what it is worth;
    `by_tip` (groups, tips) the mean of what each tip is worth, NaN where it was not tried.
    """

    best: Tries
    worth: FloatArray
    by_tip: FloatArray


def waters_of(stands: Stands, hopeful: BoolArray, every: int) -> Waters:
    """Return places by piece and bank; of every so many hopeful ones down a group one scouts."""
    _, group = np.unique(np.column_stack([stands.water, stands.side]), axis=0, return_inverse=True)
    group = np.asarray(group, dtype=np.int32).ravel()
    scouts = np.zeros(len(stands), dtype=bool)
    for number in range(int(group.max()) + 1 if group.size else 0):
        mine = np.flatnonzero((group == number) & hopeful)
        mine = mine[np.argsort(stands.station[mine], kind="stable")]
        scouts[mine[min(every // 2, (mine.size - 1) // 2) :: every]] = True
    return Waters(group, scouts)


class Search:
    """One strip's search, changed as tries come in: the best of every place and tip so far."""

    def __init__(self, scene: Scene, aims: Aims, room: FloatArray, strip: Strip) -> None:
        """Begin with nothing tried."""
        self.scene, self.aims, self.room, self.strip = scene, aims, room, strip
        shape = (len(scene.stands), len(scene.kit.tips))
        self.line = replace(scene.settings.line, step_s=scene.settings.plan.step_s)
        self.worth = np.full(shape, -np.inf)
        self.angle = np.full(shape, -1, dtype=np.int32)
        self.cast = np.full(shape, np.nan)
        self.mends = np.zeros(shape, dtype=np.int32)
        self.fed, self.high = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)

    def consider(self, lot: Tries) -> None:
        """Work out tries and keep those better than what their place and tip had."""
        can = np.isfinite(lot.cast_m) & (lot.angle >= 0)
        lot = lot.take(can)
        if not len(lot):
            return
        judged, _ = swing_tries(self.scene, lot, self.aims.target_rad, self.strip, self.line)
        worth = worth_of(self.scene, lot, judged, self.room)
        better = np.flatnonzero(worth > self.worth[lot.place, lot.tip])
        # Ascending: of several better ones for a place and tip the last assignment, the best, stays.
        better = better[np.argsort(worth[better], kind="stable")]
        at = lot.place[better], lot.tip[better]
        self.worth[at] = worth[better]
        self.angle[at], self.cast[at] = lot.angle[better], lot.cast_m[better]
        self.mends[at], self.fed[at], self.high[at] = (
            lot.mends[better],
            lot.fed[better],
            lot.high[better],
        )

    def length(self, place: IntArray, angle: IntArray, more_m: FloatArray | float) -> FloatArray:
        """Return the cast that lands beyond the strip and `more_m` farther [m], NaN where none."""
        at = place, np.maximum(angle, 0)
        most = np.minimum(self.aims.end_m[at], self.scene.kit.angler.cast_limit_m)
        first = first_cast(self.scene.kit, self.scene.settings)
        cast = np.minimum(np.maximum(self.aims.cast_m[at] + more_m, first), most)
        return np.where(angle >= 0, cast, np.nan)

    def plain(self, place: IntArray, angle: IntArray, tip: IntArray | int) -> Tries:
        """Return tries without further art."""
        return tries(place, angle, self.length(place, angle, 0.0), tip)


def find_plans(
    scene: Scene,
    aims: Aims,
    room: FloatArray,
    strip: Strip,
    waters: Waters,
    allowed: list[IntArray],
    *,
    brief: bool = False,
) -> Found:
    """Return the plan for every place.

    Parameters
    ----------
    scene
        Where one stands, with what, and what is wanted.
    aims
        Casts at every angle for the strip.
    room
        How good the room behind is at every angle, 0 to 1, shape (n, angles).
    strip
        Which strip.
    waters
        The places by piece and bank; only those a scout stands for are tried.
    allowed
        Tips that may be tied on for each group, lightest first.
    brief
        Whether every tip is tried at one angle only, and art where it is needed alone.

    Notes
    -----
    Scouts: every tip at the closed forms' angle and two angles on; the two tips that are worth most
    to the group at every other angle; then for the group's tip three more lengths, the patterns of
    mends, line fed and the rod held high. A heavier tip must be worth `tip_gain` more. The places
    between: the nearest scout's angle and those beside it, with its art, and without.
    """
    search = Search(scene, aims, room, strip)
    first = choose_closed(aims, room, scene.kit, scene.settings, scene.wanted).angle
    scouts = np.flatnonzero(waters.scouts & (first >= 0)).astype(np.int32)
    _try_tips(search, scouts, first, waters, allowed, brief=brief)
    leading = _tips_for(search, scouts, waters, allowed, 1 if brief else 2)
    _try_angles(search, scouts, waters, leading)
    tip = _group_tips(search, scouts, waters, allowed)
    mine = tip[waters.group]
    _try_lengths(search, scouts, mine)
    _try_art(search, scouts, mine)
    rest = np.flatnonzero((first >= 0) & ~waters.scouts).astype(np.int32)
    _follow_scouts(search, scouts, rest, first, mine, waters)
    return _found(search, mine, waters, scouts)


def _try_tips(
    search: Search,
    scouts: IntArray,
    first: IntArray,
    waters: Waters,
    allowed: list[IntArray],
    *,
    brief: bool,
) -> None:
    """Try every allowed tip at the first angle, and at one two on."""
    most = search.aims.cast_m.shape[1] - 1
    lots = []
    for group in np.unique(waters.group[scouts]):
        mine = scouts[waters.group[scouts] == group]
        angles = first[mine][:, None]
        if not brief:
            beside = np.where(angles + 2 <= most, angles + 2, angles - 2)
            angles = np.concatenate([angles, beside], axis=1)
        place, angle, tip = np.broadcast_arrays(
            mine[:, None, None], angles[:, :, None], allowed[group][None, None, :]
        )
        lots.append(search.plain(place.ravel(), angle.ravel(), tip.ravel()))
    if lots:
        search.consider(joined(lots))


def _try_angles(
    search: Search, scouts: IntArray, waters: Waters, leading: dict[int, IntArray]
) -> None:
    """Try the leading tips of each group at every angle."""
    count = search.aims.cast_m.shape[1]
    lots = []
    for group, tips in leading.items():
        mine = scouts[waters.group[scouts] == group]
        place, angle, tip = np.broadcast_arrays(
            mine[:, None, None], np.arange(count)[None, :, None], tips[None, None, :]
        )
        lots.append(search.plain(place.ravel(), angle.ravel(), tip.ravel()))
    if lots:
        search.consider(joined(lots))


def _scores(search: Search, scouts: IntArray, waters: Waters) -> FloatArray:
    """Return what each tip is worth to each group: the mean over its scouts, NaN where none."""
    scores = np.full((waters.count, search.worth.shape[1]), np.nan)
    for group in np.unique(waters.group[scouts]):
        mine = search.worth[scouts[waters.group[scouts] == group]]
        tried = (mine > -np.inf).any(axis=0)
        # A place that a tip does not serve at all counts as badly as dragging half the strip.
        scores[group, tried] = np.maximum(mine[:, tried], -1.0).mean(axis=0)
    return scores


def _tips_for(
    search: Search, scouts: IntArray, waters: Waters, allowed: list[IntArray], most: int
) -> dict[int, IntArray]:
    """Return the tips worth most to each group, at most so many."""
    scores = _scores(search, scouts, waters)
    found = {}
    for group in np.unique(waters.group[scouts]):
        tips = allowed[group]
        order = np.argsort(-np.nan_to_num(scores[group, tips], nan=-np.inf), kind="stable")
        found[int(group)] = tips[order[:most]]
    return found


def _group_tips(
    search: Search, scouts: IntArray, waters: Waters, allowed: list[IntArray]
) -> IntArray:
    """Return the tip of each group: a heavier one only where it is worth `tip_gain` more."""
    scores = _scores(search, scouts, waters)
    gain = search.scene.settings.plan.tip_gain
    chosen = np.array([int(tips[0]) for tips in allowed], dtype=np.int32)
    for group, tips in enumerate(allowed):
        best = -np.inf
        for tip in tips:
            score = scores[group, tip]
            if np.isfinite(score) and score > best + (gain if np.isfinite(best) else 0.0):
                best, chosen[group] = score, tip
    return chosen


def _try_lengths(search: Search, scouts: IntArray, tip: IntArray) -> None:
    """Try shorter and longer casts at each scout's best angle."""
    longer = np.array(search.scene.settings.plan.longer_m)
    place = np.repeat(scouts, longer.size)
    mine = tip[place]
    angle = search.angle[place, mine]
    cast = search.length(place, angle, np.tile(longer, scouts.size))
    search.consider(tries(place, angle, cast, mine))


def _try_art(search: Search, scouts: IntArray, tip: IntArray) -> None:
    """Try mends, line fed and the rod held high at each scout's best cast."""
    settings = search.scene.settings
    patterns = len(settings.plan.mends) if settings.line.mend_m > 0 else 0
    arts = [(mend, False, False) for mend in range(1, patterns + 1)]
    arts += [(0, True, False), (0, False, True)]
    mend, fed, high = (np.array(one) for one in zip(*arts, strict=True))
    place = np.repeat(scouts, len(arts))
    mine, count = tip[place], scouts.size
    lot = tries(
        place,
        search.angle[place, mine],
        search.cast[place, mine],
        mine,
        mends=np.tile(mend, count),
        fed=np.tile(fed, count).astype(bool),
        high=np.tile(high, count).astype(bool),
    )
    search.consider(lot)


def _follow_scouts(
    search: Search,
    scouts: IntArray,
    rest: IntArray,
    first: IntArray,
    tip: IntArray,
    waters: Waters,
) -> None:
    """Let the places between begin with what serves the nearest scout of their group."""
    station, most = search.scene.stands.station, search.aims.cast_m.shape[1] - 1
    lots = []
    for i in rest:
        mine = scouts[waters.group[scouts] == waters.group[i]]
        if not mine.size:
            continue
        near = mine[np.argmin(np.abs(station[mine] - station[i]))]
        t = tip[i]
        angle, more, art = int(search.angle[near, t]), 0.0, (0, False, False)
        if angle >= 0:
            more = float(search.cast[near, t] - search.aims.cast_m[near, angle])
            art = (
                int(search.mends[near, t]),
                bool(search.fed[near, t]),
                bool(search.high[near, t]),
            )
        else:
            angle = int(first[i])
        angles = np.unique(np.clip([angle - 1, angle, angle + 1], 0, most)).astype(np.int32)
        place = np.full(angles.size, i, dtype=np.int32)
        cast = search.length(place, angles, more)
        lots.append(tries(place, angles, cast, t, mends=art[0], fed=art[1], high=art[2]))
        if more or any(art):
            lots.append(search.plain(place[:1], np.array([angle]), t))
    if lots:
        search.consider(joined(lots))


def _found(search: Search, tip: IntArray, waters: Waters, scouts: IntArray) -> Found:
    """Return the best try of every place with its group's tip."""
    every = np.arange(len(tip), dtype=np.int32)
    at = every, tip
    best = tries(
        every,
        search.angle[at],
        search.cast[at],
        tip,
        mends=search.mends[at],
        fed=search.fed[at],
        high=search.high[at],
    )
    return Found(best, search.worth[at], _scores(search, scouts, waters))
