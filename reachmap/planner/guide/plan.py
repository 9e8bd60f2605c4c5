"""The guide's plan of a day: who fishes which run when, plan B, and the runs left out.

The entry point of the folder: pure, from the facts of a build, the day's water and the party.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.arrays import BoolArray
from reachmap.planner.facts import ReachFacts
from reachmap.planner.guide.boat import boat_days
from reachmap.planner.guide.day import GuideInputs, LeftOut, Why
from reachmap.planner.guide.layout import DayLayout, five_up, lay_out
from reachmap.planner.guide.people import Offer
from reachmap.planner.guide.solve import Chosen, Group, Solved, best_ways, plan_worth
from reachmap.planner.guide.ways import IDLE, Frame, Way, ways_of

Names = tuple[tuple[str, ...], ...]
"""The name of each rod's run in each turn; empty for none."""

GONE = -2
"""Number for a run of an earlier plan that cannot be used now."""


@dataclass(frozen=True, slots=True)
class Turn:
    """A rod in one turn.

    Parameters
    ----------
    spot
        Number of its run; `IDLE` for none.
    begin, fish, end
        Begin of the turn, first cast, and end (UTC).
    move_min
        Time to get there [min].
    before
        Number of rods that fished the run before this one.
    sharing
        Numbers of the other rods in the run in this turn.
    place
        Order among the rods in the run in this turn, 0 goes in first.
    stays
        Whether it was there in the turn before.
    """

    spot: int
    begin: np.datetime64
    fish: np.datetime64
    end: np.datetime64
    move_min: float
    before: int
    sharing: tuple[int, ...]
    place: int
    stays: bool


@dataclass(frozen=True, slots=True)
class Backup:
    """Plan B for a run that is taken: each rod's run in each turn then, and the plan's worth.

    `spots` is None where no plan serves all rods.
    """

    run: str
    spots: Chosen | None
    worth: float


@dataclass(frozen=True, slots=True)
class GuidePlan:
    """A plan of a day.

    Parameters
    ----------
    layout
        The day's layout.
    solved
        The ways taken; None where there is no plan.
    rods
        Turns of each rod.
    backups
        Plan B for each run of the plan.
    left_out
        Every run in shape that has no part in the plan.
    kept
        Whether it is an earlier plan that stays; `best_worth` is then the worth of a new one.
    best_worth
        Worth of the best plan.
    """

    layout: DayLayout
    solved: Solved | None
    rods: tuple[tuple[Turn, ...], ...]
    backups: tuple[Backup, ...]
    left_out: tuple[LeftOut, ...]
    kept: bool
    best_worth: float

    @property
    def names(self) -> Names:
        """Return the name of each rod's run in each turn."""
        if self.solved is None:
            return ()
        return names_of(self.layout.frame, self.solved.spots)


@dataclass(frozen=True, slots=True)
class GuideDay:
    """A plan with the built reach, the time zone, and the time it was made."""

    plan: GuidePlan
    reach: ReachFacts
    zone: ZoneInfo
    made: datetime

    @property
    def inputs(self) -> GuideInputs:
        """Return the inputs of the plan."""
        return self.plan.layout.inputs


def names_of(frame: Frame, spots: Chosen) -> Names:
    """Return the names of the runs of a plan."""
    return tuple(
        tuple("" if spot == IDLE else frame.spots[spot].name for spot in way) for way in spots
    )


