"""Choice of the tip for a piece of water from one bank, and the state of the search."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reachmap.angler.choose import Aims, first_cast
from reachmap.angler.judge import swing_worth
from reachmap.angler.line import sink_rate
from reachmap.angler.stations import Stands
from reachmap.angler.swing_closed import closed_depth
from reachmap.angler.tries import (
    Loops,
    Scene,
    Tries,
    cost_of,
    joined_tries,
    make_tries,
    swing_tries,
)
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


def waters_of(stands: Stands, eligible: BoolArray, every: int, tip_run_m: float) -> Waters:
    """Return places grouped by piece and bank; every `every`-th eligible one down a group scouts.

    A piece much longer than `tip_run_m` [m] makes several groups, one below the other.
    """
    group = _groups(np.column_stack([stands.water, stands.side]))
    part = np.zeros(len(stands), dtype=np.int32)
    for number in range(int(group.max()) + 1 if group.size else 0):
        mine = group == number
        along = stands.station[mine] - stands.station[mine].min()
        length = max(float(along.max()), 1e-6)
        count = max(round(length / tip_run_m), 1)
        part[mine] = np.minimum((along / length * count).astype(int), count - 1)
    group = _groups(np.column_stack([group, part]))
    scouts = np.zeros(len(stands), dtype=bool)
    for number in range(int(group.max()) + 1 if group.size else 0):
        mine = np.flatnonzero((group == number) & eligible)
        mine = mine[np.argsort(stands.station[mine], kind="stable")]
        scouts[mine[min(every // 2, (mine.size - 1) // 2) :: every]] = True
    return Waters(group, scouts)


def _groups(keys: IntArray) -> IntArray:
    """Return the number of each row's key among those there are."""
    found: IntArray = np.unique(keys, axis=0, return_inverse=True)[1].ravel().astype(np.int32)
    return found


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
        self.tried: set[tuple[float, ...]] = set()

    def consider(self, lot: Tries) -> None:
        """Work out tries and keep those better than what their place and tip had.

        Not those that could not be better though their swim were all as wanted, a worth of 1, nor
        what was worked out before.
        """
        lot = lot.take(np.isfinite(lot.cast_m) & (lot.angle >= 0))
        cost = cost_of(self.scene, lot, self.loops)
        hope = 1.0 - cost > self.worth[lot.place, lot.tip]
        lot, cost = lot.take(hope), cost[hope]
        fresh = self._fresh(lot)
        lot, cost = lot.take(fresh), cost[fresh]
        if not len(lot):
            return
        judged, _ = swing_tries(self.scene, lot, self.aims.target_rad, self.strip, self.line)
        worth = swing_worth(judged, self.scene.settings) - cost
        better = np.flatnonzero(worth > self.worth[lot.place, lot.tip])
        # Ascending: of several better ones for a place and tip the last one, the best, stays.
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

    def _fresh(self, lot: Tries) -> BoolArray:
        """Return which tries were not worked out before, and note them all as tried."""
        columns = lot.place, lot.angle, lot.cast_m, lot.tip, lot.mends, lot.fed, lot.high
        found = np.zeros(len(lot), dtype=bool)
        for k, one in enumerate(zip(*(column.tolist() for column in columns), strict=True)):
            found[k] = one not in self.tried
            self.tried.add(one)
        return found

    def length(self, place: IntArray, angle: IntArray, more_m: FloatArray | float) -> FloatArray:
        """Return the cast that lands beyond the strip and `more_m` farther [m], NaN where none."""
        at = place, np.maximum(angle, 0)
        most = np.minimum(self.aims.end_m[at], self.scene.kit.angler.cast_limit_m)
        first = first_cast(self.scene.kit, self.scene.settings)
        cast = np.minimum(np.maximum(self.aims.cast_m[at] + more_m, first), most)
        return np.where(angle >= 0, cast, np.nan)

    def plain(self, place: IntArray, angle: IntArray, tip: IntArray | int) -> Tries:
        """Return tries without further art."""
        return make_tries(place, angle, self.length(place, angle, 0.0), tip)


def likely_tips(
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


def try_tips(
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
            second = np.where(angles + 2 <= most, angles + 2, angles - 2)
            angles = np.concatenate([angles, second], axis=1)
        place, angle, tip = np.broadcast_arrays(
            mine[:, None, None], angles[:, :, None], allowed[group][None, None, :]
        )
        lots.append(search.plain(place.ravel(), angle.ravel(), tip.ravel()))
    if lots:
        search.consider(joined_tries(lots))


def try_angles(
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
        search.consider(joined_tries(lots))


def tip_scores(search: Search, scouts: IntArray, waters: Waters) -> FloatArray:
    """Return what each tip is worth to each group: the mean over its scouts, NaN where none."""
    scores = np.full((waters.count, search.worth.shape[1]), np.nan)
    for group in np.unique(waters.group[scouts]):
        mine = search.worth[scouts[waters.group[scouts] == group]]
        tried = (mine > -np.inf).any(axis=0)
        # A place that a tip does not serve at all counts as badly as dragging half the strip.
        scores[group, tried] = np.maximum(mine[:, tried], -1.0).mean(axis=0)
    return scores


def leading_tips(
    search: Search, scouts: IntArray, waters: Waters, allowed: list[IntArray], most: int
) -> dict[int, IntArray]:
    """Return the tips worth most to each group, at most so many."""
    scores = tip_scores(search, scouts, waters)
    found = {}
    for group in np.unique(waters.group[scouts]):
        tips = allowed[group]
        order = np.argsort(-np.nan_to_num(scores[group, tips], nan=-np.inf), kind="stable")
        found[int(group)] = tips[order[:most]]
    return found


def group_tips(
    search: Search, scouts: IntArray, waters: Waters, allowed: list[IntArray]
) -> IntArray:
    """Return the tip of each group: a heavier one only where it is worth `tip_gain` more."""
    scores = tip_scores(search, scouts, waters)
    gain = search.scene.settings.plan.tip_gain
    chosen = np.array([int(tips[0]) for tips in allowed], dtype=np.int32)
    for group, tips in enumerate(allowed):
        best = -np.inf
        for tip in tips:
            score = scores[group, tip]
            if np.isfinite(score) and score > best + (gain if np.isfinite(best) else 0.0):
                best, chosen[group] = score, tip
    return chosen
