"""Several home waters side by side: which one to drive to on which of the coming days."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reachmap.planner.choose import NEAR_TOP, DayConfidence, DayPlan, first_near_top
from reachmap.planner.day import Day
from reachmap.planner.days import Days
from reachmap.planner.facts import boats_only
from reachmap.planner.hours import light_minutes


@dataclass(frozen=True, slots=True)
class WaterDay:
    """One water on one day.

    Parameters
    ----------
    water
        Position of the water in the list of waters.
    day, plan, sure
        From its own days.
    worth
        The day's score times the share of its hours that the drive leaves, 0 to 100; NaN unknown.
    light_min
        Minutes of light that the drive leaves there.
    """

    water: int
    day: Day
    plan: DayPlan
    sure: DayConfidence
    worth: float
    light_min: float

    @property
    def fishes(self) -> bool:
        """Return whether it is worth going: a run on the list, and time left for it."""
        return bool(self.plan.picks) and self.worth > 0

    @property
    def by_boat(self) -> bool:
        """Return whether only a boat, which nobody has, leads to what is in shape."""
        return boats_only(run.at for run in self.day.runs)


@dataclass(frozen=True, slots=True)
class WatersDay:
    """A day over all waters: `each` by water, those without that day left out; `best` first.

    `best` are the waters that fish that day, the one to drive to first; empty where none does.
    """

    day: date
    each: tuple[WaterDay, ...]
    best: tuple[WaterDay, ...]


def waters_days(waters: Sequence[Days], drives: Sequence[float]) -> tuple[WatersDay, ...]:
    """Return the coming days over several waters, each with the waters to drive to.

    Parameters
    ----------
    waters
        The coming days of each.
    drives
        Minutes of the drive to each, one way; NaN where not given: counted as no drive.

    Notes
    -----
    A score is a share of its own river's best, so what is compared is how good a day each river
    has, not how many fish. A day's score is over its best hours (`DaySettings.fished_hours`); where
    the drive leaves less light than that it is worth less in proportion. Of waters within
    `NEAR_TOP` of the day's best the nearest comes first. Rules of our own choice.
    """
    found: dict[date, list[WaterDay]] = {}
    for number, (days, drive) in enumerate(zip(waters, drives, strict=True)):
        for day, plan, sure in zip(days.days, days.plans, days.sure, strict=True):
            left = _light_left(day, drive)
            hours = min(days.settings.day.fished_hours * 60.0, light_minutes(day.hours))
            share = 0.0 if not hours else min(max(left, 0.0) / hours, 1.0)
            one = WaterDay(number, day, plan, sure, day.score * share, left)
            found.setdefault(day.light.day, []).append(one)
    return tuple(
        WatersDay(day, tuple(each), tuple(_in_order(each, drives)))
        for day, each in sorted(found.items())
    )


def best_of(days: Sequence[WatersDay]) -> WatersDay | None:
    """Return the best day, as `first_near_top` chooses; None for none."""
    worth = [one.best[0].worth if one.best else -math.inf for one in days]
    first = first_near_top(worth)
    return None if first is None else days[first]


def _in_order(each: Sequence[WaterDay], drives: Sequence[float]) -> list[WaterDay]:
    """Return the waters that fish on a day, the one to drive to first."""
    good = sorted((one for one in each if one.fishes), key=lambda one: -one.worth)
    near = [one for one in good if one.worth >= good[0].worth - NEAR_TOP]
    # A drive not given sorts as the longest: it must not win for being unknown.
    near.sort(key=lambda one: (math.isnan(drives[one.water]), drives[one.water], -one.worth))
    return [*near, *good[len(near) :]]


def _light_left(day: Day, drive_min: float) -> float:
    """Return the minutes of light at the water that the drive leaves."""
    # Out before light, home by light: one of the two ways is taken off (our choice, 0-2 of them).
    return light_minutes(day.hours) - (0.0 if math.isnan(drive_min) else drive_min)