def make_guide_plan(inputs: GuideInputs, keep: Names | None = None) -> GuidePlan:
    """Return the plan of a day.

    Parameters
    ----------
    inputs
        The day.
    keep
        An earlier plan of the same rods: it stays while it is worth `keep_share` less than the best
        at most, so that small changes never shuffle the rods.
    """
    banks = [""]
    if not (inputs.party.boat or inputs.party.crossing):
        banks = [inputs.party.bank] if inputs.party.bank else ["left", "right"]
    layouts = [lay_out(inputs, bank) for bank in banks]
    near = keep if inputs.taken else None  # a run is taken: change as little as possible
    solved = [_best(one, near=_numbers(one, near)) for one in layouts]
    worth = [-np.inf if one is None else one.worth for one in solved]
    first = int(np.argmax(worth))
    day, best = layouts[first], solved[first]
    if best is None:
        spare = tuple(LeftOut(run, Why.SPARE) for run in day.runs)
        return GuidePlan(day, None, (), (), (*day.left_out, *spare), kept=False, best_worth=0.0)
    best_worth, kept = best.worth, None
    if keep is not None:
        tried = [(one, _kept(one, keep)) for one in layouts]
        held = [(one, found) for one, found in tried if found is not None]
        least = best_worth - inputs.settings.keep_share * abs(best_worth)
        if held and held[0][1].worth >= least:
            day, kept = held[0]
    taken = best if kept is None else kept
    used = sorted({spot for way in taken.spots for spot in way if spot != IDLE})
    spare = tuple(
        LeftOut(run, Why.SPARE) for number, run in enumerate(day.runs) if number not in used
    )
    backups = tuple(_backup(day, taken, number) for number in used)
    return GuidePlan(
        day, taken, _rods(day, taken), backups, (*day.left_out, *spare),
        kept=kept is not None, best_worth=best_worth,
    )  # fmt: skip


def _numbers(layout: DayLayout, names: Names | None) -> Chosen | None:
    """Return a plan by number of run, `GONE` for runs not in the layout; None if of other turns."""
    same = names is not None and len(names) == len(layout.offers)
    if names is None or not same or any(len(way) != layout.frame.turns for way in names):
        return None
    numbers = {spot.name: number for number, spot in enumerate(layout.frame.spots)} | {"": IDLE}
    return tuple(tuple(numbers.get(name, GONE) for name in way) for way in names)


def _best(
    layout: DayLayout,
    gone: frozenset[int] = frozenset(),
    near: Chosen | None = None,
    begun: int = 0,
) -> Solved | None:
    """Return the best ways of a day without some runs, near an earlier plan where one is given.

    The first `begun` turns of that plan are over by then, and stay.
    """
    offers = [
        {number: one for number, one in mine.items() if number not in gone}
        for mine in layout.offers
    ]
    frame = layout.frame
    if frame.turns == 0 or not any(offers):
        return None
    if not frame.boat:
        return _solved(offers, frame, near, begun)
    best: Solved | None = None
    settings = frame.settings
    route = () if near is None else _route_so_far(near, frame, begun)
    count = settings.boat_days if near is None else settings.backup_days
    for day in boat_days(offers, frame, count, route):
        found = _solved(offers, day, near, begun)
        if found is not None and (best is None or found.value > best.value):
            best = found
    return best


def _route_so_far(plan: Chosen, frame: Frame, begun: int) -> tuple[int, ...]:
    """Return the boat's stop in the first turns of a plan; -1 where no rod fished."""
    route = []
    for turn in range(begun):
        here = [way[turn] for way in plan if way[turn] >= 0]
        route.append(frame.spots[here[0]].stop if here else -1)
    return tuple(route)


def _solved(
    offers: Sequence[Mapping[int, Offer]], frame: Frame, near: Chosen | None, begun: int
) -> Solved | None:
    """Return the best ways in one frame."""
    rods = len(offers)
    holds = np.array([spot.holds for spot in frame.spots])
    may_wait = (frame.open_ * holds[:, None]).sum(axis=0) < rods
    first = None if near is None else tuple(way[:begun] for way in near)
    groups = _groups(offers, frame, may_wait, first)
    found = best_ways(groups, frame, near=near)
    if found is None and not may_wait.all():
        # rods with few runs of their own may crowd each other out: allow idle turns
        every = np.ones(frame.turns, dtype=bool)
        groups = _groups(offers, frame, every, first)
        found = best_ways(groups, frame, near=near)
    return found


