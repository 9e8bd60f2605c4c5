"""All sensible ways of one rod through the day: a run in each turn, with the way's worth."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray
from reachmap.planner.guide.facts import FlowWater
from reachmap.planner.guide.people import Offer
from reachmap.planner.guide.settings import GuideSettings

IDLE = -1
"""Number in place of a run, for a turn in which a rod does not fish."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A run of the day's plan.

    Parameters
    ----------
    name, bank
        The run, and the bank it is fished from.
    middle_m
        Station of its middle along the main line [m].
    holds
        Number of rods it holds at a time.
    way_in_min
        Time from the nearest access on foot, or by boat from the put-in [min].
    stop
        Number of the boat's stop that it is fished from, downstream.
    rate, pass_worth
        Worth of an hour (0 to 100) and of one pass to the rod to whom it is worth most.
    """

    name: str
    bank: str
    middle_m: float
    holds: int
    way_in_min: float
    stop: int
    rate: float
    pass_worth: float


@dataclass(frozen=True, slots=True)
class Frame:
    """Data common to all rods: the runs downstream, the turns, the river.

    `open_` is the mask of turns in which a run may be fished, shape (runs, turns); `water` gives
    float minutes; `turn_min` is the length of a turn [min]; `between_min` the least time from one
    run to the next on foot [min].
    """

    spots: tuple[Spot, ...]
    open_: BoolArray
    water: FlowWater
    turn_min: float
    between_min: float
    boat: bool
    settings: GuideSettings

    @property
    def turns(self) -> int:
        """Return how many turns the day has."""
        return int(self.open_.shape[1])

    @property
    def best_rate(self) -> float:
        """Return the best rate of any run, 0 to 100."""
        return max((spot.rate for spot in self.spots), default=0.0)

    def gain_of(self, worth: float, unrest_min: float) -> float:
        """Return the contribution of one rod's day to the plan.

        Its worth to a power below 1 (`fair_power`), scaled so that a day at the best rate keeps its
        worth, less the cost of minutes of moving and waiting.
        """
        day = max(self.best_rate / 6000.0 * self.turn_min * self.turns, 1e-9)
        fair = day * math.pow(max(worth, 0.0) / day, self.settings.fair_power)
        return fair - self.settings.move_share * self.best_rate / 6000.0 * unrest_min

    def move_min(self, start: int, end: int) -> float:
        """Return the minutes between runs; infinite upstream by boat or too far to walk."""
        if start == end:
            return 0.0
        here, there = self.spots[start], self.spots[end]
        if self.boat:
            if here.stop == there.stop:
                return self.settings.landing_min
            if there.stop < here.stop:
                return math.inf
            drift = self.water.float_minutes(here.middle_m, there.middle_m)
            return drift + self.settings.landing_min
        walk = abs(there.middle_m - here.middle_m) / self.settings.walk_m_s / 60.0
        if walk > self.settings.walk_most_min:
            return math.inf
        return max(walk, self.between_min)


@dataclass(frozen=True, slots=True)
class Way:
    """One rod's day: its run in each turn, minutes fished, and its worth to that rod alone.

    Parameters
    ----------
    spots
        Number of the run in each turn, `IDLE` for none.
    minutes
        Fished in each turn [min].
    worth
        In hours at a rate of 100.
    moved_min
        Time spent on moving [min].
    upstream
        Number of moves back up.
    """

    spots: tuple[int, ...]
    minutes: tuple[float, ...]
    worth: float
    moved_min: float
    upstream: int


def ways_of(
    offers: Mapping[int, Offer], frame: Frame, *, may_wait: BoolArray, begun: tuple[int, ...] = ()
) -> list[Way]:
    """Return every sensible way of one rod through the day, in a fixed order.

    Parameters
    ----------
    offers
        The runs' offers to this rod, by number.
    frame
        The day.
    may_wait
        Mask of turns in which a rod may be idle: those in which the runs do not hold all rods,
        shape (turns,).
    begun
        Its runs in the first turns, if these are over.

    Notes
    -----
    A rod does not return to a run, nor stay after its pass. With a boat the stops go downstream; on
    foot a rod goes back up once at most, as two rods do that swap their runs.
    """
    found = []
    for spots in _sequences(begun, offers, frame, may_wait=may_wait):
        way = _way(spots, offers, frame)
        if way is not None:
            found.append(way)
    return found


def _sequences(
    begun: tuple[int, ...], offers: Mapping[int, Offer], frame: Frame, *, may_wait: BoolArray
) -> Iterator[tuple[int, ...]]:
    """Yield the runs of each turn, those of the first turns given."""
    turn = len(begun)
    if turn == frame.turns:
        yield begun
        return
    fished = [spot for spot in begun if spot != IDLE]
    last = fished[-1] if fished else IDLE
    left = set(fished) - {last}
    options = [
        spot
        for spot in sorted(offers)
        if frame.open_[spot, turn]
        and spot not in left
        and (spot != last or _stays(spot, fished.count(spot), offers, frame))
        and _goes_on((*fished, spot), frame)
    ]
    if may_wait[turn] or not options:
        options.append(IDLE)
    for spot in options:
        yield from _sequences((*begun, spot), offers, frame, may_wait=may_wait)


def _stays(spot: int, turns: int, offers: Mapping[int, Offer], frame: Frame) -> bool:
    """Return whether a rod may stay in a run after some turns: its pass is not done by then.

    With no more runs than turns it may fish it through once more.
    """
    few = len(offers) <= frame.turns
    return few or turns * frame.turn_min < offers[spot].minutes + frame.settings.least_min


def _goes_on(fished: Sequence[int], frame: Frame) -> bool:
    """Return whether the last move of a way is allowed."""
    if len(fished) < 2:
        return True
    if not math.isfinite(frame.move_min(fished[-2], fished[-1])):
        return False
    return frame.boat or _upstream(fished) <= 1


def _upstream(fished: Sequence[int]) -> int:
    """Return the number of moves back up."""
    return int((np.diff(fished) < 0).sum())


def _way(spots: tuple[int, ...], offers: Mapping[int, Offer], frame: Frame) -> Way | None:
    """Return a way with its worth; None where some turn leaves less than `least_min` to fish."""
    settings = frame.settings
    worth, moved, last = 0.0, 0.0, IDLE
    minutes, done = [], 0.0
    for turn, spot in enumerate(spots):
        if spot == IDLE:
            minutes.append(0.0)
            continue
        move = frame.spots[spot].way_in_min if last == IDLE else frame.move_min(last, spot)
        fish = frame.turn_min - move
        if fish < settings.least_min:
            return None
        done = done if spot == last else 0.0
        value = fished_worth(offers[spot], done, fish, settings.follow_share)
        worth += value * (1 - settings.crowd_share) ** turn
        done += fish
        moved += move
        minutes.append(fish)
        last = spot
    fished = [spot for spot in spots if spot != IDLE]
    return Way(spots, tuple(minutes), worth, moved, 0 if frame.boat else _upstream(fished))


def fished_worth(offer: Offer, done: float, minutes: float, follow_share: float) -> float:
    """Return the worth of further minutes in a run in which this rod has fished `done` minutes.

    Full worth until the pass is done, `follow_share` of it for a second pass, nothing after that.
    """

    def until(at: float) -> float:
        second = np.clip(at - offer.minutes, 0.0, offer.minutes)
        return float(min(at, offer.minutes) + follow_share * second)

    return offer.rate / 6000.0 * (until(done + minutes) - until(done))
