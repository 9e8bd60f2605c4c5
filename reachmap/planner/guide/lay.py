"""A day laid out: its turns, the runs downstream, and what each of them offers to each rod."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from reachmap.base.arrays import BoolArray
from reachmap.base.words import AccessKind
from reachmap.base.words_runs import Shut
from reachmap.planner.guide.day import Asked, LeftOut, Why, landings, open_turns, serving
from reachmap.planner.guide.facts import Gate, RunWater
from reachmap.planner.guide.people import Offer, offer_for
from reachmap.planner.guide.ways import Frame, Spot
from reachmap.planner.hours import instant

LEAST_DAY_MIN = 45.0
"""A shorter day is not planned [min]; our choice, 30-90."""

LONGEST_TURN = 1.5
"""A turn lasts at most so many times what was asked for; our choice, 1-2."""

ON_FOOT = (AccessKind.PARKING, AccessKind.PATH)
"""Accesses from which one walks."""

Kept = tuple[RunWater, BoolArray, tuple[Offer | None, ...]]
"""A run that serves, the turns in which it is open, and what it offers to each rod."""


@dataclass(frozen=True, slots=True)
class Laid:
    """A day laid out.

    Parameters
    ----------
    asked
        What it was laid out from.
    frame
        Runs, turns, rules and rates.
    runs
        Of each of the frame's spots.
    offers
        What each spot, by its number, offers to each rod.
    begin
        When the first turn begins, UTC.
    left_out
        Runs that do not serve, each with the reason.
    put_in, take_out
        Landings of a boat; None where none is drawn above or below.
    """

    asked: Asked
    frame: Frame
    runs: tuple[RunWater, ...]
    offers: tuple[Mapping[int, Offer], ...]
    begin: np.datetime64
    left_out: tuple[LeftOut, ...]
    put_in: Gate | None = None
    take_out: Gate | None = None

    def at(self, turn: int) -> np.datetime64:
        """Return when a turn begins, UTC; that after the last is the end of the day."""
        return self.begin + np.timedelta64(round(60 * turn * self.frame.turn_min), "s")


def lay_out(asked: Asked, bank: str = "") -> Laid:
    """Return a day laid out.

    Parameters
    ----------
    asked
        The day.
    bank
        Bank that all keep to; empty for both.
    """
    gates = landings(asked)
    begin, turns, turn_min = _turns(asked, gates)
    out: list[LeftOut] = []
    kept: list[Kept] = []
    for run in asked.water.runs:
        if run.shut == Shut.SHAPE or not run.in_shape:
            continue
        open_ = open_turns(asked, run, begin, turn_min, turns)
        found = serving(asked, run, open_, gates)
        if isinstance(found, LeftOut):
            out.append(found)
            continue
        if bank and found.bank != bank:
            out.append(LeftOut(run, Why.OTHER_BANK))
            continue
        party, settings = asked.party, asked.settings
        offers = tuple(
            offer_for(one, found, asked.facts.grading, party, settings.easy_share)
            for one in party.people
        )
        if any(offers):
            kept.append((found, open_, offers))
        else:
            out.append(LeftOut(run, Why.BEYOND))
    ranked = sorted(kept, key=lambda one: -_pass_worth(one))
    used = ranked[: asked.settings.most_runs]
    out += [LeftOut(one[0], Why.LESSER) for one in ranked[asked.settings.most_runs :]]
    used.sort(key=lambda one: one[0].middle_m)
    return _laid(asked, used, (begin, turns, turn_min), tuple(out), gates)


def _pass_worth(kept: Kept) -> float:
    """Return the most that a pass through a run is worth to any rod."""
    return max(offer.pass_worth for offer in kept[2] if offer is not None)


def _laid(
    asked: Asked,
    kept: Sequence[Kept],
    when: tuple[np.datetime64, int, float],
    out: tuple[LeftOut, ...],
    gates: tuple[Gate | None, Gate | None],
) -> Laid:
    """Return the day with the runs kept, downstream."""
    begin, turns, turn_min = when
    stops = _stops([run.middle_m for run, _, _ in kept], asked.settings.stop_m)
    spots = tuple(
        Spot(
            name=run.name,
            bank=run.bank,
            middle_m=run.middle_m,
            holds=max(int(run.length_m // asked.party.room_m), 1),
            way_in_min=_way_in(asked, run, gates[0]),
            stop=stop,
            rate=max(offer.rate for offer in offers if offer is not None),
            pass_worth=_pass_worth((run, open_, offers)),
        )
        for (run, open_, offers), stop in zip(kept, stops, strict=True)
    )
    frame = Frame(
        spots=spots,
        open_=np.array([open_ for _, open_, _ in kept], dtype=bool).reshape(len(kept), turns),
        water=asked.water,
        turn_min=turn_min,
        between_min=asked.facts.between_min,
        boat=asked.party.boat,
        settings=asked.settings,
    )
    offers = tuple(
        {
            number: offer
            for number, (_, _, each) in enumerate(kept)
            if (offer := each[rod]) is not None
        }
        for rod in range(len(asked.party.people))
    )
    runs = tuple(run for run, _, _ in kept)
    return Laid(asked, frame, runs, offers, begin, out, *gates)


def _turns(
    asked: Asked, gates: tuple[Gate | None, Gate | None]
) -> tuple[np.datetime64, int, float]:
    """Return when the first turn begins, how many there are and how long each lasts [min].

    The day lasts the trip's hours, at most until some time before sunset; a boat needs time to
    drift out from its highest run besides. None where too little is left.
    """
    day, party = asked.day, asked.party
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
    left = float((fall - begin) / np.timedelta64(60, "s")) - asked.settings.dark_min
    take_out = gates[1]
    if take_out is not None and asked.water.runs:
        top = min(run.middle_m for run in asked.water.runs)
        left -= asked.water.float_minutes(top, take_out.station_m)
    minutes = min(60 * party.hours, left)
    if not minutes >= LEAST_DAY_MIN:
        return begin, 0, 0.0
    turns = int(np.clip(minutes // party.turn_min, 1, asked.settings.most_turns))
    return begin, turns, min(minutes / turns, LONGEST_TURN * party.turn_min)


def five_up(when: np.datetime64) -> np.datetime64:
    """Return the next full five minutes."""
    seconds = int(when.astype("datetime64[s]").astype(np.int64))
    return np.datetime64(-(-seconds // 300) * 300, "s")


def _stops(middles: Sequence[float], stop_m: float) -> list[int]:
    """Return the boat's stop of each run, runs downstream: as many together as lie near."""
    stops: list[int] = []
    first = -math.inf
    for middle in middles:
        if not stops or middle - first > stop_m:
            stops.append(stops[-1] + 1 if stops else 0)
            first = middle
        else:
            stops.append(stops[-1])
    return stops


def _way_in(asked: Asked, run: RunWater, put_in: Gate | None) -> float:
    """Return the minutes from the nearest access, or by boat from where it is put in."""
    settings = asked.settings
    if asked.party.boat:
        drift = 0.0
        if put_in is not None:
            drift = asked.water.float_minutes(put_in.station_m, run.middle_m)
        return drift + settings.landing_min
    near = [
        max(run.start_m - gate.station_m, gate.station_m - run.end_m, 0.0)
        for gate in asked.facts.gates
        if gate.kind in ON_FOOT
    ]
    return min(near, default=0.0) / settings.walk_m_s / 60.0