def _groups(
    offers: Sequence[Mapping[int, Offer]],
    frame: Frame,
    may_wait: BoolArray,
    first: Chosen | None,
) -> list[Group]:
    """Return the rods grouped by equal offers, each group with its ways.

    With `first`, the runs of the turns that are over, each rod is a group of its own.
    """
    alike: dict[tuple[object, ...], list[int]] = {}
    for rod, mine in enumerate(offers):
        key = tuple((n, round(one.rate, 6), round(one.minutes, 6)) for n, one in mine.items())
        alike.setdefault((key, 0 if first is None else rod), []).append(rod)
    groups = []
    for rods in alike.values():
        begun = () if first is None else first[rods[0]]
        ways = ways_of(offers[rods[0]], frame, may_wait=may_wait, begun=begun)
        groups.append(Group(tuple(rods), tuple(ways)))
    return groups


def _kept(layout: DayLayout, names: Names) -> Solved | None:
    """Return an earlier plan evaluated on this day; None where it is no longer possible."""
    frame, spots = layout.frame, _numbers(layout, names)
    if spots is None or any(GONE in way for way in spots):
        return None
    ways: list[Way] = []
    for rod, mine in enumerate(layout.offers):
        own = {number: offer for number, offer in mine.items() if number in spots[rod]}
        every = ways_of(own, frame, may_wait=np.ones(frame.turns, dtype=bool))
        found = next((way for way in every if way.spots == spots[rod]), None)
        if found is None:
            return None
        ways.append(found)
    if not _together(spots, frame):
        return None
    worth = plan_worth(ways, frame)
    return Solved(tuple(ways), worth, worth)


def _together(spots: Chosen, frame: Frame) -> bool:
    """Return whether runs hold the plan's rods in every turn, and one stop of a boat serves all."""
    for turn in range(frame.turns):
        here = [way[turn] for way in spots if way[turn] != IDLE]
        if any(here.count(spot) > frame.spots[spot].holds for spot in here):
            return False
        if frame.boat and len({frame.spots[spot].stop for spot in here}) > 1:
            return False
    return True


def _backup(layout: DayLayout, plan: Solved, gone: int) -> Backup:
    """Return plan B for a run of the plan that is taken."""
    # it is seen to be taken on arrival: all turns before its first are over by then
    begun = min(way.index(gone) for way in plan.spots if gone in way)
    found = _best(layout, frozenset({gone}), plan.spots, begun)
    name = layout.frame.spots[gone].name
    if found is None:
        return Backup(name, None, 0.0)
    return Backup(name, found.spots, found.worth)


def _rods(layout: DayLayout, plan: Solved) -> tuple[tuple[Turn, ...], ...]:
    """Return the turns of each rod."""
    spots = plan.spots
    return tuple(
        tuple(_turn(layout, plan, rod, turn) for turn in range(layout.frame.turns))
        for rod in range(len(spots))
    )


def _turn(layout: DayLayout, plan: Solved, rod: int, turn: int) -> Turn:
    """Return one rod's turn."""
    spots, way = plan.spots, plan.ways[rod]
    spot = way.spots[turn]
    begin, end = layout.at(turn), layout.at(turn + 1)
    move = layout.frame.turn_min - way.minutes[turn] if spot != IDLE else 0.0
    there = [other for other, mine in enumerate(spots) if mine[turn] == spot != IDLE]
    earlier = {
        other
        for other, mine in enumerate(spots)
        if other != rod and spot != IDLE and spot in mine[:turn]
    }
    stays = turn > 0 and way.spots[turn - 1] == spot != IDLE
    return Turn(
        spot=spot,
        begin=begin,
        fish=five_up(begin + np.timedelta64(round(60 * move), "s")),
        end=end,
        move_min=move,
        before=0 if stays else len(earlier),
        sharing=tuple(other for other in there if other != rod),
        place=there.index(rod) if rod in there else 0,
        stays=stays,
    )
