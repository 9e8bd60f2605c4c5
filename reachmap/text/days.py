"""The planner's results as plain sentences, in the folder's units and the clock of the place."""

from __future__ import annotations

import math
from datetime import date, datetime, tzinfo

import numpy as np

from reachmap.angler.fly import FLIES, FlyRow, fly_for
from reachmap.base.language import date_text, noted, tr, tr_count
from reachmap.base.units import flow_words
from reachmap.base.words import (
    UnitSystem,
)
from reachmap.base.words_runs import Shut
from reachmap.gauge.clarity_data import BasisKind, ClarityBasis
from reachmap.planner.choose import ConfidenceLimit, DayConfidence, DayPlan, LimitKind
from reachmap.planner.day import Day, NotListed, RunDay
from reachmap.planner.facts import ReachFacts, boats_only
from reachmap.planner.hours import LIMB_PER_DAY
from reachmap.planner.outlook import CODES, Source
from reachmap.planner.sun import local
from reachmap.text.fly import fly_words
from reachmap.text.numbers import (
    NOT_KNOWN,
    distance_words,
    length_words,
    list_words,
    time_words,
    two_figures,
)
from reachmap.text.plain_words import in_words
from reachmap.text.terms import KINDS, SIDES
from reachmap.text.today import MINDED, NOTHING_DRAWN

