"""One day on the river: what each run is worth hour by hour, and the odds that the day fishes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.series import Times
from reachmap.planner.clear_ahead import clear_ahead
from reachmap.planner.facts import ReachFacts, RunAt, RunFacts, between
from reachmap.planner.freshness import Phase, phase_of
from reachmap.planner.holding import HoldingSettings
from reachmap.planner.hours import LIMB_PER_DAY, Conditions, Hours, hours_of, instant, limb_begins
from reachmap.planner.rules import Rule
from reachmap.planner.score import (
    ScoreSettings,
    best_mean,
    growth_per_day,
    known_share,
    score_span,
)
from reachmap.planner.sun import Daylight
from reachmap.planner.worth import Setting, Worth, clarity_off, worth_of


class NotListed(StrEnum):
    """Why a run that is in shape is not on a day's list."""

    CUT_OFF = "cut_off"
    ISLAND = "island"
    BOAT = "boat"
    SHUT = "shut"
    TIME_UNKNOWN = "time_unknown"
    LESSER = "lesser"
    OTHER_BANK = "other_bank"


@dataclass(frozen=True, slots=True)
class DaySettings:
    """How a day is judged."""

    score: ScoreSettings = field(default_factory=ScoreSettings)
    holding: HoldingSettings = field(default_factory=HoldingSettings)
    top_runs: int = 3
    """A day is worth what its so many best runs are worth; our choice, 1-5: about what one
    fishes."""
    fished_hours: int = 6
    """Over its so many best hours; our choice, 4-8: about how long one fishes."""
    shape_hours: int = 3
    """A day is in shape where some run is for so many hours, or half of the light that is left;
    our choice, 2-5."""
    worth_share: float = 0.9
    """Of a run's hours in shape those are left out to which the water's temperature leaves less
    than this share of what it leaves to the best, and of the others those worth less than this
    share of the best; our choice, 0.75-0.95: a cold morning, a hot afternoon."""


@dataclass(frozen=True, slots=True)
class Odds:
    """In how many of the courses the flow may take the day is in shape."""

    hits: int
    tries: int

    @property
    def share(self) -> float:
        """Return the share, 0 to 1; NaN where there is no course."""
        return self.hits / self.tries if self.tries else math.nan


@dataclass(frozen=True, slots=True)
class RunDay:
    """A run on one day, the flow as told.

    Parameters
    ----------
    facts
        The run.
    value
        What it is worth each hour of light, 0 to 100, NaN unknown.
    window
        From when to when it is in shape and worth going, in the longest such stretch of the day;
        None where in none.
    score
        Mean worth in the window, or the day's best where there is none; NaN unknown.
    low, high
        The score's span within the flow's band, at the window's middle.
    at
        The mapped flow that is nearest in the window's middle.
    cut_off
        When the flow's upper bound first goes above the last flow at which the way back is known
        open, within the day's light (UTC); NaT where it does not.
    closed
        Whether the rules close it in all hours of the day.
    """

    facts: RunFacts
    value: FloatArray
    window: tuple[np.datetime64, np.datetime64] | None
    score: float
    low: float
    high: float
    at: RunAt
    cut_off: np.datetime64
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Day:
    """A day: its light, its hours, its runs in the river's order, and what it is worth.

    Parameters
    ----------
    light, hours, runs
        Of the day.
    score
        Expected worth over the courses the flow may take, of the best runs one can put on a list,
        in the best hours; NaN where less than half of the hours is known.
    odds
        In how many of those courses it is in shape.
    phase, since_peak, since_fishable
        Where the river stands at midday, and the days since the last peak and since it came into
        shape again [d]; NaN where there are none.
    worth
        The shares that each hour leaves, the flow as told.
    rules
        Those that hold on the day.
    said
        Whether the rules say of every run whether it is open that day.
    """

    light: Daylight
    hours: Hours
    runs: tuple[RunDay, ...]
    score: float
    odds: Odds
    phase: Phase
    since_peak: float
    since_fishable: float
    worth: Worth
    rules: tuple[Rule, ...] = ()
    said: bool = False

    @property
    def in_shape(self) -> tuple[RunDay, ...]:
        """Return the runs in shape for some time, the best first."""
        good = [run for run in self.runs if run.window is not None]
        return tuple(sorted(good, key=lambda run: (-run.score, run.facts.station_m)))

    @property
    def closed(self) -> bool:
        """Return whether the rules close every run all day."""
        return bool(self.runs) and all(run.closed for run in self.runs)


