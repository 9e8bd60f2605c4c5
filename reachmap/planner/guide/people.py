"""The party: each rod's own limits, and the places to stand within them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import time

from reachmap.angler.rules import WadeLimit
from reachmap.angler.standing import DRY_M
from reachmap.angler.wading import limit_for
from reachmap.angler.wading_settings import WadingSettings
from reachmap.base.words import Hand, Side, WayIn
from reachmap.markup.kit import Angler
from reachmap.planner.guide.facts import Grading, RunWater, Stand


@dataclass(frozen=True, slots=True)
class Person:
    """One rod of the party.

    Parameters
    ----------
    name
        The name used in the plan.
    height_m, wade_limit_m, cast_limit_m
        Height, deepest water to stand in, longest everyday cast [m].
    mass_kg
        Body mass [kg]; NaN for a light build of that height.
    rod
        Name of their rod, or empty.
    heads
        Names and lengths [m] of the heads they carry; none for those of the reach's kit.
    tips
        Names of the tips they carry; none for those of the reach's kit.
    """

    name: str
    height_m: float
    wade_limit_m: float
    cast_limit_m: float
    mass_kg: float = math.nan
    rod: str = ""
    heads: tuple[tuple[str, float], ...] = ()
    tips: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Party:
    """Who fishes, and how they get about.

    Parameters
    ----------
    people
        The rods, at least one.
    boat, crossing
        Whether they float, and whether they get to the other bank without a boat.
    bank
        The bank they keep to, empty for the better one.
    hours
        How long they fish, ways between included [h].
    begin
        Begin of the first turn, in the clock of the place; None for sunrise.
    turn_min
        About how long a turn lasts before rods swap [min].
    room_m
        Water between two rods in one run [m].
    """

    people: tuple[Person, ...]
    boat: bool = False
    crossing: bool = False
    bank: str = ""
    hours: float = 6.0
    begin: time | None = None
    turn_min: float = 75.0
    room_m: float = 45.72


@dataclass(frozen=True, slots=True)
class Offer:
    """A run for one person: the places they can use, worth and duration of a pass.

    `share` is the part of the run's odds that is cast from these places; `minutes` the time of a
    pass over them [min]. `own_limits`: the person's limits are lower than those the map was graded
    for, so that only places within them count.
    """

    run: RunWater
    stands: tuple[Stand, ...]
    share: float
    minutes: float
    own_limits: bool

    @property
    def rate(self) -> float:
        """Return the worth of an hour at these places, 0 to 100."""
        return self.run.rate * self.share * self.run.minutes / self.minutes

    @property
    def pass_worth(self) -> float:
        """Return the worth of one pass, in hours at a rate of 100."""
        return self.rate * self.minutes / 6000.0  # 60 min/h times the rate of 100


def limit_of(person: Person, graded: Grading) -> WadeLimit:
    """Return a person's limits by the rules in force, never wider than those of the map."""
    settings = replace(
        WadingSettings(),
        rules=graded.rules,
        own=graded.own,
        depth_share_high=graded.depth_share_high,
        mass_kg=person.mass_kg,
    )
    who = Angler(person.height_m, person.wade_limit_m, Hand.RIGHT, 1.2, person.cast_limit_m)
    mine, map_ = limit_for(who, settings), graded.limit
    return WadeLimit(
        min(mine.product_m2_s, map_.product_m2_s),
        min(mine.depth_m, map_.depth_m),
        min(mine.speed_m_s, map_.speed_m_s),
    )


def is_lower(limit: WadeLimit, graded: WadeLimit) -> bool:
    """Return whether some limit is lower than that which the map was graded for."""
    return (
        limit.product_m2_s < graded.product_m2_s
        or limit.depth_m < graded.depth_m
        or limit.speed_m_s < graded.speed_m_s
    )


def offer_for(
    person: Person, run: RunWater, graded: Grading, party: Party, easy_share: float
) -> Offer | None:
    """Return a run for a person; None where they can use no place of it.

    Parameters
    ----------
    person, run, graded
        Who, where, and what the map was graded for.
    party
        Whether there is a boat.
    easy_share
        As in `GuideSettings`.

    Notes
    -----
    For a person whose limits are not lower than the map's, every place on a bank counts with room
    for a cast and a way to it. Else only those that `is_theirs` allows: a map graded for one person
    gives little on the way in for another, so unknown is not offered.
    """
    limit = limit_of(person, graded)
    lower = is_lower(limit, graded.limit)
    able = [one for one in run.stands if one.castable]
    mine = [
        one
        for one in able
        if _gets_there(one, boat=party.boat)
        and one.cast_m <= person.cast_limit_m
        and _head_fits(person, one)
        and (not lower or is_theirs(one, limit, easy_share, boat=party.boat))
    ]
    if not mine or not math.isfinite(run.minutes) or not run.rate > 0:
        return None
    minutes = run.minutes * len(mine) / len(able)
    return Offer(run, tuple(mine), _share(mine, able), minutes, lower)


def is_theirs(stand: Stand, limit: WadeLimit, easy_share: float, *, boat: bool) -> bool:
    """Return whether a place and the way to it are within limits lower than the map's.

    Dry ground counts where dry ground connects it to a drawn access, or a boat lands there; water
    where the greatest depth and speed of its whole zone, through which one comes from such ground,
    stay within a share of every limit. Unknown does not count, nor does a place that a hand's
    breadth more water closes.
    """
    if stand.hand_shuts or not (stand.dry_way or boat):
        return False
    depth, speed = stand.zone_depth_m, stand.zone_speed_m_s
    if stand.depth_m <= DRY_M:
        return True
    return (
        stand.dry_way
        and depth <= easy_share * limit.depth_m
        and speed <= easy_share * limit.speed_m_s
        and depth * speed <= easy_share * limit.product_m2_s
    )


def _gets_there(stand: Stand, *, boat: bool) -> bool:
    """Return whether a place on a bank can be reached: on foot, or by boat if there is one."""
    return stand.side in (Side.LEFT, Side.RIGHT) and (stand.way != WayIn.BOAT or boat)


def _head_fits(person: Person, stand: Stand) -> bool:
    """Return whether a head of theirs has room behind; unknown room (NaN) does not."""
    return not person.heads or min(m for _, m in person.heads) <= stand.head_max_m


def _share(mine: Sequence[Stand], able: Sequence[Stand]) -> float:
    """Return the part of a run's odds from some of its places; by their number where not known."""
    if not all(math.isfinite(one.odds) for one in able) or not sum(one.odds for one in able) > 0:
        return len(mine) / len(able)
    return sum(one.odds for one in mine) / sum(one.odds for one in able)
