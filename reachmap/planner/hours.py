"""The hours of light of a day: flow, limb, clarity, water temperature and tide at each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from reachmap.base.arrays import CodeArray, FloatArray
from reachmap.gauge.clarity import ClarityModel, clarity_on
from reachmap.gauge.clarity_data import Clarity, Limb
from reachmap.gauge.series import HOUR, Times
from reachmap.gauge.tide import Tide
from reachmap.planner.freshness import Fresh
from reachmap.planner.members import Members
from reachmap.planner.outlook import Outlook
from reachmap.planner.rules import Rules
from reachmap.planner.score import growth_per_day
from reachmap.planner.sun import Daylight
from reachmap.planner.water_course import WaterCourse

LIMB_PER_DAY = 0.05
"""Growth of ln flow [1/d] above which the river is on its rising limb; our choice, 0.03-0.1."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """Conditions of the coming days, apart from the reach.

    Parameters
    ----------
    outlook, members
        The flow with its band, and the members it may follow.
    fresh
        Time since the last rise at each hour.
    model
        Clarity model of the notes.
    rules
        Fishing rules.
    season
        Name of the season whose limits hold.
    water, tide
        The water's temperature and the tide; None where not given.
    """

    outlook: Outlook
    members: Members
    fresh: Fresh
    model: ClarityModel
    rules: Rules
    season: str
    water: WaterCourse | None = None
    tide: Tide | None = None


@dataclass(frozen=True, slots=True)
class Hours:
    """The full hours of light of one day, one value each.

    Parameters
    ----------
    times
        UTC.
    flow, low, high
        Flow and its band [m3/s]; NaN unknown.
    growth
        Of ln flow [1/d].
    source
        Codes of the outlook.
    clarity
        Clarity at each hour, with bounds and basis.
    water_c
        The water's temperature [C]; NaN unknown.
    fresh
        Time since the last rise.
    tide_rises
        1 where the tide rises, 0 where it falls, NaN unknown or no tide.
    members
        Members of the flow [m3/s], shape (members, hours).
    members_growth
        Their growth of ln flow [1/d], same shape.
    sun_hours
        Hours to the nearer of sunrise and sunset [h].
    """

    times: Times
    flow: FloatArray
    low: FloatArray
    high: FloatArray
    growth: FloatArray
    source: CodeArray
    clarity: tuple[Clarity, ...]
    water_c: FloatArray
    fresh: Fresh
    tide_rises: FloatArray
    members: FloatArray
    members_growth: FloatArray
    sun_hours: FloatArray

    @property
    def clarity_m(self) -> FloatArray:
        """Return the clarity at each hour [m]; NaN unknown."""
        return np.array([one.metres for one in self.clarity], dtype=np.float64)


def hours_of(given: Conditions, light: Daylight) -> Hours:
    """Return the hours of light of a day, from now on."""
    outlook = given.outlook
    up = light.hours
    where = slice(0, 0)
    if up is not None:
        begin, end = (instant(one) for one in up)
        where = outlook.within(max(begin, outlook.now), end)
    times = outlook.times[where]
    growth = growth_per_day(outlook.flow)
    begun = limb_begins(outlook)
    clarity = tuple(
        clarity_on(
            given.model, flow=float(flow), limb=limb_of_growth(float(rate)), when=when,
            since_low=since,
        )
        for when, flow, rate, since in zip(
            times, outlook.flow[where], growth[where], begun[where], strict=True
        )
    )  # fmt: skip
    unknown = np.full(times.shape, np.nan)
    return Hours(
        times=times,
        flow=outlook.flow[where],
        low=outlook.low[where],
        high=outlook.high[where],
        growth=growth[where],
        source=outlook.source[where],
        clarity=clarity,
        water_c=unknown if given.water is None else given.water.at(times),
        fresh=given.fresh.at(times),
        tide_rises=unknown if given.tide is None else given.tide.rising(times),
        members=given.members.flow[:, where],
        members_growth=growth_per_day(given.members.flow)[:, where],
        sun_hours=_sun_hours(times, light),
    )


def _sun_hours(times: Times, light: Daylight) -> FloatArray:
    """Return the hours to the nearer of sunrise and sunset [h]; infinite where there is none."""
    up = light.hours
    if up is None or light.sunrise is None or light.sunset is None:
        return np.full(times.shape, math.inf)
    begin, end = (instant(one) for one in up)
    return np.asarray(np.minimum(times - begin, end - times) / HOUR)


def instant(when: datetime) -> np.datetime64:
    """Return a time with its zone as UTC."""
    return np.datetime64(when.astimezone(UTC).replace(tzinfo=None), "s")


def limb_of_growth(per_day: float) -> Limb:
    """Return the limb of a growth of ln flow [1/d]; a steady river counts as falling."""
    if math.isnan(per_day):
        return Limb.UNKNOWN
    return Limb.RISING if per_day > LIMB_PER_DAY else Limb.FALLING


def limb_begins(outlook: Outlook) -> Times:
    """Return the begin of each hour's limb, UTC, shape of the outlook's times.

    The first hour of the outlook counts as a begin.
    """
    rising = growth_per_day(outlook.flow) > LIMB_PER_DAY
    turns = np.r_[True, rising[1:] != rising[:-1]]
    # carry the index of the last turn forward to every hour
    last = np.maximum.accumulate(np.where(turns, np.arange(rising.size), 0))
    return np.asarray(outlook.times[last])


def light_minutes(hours: Hours) -> float:
    """Return the duration of a day's hours of light [min]."""
    if hours.times.size < 2:
        return 0.0
    return float((hours.times[-1] - hours.times[0]) / HOUR * 60)
