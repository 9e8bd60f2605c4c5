"""The search for a swing plan: angle, length, tip, mends, line fed and rod, from coarse to fine.

A tip is tied on for a whole piece of water from one bank; the rest is each place's own. Every
`scout_every`-th place down a piece is tried in full, the others begin with what serves there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reachmap.angler.choose import Aims, choose_closed
from reachmap.angler.gear import LEAST_OUT_M
from reachmap.angler.tip_search import (
    Search,
    Waters,
    group_tips,
    leading_tips,
    likely_tips,
    tip_scores,
    try_angles,
    try_tips,
)
from reachmap.angler.tries import Loops, Scene, Tries, joined_tries, make_tries
from reachmap.base.arrays import BoolArray, FloatArray, IntArray
from reachmap.base.words import Strip


@dataclass(frozen=True, slots=True)
class FoundPlans:
    """The plan found for each place, and what its group's scouts make of every tip.

    `best` holds one try a place, angle -1 where none was found; `worth` (n,) what it is worth;
    `by_tip` (groups, tips) the mean of what each tip is worth, NaN where it was not tried.
    """

    best: Tries
    worth: FloatArray
    by_tip: FloatArray


def find_plans(
    scene: Scene,
    aims: Aims,
    loops: Loops,
    strip: Strip,
    waters: Waters,
    allowed: list[IntArray],
    *,
    brief: bool = False,
) -> FoundPlans:
    """Return the plan for every place.

    Parameters
    ----------
    scene
        Places, gear, current and the wanted pace.
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
    tips = likely_tips(search, scouts, first, waters, allowed)
    try_tips(search, scouts, first, waters, tips, brief=brief)
    leading = leading_tips(search, scouts, waters, tips, 1 if brief else 2)
    try_angles(search, scouts, waters, leading)
    tip = group_tips(search, scouts, waters, tips)
    mine = tip[waters.group]
    _try_lengths(search, scouts, mine)
    _try_art(search, scouts, mine)
    rest = np.flatnonzero((first >= 0) & ~waters.scouts).astype(np.int32)
    planned = scouts
    if not brief:
        order = np.lexsort((scene.stands.station[rest], waters.group[rest]))
        some = np.sort(rest[order[:: scene.settings.plan.follow_every]])
        near = _nearest_scout(search, scouts, some, mine, waters)
        # Water that its scout swims at a loss is not worth the trying.
        some = some[(near >= 0) & (search.worth[near, mine[some]] > 0.0)]
        _follow_scouts(search, scouts, some, mine, waters)
        _try_lengths(search, some, mine)
        planned, rest = np.r_[scouts, some], np.setdiff1d(rest, some)
    _copy_nearest(search, planned, rest, mine, waters)
    return _found(search, mine, waters, scouts)


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
    lot = make_tries(place, angle, cast, tip[place], **art)
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
        angle = search.angle[one]
        lots.append(make_tries(place, angle, cast, mine[use], mends=mend, fed=fed, high=up))

    for number, pattern in enumerate(patterns[1:], start=1):
        lot(quick | high if pattern[0][1] > 0 else slow, number)
    lot(quick | high, 0, fed=True)
    lot(quick | high, 0, up=True)
    search.consider(joined_tries(lots))


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
        lots.append(make_tries(rest, angle, cast, tip[rest], **art))
    search.consider(joined_tries(lots))


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


def _found(search: Search, tip: IntArray, waters: Waters, scouts: IntArray) -> FoundPlans:
    """Return the best try of every place with its group's tip."""
    every = np.arange(len(tip), dtype=np.int32)
    at = every, tip
    best = make_tries(
        every,
        search.angle[at],
        search.cast[at],
        tip,
        mends=search.mends[at],
        fed=search.fed[at],
        high=search.high[at],
    )
    return FoundPlans(best, search.worth[at], tip_scores(search, scouts, waters))
