"""The search for a swing plan: angle, length, tip, mends, line fed and rod, from coarse to fine.

A tip is tied on for a whole piece of water from one bank; the rest is each place's own. Every
`scout_every`-th place down a piece is tried in full, the others begin with what serves there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reachmap.angler.choose import Aims, choose_closed, first_cast
from reachmap.angler.gear import LEAST_OUT_M
from reachmap.angler.judge import swing_worth
from reachmap.angler.line import sink_rate
from reachmap.angler.stations import Stands
from reachmap.angler.swing_closed import closed_depth
from reachmap.angler.tries import Loops, Scene, Tries, cost_of, joined, swing_tries, tries
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

    def __init__(self, scene: Scene, aims: Aims, loops: Loops, strip: Strip) -> None:
        """Begin with nothing tried."""
        self.scene, self.aims, self.loops, self.strip = scene, aims, loops, strip
        shape = (len(scene.stands), len(scene.kit.tips))
        self.line = replace(scene.settings.line, step_s=scene.settings.plan.step_s)
        self.worth = np.full(shape, -np.inf)
        self.angle = np.full(shape, -1, dtype=np.int32)
        self.cast = np.full(shape, np.nan)
        self.mends = np.zeros(shape, dtype=np.int32)
        self.fed, self.high = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        self.pace, self.share = np.full(shape, np.nan), np.full(shape, np.nan)

    def consider(self, lot: Tries) -> None:
        """Work out tries and keep those better than what their place and tip had.

        Not those that could not be better though their swim were all as wanted, a worth of 1.
        """
        lot = lot.take(np.isfinite(lot.cast_m) & (lot.angle >= 0))
        cost = cost_of(self.scene, lot, self.loops)
        hope = 1.0 - cost > self.worth[lot.place, lot.tip]
        lot, cost = lot.take(hope), cost[hope]
        if not len(lot):
            return
        judged, _ = swing_tries(self.scene, lot, self.aims.target_rad, self.strip, self.line)
        worth = swing_worth(judged, self.scene.settings) - cost
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
        self.pace[at], self.share[at] = judged.pace[better], judged.share[better]

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
    loops: Loops,
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
    loops
        Room behind at every angle from every place.
    strip
        Which strip.
    waters
        The places by piece and bank; only those a scout stands for are tried.
    allowed
        Tips that may be tied on for each group, lightest first.
    brief
        Whether tips are tried at one angle only, and the places between do as their scout does.

    Notes
    -----
    Scouts: the tips that come nearest by the closed form, at its angle and two angles on; the two
    that are worth most to the group at every other angle; then for the group's tip other lengths,
    and art as the swing asks for it: mends up the current, line fed and a high rod where the fly is
    too quick or too high, mends down it where it is too slow. A heavier tip must be worth
    `tip_gain` more. The places between: the nearest scout's angle and those beside it with its art,
    then other lengths, at one of `follow_every` of them; the rest do as the nearest does. None
    where no scout of the group ever swims the strip.
    """
    search = Search(scene, aims, loops, strip)
    room = 0.5 * (loops.fits_m > LEAST_OUT_M) + 0.5 * (loops.tight_m > LEAST_OUT_M)
    first = choose_closed(aims, room, scene.kit, scene.settings, scene.wanted).angle
    scouts = np.flatnonzero(waters.scouts & (first >= 0)).astype(np.int32)
    tips = _likely_tips(search, scouts, first, waters, allowed)
    _try_tips(search, scouts, first, waters, tips, brief=brief)
    leading = _tips_for(search, scouts, waters, tips, 1 if brief else 2)
    _try_angles(search, scouts, waters, leading)
    tip = _group_tips(search, scouts, waters, tips)
    mine = tip[waters.group]
    _try_lengths(search, scouts, mine)
    _try_art(search, scouts, mine)
    rest = np.flatnonzero((first >= 0) & ~waters.scouts).astype(np.int32)
    planned = scouts
    if not brief:
        order = np.lexsort((scene.stands.station[rest], waters.group[rest]))
        some = np.sort(rest[order[:: scene.settings.plan.follow_every]])
        _follow_scouts(search, scouts, some, mine, waters)
        _try_lengths(search, some, mine)
        planned, rest = np.r_[scouts, some], np.setdiff1d(rest, some)
    _copy_nearest(search, planned, rest, mine, waters)
    return _found(search, mine, waters, scouts)