LOCAL_RULES = noted(
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
    return short_date(day.light.day)


def short_date(day: date) -> str:
    """Return a date without its year, like Sat 12 Jan."""
    return date_text(day, "day")


def flow_span(low: float, high: float, units: UnitSystem) -> str:
    """Return a span of flows, like 2,190-2,450 cfs; one number where both read alike."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return tr(NOT_KNOWN)
    ends = [two_figures(one, units) for one in (low, high)]
    first, second = (flow_words(one, units) for one in ends)
    return first if first == second else f"{first.split(' ')[0]}-{second}"


def flow_sentence(day: Day, units: UnitSystem) -> str:
    """Return the day's flow with its band, trend and source, in one line."""
    way = flow_short(day, units, banded=True)
    return f"{way}. {source_words(day.hours.source)}" if way else tr("Flow not known.")


def flow_short(day: Day, units: UnitSystem, *, banded: bool = False) -> str:
    """Return the day's flow and its trend, with its band if wanted; empty where not known."""
    hours = day.hours
    known = np.isfinite(hours.flow)
    if not known.any():
        return ""
    flow = hours.flow[known]
    first, last = float(flow[0]), float(flow[-1])
    band = flow_span(float(hours.low[known].min()), float(hours.high[known].max()), units)
    span = flow_span(min(first, last), max(first, last), units)
    way = f"{span}, {trend_word(day)}"
    if banded and span != band:
        return tr("{flow} (between {band})", flow=way, band=band)
    return way


def trend_word(day: Day) -> str:
    """Return whether the river rises, falls or stands over the day's light."""
    growth = day.hours.growth[np.isfinite(day.hours.growth)]
    if not growth.size:
        return tr("heading not known")
    if _rises(day):
        return tr("rising") if growth.min() > 0 else tr("rising for part of the day")
    return tr("falling") if growth.mean() < -LIMB_PER_DAY / 2 else tr("steady")


def _rises(day: Day) -> bool:
    """Return whether the river rises for part of the day's light at least."""
    growth = day.hours.growth[np.isfinite(day.hours.growth)]
    return bool(growth.size and growth.max() > LIMB_PER_DAY)


def source_words(codes: np.ndarray) -> str:
    """Return the sources of the day's flow."""
    words = {
        Source.READ: tr("as read"),
        Source.FORECAST: tr("by the forecast"),
        Source.FALL: tr("as the river falls if no rain comes"),
        Source.UNKNOWN: tr("for part of it not known"),
    }
    there = set(codes.tolist())
    words_there = list_words([word for source, word in words.items() if CODES[source] in there])
    return words_there[:1].upper() + words_there[1:] + "."


def clarity_sentence(day: Day, units: UnitSystem) -> str:
    """Return the sentence on the day's clarity, with its band and basis."""
    known = [one for one in day.hours.clarity if math.isfinite(one.metres)]
    if not known:
        return tr("How far you will see: not known; too few notes of clarity for this river.")
    middle = known[len(known) // 2]
    low, high = (length_words(one, units) for one in (middle.low, middle.high))
    return tr(
        "You will see about {metres} ({low} to {high}), by {basis}.",
        metres=length_words(middle.metres, units),
        low=low,
        high=high,
        basis=basis_words(middle.basis),
    )


def light_sentence(day: Day) -> str:
    """Return the day's light."""
    light = day.light
    if light.hours is None:
        return tr("The sun does not rise.")
    begin, end = light.hours
    parts = [tr("Sun {begin} to {end}", begin=f"{begin:%H:%M}", end=f"{end:%H:%M}")]
    if light.dawn is not None:
        parts.append(tr("first light {dawn}", dawn=f"{light.dawn:%H:%M}"))
    if light.dusk is not None:
        parts.append(tr("dark by {dusk}", dusk=f"{light.dusk:%H:%M}"))
    return f"{', '.join(parts)}."


def rising_sentence(day: Day, zone: tzinfo) -> str:
    """Return the sentence on rising water while one is out, and on the way back."""
    hours = day.hours
    if not np.isfinite(hours.flow).any():
        return tr("Whether it rises while you are out is not known: treat it as if it did.")
    if not np.isfinite(hours.flow).all():
        return tr(
            "For part of the day nobody knows the flow: stay on ground that needs no wading back."
        )
    word = trend_word(day)
    shut = [run for run in day.runs if not np.isnat(run.cut_off) and run.window is not None]
    if _rises(day):
        top = hours.times[int(np.argmax(hours.flow))]
        sentence = tr(
            "The water rises while you are out, to its highest at {top}", top=clock(top, zone)
        )
    else:
        sentence = tr("The water is {word} while you are out", word=word)
    if not shut:
        return tr(
            "{sentence}; rain or a release may still lift it. Watch the edge.", sentence=sentence
        )
    first = min(shut, key=lambda run: run.cut_off)
    return tr_count(
        "{sentence}. The way back may close on {count} run, first on {run} at {at}.",
        "{sentence}. The way back may close on {count} runs, first on {run} at {at}.",
        len(shut),
        sentence=sentence,
        run=first.facts.name,
        at=clock(first.cut_off, zone),
    )


def run_line(run: RunDay, zone: tzinfo, units: UnitSystem) -> str:
    """Return a run on the day in one line: hours, kind of water, score, minutes and stretch."""
    when = tr("all the light")
    if run.window is not None:
        when = f"{clock(run.window[0], zone)}-{clock(run.window[1], zone)}"
    kind = tr(KINDS.get(run.at.kind, run.at.kind))
    prime = tr(", prime") if run.at.prime else ""
    time = time_words(run.at.minutes)
    if math.isfinite(run.at.stretch_m):
        time = tr(
            "{time} for its best {stretch}",
            time=time,
            stretch=distance_words(run.at.stretch_m, units),
        )
    return tr(
        "{when}: {kind}, {side}{prime}; score {score}; {time}",
        when=when,
        kind=kind,
        side=side_words(run.at.side),
        prime=prime,
        score=f"{run.score:.0f}",
        time=time,
    )


def pick_line(run: RunDay, zone: tzinfo, units: UnitSystem) -> str:
    """Return a run of a day's list in one line, with the one thing to mind there."""
    return tr("{run}; mind: {mind}", run=run_line(run, zone, units), mind=minded(run))


def minded(run: RunDay) -> str:
    """Return the one thing to mind at a run, at the flow read that is nearest to the day's."""
    return tr(MINDED[run.at.mind]) if run.at.mind else tr(NOTHING_DRAWN)


def side_words(side: str) -> str:
    """Return which bank."""
    if side == "both":
        return tr("both banks")
    return tr(SIDES[side]) if side in ("left", "right") else in_words(side)


def bring_sentences(
    day: Day, plan: DayPlan, units: UnitSystem, flies: tuple[FlyRow, ...] = FLIES
) -> list[str]:
    """Return what to bring: rod, head and tip for the day's runs, the fly, wading gear."""
    gear = dict.fromkeys(item for pick in plan.picks for item in pick.run.at.gear[1:] if item)
    sentences = (
        [tr("Gear for the listed runs: {gear}.", gear=list_words(list(gear)))] if gear else []
    )
    casts = dict.fromkeys(pick.run.at.gear[0] for pick in plan.picks if pick.run.at.gear[0])
    if casts:
        named = list_words([in_words(cast) for cast in casts])
        sentences.append(tr("Casts that have room there: {casts}.", casts=named))
    known = [one.metres for one in day.hours.clarity if math.isfinite(one.metres)]
    seen = known[len(known) // 2] if known else math.nan
    sentences.append(fly_words(fly_for(seen, flies), seen, units))
    sentences.append(tr("Wading belt, staff, a watch, and somebody who knows where you are."))
    return sentences


NOT_LISTED = {
    NotListed.CUT_OFF: noted("the way back may close that day"),
    NotListed.ISLAND: noted("from an island or bar"),
    NotListed.BOAT: noted("no way on foot is drawn"),
    NotListed.SHUT: noted("one cannot fish it at this flow"),
    NotListed.TIME_UNKNOWN: noted("nobody knows how long it takes"),
    NotListed.LESSER: noted("lesser, or no light left for it"),
    NotListed.OTHER_BANK: noted("on the other bank"),
}
"""Why a run that is in shape is not on a day's list."""


def not_listed_words(run: RunDay, reason: NotListed) -> str:
    """Return why a run in shape is not on the list; for a shut one the reason it is shut."""
    if reason is NotListed.SHUT and run.at.shut:
        return tr(Shut(run.at.shut).meaning)
    return tr(NOT_LISTED[reason])


LIMITS = {
    LimitKind.ODDS: noted("in less than half of the courses the flow may take it is in shape"),
    LimitKind.FLOW_UNKNOWN: noted("the flow is not known"),
    LimitKind.FLOW_PARTLY_UNKNOWN: noted("the flow is not known for part of the day"),
    LimitKind.CLARITY_UNKNOWN: noted("clarity is not known, and is left out of the score"),
    LimitKind.PREVIEW: noted("the build is a quick preview"),
    LimitKind.BED_POOR: noted("little is known of the bed"),
    LimitKind.BED_FAIR: noted("the bed is fairly known"),
    LimitKind.STEEP_SCORE: noted("the best run's score hangs much on the flow"),
}
"""Limits of the confidence in a day; the two with a lead are in `confidence_limit_words`."""

BASES = {
    BasisKind.NONE: noted("nothing that is known"),
    BasisKind.HELD_NOTE: noted("the last note, held for a day and a half at most"),
    BasisKind.FALL_NOTE: noted("one note of this fall, cleared along it as other rivers clear"),
    BasisKind.OWN_LAW: noted("your two sightings in reach.toml, whose doubt is not known"),
    BasisKind.TURBIDITY: noted("the turbidity read"),
    BasisKind.GIVEN: noted("what you said"),
}
"""Basis of a clarity, where no count of notes is part of it."""


def basis_words(basis: ClarityBasis) -> str:
    """Return the basis of a clarity."""
    words = tr(BASES.get(basis.kind, ""))
    if basis.kind is BasisKind.LIMB_NOTES:
        words = tr("{notes} notes on the {limb} limb", notes=basis.notes, limb=in_words(basis.limb))
    elif basis.kind is BasisKind.ALL_NOTES:
        words = tr("{notes} notes, rise and fall together", notes=basis.notes)
    elif basis.kind is BasisKind.CLEARED_NOTE:
        words = tr("the last note, cleared on as between {notes} pairs of notes", notes=basis.notes)
    return tr("{words}, and the note of this storm", words=words) if basis.storm_note else words


def confidence_limit_words(limit: ConfidenceLimit) -> str:
    """Return one limit of the confidence in a day."""
    if limit.kind is LimitKind.RECESSION:
        ahead = days_words(limit.days)
        return tr(
            "the flow is the river's own fall if no rain comes, {ahead} after the last reading",
            ahead=ahead,
        )
    if limit.kind is LimitKind.FORECAST:
        return tr("the flow is a forecast, {days} ahead", days=days_words(limit.days))
    return tr(LIMITS[limit.kind])


def days_words(days: float) -> str:
    """Return a duration [d], to a day."""
    if days < 1:
        return tr("less than a day")
    return tr("a day") if round(days) == 1 else tr("{days} days", days=f"{days:.0f}")


def confidence_sentence(sure: DayConfidence) -> str:
    """Return the confidence in a day's advice, with its limits."""
    words = {"low": tr("Little sure"), "fair": tr("Fairly sure"), "good": tr("Sure")}
    word = words[str(sure.word)]
    because = "; ".join(confidence_limit_words(one) for one in sure.because)
    return f"{word}: {because}." if because else f"{word}."


def boat_sentence(facts: ReachFacts) -> str:
    """Return that only a boat leads to a reach's runs; empty where another way is known."""
    if not boats_only(one for run in facts.runs for one in run.at):
        return ""
    return tr(
        "By the ways you drew only a boat leads to its runs, so none is proposed. If you come by "
        "boat, write boat = true in [outing] of reach.toml; whether it can be floated nobody here "
        "knows."
    )
