"""A guide's day of a reach folder: the plan, from build, gauge, rules and party."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.cache import write_aside
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.progress import Progress
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.base.units import flow_words
from reachmap.base.words import Side, UnitSystem
from reachmap.gauge.series import HOUR
from reachmap.markup.config.party import PARTY_FILE, PartyKeys, PersonKeys, read_party
from reachmap.markup.model import Plan
from reachmap.markup.plan_parts import Outing
from reachmap.pipeline.days import Gathered, build_on_demand, facts_of, gather, rules_of
from reachmap.pipeline.guide import guide_facts_of
from reachmap.pipeline.stamp import settled_folder, stored_options
from reachmap.planner.facts import ReachFacts
from reachmap.planner.guide.day import DayWater, GuideInputs
from reachmap.planner.guide.facts import Grading, GuideFacts
from reachmap.planner.guide.people import Party, Person
from reachmap.planner.guide.plan import GuideDay, Names, make_guide_plan
from reachmap.planner.guide.settings import GuideSettings
from reachmap.planner.hours import instant
from reachmap.planner.sun import daylight, zone_at
from reachmap.reach.days import MOST_DAYS, DaysAsked, coming_days, start_time

KEPT_FILE = "guide.json"
"""File of the last plan, in the written folder; the plan stays while it is nearly the best."""


@dataclass(frozen=True, slots=True)
class GuideAsked:
    """Options of a guide's day, SI.

    Parameters
    ----------
    day
        The day; None for today.
    flow
        Discharge all day [m3/s]; NaN for that of the gauge's record and forecast.
    party
        File of the party; None for party.toml of the folder, or without it `rods` rods.
    rods
        Number of rods like the angler of reach.toml where there is no such file.
    taken
        Names of runs taken by others.
    fresh
        Whether to plan anew, without the day's last plan.
    days
        Forecast, clarity, time zone and start time, as for the coming days.
    """

    day: date | None = None
    flow: float = math.nan
    party: Path | None = None
    rods: int = 2
    taken: Sequence[str] = ()
    fresh: bool = False
    days: DaysAsked = field(default_factory=DaysAsked)


def guide_day(
    folder: Path,
    out: Path | None,
    asked: GuideAsked,
    *,
    progress: Progress = lambda *_: None,
    workers: int = 1,
) -> GuideDay:
    """Return a guide's day of a reach folder; what is not built is built first.

    Parameters
    ----------
    folder, out
        Reach folder, and the written folder if it is another than `written` in it.
    asked
        Options.
    progress
        Progress callback (step, done, total).
    workers
        Processes that may read flows side by side.

    Raises
    ------
    MarkupError
        If the folder, the party or another file cannot be read, or the day's flow is not known or
        not mapped.
    """
    target = settled_folder(folder, out)
    got = gather(folder, target)
    keys = _party_keys(got, asked)
    build = build_on_demand(got, stored_options(target), progress=progress, workers=workers)
    reach = facts_of(got, build)
    facts = guide_facts_of(got, build, _outing_of(keys, got.plan.outing))
    zone = asked.days.zone or zone_at(reach.longitude, reach.latitude)
    now = start_time(asked.days.now, zone)
    party = party_of(keys, got.plan, facts.grading, asked.rods)
    water = _day_water(folder, out, asked, got, reach, (zone, now))
    found = facts.at(water.planned_flow)
    wrong = _not_mapped(water, facts, got.plan.units) if found is None else []
    names = {run.name for run in reach.runs}
    wrong += [
        Fault("--taken", f"no run is called {name!r}", f"Runs: {', '.join(sorted(names))}")
        for name in asked.taken
        if name not in names
    ]
    if wrong or found is None:
        raise MarkupError(wrong)
    inputs = GuideInputs(facts, found, water, party, GuideSettings(), frozenset(asked.taken))
    keep = None if asked.fresh else _kept(target, water.light.day, party)
    plan = make_guide_plan(inputs, keep)
    return GuideDay(plan, reach, zone, now)


def keep_plan(day: GuideDay, target: Path) -> Path:
    """Write the plan's runs next to the page, so that the day's next plan can stay close to it."""
    party = day.inputs.party
    kept = {
        "day": day.inputs.day.light.day.isoformat(),
        "people": [one.name for one in party.people],
        "boat": party.boat,
        "runs": [list(way) for way in day.plan.names],
    }
    text = json.dumps(kept, indent=1)
    return write_aside(
        target / KEPT_FILE, lambda aside: aside.write_text(text + "\n", encoding="utf-8")
    )


def _kept(target: Path, day: date, party: Party) -> Names | None:
    """Return the last plan's runs; None where it was made for another day or party."""
    try:
        stored: Any = json.loads(read_text(target / KEPT_FILE, FileKind.SETTINGS))
        same = (stored["day"], stored["people"], stored["boat"]) == (
            day.isoformat(), [one.name for one in party.people], party.boat,
        )  # fmt: skip
        runs = tuple(tuple(str(name) for name in way) for way in stored["runs"])
    except (OSError, RefusedError, ValueError, KeyError, TypeError):
        return None
    return runs if same and runs else None


