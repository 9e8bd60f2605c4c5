"""Layout of a day: its turns, the runs downstream, and each run's offer to each rod."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from reachmap.base.arrays import BoolArray
from reachmap.base.words_runs import Shut
from reachmap.planner.guide.day import GuideInputs, LeftOut, Why, landings, open_turns, serving
from reachmap.planner.guide.facts import ON_FOOT, DrawnAccess, RunWater
from reachmap.planner.guide.people import Offer, offer_for
from reachmap.planner.guide.ways import Frame, Spot
from reachmap.planner.hours import instant

LEAST_DAY_MIN = 45.0
"""Shortest day that is planned [min]; our choice, 30-90."""

LONGEST_TURN = 1.5
"""Longest turn as a multiple of the party's `turn_min`; our choice, 1-2."""

Kept = tuple[RunWater, BoolArray, tuple[Offer | None, ...]]
"""A run that can be used, the mask of turns in which it is open, and its offer to each rod."""


@dataclass(frozen=True, slots=True)
class DayLayout:
    """Turns, runs and offers of a day.

    Parameters
    ----------
    inputs
        What it was made from.
    frame
        Runs, turns, rules and rates.
    runs
        The run of each of the frame's spots.
    offers
        For each rod, the offers of the spots, by number.
    begin
        Begin of the first turn, UTC.
    left_out
        Runs that cannot be used, each with the reason.
    put_in, take_out
        Landings of a boat; None where none is drawn above or below.
    """

    inputs: GuideInputs
    frame: Frame
    runs: tuple[RunWater, ...]
    offers: tuple[Mapping[int, Offer], ...]
    begin: np.datetime64
    left_out: tuple[LeftOut, ...]
    put_in: DrawnAccess | None = None
    take_out: DrawnAccess | None = None

    def at(self, turn: int) -> np.datetime64:
        """Return the begin of a turn, UTC; the turn after the last gives the end of the day."""
        return self.begin + np.timedelta64(round(60 * turn * self.frame.turn_min), "s")


def lay_out(inputs: GuideInputs, bank: str = "") -> DayLayout:
    """Return the layout of a day.

    Parameters
    ----------
    inputs
        The day.
    bank
        Bank that all keep to; empty for both.
    """
    ends = landings(inputs)
    begin, turns, turn_min = _turns(inputs, ends)
    out: list[LeftOut] = []
    kept: list[Kept] = []
    for run in inputs.water.runs:
        if run.shut == Shut.SHAPE or not run.in_shape:
            continue
        open_ = open_turns(inputs, run, begin, turn_min, turns)
        found = serving(inputs, run, open_, ends)
        if isinstance(found, LeftOut):
            out.append(found)
            continue
        if bank and found.bank != bank:
            out.append(LeftOut(run, Why.OTHER_BANK))
            continue
        party, settings = inputs.party, inputs.settings
        offers = tuple(
            offer_for(one, found, inputs.facts.grading, party, settings.easy_share)
            for one in party.people
        )
        if any(offers):
            kept.append((found, open_, offers))
        else:
            out.append(LeftOut(run, Why.BEYOND))
    ranked = sorted(kept, key=lambda one: -_pass_worth(one))
    used = ranked[: inputs.settings.most_runs]
    out += [LeftOut(one[0], Why.LESSER) for one in ranked[inputs.settings.most_runs :]]
    used.sort(key=lambda one: one[0].middle_m)
    return _layout(inputs, used, (begin, turns, turn_min), tuple(out), ends)


def _pass_worth(kept: Kept) -> float:
    """Return the worth of one pass through a run to the rod to whom it is worth most."""
    return max(offer.pass_worth for offer in kept[2] if offer is not None)