def make_day(
    facts: ReachFacts,
    given: Conditions,
    light: Daylight,
    zone: ZoneInfo,
    settings: DaySettings | None = None,
) -> Day:
    """Return one day.

    Parameters
    ----------
    facts
        The built reach.
    given
        Flow, clarity, warmth, tide and rules; the day's light must lie within the outlook.
    light
        The day's sun.
    zone
        Clock of the rules.
    settings
        How it is judged.
    """
    asked = settings or DaySettings()
    hours = hours_of(given, light)
    names = [run.name for run in facts.runs]
    may = np.array([given.rules.open_hours(name, hours.times, zone) for name in names])
    may = may.reshape(len(names), hours.times.size)
    setting = Setting(asked.score, asked.holding, given.season, facts.shape_score)
    ahead = None
    if hours.times.size and np.isfinite(hours.members).any():
        flows = float(np.nanmin(hours.members)), float(np.nanmax(hours.members))
        middle = hours.times.size // 2
        since = limb_begins(given.outlook)[given.outlook.within(hours.times[0], hours.times[-1])]
        ahead = clear_ahead(given.model, flows, hours.times[middle], since[middle])
    told = worth_of(facts.runs, hours, hours.flow, hours.growth, ahead, setting)
    off = clarity_off(hours, hours.members.shape[0])
    courses = worth_of(facts.runs, hours, hours.members, hours.members_growth, ahead, setting, off)
    runs = tuple(
        _run_day(run, facts, hours, (told, number, may[number]), light, asked)
        for number, run in enumerate(facts.runs)
    )
    listed = np.array([why_not(run) is None for run in runs], dtype=bool)
    score, odds = _worth_of_day(hours, told, courses, may & listed[:, None], asked)
    fresh, middle = hours.fresh, hours.times.size // 2
    peak = fishable = growth = math.nan
    if hours.times.size:
        peak, fishable = float(fresh.since_peak[middle]), float(fresh.since_fishable[middle])
        # over a day, so that a wave within it is no limb
        whole = growth_per_day(given.outlook.flow, hours=12)
        growth = float(whole[given.outlook.within(hours.times[middle], hours.times[middle])][0])
    rises = bool(hours.times.size and fresh.rising[middle])
    phase = phase_of(
        peak, fishable, growth, rising=rises or growth > LIMB_PER_DAY,
        falling=asked.score.falling_per_day,
    )  # fmt: skip
    return Day(
        light, hours, runs, score, odds, phase, peak, fishable, told,
        given.rules.on(light.day), all(given.rules.says(light.day, name) for name in names),
    )  # fmt: skip