def _party_keys(got: Gathered, asked: GuideAsked) -> PartyKeys | None:
    """Return the keys of the party's file; None where there is none."""
    path = asked.party or got.folder / PARTY_FILE
    if asked.party is None and not path.exists():
        return None
    try:
        text = read_text(path, FileKind.SETTINGS, None if asked.party else got.folder)
    except RefusedError as error:
        raise MarkupError([Fault(path.name, error.found, error.fix)]) from None
    except OSError as error:
        found = f"it cannot be read ({error.strerror or error})"
        raise MarkupError([Fault(str(path), found, "Name a file that is there")]) from None
    read = read_party(path.name, text, got.plan.units, got.plan.kit)
    if read.faults:
        raise MarkupError(read.faults)
    return read.keys


def _outing_of(keys: PartyKeys | None, own: Outing) -> Outing:
    """Return how the party gets about: the outing of reach.toml without a file of the party."""
    if keys is None:
        return own
    day = keys.day
    bank = Side(day.bank) if day.bank else None
    return replace(own, boat=day.boat, crossing=day.crossing, bank=bank)


def party_of(keys: PartyKeys | None, plan: Plan, graded: Grading, rods: int) -> Party:
    """Return the party; without a file, rods like the angler of reach.toml.

    Parameters
    ----------
    keys
        Of the party's file; None where there is none.
    plan
        Of reach.toml.
    graded
        The person and limits that the map was graded for.
    rods
        Number of rods without a file.
    """
    outing = plan.outing
    if keys is None:
        people = tuple(
            Person(f"Rod {n}", graded.height_m, graded.wade_limit_m, graded.cast_limit_m,
                   graded.mass_kg)
            for n in range(1, rods + 1)
        )  # fmt: skip
        return Party(people, outing.boat, outing.crossing, str(outing.bank or ""), outing.hours)
    day = keys.day
    return Party(
        people=tuple(_person(one, graded) for one in keys.person),
        boat=day.boat,
        crossing=day.crossing,
        bank=str(day.bank or ""),
        hours=outing.hours if math.isnan(day.hours) else day.hours,
        begin=time.fromisoformat(day.begin) if day.begin else None,
        turn_min=day.turn,
        room_m=day.room,
    )


def _person(keys: PersonKeys, graded: Grading) -> Person:
    """Return one rod; keys left out are those of reach.toml, but mass only at the same height."""
    lengths = dict(graded.heads)
    same = math.isnan(keys.height)
    mass = graded.mass_kg if same and math.isnan(keys.mass) else keys.mass

    def own(value: float, usual: float) -> float:
        return usual if math.isnan(value) else value

    return Person(
        name=keys.name,
        height_m=own(keys.height, graded.height_m),
        wade_limit_m=own(keys.wade_limit, graded.wade_limit_m),
        cast_limit_m=own(keys.cast_limit, graded.cast_limit_m),
        mass_kg=mass,
        rod=keys.rod,
        heads=tuple((name, lengths[name]) for name in keys.heads),
        tips=keys.tips,
    )


def _day_water(
    folder: Path,
    out: Path | None,
    asked: GuideAsked,
    got: Gathered,
    reach: ReachFacts,
    when: tuple[ZoneInfo, datetime],
) -> DayWater:
    """Return the day's water: at the flow typed, or by the forecast of the coming days."""
    zone, now = when
    day = asked.day or now.date()
    earliest = instant(now) if day == now.date() else np.datetime64("NaT", "s")
    rules = rules_of(got, [run.name for run in reach.runs])
    if math.isfinite(asked.flow):
        light = daylight(day, reach.longitude, reach.latitude, zone)
        up = light.hours
        times = np.zeros(0, dtype="datetime64[s]")
        if up is not None:
            begin, end = (instant(one) for one in up)
            times = np.arange(begin, end + HOUR, HOUR)
        flow = np.full(times.size, asked.flow)
        high = flow * GuideSettings().typed_margin
        return DayWater(times, flow, high, light, zone, rules, earliest, typed=True)
    ahead = (day - now.date()).days
    if not 0 <= ahead < MOST_DAYS:
        found = f"{day} is {'past' if ahead < 0 else f'{ahead} days ahead'}"
        fix = f"Name a day of the next {MOST_DAYS}, or the flow with --flow"
        raise MarkupError([Fault("--date", found, fix)])
    days = coming_days(folder, out, replace(asked.days, days=ahead + 1, now=now, zone=zone))
    one = days.days[ahead]
    hours = one.hours
    return DayWater(hours.times, hours.flow, hours.high, one.light, zone, rules, earliest)


def _not_mapped(water: DayWater, facts: GuideFacts, units: UnitSystem) -> list[Fault]:
    """Return the fault of a day whose flow is not known or not mapped."""
    flow = water.planned_flow
    day = f"{water.light.day:%Y-%m-%d}"
    if math.isnan(flow):
        found = "its flow is not known for all hours of light that are left"
        return [Fault(day, found, "Give a forecast with --forecast, or the flow with --flow")]
    ends = [flow_words(one.flow, units) for one in (facts.flows[0], facts.flows[-1])]
    found = f"{flow_words(flow, units)} is not mapped"
    return [Fault(day, found, f"Flows from {ends[0]} to {ends[1]} are: map more in reach.toml")]
