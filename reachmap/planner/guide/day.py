"""A day's water, light and rules; the runs that can be used on it, and why the others cannot."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import tzinfo
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import AccessKind, Side, WayIn
from reachmap.base.words_runs import Shut
from reachmap.gauge.series import Times
from reachmap.planner.guide.facts import DrawnAccess, FlowWater, GuideFacts, RunWater
from reachmap.planner.guide.people import Party
from reachmap.planner.guide.settings import GuideSettings
from reachmap.planner.rules import Rules
from reachmap.planner.sun import Daylight

NEVER = np.datetime64("NaT", "s")
"""No time: of a day to come, or of a run left out for another reason than the way back."""

QUARTER = np.timedelta64(900, "s")
"""Step at which the rules of a turn are checked: a quarter of an hour."""


class Why(StrEnum):
    """Why a run has no part in the plan."""

    SHUT = "shut"
    CLOSED = "closed"
    CUT_OFF = "cut_off"
    ISLAND = "island"
    BOAT = "boat"
    OFF_FLOAT = "off_float"
    BEYOND = "beyond"
    UNKNOWN = "unknown"
    TAKEN = "taken"
    OTHER_BANK = "other_bank"
    LESSER = "lesser"
    SPARE = "spare"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A run without a part in the plan.

    `when` is the hour from which the way back may be closed (UTC), `until` the last flow at which
    it is open [m3/s]; NaT and NaN for any other reason.
    """

    run: RunWater
    why: Why
    when: np.datetime64 = NEVER
    until: float = math.nan


@dataclass(frozen=True, slots=True)
class DayWater:
    """A day's water, light and rules.

    Parameters
    ----------
    times
        Hours of light, UTC.
    flow, high
        Flow and its upper bound at each [m3/s]; NaN unknown, which counts as above any flow.
    light
        The day's sun.
    zone
        Clock of the place.
    rules
        Fishing rules.
    earliest
        No turn begins before this (UTC); NaT for a day to come.
    typed
        Whether the flow was typed in, not read or forecast.
    """

    times: Times
    flow: FloatArray
    high: FloatArray
    light: Daylight
    zone: tzinfo
    rules: Rules
    earliest: np.datetime64 = NEVER
    typed: bool = False

    @property
    def planned_flow(self) -> float:
        """Return the highest central flow of the day [m3/s]; NaN where some hour is not known."""
        return float(np.max(self.flow)) if self.flow.size else math.nan


@dataclass(frozen=True, slots=True)
class GuideInputs:
    """Inputs of a day's plan.

    Parameters
    ----------
    facts
        The reach.
    water
        The reach at the flow read that is planned with.
    day
        Water, light and rules.
    party
        Who fishes.
    settings
        Of the plan.
    taken
        Names of runs taken by others.
    """

    facts: GuideFacts
    water: FlowWater
    day: DayWater
    party: Party
    settings: GuideSettings = field(default_factory=GuideSettings)
    taken: frozenset[str] = frozenset()


def landings(inputs: GuideInputs) -> tuple[DrawnAccess | None, DrawnAccess | None]:
    """Return where a boat is put in and taken out; None where none is drawn or there is no boat.

    The first landing and the last. A single one is the put-in where the runs below it have the
    greater total rate, else the take-out.
    """
    if not inputs.party.boat:
        return None, None
    drawn = [one for one in inputs.facts.gates if one.kind == AccessKind.LANDING]
    if len(drawn) >= 2:
        return drawn[0], drawn[-1]
    if not drawn:
        return None, None
    below = sum(run.rate for run in inputs.water.runs if run.middle_m > drawn[0].station_m)
    above = sum(run.rate for run in inputs.water.runs if run.middle_m <= drawn[0].station_m)
    return (drawn[0], None) if below >= above else (None, drawn[0])


def open_turns(
    inputs: GuideInputs, run: RunWater, begin: np.datetime64, turn_min: float, turns: int
) -> BoolArray:
    """Return the mask of turns in which the rules leave a run open throughout, shape (turns,)."""
    found = np.zeros(turns, dtype=bool)
    for turn in range(turns):
        first, last = (
            begin + np.timedelta64(round(60 * turn_min * at), "s") for at in (turn, turn + 1)
        )
        whole = np.r_[np.arange(first, last, QUARTER), last - np.timedelta64(1, "s")]
        found[turn] = inputs.day.rules.open_hours(run.name, whole, inputs.day.zone).all()
    return found


def serving(
    inputs: GuideInputs,
    run: RunWater,
    open_: BoolArray,
    ends: tuple[DrawnAccess | None, DrawnAccess | None],
) -> RunWater | LeftOut:
    """Return a run with its places that can be used on the day, or why it has no part.

    Parameters
    ----------
    inputs
        The day.
    run
        In shape at its flow.
    open_
        Turns in which it is open.
    ends
        Where a boat is put in and taken out, from `landings`.

    Notes
    -----
    The first reason that holds is given; closed runs come first. A place whose way back may close
    within the day, by the flow's upper bound, is left out; an unknown flow counts as above any.
    """
    boat = inputs.party.boat
    banked = tuple(one for one in run.stands if one.side in (Side.LEFT, Side.RIGHT))
    top, foot = (math.nan if end is None else end.station_m for end in ends)
    reasons = (
        (Why.CLOSED, not open_.any()),
        (Why.TAKEN, run.name in inputs.taken),
        (Why.ISLAND, bool(run.stands) and not banked),
        (Why.SHUT, bool(run.shut) and not (run.shut == Shut.WAY and boat)),
        (Why.UNKNOWN, not math.isfinite(run.minutes) or not math.isfinite(run.rate)),
        (Why.BOAT, not boat and all(one.way == WayIn.BOAT for one in banked)),
        (Why.OFF_FLOAT, run.middle_m < top or run.middle_m > foot),
    )
    why = next((one for one, holds in reasons if holds), None)
    if why is not None:
        return LeftOut(run, why)
    back = [one for one in banked if not _closes(inputs, one.open_until)]
    if not back:
        until = max(one.open_until for one in banked)
        over = np.flatnonzero(~(inputs.day.high <= until))
        return LeftOut(run, Why.CUT_OFF, inputs.day.times[over[0]], until)
    return replace(run, stands=tuple(back), rate=_alike(run.rate, inputs.settings.tie_ratio))


def _closes(inputs: GuideInputs, open_until: float) -> bool:
    """Return whether a way back open up to a flow may close within the day."""
    if math.isinf(open_until):
        return False
    return bool((~(inputs.day.high <= open_until)).any())


def _alike(rate: float, ratio: float) -> float:
    """Return a rate rounded to a power of `ratio`, so that rates nearly alike become equal."""
    if rate <= 0:
        return 0.0
    return float(ratio ** round(math.log(rate) / math.log(ratio)))