def _worth_of_day(
    hours: Hours, told: Worth, courses: Worth, may: BoolArray, asked: DaySettings
) -> tuple[float, Odds]:
    """Return the expected worth of a day and its odds; `may` is which run may be listed when."""
    if not may.size or known_share(hours.flow, told.value) < 0.5:
        return math.nan, Odds(0, 0)
    value = np.where(may[:, None, :], courses.value, 0.0)
    each = best_mean(value, asked.top_runs, asked.fished_hours)
    wanted = min(asked.shape_hours, max(hours.times.size // 2, 1))
    shape = (courses.shape & may[:, None, :]).sum(axis=-1).max(axis=0)
    return float(each.mean()), Odds(int((shape >= wanted).sum()), int(shape.size))


def _run_day(
    run: RunFacts,
    facts: ReachFacts,
    hours: Hours,
    worth: tuple[Worth, int, BoolArray],
    light: Daylight,
    settings: DaySettings,
) -> RunDay:
    """Return a run on the day; `worth` of all runs, its number, and when it may be fished."""
    told, number, may = worth
    value = np.where(may, told.value[number], 0.0)
    good = told.shape[number] & may
    known = value[np.isfinite(value)]
    window, score = None, float(known.max()) if known.size else math.nan
    middle = hours.times.size // 2
    if good.any():
        # first the hours of the day that are warm enough, then of those the ones worth most
        good &= told.warm >= settings.worth_share * told.warm[good].max()
        best = np.fmax.reduce(value[good])  # NaN where none of these hours' worth is known
        stretch = longest(good & (value >= settings.worth_share * best))
        if stretch is not None:
            window = _window(stretch, hours.times, light)
            score = float(value[stretch].mean())
            middle = (stretch.start + stretch.stop - 1) // 2
    least, most = score_span(run, (hours.flow, hours.low, hours.high), settings.score)
    low = high = flow = math.nan
    if hours.times.size:
        share = told.share[middle]
        low, high = float(least[middle] * share), float(most[middle] * share)
        flow = float(hours.flow[middle])
    at, shut = run.at[_nearest(facts, flow)], _cut_off(run, facts, hours)
    closed = bool(may.size) and not may.any()
    return RunDay(run, value, window, score, low, high, at, shut, closed)


def _window(stretch: slice, times: Times, light: Daylight) -> tuple[np.datetime64, np.datetime64]:
    """Return from when to when, to the sun's own rise and set where it reaches the light's ends."""
    begin, end = times[stretch.start], times[stretch.stop - 1]
    up = light.hours
    if up is not None:
        rise, fall = (instant(one) for one in up)
        hour = np.timedelta64(3600, "s")
        if stretch.start == 0 and begin - rise < hour:
            begin = rise
        if stretch.stop == times.size and fall - end < hour:
            end = fall
    return begin, end


def _nearest(facts: ReachFacts, flow: float) -> int:
    """Return the position of the mapped flow nearest to a flow; the lowest where none is known."""
    if math.isnan(flow):
        return 0
    return int(np.argmin(np.abs(np.log(np.array(facts.flows) / flow))))


def longest(mask: BoolArray) -> slice | None:
    """Return the longest stretch of hours that are true, the first of equals; None for none."""
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(int)))
    if not edges.size:
        return None
    begins, ends = edges[::2], edges[1::2]
    best = int(np.argmax(ends - begins))
    return slice(int(begins[best]), int(ends[best]))


def _cut_off(run: RunFacts, facts: ReachFacts, hours: Hours) -> np.datetime64:
    """Return when the way back may close within the day's light; NaT where it does not.

    Reckoned with the flow's upper bound, against the lower of the two mapped flows about the
    lowest flow of the day: that at which one may go in.
    """
    known = hours.flow[np.isfinite(hours.flow)]
    if not known.size:
        return np.datetime64("NaT")
    ends = between(float(known.min()), facts.flows)
    open_until = min(run.at[one].open_until for one in ends)
    if math.isinf(open_until):
        return np.datetime64("NaT")
    over = np.flatnonzero(~(hours.high <= open_until))  # an unknown flow counts as above
    return hours.times[over[0]] if over.size else np.datetime64("NaT")


def why_not(run: RunDay) -> NotListed | None:
    """Return why a run may not be listed on a day even if it is in shape; None where it may."""
    if not np.isnat(run.cut_off):
        return NotListed.CUT_OFF
    if run.at.side not in ("left", "right"):
        return NotListed.ISLAND
    if run.at.way == "boat":
        return NotListed.BOAT
    if run.at.shut:
        return NotListed.SHUT
    return NotListed.TIME_UNKNOWN if math.isnan(run.at.minutes) else None
