"""Several home waters side by side: which one to drive to on which of the coming days."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from reachmap.planner.choose import NEAR_TOP, DayConfidence, DayPlan
from reachmap.planner.day import Day
from reachmap.planner.days import Days
from reachmap.planner.facts import boats_only


@dataclass(frozen=True, slots=True)
class WaterDay:
    """One water on one day.

    Parameters
    ----------
    water
        Position of the water.
    day, plan, sure
        From its own days.
    worth
        The day's score less what the drive takes of its hours, 0 to 100; NaN unknown.
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
        """Return whether there is anything to go for: a run on the list, and time left for it."""
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
        Minutes of the drive to each, one way; NaN where nobody said: none is reckoned.

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
            hours = min(days.settings.day.fished_hours * 60.0, _light(day))
            share = 0.0 if not hours else min(max(left, 0.0) / hours, 1.0)
            one = WaterDay(number, day, plan, sure, day.score * share, left)
            found.setdefault(day.light.day, []).append(one)
    return tuple(
        WatersDay(day, tuple(each), tuple(_in_order(each, drives)))
        for day, each in sorted(found.items())
    )


def best_of(days: Sequence[WatersDay]) -> WatersDay | None:
    """Return the day to go: the first within `NEAR_TOP` of the highest worth; None for none."""
    worth = [one.best[0].worth if one.best else -math.inf for one in days]
    top = max(worth, default=-math.inf)
    if math.isinf(top):
        return None
    return next(day for day, one in zip(days, worth, strict=True) if one >= top - NEAR_TOP)


def _in_order(each: Sequence[WaterDay], drives: Sequence[float]) -> list[WaterDay]:
    """Return the waters that fish on a day, the one to drive to first."""
    good = sorted((one for one in each if one.fishes), key=lambda one: -one.worth)
    near = [one for one in good if one.worth >= good[0].worth - NEAR_TOP]
    # A drive that nobody told is taken for the longest: it must not win for being unknown.
    near.sort(key=lambda one: (math.isnan(drives[one.water]), drives[one.water], -one.worth))
    return [*near, *good[len(near) :]]


def _light(day: Day) -> float:
    """Return the minutes of the day's light that are left."""
    times = day.hours.times
    if not times.size:
        return 0.0
    return float((times[-1] - times[0]) / np.timedelta64(60, "s"))


def _light_left(day: Day, drive_min: float) -> float:
    """Return the minutes of light at the water that the drive leaves."""
    # Out before light, home by light: one of the two ways is taken off (our choice, 0-2 of them).
    return _light(day) - (0.0 if math.isnan(drive_min) else drive_min)
