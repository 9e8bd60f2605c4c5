"""One day on the river: light, flow, clarity, and what each run is worth hour by hour."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum

import numpy as np

from reachmap.base.arrays import BoolArray, CodeArray, FloatArray
from reachmap.gauge.clarity import ClarityModel, clarity_on
from reachmap.gauge.clarity_basis import Clarity, Limb
from reachmap.gauge.series import HOUR, Times
from reachmap.planner.facts import ReachFacts, RunAt, RunFacts, between
from reachmap.planner.outlook import Outlook
from reachmap.planner.score import (
    ScoreSettings,
    clear_share,
    growth_per_day,
    rising_share,
    score_at,
    score_span,
    warmth_share,
)
from reachmap.planner.sun import Daylight


class NotListed(StrEnum):
    """Why a run that is in shape is not on a day's list."""

    CUT_OFF = "cut_off"
    ISLAND = "island"
    BOAT = "boat"
    TIME_UNKNOWN = "time_unknown"
    LESSER = "lesser"
    OTHER_BANK = "other_bank"


TOP_RUNS = 3
"""A day is worth what its so many best runs are worth; our choice, 1-5: about what one fishes."""


@dataclass(frozen=True, slots=True)
class Hours:
    """The hours of light of one day: UTC, flow and its band [m3/s], growth [1/d], how far one sees.

    `clarity` holds one a hour; `source` the codes of the outlook.
    """

    times: Times
    flow: FloatArray
    low: FloatArray
    high: FloatArray
    growth: FloatArray
    source: CodeArray
    clarity: tuple[Clarity, ...]


@dataclass(frozen=True, slots=True)
class RunDay:
    """A run on one day.

    Parameters
    ----------
    facts
        The run.
    value
        What it is worth each hour of light, 0 to 100, NaN unknown.
    window
        First and last hour in shape, in the longest stretch of the day; None where in none.
    score
        Mean worth in the window, or the day's best where there is none; NaN unknown.
    low, high
        The score's span within the flow's band, at the window's middle.
    at
        The mapped flow that is nearest in the window's middle.
    cut_off
        When the flow's upper bound first goes above the last flow at which the way back is known
        open, within the day's light (UTC); NaT where it does not.
    """

    facts: RunFacts
    value: FloatArray
    window: tuple[np.datetime64, np.datetime64] | None
    score: float
    low: float
    high: float
    at: RunAt
    cut_off: np.datetime64


@dataclass(frozen=True, slots=True)
class Day:
    """A day: its light, its hours, its runs in the river's order, and what it is worth.

    `score` is the mean over the hours of light of the worth of the three best runs one can put on
    a list, NaN where less than half of the hours is known; `halved` whether some hours count less
    since the river rises.
    """

    light: Daylight
    hours: Hours
    runs: tuple[RunDay, ...]
    score: float
    halved: bool

    @property
    def in_shape(self) -> tuple[RunDay, ...]:
        """Return the runs in shape for some time, the best first."""
        good = [run for run in self.runs if run.window is not None]
        return tuple(sorted(good, key=lambda run: (-run.score, run.facts.station_m)))


@dataclass(frozen=True, slots=True)
class DaySettings:
    """How a day is judged."""

    score: ScoreSettings = field(default_factory=ScoreSettings)


def make_day(
    facts: ReachFacts,
    outlook: Outlook,
    model: ClarityModel,
    light: Daylight,
    settings: DaySettings | None = None,
    *,
    water_c: float = math.nan,
) -> Day:
    """Return one day.

    Parameters
    ----------
    facts
        The built reach.
    outlook
        The flow hour by hour; the day's light must lie within it.
    model
        What notes say of clarity.
    light
        The day's sun.
    settings
        How it is judged.
    water_c
        The water's temperature [C]; NaN unknown.
    """
    asked = settings or DaySettings()
    hours = _hours(outlook, model, light)
    share = clear_share(np.array([one.metres for one in hours.clarity]), asked.score)
    share = share * rising_share(hours.growth, asked.score)
    share = share * warmth_share(water_c, asked.score)
    runs = tuple(_run_day(run, facts, hours, share, asked) for run in facts.runs)
    rises = bool((hours.growth > asked.score.rising_per_day).any())
    return Day(light, hours, runs, _day_score(runs, hours), rises)


