"""One day on the river: the worth of each run hour by hour, and the odds that it is in shape."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.series import Times
from reachmap.planner.clear_ahead import clear_ahead
from reachmap.planner.facts import ReachFacts, RunAt, RunFacts, between, nearest
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
from reachmap.planner.worth import Worth, WorthSettings, clarity_off, worth_of


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
    """Settings of a day's score."""

    score: ScoreSettings = field(default_factory=ScoreSettings)
    holding: HoldingSettings = field(default_factory=HoldingSettings)
    top_runs: int = 3
    """Number of best runs that make a day's worth; our choice, 1-5: about what one fishes."""
    fished_hours: int = 6
    """Number of best hours that make a day's worth; our choice, 4-8: about how long one fishes."""
    shape_hours: int = 3
    """Hours for which some run must be in shape for the day to be, or half of the light left if
    less; our choice, 2-5."""
    worth_share: float = 0.9
    """A run's window holds the hours in shape whose share by the water's temperature is at least
    this share of the best hour's, and of these the ones worth at least this share of the best; our
    choice, 0.75-0.95: it leaves out a cold morning, a hot afternoon."""


@dataclass(frozen=True, slots=True)
class Odds:
    """Number of members of the flow in which the day is in shape, of all members."""

    hits: int
    tries: int

    @property
    def share(self) -> float:
        """Return the share, 0 to 1; NaN without members."""
        return self.hits / self.tries if self.tries else math.nan


@dataclass(frozen=True, slots=True)
class RunDay:
    """A run on one day, at the outlook's central flow.

    Parameters
    ----------
    facts
        The run.
    value
        Worth at each hour of light, 0 to 100; NaN unknown.
    window
        Begin and end of the longest stretch in which it is in shape and worth going (UTC); None
        where there is none.
    score
        Mean worth in the window, or the day's best hour without one; NaN unknown.
    low, high
        Span of the score within the flow's band, at the window's middle.
    at
        The run at the mapped flow nearest to that of the window's middle.
    cut_off
        First hour of the day's light at which the flow's upper bound is above the last flow with
        the way back known open (UTC); NaT where there is none.
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
    """A day: its light, its hours, its runs downstream, and its worth.

    Parameters
    ----------
    light, hours, runs
        Of the day.
    score
        Mean over the flow's members of the worth of the best runs that can be listed, in the best
        hours; NaN where less than half of the hours is known.
    odds
        Members in which it is in shape.
    phase, since_peak, since_fishable
        State of the river at midday, and the days since the last peak and since it came into shape
        again [d]; NaN where there are none.
    worth
        Worth and its shares at each hour, at the central flow.
    rules
        Those that hold on the day.
    rules_complete
        Whether every run is covered by a rule on opening that day.
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
    rules_complete: bool = False

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
        Flow, clarity, warmth, tide and rules; the outlook must span the day's light.
    light
        The day's sun.
    zone
        Time zone of the rules.
    settings
        Settings of the score; None for the defaults.
    """
    settings = settings or DaySettings()
    hours = hours_of(given, light)
    names = [run.name for run in facts.runs]
    may = np.array([given.rules.open_hours(name, hours.times, zone) for name in names])
    may = may.reshape(len(names), hours.times.size)
    worth_settings = WorthSettings(
        settings.score, settings.holding, given.season, facts.shape_score
    )
    ahead = None
    if hours.times.size and np.isfinite(hours.members).any():
        flows = float(np.nanmin(hours.members)), float(np.nanmax(hours.members))
        middle = hours.times.size // 2
        since = limb_begins(given.outlook)[given.outlook.within(hours.times[0], hours.times[-1])]
        ahead = clear_ahead(given.model, flows, hours.times[middle], since[middle])
    central = worth_of(facts.runs, hours, hours.flow, hours.growth, ahead, worth_settings)
    off = clarity_off(hours, hours.members.shape[0])
    courses = worth_of(
        facts.runs, hours, hours.members, hours.members_growth, ahead, worth_settings, off
    )
    runs = tuple(
        _run_day(run, facts, hours, (central, number, may[number]), light, settings)
        for number, run in enumerate(facts.runs)
    )
    listed = np.array([why_not(run) is None for run in runs], dtype=bool)
    score, odds = _worth_of_day(hours, central, courses, may & listed[:, None], settings)
    fresh, middle = hours.fresh, hours.times.size // 2
    peak = fishable = growth = math.nan
    if hours.times.size:
        peak, fishable = float(fresh.since_peak[middle]), float(fresh.since_fishable[middle])
        # over a day, so that a daily wave of the flow is no limb
        whole = growth_per_day(given.outlook.flow, hours=12)
        growth = float(whole[given.outlook.within(hours.times[middle], hours.times[middle])][0])
    rises = bool(hours.times.size and fresh.rising[middle])
    phase = phase_of(
        peak, fishable, growth, rising=rises or growth > LIMB_PER_DAY,
        falling=settings.score.falling_per_day,
    )  # fmt: skip
    return Day(
        light, hours, runs, score, odds, phase, peak, fishable, central,
        given.rules.on(light.day), all(given.rules.covers(light.day, name) for name in names),
    )  # fmt: skip


def _worth_of_day(
    hours: Hours, central: Worth, courses: Worth, may: BoolArray, settings: DaySettings
) -> tuple[float, Odds]:
    """Return the expected worth of a day and its odds.

    `may` is the mask of hours at which a run may be listed, shape (runs, hours); `courses` is the
    worth over the members, shape (runs, members, hours).
    """
    if not may.size or known_share(hours.flow, central.value) < 0.5:
        return math.nan, Odds(0, 0)
    value = np.where(may[:, None, :], courses.value, 0.0)
    each = best_mean(value, settings.top_runs, settings.fished_hours)
    wanted = min(settings.shape_hours, max(hours.times.size // 2, 1))
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
    """Return a run on the day.

    `worth` is the central worth of all runs, the run's number, and the mask of hours at which the
    rules leave it open.
    """
    central, number, may = worth
    value = np.where(may, central.value[number], 0.0)
    good = central.shape[number] & may
    known = value[np.isfinite(value)]
    window, score = None, float(known.max()) if known.size else math.nan
    middle = hours.times.size // 2
    if good.any():
        # first the hours that are warm enough, then of those the ones worth most
        good &= central.warm >= settings.worth_share * central.warm[good].max()
        best = np.fmax.reduce(value[good])  # NaN where none of these hours' worth is known
        stretch = longest(good & (value >= settings.worth_share * best))
        if stretch is not None:
            window = _window(stretch, hours.times, light)
            score = float(value[stretch].mean())
            middle = (stretch.start + stretch.stop - 1) // 2
    least, most = score_span(run, (hours.flow, hours.low, hours.high), settings.score)
    low = high = flow = math.nan
    if hours.times.size:
        share = central.share[middle]
        low, high = float(least[middle] * share), float(most[middle] * share)
        flow = float(hours.flow[middle])
    at, shut = run.at[_nearest(facts, flow)], _cut_off(run, facts, hours)
    closed = bool(may.size) and not may.any()
    return RunDay(run, value, window, score, low, high, at, shut, closed)


def _window(stretch: slice, times: Times, light: Daylight) -> tuple[np.datetime64, np.datetime64]:
    """Return begin and end of a stretch; sunrise and sunset where it reaches the light's ends."""
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
    """Return the position of the mapped flow nearest to a flow; the lowest for NaN."""
    return 0 if math.isnan(flow) else nearest(flow, facts.flows)