def _likely_tips(
    search: Search,
    scouts: IntArray,
    first: IntArray,
    waters: Waters,
    allowed: list[IntArray],
) -> list[IntArray]:
    """Return the tips worth working out for each group, lightest first.

    Those whose depth at the hang in the middle scout's water, by the closed form, comes nearest in
    proportion to the middle of the wanted band.
    """
    scene, swing = search.scene, search.scene.settings.swing
    plan, kit = scene.settings.plan, scene.kit
    middle = 0.5 * (swing.depth_share_low + swing.depth_share_high)
    found = list(allowed)
    for group in np.unique(waters.group[scouts]):
        mine = scouts[waters.group[scouts] == group]
        at = mine, first[mine]
        speed = float(np.nanmedian(search.aims.speed[at]))
        depth = float(np.nanmedian(search.aims.depth[at]))
        tips = allowed[group]
        reached = np.array(
            [
                closed_depth(
                    kit.tips[t].length_m, sink_rate(kit.tips[t], scene.settings.line), speed, swing
                )
                for t in tips
            ]
        )
        off = np.abs(np.log((reached + plan.own_depth_m) / (middle * depth)))
        order = np.argsort(np.nan_to_num(off, nan=np.inf), kind="stable")
        found[group] = tips[np.sort(order[: plan.tips_tried])]
    return found


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


def _try_lengths(search: Search, places: IntArray, tip: IntArray) -> None:
    """Try shorter and longer casts at each place's best angle, with its art."""
    places = places[search.angle[places, tip[places]] >= 0]
    longer = np.array(search.scene.settings.plan.longer_m)
    place = np.repeat(places, longer.size)
    at = place, tip[place]
    angle, have = search.angle[at], search.cast[at]
    more = have - search.aims.cast_m[place, angle] + np.tile(longer, places.size)
    cast = search.length(place, angle, more)
    art = {"mends": search.mends[at], "fed": search.fed[at], "high": search.high[at]}
    lot = tries(place, angle, cast, tip[place], **art)
    search.consider(lot.take(np.abs(cast - have) > 0.1))


def _try_art(search: Search, scouts: IntArray, tip: IntArray) -> None:
    """Try mends, line fed and the rod held high at each scout's best cast, as it asks for them."""
    scene = search.scene
    mine = tip[scouts]
    at = scouts, mine
    middle = np.mean(scene.pace)
    with np.errstate(invalid="ignore"):
        quick = search.pace[at] > middle
        high = search.share[at] < scene.settings.swing.depth_share_low
        slow = search.pace[at] < middle
    patterns = [()] if scene.settings.line.mend_m <= 0 else [(), *scene.settings.plan.mends]
    lots = []

    def lot(use: BoolArray, mend: int, *, fed: bool = False, up: bool = False) -> None:
        place = scouts[use]
        one = at[0][use], at[1][use]
        cast = search.cast[one]
        art = {"mends": mend, "fed": fed, "high": up}
        lots.append(tries(place, search.angle[one], cast, mine[use], **art))

    for number, pattern in enumerate(patterns[1:], start=1):
        lot(quick | high if pattern[0][1] > 0 else slow, number)
    lot(quick | high, 0, fed=True)
    lot(quick | high, 0, up=True)
    search.consider(joined(lots))


def _nearest_scout(
    search: Search, scouts: IntArray, rest: IntArray, tip: IntArray, waters: Waters
) -> IntArray:
    """Return the nearest scout of its group for each place, of those that swim; -1 for none."""
    station = search.scene.stands.station
    good = scouts[search.angle[scouts, tip[scouts]] >= 0]
    found = np.full(rest.size, -1, dtype=np.int32)
    for k, i in enumerate(rest):
        mine = good[waters.group[good] == waters.group[i]]
        if mine.size:
            found[k] = mine[np.argmin(np.abs(station[mine] - station[i]))]
    return found


def _follow_scouts(
    search: Search, scouts: IntArray, rest: IntArray, tip: IntArray, waters: Waters
) -> None:
    """Let the places between try what serves the nearest scout, and the angles beside it."""
    near = _nearest_scout(search, scouts, rest, tip, waters)
    rest, near = rest[near >= 0], near[near >= 0]
    at, most = (near, tip[rest]), search.aims.cast_m.shape[1] - 1
    more = search.cast[at] - search.aims.cast_m[near, search.angle[at]]
    lots = []
    for turn in (-1, 0, 1):
        angle = search.angle[at] + turn
        angle = np.where((angle >= 0) & (angle <= most), angle, -1).astype(np.int32)
        cast = search.length(rest, angle, more)
        art = {"mends": search.mends[at], "fed": search.fed[at], "high": search.high[at]}
        lots.append(tries(rest, angle, cast, tip[rest], **art))
    search.consider(joined(lots))


def _copy_nearest(
    search: Search, scouts: IntArray, rest: IntArray, tip: IntArray, waters: Waters
) -> None:
    """Let places do what the nearest planned one of their group does, untried."""
    near = _nearest_scout(search, scouts, rest, tip, waters)
    rest, near = rest[near >= 0], near[near >= 0]
    here, there = (rest, tip[rest]), (near, tip[rest])
    angle = search.angle[there]
    more = search.cast[there] - search.aims.cast_m[near, angle]
    cast = search.length(rest, angle, more)
    good = np.isfinite(cast)
    search.angle[here] = np.where(good, angle, -1)
    search.cast[here] = cast
    search.worth[here] = np.where(good, search.worth[there], -np.inf)
    search.mends[here], search.fed[here], search.high[here] = (
        search.mends[there],
        search.fed[there],
        search.high[there],
    )


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
