"""The planner's results as plain sentences, in the folder's units and the clock of the place."""

from __future__ import annotations

import math
from datetime import datetime, tzinfo

import numpy as np

from reachmap.angler.fly import FLIES, FlyRow, fly_for
from reachmap.base.units import FLOW, flow_words, from_si
from reachmap.base.words import (
    UnitSystem,
)
from reachmap.base.words_runs import Shut
from reachmap.gauge.clarity_data import BasisKind, ClarityBasis
from reachmap.planner.choose import DayConfidence, DayDoubt, DayPlan, DoubtKind
from reachmap.planner.day import Day, NotListed, RunDay
from reachmap.planner.facts import ReachFacts, boats_only
from reachmap.planner.hours import LIMB_PER_DAY
from reachmap.planner.outlook import CODES, Source
from reachmap.planner.sun import local
from reachmap.planner.water_temp import Warmth, oxygen_mg_l, warmth_of
from reachmap.text.fly import fly_words
from reachmap.text.numbers import distance_words, length_words, list_words, time_words
from reachmap.text.terms import KINDS
from reachmap.text.today import MINDED, NOTHING_DRAWN

LOCAL_RULES = (
    "This says nothing of whether the river is open: look up closures, seasons and gear rules for "
    "the day, read the official gauge before you go, and ask a local guide."
)


def clock(when: np.datetime64 | datetime, zone: tzinfo) -> str:
    """Return the time of day, like 07:45."""
    there = local(when, zone) if isinstance(when, np.datetime64) else when.astimezone(zone)
    return f"{there:%H:%M}"


def zone_words(when: np.datetime64, zone: tzinfo) -> str:
    """Return the name of the clock at an instant, like PST, or UTC-09 where it has none."""
    name = local(when, zone).tzname() or "UTC"
    return f"UTC{name}" if name[:1] in "+-" else name


def day_name(day: Day) -> str:
    """Return a day's name, like Sat 12 Jan."""
    return f"{day.light.day:%a} {day.light.day.day} {day.light.day:%b}"


def flow_span(low: float, high: float, units: UnitSystem) -> str:
    """Return a span of flows, like 2,190-2,450 cfs; one number where both are told alike."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return "not known"
    ends = [_rounded(one, units) for one in (low, high)]
    first, second = (flow_words(one, units) for one in ends)
    return first if first == second else f"{first.split(' ')[0]}-{second}"


def _rounded(flow: float, units: UnitSystem) -> float:
    """Return a flow [m3/s] rounded to two figures in the folder's units: it is worth no more."""
    shown = from_si(flow, FLOW[units])
    if shown <= 0:
        return flow
    step = 10.0 ** (math.floor(math.log10(shown)) - 1)
    return flow * (round(shown / step) * step) / shown


def flow_told(day: Day, units: UnitSystem) -> str:
    """Return the day's flow with its doubt and where it is heading, in one line."""
    hours = day.hours
    known = np.isfinite(hours.flow)
    if not known.any():
        return "Flow not known."
    flow = hours.flow[known]
    first, last = float(flow[0]), float(flow[-1])
    band = flow_span(float(hours.low[known].min()), float(hours.high[known].max()), units)
    told = flow_span(min(first, last), max(first, last), units)
    way = f"{told}, {trend_word(day)}" + ("" if told == band else f" (between {band})")
    return f"{way}. {source_words(hours.source)}"


def trend_word(day: Day) -> str:
    """Return whether the river rises, falls or stands over the day's light."""
    growth = day.hours.growth[np.isfinite(day.hours.growth)]
    if not growth.size:
        return "heading not known"
    if growth.max() > LIMB_PER_DAY:
        return "rising" if growth.min() > 0 else "rising for part of the day"
    return "falling" if growth.mean() < -LIMB_PER_DAY / 2 else "steady"


def source_words(codes: np.ndarray) -> str:
    """Return where the day's flow comes from."""
    words = {
        Source.READ: "as read",
        Source.FORECAST: "by the forecast",
        Source.FALL: "as the river falls if no rain comes",
        Source.UNKNOWN: "for part of it not known",
    }
    there = set(codes.tolist())
    told = list_words([word for source, word in words.items() if CODES[source] in there])
    return told[:1].upper() + told[1:] + "."