def longest(mask: BoolArray) -> slice | None:
    """Return the longest run of True in a mask, the first of equals; None for none."""
    # changes of the padded mask: begins and ends of its stretches in turn
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(int)))
    if not edges.size:
        return None
    begins, ends = edges[::2], edges[1::2]
    best = int(np.argmax(ends - begins))
    return slice(int(begins[best]), int(ends[best]))


def _cut_off(run: RunFacts, facts: ReachFacts, hours: Hours) -> np.datetime64:
    """Return when the way back may close within the day's light (UTC); NaT where it does not.

    The flow's upper bound is compared with the stricter of the two mapped flows on either side of
    the day's lowest flow, at which one may go in.
    """
    known = hours.flow[np.isfinite(hours.flow)]
    if not known.size:
        return np.datetime64("NaT", "s")
    ends = between(float(known.min()), facts.flows)
    open_until = min(run.at[one].open_until for one in ends)
    if math.isinf(open_until):
        return np.datetime64("NaT", "s")
    over = np.flatnonzero(~(hours.high <= open_until))  # an unknown flow counts as above
    return hours.times[over[0]] if over.size else np.datetime64("NaT", "s")


def why_not(run: RunDay) -> NotListed | None:
    """Return why a run in shape is not listed on a day; None where it may be."""
    if not np.isnat(run.cut_off):
        return NotListed.CUT_OFF
    if run.at.side not in ("left", "right"):
        return NotListed.ISLAND
    if run.at.way == "boat":
        return NotListed.BOAT
    if run.at.shut:
        return NotListed.SHUT
    return NotListed.TIME_UNKNOWN if math.isnan(run.at.minutes) else None
