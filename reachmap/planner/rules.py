"""Fishing rules of the coming days: openings, closures and gear, and the age of the look-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time, tzinfo
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import BoolArray
from reachmap.gauge.series import Times
from reachmap.planner.sun import local

OLD_DAYS = 14
"""A look-up older than this is reported [d]; our choice, 7-30: emergency closures come fast."""


class RuleKind(StrEnum):
    """Whether a rule opens or closes its days and hours, or restricts gear alone."""

    OPEN = "open"
    CLOSED = "closed"
    GEAR = "gear"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    Parameters
    ----------
    kind
        Open or closed on its days and hours, or gear alone.
    begin, end
        First and last day, both included; for a rule of every year their years are one and `yearly`
        is set; `begin` may then lie behind `end`: over the turn of the year.
    yearly
        Whether the days are meant in every year.
    hours
        Begin and end in the clock of the place; None for the whole day.
    runs
        Names of the runs it holds for; empty for the whole reach.
    gear
        Gear required; empty for none.
    source
        Where it was read; empty where not given.
    checked
        When it was looked up; None where not given.
    """

    kind: RuleKind
    begin: date
    end: date
    yearly: bool = False
    hours: tuple[time, time] | None = None
    runs: tuple[str, ...] = ()
    gear: str = ""
    source: str = ""
    checked: date | None = None

    def holds_on(self, day: date) -> bool:
        """Return whether it holds on a local day."""
        if not self.yearly:
            return self.begin <= day <= self.end
        first, last, here = ((one.month, one.day) for one in (self.begin, self.end, day))
        return first <= here <= last if first <= last else here >= first or here <= last

    def holds_for(self, run: str) -> bool:
        """Return whether it holds for a run."""
        return not self.runs or run in self.runs


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of a reach; none if they were not looked up (`looked_up` False)."""

    rules: tuple[Rule, ...] = ()

    @property
    def looked_up(self) -> bool:
        """Return whether there is any rule."""
        return bool(self.rules)

    def on(self, day: date, runs: Sequence[str] = ()) -> tuple[Rule, ...]:
        """Return the rules that hold on a local day, for any of some runs or for all."""
        return tuple(
            rule
            for rule in self.rules
            if rule.holds_on(day) and (not runs or any(rule.holds_for(run) for run in runs))
        )

    def open_hours(self, run: str, times: Times, zone: tzinfo) -> BoolArray:
        """Return the mask of instants at which a run may be fished, shape of `times`.

        Notes
        -----
        An hour within a closing rule is closed. Where a run has opening rules, every hour outside
        all of them is closed: a season ends with its last day. Without any rule the hour is not
        closed; `covers` is then False, and the day is reported as not covered.
        """
        opens = [rule for rule in self.rules if rule.kind is RuleKind.OPEN and rule.holds_for(run)]
        shuts = [
            rule for rule in self.rules if rule.kind is RuleKind.CLOSED and rule.holds_for(run)
        ]
        found = np.ones(times.shape, dtype=bool)
        for at, when in enumerate(times):
            there = local(when, zone)
            day, clock = there.date(), there.time()
            shut = any(_covers(rule, day, clock) for rule in shuts)
            is_open = not opens or any(_covers(rule, day, clock) for rule in opens)
            found[at] = is_open and not shut
        return found

    def covers(self, day: date, run: str) -> bool:
        """Return whether some rule opens or closes a run on a day."""
        return any(
            rule.kind is not RuleKind.GEAR and rule.holds_for(run) and rule.holds_on(day)
            for rule in self.rules
        )

    def age_days(self, today: date) -> int | None:
        """Return the age of the oldest look-up [d]; None where some rule has no date."""
        dates = [rule.checked for rule in self.rules]
        known = [one for one in dates if one is not None]
        if not known or len(known) < len(dates):
            return None
        return (today - min(known)).days


NO_RULES = Rules()
"""Rules that were not looked up."""


def _covers(rule: Rule, day: date, clock: time) -> bool:
    """Return whether a rule holds on a day at a time of the day."""
    if not rule.holds_on(day):
        return False
    if rule.hours is None:
        return True
    begin, end = rule.hours
    return begin <= clock < end if begin <= end else clock >= begin or clock < end