def _layout(
    inputs: GuideInputs,
    kept: Sequence[Kept],
    when: tuple[np.datetime64, int, float],
    out: tuple[LeftOut, ...],
    ends: tuple[DrawnAccess | None, DrawnAccess | None],
) -> DayLayout:
    """Return the layout with the runs kept, downstream.

    `when` is the first turn's begin (UTC), the number of turns and their length [min].
    """
    begin, turns, turn_min = when
    stops = _stops([run.middle_m for run, _, _ in kept], inputs.settings.stop_m)
    spots = tuple(
        Spot(
            name=run.name,
            bank=run.bank,
            middle_m=run.middle_m,
            holds=max(int(run.length_m // inputs.party.room_m), 1),
            way_in_min=_way_in(inputs, run, ends[0]),
            stop=stop,
            rate=max(offer.rate for offer in offers if offer is not None),
            pass_worth=_pass_worth((run, open_, offers)),
        )
        for (run, open_, offers), stop in zip(kept, stops, strict=True)
    )
    frame = Frame(
        spots=spots,
        open_=np.array([open_ for _, open_, _ in kept], dtype=bool).reshape(len(kept), turns),
        water=inputs.water,
        turn_min=turn_min,
        between_min=inputs.facts.between_min,
        boat=inputs.party.boat,
        settings=inputs.settings,
    )
    offers = tuple(
        {
            number: offer
            for number, (_, _, each) in enumerate(kept)
            if (offer := each[rod]) is not None
        }
        for rod in range(len(inputs.party.people))
    )
    runs = tuple(run for run, _, _ in kept)
    return DayLayout(inputs, frame, runs, offers, begin, out, *ends)


def _turns(
    inputs: GuideInputs, ends: tuple[DrawnAccess | None, DrawnAccess | None]
) -> tuple[np.datetime64, int, float]:
    """Return the first turn's begin (UTC), the number of turns and the length of each [min].

    The day lasts the trip's hours, and ends `dark_min` before sunset at the latest; with a boat
    also the drift from its uppermost run to the take-out is left. No turns where too little
    time is left.
    """
    day, party = inputs.day, inputs.party
    up = day.light.hours
    if up is None:
        return day.earliest, 0, 0.0
    rise, fall = (instant(one) for one in up)
    begin = rise
    if party.begin is not None:
        own = datetime.combine(day.light.day, party.begin, tzinfo=day.zone)
        begin = max(rise, instant(own))
    if not np.isnat(day.earliest):
        begin = max(begin, day.earliest)
    begin = five_up(begin)
    left = float((fall - begin) / np.timedelta64(60, "s")) - inputs.settings.dark_min
    take_out = ends[1]
    if take_out is not None and inputs.water.runs:
        head = min(run.middle_m for run in inputs.water.runs)
        left -= inputs.water.float_minutes(head, take_out.station_m)
    minutes = min(60 * party.hours, left)
    if not minutes >= LEAST_DAY_MIN:
        return begin, 0, 0.0
    turns = int(np.clip(minutes // party.turn_min, 1, inputs.settings.most_turns))
    return begin, turns, min(minutes / turns, LONGEST_TURN * party.turn_min)


def five_up(when: np.datetime64) -> np.datetime64:
    """Return a time rounded up to full five minutes."""
    seconds = int(when.astype("datetime64[s]").astype(np.int64))
    return np.datetime64(-(-seconds // 300) * 300, "s")  # ceiling division


def _stops(middles: Sequence[float], stop_m: float) -> list[int]:
    """Return the boat's stop of each run, runs downstream: those within `stop_m` share one."""
    stops: list[int] = []
    first = -math.inf
    for middle in middles:
        if not stops or middle - first > stop_m:
            stops.append(stops[-1] + 1 if stops else 0)
            first = middle
        else:
            stops.append(stops[-1])
    return stops


def _way_in(inputs: GuideInputs, run: RunWater, put_in: DrawnAccess | None) -> float:
    """Return the minutes from the nearest access on foot, or by boat from the put-in."""
    settings = inputs.settings
    if inputs.party.boat:
        drift = 0.0
        if put_in is not None:
            drift = inputs.water.float_minutes(put_in.station_m, run.middle_m)
        return drift + settings.landing_min
    near = [
        max(run.start_m - one.station_m, one.station_m - run.end_m, 0.0)
        for one in inputs.facts.gates
        if one.kind in ON_FOOT
    ]
    return min(near, default=0.0) / settings.walk_m_s / 60.0
