"""The coming days of a reach: each one scored, the best one chosen, and what that rests on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.gauge.clarity import ClarityModel, ClarityNote, by_law, fit_clarity
from reachmap.gauge.clarity_basis import BasisKind, ClarityBasis, Limb
from reachmap.gauge.recession import fit_falls
from reachmap.gauge.series import DAY, Series, flow_on
from reachmap.planner.choose import DayConfidence, DayPlan, best_day, how_sure, plan_day
from reachmap.planner.day import Day, DaySettings, limb_of_growth, make_day
from reachmap.planner.facts import ReachFacts
from reachmap.planner.outlook import Outlook, OutlookSettings, make_outlook
from reachmap.planner.score import growth_per_day, warmth_share
from reachmap.planner.sun import Daylight, daylight, local


@dataclass(frozen=True, slots=True)
class Days:
    """The coming days, in order, each with its list and how sure it is; `best` counts them.

    `best` is None where no day can be named; `water_c` is the water's temperature [C], NaN
    unknown, `warmth` the share of the scores that it leaves; `remarks` the caller's own remarks on
    what was given, passed on as they are.
    """

    facts: ReachFacts
    outlook: Outlook
    model: ClarityModel
    zone: ZoneInfo
    days: tuple[Day, ...]
    plans: tuple[DayPlan, ...]
    sure: tuple[DayConfidence, ...]
    best: int | None
    water_c: float = math.nan
    warmth: float = 1.0
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Given:
    """What goes into the days besides the built reach.

    Parameters
    ----------
    record, forecast
        The flow as read, and as forecast [m3/s].
    notes
        Of clarity, flow and limb looked up.
    own_clarity
        Scale and power of a law the angler set by hand, None for none.
    clarity_m, turbidity
        Seen or read now; NaN for neither.
    water_c
        The water's temperature [C]; NaN unknown.
    remarks
        The caller's own remarks on what was given, passed on as they are.
    """

    record: Series
    forecast: Series
    notes: Sequence[ClarityNote] = ()
    own_clarity: tuple[float, float] | None = None
    clarity_m: float = math.nan
    turbidity: float = math.nan
    water_c: float = math.nan
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DaysSettings:
    """How the days are judged."""

    outlook: OutlookSettings = field(default_factory=OutlookSettings)
    day: DaySettings = field(default_factory=DaySettings)


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
        Flow, forecast, notes.
    zone
        The clock of the place.
    now
        UTC; readings after it are left out.
    count
        How many days, >= 1.
    settings
        How they are judged.
    """
    asked = settings or DaysSettings()
    lights: list[Daylight] = []
    day = local(now, zone).date()
    while len(lights) < count:
        light = daylight(day, facts.longitude, facts.latitude, zone)
        hours = light.hours
        if lights or hours is None or hours[1] > local(now, zone):
            lights.append(light)
        day += timedelta(days=1)
    seen = given.record.until(now)
    until = now + (count + 2) * DAY
    law = fit_falls(seen)
    outlook = make_outlook(
        seen, given.forecast, now=now, until=until, law=law, settings=asked.outlook
    )
    notes = [note for note in given.notes if not (note.when > now)]
    model = _with_now(fit_clarity(notes, own=given.own_clarity), notes, given, outlook)
    days = tuple(
        make_day(facts, outlook, model, light, asked.day, water_c=given.water_c) for light in lights
    )
    return Days(
        facts=facts,
        outlook=outlook,
        model=model,
        zone=zone,
        days=days,
        plans=tuple(plan_day(one, between_min=facts.between_min) for one in days),
        sure=tuple(how_sure(one, facts, outlook) for one in days),
        best=best_day(days),
        water_c=given.water_c,
        warmth=warmth_share(given.water_c, asked.day.score),
        remarks=given.remarks,
    )


def _with_now(
    model: ClarityModel, notes: Sequence[ClarityNote], given: Given, outlook: Outlook
) -> ClarityModel:
    """Return the model with what is seen now, or told by today's turbidity, as its newest note."""
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