def _hours(outlook: Outlook, model: ClarityModel, light: Daylight) -> Hours:
    """Return the hours of light; before now they are left out: they are gone."""
    up = light.hours
    if up is None:
        where = slice(0, 0)
    else:
        begin, end = (instant(one) for one in up)
        where = outlook.within(max(begin, outlook.now), end)
    growth = growth_per_day(outlook.flow)
    begun = limb_begins(outlook)
    clarity = tuple(
        clarity_on(
            model,
            flow=float(flow),
            limb=limb_of_growth(float(rate)),
            when=when,
            since_low=since,
        )
        for when, flow, rate, since in zip(
            outlook.times[where], outlook.flow[where], growth[where], begun[where], strict=True
        )
    )
    return Hours(
        outlook.times[where],
        outlook.flow[where],
        outlook.low[where],
        outlook.high[where],
        growth[where],
        outlook.source[where],
        clarity,
    )


def instant(when: datetime) -> np.datetime64:
    """Return a time with its zone as UTC."""
    return np.datetime64(when.astimezone(UTC).replace(tzinfo=None), "s")


LIMB_PER_DAY = 0.05
"""Growth of ln flow a day from which on the river is on its rising limb; our choice, 0.03-0.1."""


def limb_of_growth(per_day: float) -> Limb:
    """Return the limb of a growth of ln flow [1/d]; a standing river counts as one that fell."""
    if math.isnan(per_day):
        return Limb.UNKNOWN
    return Limb.RISING if per_day > LIMB_PER_DAY else Limb.FALLING


def limb_begins(outlook: Outlook) -> Times:
    """Return for each hour when its limb began, UTC, shape of the outlook's times.

    The first hour of the outlook counts as a begin: what was before it is not looked at.
    """
    rising = growth_per_day(outlook.flow) > LIMB_PER_DAY
    turns = np.r_[True, rising[1:] != rising[:-1]]
    last = np.maximum.accumulate(np.where(turns, np.arange(rising.size), 0))
    return np.asarray(outlook.times[last])


def _run_day(
    run: RunFacts, facts: ReachFacts, hours: Hours, share: FloatArray, settings: DaySettings
) -> RunDay:
    """Return a run on the day."""
    value = score_at(run, hours.flow, settings.score) * share
    with np.errstate(invalid="ignore"):
        stretch = longest(value >= facts.shape_score)
    known = value[np.isfinite(value)]
    window, score = None, float(known.max()) if known.size else math.nan
    middle = hours.times.size // 2
    if stretch is not None:
        window = hours.times[stretch.start], hours.times[stretch.stop - 1]
        score = float(value[stretch].mean())
        middle = (stretch.start + stretch.stop - 1) // 2
    least, most = score_span(run, (hours.flow, hours.low, hours.high), settings.score)
    low = high = flow = math.nan
    if hours.times.size:
        low, high = (float(side[middle] * share[middle]) for side in (least, most))
        flow = float(hours.flow[middle])
    at, shut = run.at[_nearest(facts, flow)], _cut_off(run, facts, hours)
    return RunDay(run, value, window, score, low, high, at, shut)


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
    return NotListed.TIME_UNKNOWN if math.isnan(run.at.minutes) else None


def _day_score(runs: tuple[RunDay, ...], hours: Hours) -> float:
    """Return what the day is worth; NaN where less than half of its light is known."""
    if not runs or not hours.times.size:
        return math.nan
    known = np.isfinite(hours.flow) & np.isfinite([run.value for run in runs]).any(axis=0)
    if known.mean() < 0.5:
        return math.nan
    each = np.stack([np.zeros(known.shape), *(run.value for run in runs if not why_not(run))])
    best = np.sort(np.nan_to_num(each[:, known]), axis=0)[-min(TOP_RUNS, len(runs)) :]
    return float(best.mean())


def light_minutes(hours: Hours) -> float:
    """Return how long the light of a day's hours lasts [min]."""
    if hours.times.size < 2:
        return 0.0
    return float((hours.times[-1] - hours.times[0]) / HOUR * 60)