def clarity_told(day: Day, units: UnitSystem) -> str:
    """Return how far one will see, with its doubt and what it rests on."""
    known = [one for one in day.hours.clarity if math.isfinite(one.metres)]
    if not known:
        return "How far you will see: not known; too few notes of clarity for this river."
    middle = known[len(known) // 2]
    low, high = (length_words(one, units) for one in (middle.low, middle.high))
    return (
        f"You will see about {length_words(middle.metres, units)} ({low} to {high}), "
        f"by {basis_words(middle.basis)}."
    )


def light_told(day: Day) -> str:
    """Return the day's light."""
    light = day.light
    if light.hours is None:
        return "The sun does not rise."
    begin, end = light.hours
    first = "" if light.dawn is None else f", first light {light.dawn:%H:%M}"
    last = "" if light.dusk is None else f", dark by {light.dusk:%H:%M}"
    return f"Sun {begin:%H:%M} to {end:%H:%M}{first}{last}."


def rising_told(day: Day, zone: tzinfo) -> str:
    """Return what the water does while one is out: the way back."""
    hours = day.hours
    if not np.isfinite(hours.flow).any():
        return "Whether it rises while you are out is not known: treat it as if it did."
    if not np.isfinite(hours.flow).all():
        return (
            "For part of the day nobody knows the flow: stay on ground that needs no wading back."
        )
    word = trend_word(day)
    shut = [run for run in day.runs if not np.isnat(run.cut_off) and run.window is not None]
    if word.startswith("rising"):
        top = hours.times[int(np.argmax(hours.flow))]
        told = f"The water rises while you are out, to its highest at {clock(top, zone)}"
    else:
        told = f"The water is {word} while you are out"
    if not shut:
        return f"{told}; rain or a release may still lift it. Watch the edge."
    first = min(shut, key=lambda run: run.cut_off)
    return (
        f"{told}. The way back may close on {len(shut)} "
        f"{'run' if len(shut) == 1 else 'runs'}, first on {first.facts.name} at "
        f"{clock(first.cut_off, zone)}."
    )


def run_line(run: RunDay, zone: tzinfo, units: UnitSystem) -> str:
    """Return a run on the day in one line: when, what water, how well, how long for which part."""
    when = "all the light"
    if run.window is not None:
        when = f"{clock(run.window[0], zone)}-{clock(run.window[1], zone)}"
    kind = KINDS.get(run.at.kind, run.at.kind)
    prime = ", prime" if run.at.prime else ""
    time = time_words(run.at.minutes)
    if math.isfinite(run.at.stretch_m):
        time = f"{time} for its best {distance_words(run.at.stretch_m, units)}"
    return f"{when}: {kind}, {side_words(run.at.side)}{prime}; score {run.score:.0f}; {time}"


def pick_line(run: RunDay, zone: tzinfo, units: UnitSystem) -> str:
    """Return a run of a day's list in one line, with the one thing to mind there."""
    return f"{run_line(run, zone, units)}; mind: {minded(run)}"


def minded(run: RunDay) -> str:
    """Return the one thing to mind at a run, at the flow read that is nearest to the day's."""
    return MINDED[run.at.mind] if run.at.mind else NOTHING_DRAWN


def side_words(side: str) -> str:
    """Return which bank."""
    if side == "both":
        return "both banks"
    return f"river {side}" if side in ("left", "right") else side


def bring_told(
    day: Day, plan: DayPlan, units: UnitSystem, flies: tuple[FlyRow, ...] = FLIES
) -> list[str]:
    """Return what to bring: rod, head and tip for the day's runs, the fly, what keeps one up."""
    gear = dict.fromkeys(item for pick in plan.picks for item in pick.run.at.gear[1:] if item)
    told = [f"Gear for the listed runs: {list_words(list(gear))}."] if gear else []
    casts = dict.fromkeys(pick.run.at.gear[0] for pick in plan.picks if pick.run.at.gear[0])
    if casts:
        told.append(f"Casts that have room there: {list_words(list(casts))}.")
    known = [one.metres for one in day.hours.clarity if math.isfinite(one.metres)]
    seen = known[len(known) // 2] if known else math.nan
    told.append(fly_words(fly_for(seen, flies), seen, units))
    told.append("Wading belt, staff, a watch, and somebody who knows where you are.")
    return told


NOT_LISTED = {
    NotListed.CUT_OFF: "the way back may close that day",
    NotListed.ISLAND: "from an island or bar",
    NotListed.BOAT: "no way on foot is drawn",
    NotListed.SHUT: "one cannot fish it at this flow",
    NotListed.TIME_UNKNOWN: "nobody knows how long it takes",
    NotListed.LESSER: "lesser, or no light left for it",
    NotListed.OTHER_BANK: "on the other bank",
}
"""Why a run that is in shape is not on a day's list."""


def not_listed_words(run: RunDay, reason: NotListed) -> str:
    """Return why a run in shape is not on the list, a shut one with its own reason."""
    if reason is NotListed.SHUT and run.at.shut:
        return Shut(run.at.shut).meaning
    return NOT_LISTED[reason]


DOUBTS = {
    DoubtKind.ODDS: "in less than half of the courses the flow may take it is in shape",
    DoubtKind.FLOW_UNKNOWN: "the flow is not known",
    DoubtKind.FLOW_PARTLY_UNKNOWN: "the flow is not known for part of the day",
    DoubtKind.CLARITY_UNKNOWN: "clarity is not known, and is left out of the score",
    DoubtKind.PREVIEW: "the build is a quick preview",
    DoubtKind.BED_POOR: "little is known of the bed",
    DoubtKind.BED_FAIR: "the bed is fairly known",
    DoubtKind.STEEP_SCORE: "the best run's score hangs much on the flow",
}
"""What limits the confidence in a day; the two that depend on time are worded in `doubt_words`."""

BASES = {
    BasisKind.NONE: "nothing that is known",
    BasisKind.HELD_NOTE: "the last note, held for a day and a half at most",
    BasisKind.FALL_NOTE: "one note of this fall, cleared along it as other rivers clear",
    BasisKind.OWN_LAW: "your two sightings in reach.toml, whose doubt is not known",
    BasisKind.TURBIDITY: "the turbidity read",
    BasisKind.SAID: "what you said",
}
"""What a clarity rests on, where no count of notes is part of it."""

WARMTHS = {
    Warmth.COLD: "fish hardly move for a fly: fish slow and close",
    Warmth.QUICK: "cold: slow water and a slow swing",
    Warmth.LIVELY: "fish move well for a fly",
    Warmth.WARM: "warm for these fish: land them quickly, keep them wet, stop early",
    Warmth.REST: "too warm to play a fish that is to live: leave them in peace",
}
"""What the water's temperature means; common practice, no published source."""


def basis_words(basis: ClarityBasis) -> str:
    """Return what a clarity rests on."""
    words = BASES.get(basis.kind, "")
    if basis.kind is BasisKind.LIMB_NOTES:
        words = f"{basis.notes} notes on the {basis.limb} limb"
    elif basis.kind is BasisKind.ALL_NOTES:
        words = f"{basis.notes} notes, rise and fall together"
    elif basis.kind is BasisKind.CLEARED_NOTE:
        words = f"the last note, cleared on as between {basis.notes} pairs of notes"
    return f"{words}, and the note of this storm" if basis.storm_note else words


def doubt_words(doubt: DayDoubt) -> str:
    """Return one thing that limits the confidence in a day."""
    if doubt.kind is DoubtKind.RECESSION:
        ahead = days_words(doubt.days)
        return f"the flow is the river's own fall if no rain comes, {ahead} after the last reading"
    if doubt.kind is DoubtKind.FORECAST:
        return f"the flow is a forecast, {days_words(doubt.days)} ahead"
    return DOUBTS[doubt.kind]


def days_words(days: float) -> str:
    """Return a length of time [d] to a day."""
    if days < 1:
        return "less than a day"
    return "a day" if round(days) == 1 else f"{days:.0f} days"


def sure_told(sure: DayConfidence) -> str:
    """Return how sure a day's advice is."""
    word = {"low": "Little sure", "fair": "Fairly sure", "good": "Sure"}[str(sure.word)]
    because = "; ".join(doubt_words(doubt) for doubt in sure.because)
    return f"{word}: {because}." if because else f"{word}."


def temperature_words(celsius: float, units: UnitSystem) -> str:
    """Return plain words on the water's temperature [C]; empty where it is not known."""
    warmth = warmth_of(celsius)
    if warmth is None:
        return ""
    shown = f"{celsius * 9 / 5 + 32:.0f} °F" if units is UnitSystem.US else f"{celsius:.1f} °C"
    oxygen = oxygen_mg_l(celsius)
    holds = f"; it holds at most {oxygen:.1f} mg/L of oxygen" if math.isfinite(oxygen) else ""
    return f"Water {shown}: {WARMTHS[warmth]} (common practice){holds}."


def boat_told(facts: ReachFacts) -> str:
    """Return that only a boat leads to a reach's runs; empty where another way is known."""
    if not boats_only(one for run in facts.runs for one in run.at):
        return ""
    return (
        "By the ways you drew only a boat leads to its runs, so none is proposed. If you come by "
        "boat, write boat = true in [outing] of reach.toml; whether it can be floated nobody here "
        "knows."
    )
