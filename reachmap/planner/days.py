"""The coming days of a reach: each one scored, the best one chosen, with the evidence for it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.gauge.clarity import ClarityModel, by_law, fit_clarity
from reachmap.gauge.clarity_data import BasisKind, ClarityBasis, ClarityNote, Limb
from reachmap.gauge.daily_course import CourseSettings, DailyCourse, daily_course, day_means
from reachmap.gauge.hindcast import HindcastSettings, hindcast, members_of
from reachmap.gauge.recession import fit_recession
from reachmap.gauge.series import DAY, NOTHING, Series, Times, flow_on
from reachmap.gauge.tide import Tide
from reachmap.planner.choose import DayConfidence, DayPlan, best_day, how_sure, plan_day
from reachmap.planner.clear_ahead import clear_ahead
from reachmap.planner.day import Day, DaySettings, make_day
from reachmap.planner.facts import ReachFacts
from reachmap.planner.freshness import Fresh, freshness
from reachmap.planner.hours import Conditions, limb_begins, limb_of_growth
from reachmap.planner.members import Members, MembersBasis, make_members
from reachmap.planner.outlook import Outlook, OutlookSettings, make_outlook
from reachmap.planner.rules import NO_RULES, Rules
from reachmap.planner.score import growth_per_day
from reachmap.planner.sun import Daylight, daylight, local
from reachmap.planner.water_course import WarmthSettings, WaterCourse, water_course
from reachmap.planner.worth import WorthSettings, fishable_flows

RECENT_DAYS = 40
"""Days of readings before now that are used hour by hour [d]."""


@dataclass(frozen=True, slots=True)
class DaysSettings:
    """Settings of the stages that make the coming days."""

    outlook: OutlookSettings = field(default_factory=OutlookSettings)
    day: DaySettings = field(default_factory=DaySettings)
    hindcast: HindcastSettings = field(default_factory=HindcastSettings)
    course: CourseSettings = field(default_factory=CourseSettings)
    warmth: WarmthSettings = field(default_factory=WarmthSettings)


@dataclass(frozen=True, slots=True)
class Days:
    """The coming days, in order, each with its list and its confidence.

    Parameters
    ----------
    best
        Position of the best day; None where there is none.
    basis, storms
        Source of the members behind the odds, and the number of storms of the record behind it.
    course
        Daily wave of the flow; None for none.
    water
        Temperature of the water; None unknown.
    rules, tide
        As given.
    settings
        Those used.
    remarks
        The caller's own remarks on what was given, passed on as they are.
    """

    facts: ReachFacts
    outlook: Outlook
    model: ClarityModel
    zone: ZoneInfo
    days: tuple[Day, ...]
    plans: tuple[DayPlan, ...]
    sure: tuple[DayConfidence, ...]
    best: int | None
    basis: MembersBasis
    storms: int
    course: DailyCourse | None = None
    water: WaterCourse | None = None
    rules: Rules = NO_RULES
    tide: Tide | None = None
    settings: DaysSettings = field(default_factory=DaysSettings)
    remarks: tuple[str, ...] = ()

    @property
    def water_c(self) -> float:
        """Return the water's temperature now [C]; NaN unknown."""
        if self.water is None:
            return math.nan
        return float(self.water.at(np.array([self.outlook.now]))[0])


@dataclass(frozen=True, slots=True)
class Given:
    """Inputs of the coming days apart from the built reach.

    Parameters
    ----------
    record, forecast
        The flow as read, and as forecast [m3/s].
    ensemble
        Further members of the forecast; with any, the central flow is the median of all.
    notes
        Clarity notes with flow and limb.
    own_clarity
        Scale and power of a clarity law set by the angler; None for none.
    clarity_m, turbidity
        Clarity [m] and turbidity now; NaN unknown.
    water_c
        The water's temperature now [C]; NaN unknown.
    water_times, water_read
        Earlier readings of it (UTC) [C].
    rules, tide
        Fishing rules, and the tide; none where not given.
    remarks
        The caller's own remarks on what was given, passed on as they are.
    """

    record: Series
    forecast: Series
    ensemble: Sequence[Series] = ()
    notes: Sequence[ClarityNote] = ()
    own_clarity: tuple[float, float] | None = None
    clarity_m: float = math.nan
    turbidity: float = math.nan
    water_c: float = math.nan
    water_times: Times = field(default_factory=lambda: NOTHING.times)
    water_read: FloatArray = field(default_factory=lambda: NOTHING.flow)
    rules: Rules = NO_RULES
    tide: Tide | None = None
    remarks: tuple[str, ...] = ()


