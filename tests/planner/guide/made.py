"""A made reach and party for tests of a guide's day, laid by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.angler.rules import WadeLimit
from reachmap.base.words import WadeRule
from reachmap.planner.guide.day import DayWater, GuideInputs
from reachmap.planner.guide.facts import (
    DrawnAccess,
    FlowWater,
    Grading,
    GuideFacts,
    RunWater,
    Stand,
)
from reachmap.planner.guide.people import Offer, Party, Person
from reachmap.planner.guide.settings import GuideSettings
from reachmap.planner.guide.ways import Frame, Spot
from reachmap.planner.hours import instant
from reachmap.planner.rules import NO_RULES, Rules
from reachmap.planner.sun import daylight

RULES = (WadeRule.TEN, WadeRule.FAILURE, WadeRule.POOR, WadeRule.FLOOD, WadeRule.ADVICE)
TALL = Person("Tall", 1.78, 0.9, 26.0)
SMALL = Person("Small", 1.55, 0.5, 26.0)
GRADING = Grading(
    limit=WadeLimit(0.32, 0.89, 0.8),
    rules=RULES,
    own=WadeLimit(),
    depth_share_high=0.5,
    height_m=1.78,
    wade_limit_m=0.9,
    cast_limit_m=26.0,
    mass_kg=math.nan,
    heads=(("skagit 24", 7.3), ("scandi 34", 10.4)),
    rods=("13 ft 7-weight",),
    tips=("T-11",),
)


def made_stand(station: float, side: str = "left", **changed: object) -> Stand:
    """Return a place on dry ground with room for a cast, dry ground leading there."""
    stand = Stand(
        lon=-124.4, lat=47.95 - station / 111000, side=side, station_m=station, depth_m=0.0,
        speed_m_s=0.0, zone_depth_m=math.nan, zone_speed_m_s=math.nan, way="foot", dry_way=True,
        castable=True, cast_m=18.0, head_max_m=12.0, odds=1.0, open_until=math.inf,
        hand_shuts=False, cast="double spey", rod="13 ft 7-weight", head="skagit 24", tip="T-11",
    )  # fmt: skip
    return replace(stand, **changed)  # type: ignore[arg-type]


def made_water(
    name: str, start: float, rate: float, *, length: float = 100.0, side: str = "left",
    minutes: float = 60.0, shut: str = "", **changed: object,
) -> RunWater:  # fmt: skip
    """Return a run with a place each 20 m; `changed` are columns of its places."""
    stands = tuple(
        made_stand(float(at), side, **changed) for at in np.arange(start, start + length + 1, 20)
    )
    return RunWater(name, "run", side, start, start + length, minutes, rate, shut, "", True, stands)


def made_flow(runs: tuple[RunWater, ...], flow: float = 50.0, speed: float = 1.0) -> FlowWater:
    """Return the reach at a flow that drifts at one speed."""
    line = tuple(float(at) for at in range(0, 5001, 10))
    return FlowWater(flow, f"{flow:.0f}", runs, line, tuple(at / speed for at in line), 0.0)


def made_facts(runs: tuple[RunWater, ...], gates: tuple[DrawnAccess, ...] = ()) -> GuideFacts:
    """Return facts of two flows read, the same at both."""
    flows = (made_flow(runs, 40.0), made_flow(runs, 50.0))
    return GuideFacts(
        flows, gates or (DrawnAccess("parking", "upper", 0.0, -124.4, 47.95),), GRADING, 10.0
    )


def made_spot(number: int, rate: float = 50.0, holds: int = 1, stop: int | None = None) -> Spot:
    """Return a run of a day's plan, 300 m below the one before."""
    return Spot(
        f"Run {number}", "left", 300.0 * number, holds, 5.0,
        number if stop is None else stop, rate, rate / 100.0,
    )  # fmt: skip


def made_frame(spots: tuple[Spot, ...], turns: int, *, boat: bool = False, **changed: object):
    """Return a day of turns of 75 minutes, every run open in each."""
    settings = replace(GuideSettings(), **changed)  # type: ignore[arg-type]
    open_ = np.ones((len(spots), turns), dtype=bool)
    return Frame(spots, open_, made_flow(()), 75.0, 10.0, boat, settings)


def made_offers(spots: tuple[Spot, ...], *, minutes: float = 60.0) -> dict[int, Offer]:
    """Return what the runs offer a rod that the map was graded for: a pass takes an hour."""
    found = {}
    for number, spot in enumerate(spots):
        run = made_water(spot.name, spot.middle_m - 50, spot.rate, minutes=minutes)
        found[number] = Offer(run, run.stands, 1.0, minutes, own_limits=False)
    return found


def made_party(*people: Person, **changed: object) -> Party:
    """Return a party; Tall alone where nobody is named."""
    return replace(Party(people or (TALL,)), **changed)  # type: ignore[arg-type]


ZONE = ZoneInfo("America/Los_Angeles")


def made_day(flow: float = 45.0, high: float = 48.0, rules: Rules = NO_RULES) -> DayWater:
    """Return a January day that stands at one flow."""
    light = daylight(date(2031, 1, 14), -124.4, 47.95, ZONE)
    begin, end = (instant(one) for one in light.hours)
    times = np.arange(begin, end, np.timedelta64(3600, "s"))
    return DayWater(times, np.full(times.size, flow), np.full(times.size, high), light, ZONE, rules)


def made_inputs(
    runs: tuple[RunWater, ...], party: Party | None = None, **changed: object
) -> GuideInputs:
    """Return what a day is planned from."""
    facts = made_facts(runs, changed.pop("gates", ()))
    inputs = GuideInputs(facts, facts.flows[1], made_day(), party or made_party())
    return replace(inputs, **changed)