def make_days(
    facts: ReachFacts,
    given: Given,
    zone: ZoneInfo,
    *,
    now: np.datetime64,
    count: int,
    settings: DaysSettings | None = None,
) -> Days:
    """Return the coming days, today among them while it has light left.

    Parameters
    ----------
    facts
        The built reach.
    given
        Flow, forecast, notes and the rest.
    zone
        The clock of the place.
    now
        UTC; readings after it are left out.
    count
        How many days, >= 1.
    settings
        None for the defaults.
    """
    settings = settings or DaysSettings()
    lights = _lights(facts, zone, now, count)
    seen = given.record.until(now)
    course = daily_course(seen, settings.course)
    until = now + (count + 2) * DAY
    outlook, members = _flows(given, seen, course, (now, until), settings)
    notes = [note for note in given.notes if not (note.when > now)]
    model = _with_now(fit_clarity(notes, own=given.own_clarity), notes, given, outlook)
    water = water_course(
        np.r_[given.water_times, np.array([now], dtype="datetime64[s]")],
        np.r_[given.water_read, given.water_c],
        now,
        facts.longitude,
        settings.warmth,
    )
    conditions = Conditions(
        outlook=outlook,
        members=members,
        fresh=_fresh(facts, outlook, seen, model, settings.day),
        model=model,
        rules=given.rules,
        season=facts.season,
        water=water,
        tide=given.tide,
    )
    days = tuple(make_day(facts, conditions, light, zone, settings.day) for light in lights)
    return Days(
        facts=facts,
        outlook=outlook,
        model=model,
        zone=zone,
        days=days,
        plans=tuple(plan_day(one, facts) for one in days),
        sure=tuple(how_sure(one, facts, outlook) for one in days),
        best=best_day(days),
        basis=members.basis,
        storms=members.storms,
        course=course,
        water=water,
        rules=given.rules,
        tide=given.tide,
        settings=settings,
        remarks=given.remarks,
    )


def _lights(facts: ReachFacts, zone: ZoneInfo, now: np.datetime64, count: int) -> list[Daylight]:
    """Return the daylight of the coming days, today among them while it has light left."""
    lights: list[Daylight] = []
    day = local(now, zone).date()
    while len(lights) < count:
        light = daylight(day, facts.longitude, facts.latitude, zone)
        hours = light.hours
        if lights or hours is None or hours[1] > local(now, zone):
            lights.append(light)
        day += timedelta(days=1)
    return lights


def _flows(
    given: Given,
    seen: Series,
    course: DailyCourse | None,
    span: tuple[np.datetime64, np.datetime64],
    settings: DaysSettings,
) -> tuple[Outlook, Members]:
    """Return outlook and members of the flow; `span` is from now to the outlook's end (UTC).

    With an ensemble the outlook is that of the median forecast, and its band covers all members.
    Else, where the record ends in a recession and there is no forecast, the members are the
    recession times its errors on past storms (`hindcast`).
    """
    now, until = span
    history = seen if course is None else day_means(seen)
    law = fit_recession(history)
    recent = seen.after(now - RECENT_DAYS * DAY) if seen.known.times.size else seen

    def look(forecast: Series) -> Outlook:
        return make_outlook(
            recent,
            forecast,
            now=now,
            until=until,
            law=law,
            settings=settings.outlook,
            course=course,
        )

    if given.ensemble:
        each = [look(one) for one in (given.forecast, *given.ensemble)]
        middle = look(_middle(each, now))
        high = np.fmax(middle.high, np.fmax.reduce([one.flow for one in each]))
        low = np.fmin(middle.low, np.fmin.reduce([one.flow for one in each]))
        outlook = replace(middle, low=low, high=high)
        return outlook, make_members(outlook, each, None, 0)
    outlook = look(given.forecast)
    misses = None
    storms = 0
    if not np.isnat(outlook.last) and law is not None and not given.forecast.known.times.size:
        tried = hindcast(history, settings.hindcast)
        flow, fell = _last_flow(history, outlook.last)
        misses = members_of(tried, flow, fell, _year_day(outlook.last), settings.hindcast)
        storms = 0 if tried is None else tried.storms
    return outlook, make_members(outlook, (), misses, storms)


def _last_flow(history: Series, last: np.datetime64) -> tuple[float, float]:
    """Return the last flow [m3/s] and ln of its ratio to that a day before; NaN unknown."""
    known = history.known
    before = float(flow_on(known.until(last), known.times[-1:] - DAY)[0])
    flow = float(known.flow[-1])
    return flow, float(np.log(flow / before))


def _year_day(when: np.datetime64) -> int:
    """Return the day of the year, 1 to 366."""
    day = when.astype("datetime64[D]")
    return int((day - day.astype("datetime64[Y]")).astype(int)) + 1


def _middle(each: Sequence[Outlook], now: np.datetime64) -> Series:
    """Return the median of an ensemble's flows after now, at hours that every member covers."""
    flows = np.stack([one.flow for one in each])
    ahead = (each[0].times > now) & np.isfinite(flows).all(axis=0)
    return Series(each[0].times[ahead], np.median(flows[:, ahead], axis=0))


def _fresh(
    facts: ReachFacts, outlook: Outlook, seen: Series, model: ClarityModel, settings: DaySettings
) -> Fresh:
    """Return the time of each hour since the last rise; in shape by mapped scores and clarity."""
    worth_settings = WorthSettings(
        settings.score, settings.holding, facts.season, facts.shape_score
    )
    at = min(int(np.searchsorted(outlook.times, outlook.now)), outlook.times.size - 1)
    since = limb_begins(outlook)[at]

    def fishable(flow: FloatArray) -> BoolArray:
        known = flow[np.isfinite(flow) & (flow > 0)]
        if not known.size:
            return np.zeros(flow.shape, dtype=bool)
        span = float(known.min()), float(known.max())
        ahead = clear_ahead(model, span, outlook.now, since)
        return fishable_flows(facts.runs, flow, ahead, worth_settings)

    recent = seen.after(outlook.now - RECENT_DAYS * DAY) if seen.times.size else seen
    return freshness(outlook, recent, fishable)


def _with_now(
    model: ClarityModel, notes: Sequence[ClarityNote], given: Given, outlook: Outlook
) -> ClarityModel:
    """Return the clarity model with today's clarity, seen or from turbidity, as its newest note."""
    seen = given.clarity_m
    if math.isnan(seen) and model.turbidity is not None and given.turbidity > 0:
        basis = ClarityBasis(BasisKind.TURBIDITY, model.turbidity.notes)
        seen = by_law(model.turbidity, given.turbidity, basis).metres
    if not seen > 0:
        return model
    at = int(np.searchsorted(outlook.times, outlook.now))
    growth = growth_per_day(outlook.flow)[min(at, outlook.times.size - 1)]
    flow = float(flow_on(Series(outlook.times, outlook.flow), np.array([outlook.now]))[0])
    limb = limb_of_growth(float(growth))
    note = ClarityNote(seen, flow, given.turbidity, limb, outlook.now)
    if limb is Limb.UNKNOWN and math.isnan(flow):
        return model
    return fit_clarity([*notes, note], own=model.own)
