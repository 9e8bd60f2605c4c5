"""Which runs in which order on a day, which day is best, and how sure all that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from reachmap.angler.short_list import ListSettings
from reachmap.base.words import Confidence
from reachmap.gauge.series import DAY, HOUR
from reachmap.planner.day import Day, NotListed, RunDay, why_not
from reachmap.planner.facts import ReachFacts
from reachmap.planner.hours import light_minutes
from reachmap.planner.outlook import CODES, Outlook, Source
from reachmap.planner.score import confidence_at

LIST = ListSettings()
"""How many runs are listed: as on the map's list of a flow."""

LEAST_MIN = 20.0
"""For less time than this nobody walks to a run [min]; our choice, 10-40."""

LATE_HOURS = 1.5
"""A run that comes into shape later than this after first light is put last; our choice, 1-3."""

WIDE_SPAN = 25.0
"""A score that spans more than this over the flow's band is little sure; our choice, 15-35."""

NEAR_TOP = 2.0
"""Of days whose scores lie within this of the highest the first is best; our choice, 1-5."""

POOR_BED, FAIR_BED = 0.5, 0.7
"""A bed of less confidence than the first is poorly known, than the second fairly; our choice."""

EVEN_ODDS = 0.5
"""A day that is in shape in fewer of the flow's courses is little sure; our choice, 0.4-0.7."""

FAR_DAYS, NEAR_DAYS = 3.0, 1.5
"""A fall or forecast further ahead than the first is little sure, nearer than the second may be
sure; our choice."""


BOTH = "both"
"""Bank of a list for who gets across the river."""


@dataclass(frozen=True, slots=True)
class Pick:
    """A run of the day's list: from when (UTC), and how many minutes of it are left by then."""

    run: RunDay
    begin: np.datetime64
    minutes: float


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A day's list: runs in order, all on one bank, minutes with the ways between, who is left out.

    `light_min` is how long the runs of the day are worth going to, from the first to the last;
    `left_out` are runs in shape that are not on the list, each with the reason.
    """

    picks: tuple[Pick, ...]
    bank: str
    total_min: float
    light_min: float
    left_out: tuple[tuple[RunDay, NotListed], ...]


def plan_day(day: Day, facts: ReachFacts) -> DayPlan:
    """Return which runs to fish in which order.

    Parameters
    ----------
    day
        The day.
    facts
        Of the reach: minutes from run to run, and the trip's hours and banks.

    Notes
    -----
    The best runs that fit into the trip's hours and the day's, all on the bank on which they are
    worth most together, unless one gets across: nobody is sent across the river. They are ordered
    by the access they are nearest to, downstream, and downstream from it; one that comes into shape
    late comes last. Runs whose way back may close within the day, that one cannot fish at the flow,
    to which no way on foot is drawn, or whose time nobody knows, are not listed.
    """
    light, between_min = min(_span_minutes(day), 60 * facts.trip_hours), facts.between_min
    fit: dict[str, list[RunDay]] = {"left": [], "right": []}
    if facts.both_banks:
        fit = {BOTH: []}
    elif facts.own_bank in fit:
        fit = {facts.own_bank: [], **fit}
    left_out: list[tuple[RunDay, NotListed]] = []
    for run in day.in_shape:
        reason = why_not(run)
        if reason is not None:
            left_out.append((run, reason))
        else:
            fit[BOTH if facts.both_banks else run.at.side].append(run)
    chosen = {bank: _that_fit(runs, light, between_min) for bank, runs in fit.items()}
    worth = {bank: sum(r.score * r.at.minutes for r in runs) for bank, runs in chosen.items()}
    bank = max(worth, key=lambda name: worth[name])
    if facts.own_bank in fit:
        bank = facts.own_bank
    mine = chosen[bank]
    for other, runs in fit.items():
        why = NotListed.LESSER if other == bank else NotListed.OTHER_BANK
        left_out += [(run, why) for run in runs if run not in mine]
    picks = _in_order(mine, between_min, 60 * facts.trip_hours)
    gone = [run for run in mine if run not in [pick.run for pick in picks]]
    left_out += [(run, NotListed.LESSER) for run in gone]
    left_out.sort(key=lambda pair: -pair[0].score)
    total = sum(pick.minutes for pick in picks) + between_min * max(len(picks) - 1, 0)
    return DayPlan(picks, bank if picks else "", total, light, tuple(left_out))


def _span_minutes(day: Day) -> float:
    """Return how long some run is in shape and worth going to, within the day's light [min]."""
    windows = [run.window for run in day.in_shape if run.window is not None and not why_not(run)]
    if not windows:
        return light_minutes(day.hours)
    span = max(end for _, end in windows) - min(begin for begin, _ in windows)
    return float(span / np.timedelta64(60, "s"))


def _that_fit(runs: Sequence[RunDay], light: float, between_min: float) -> list[RunDay]:
    """Return the best runs whose minutes fit into the light together; the best one always."""
    kept: list[RunDay] = []
    used = 0.0
    for run in runs:
        more = run.at.minutes + (between_min if kept else 0.0)
        worth = len(kept) < LIST.least or run.score >= LIST.worth_share * runs[0].score
        if worth and len(kept) < LIST.most and (not kept or used + more <= light):
            kept.append(run)
            used += more
    return kept


def _in_order(runs: Sequence[RunDay], between_min: float, trip_min: float) -> tuple[Pick, ...]:
    """Return runs in the order one fishes them, with the time each begins.

    A long run is left when the last window of the day ends, on the day's own light: nobody is kept
    on the river after that, nor longer than the trip lasts [min]. A run with less than `LEAST_MIN`
    left by then is not in the list.
    """
    if not runs:
        return ()
    first = min(run.window[0] for run in runs if run.window is not None)
    last = max(run.window[1] for run in runs if run.window is not None)
    if math.isfinite(trip_min):
        last = min(last, first + np.timedelta64(round(60 * trip_min), "s"))

    def place(run: RunDay) -> tuple[bool, int, float]:
        late = run.window is not None and bool((run.window[0] - first) / HOUR > LATE_HOURS)
        return late, run.facts.access, run.facts.station_m

    picks = []
    now = first
    for run in sorted(runs, key=place):
        begin = now if run.window is None else max(now, run.window[0])
        minutes = min(run.at.minutes, float((last - begin) / np.timedelta64(60, "s")))
        if minutes < min(LEAST_MIN, run.at.minutes):
            continue
        picks.append(Pick(run, begin, minutes))
        now = begin + np.timedelta64(round((minutes + between_min) * 60), "s")
    return tuple(picks)


def best_day(days: Sequence[Day]) -> int | None:
    """Return the position of the best day by expected worth; None where none has a run.

    The first within `NEAR_TOP` of the highest score: the sooner, the surer. A closed day has no run
    in shape and is worth nothing.
    """
    worth = [day.score if day.in_shape and day.score > 0 else -math.inf for day in days]
    top = max(worth, default=-math.inf)
    if math.isinf(top):
        return None
    return next(index for index, one in enumerate(worth) if one >= top - NEAR_TOP)


class DoubtKind(StrEnum):
    """What limits the confidence in a day's advice."""

    FLOW_UNKNOWN = "flow_unknown"
    FLOW_PARTLY_UNKNOWN = "flow_partly_unknown"
    RECESSION = "recession"
    FORECAST = "forecast"
    CLARITY_UNKNOWN = "clarity_unknown"
    PREVIEW = "preview"
    BED_POOR = "bed_poor"
    BED_FAIR = "bed_fair"
    STEEP_SCORE = "steep_score"
    ODDS = "odds"


@dataclass(frozen=True, slots=True)
class DayDoubt:
    """One thing that limits a day's confidence to `limit`; `days` ahead [d], NaN where it has none.

    `days` counts from the last reading for a recession, from now for a forecast.
    """

    kind: DoubtKind
    limit: Confidence
    days: float = math.nan


@dataclass(frozen=True, slots=True)
class DayConfidence:
    """Confidence in a day's advice: that of the weakest thing it rests on, and those things."""

    word: Confidence
    because: tuple[DayDoubt, ...]


def how_sure(day: Day, facts: ReachFacts, outlook: Outlook) -> DayConfidence:
    """Return the confidence in a day's advice: that of the weakest thing it rests on."""
    hours = day.hours
    known = hours.flow[np.isfinite(hours.flow)]
    if not known.size:
        unknown = DayDoubt(DoubtKind.FLOW_UNKNOWN, Confidence.LOW)
        return DayConfidence(Confidence.LOW, (unknown,))
    found = [*_flow_doubts(day, outlook), *_other_doubts(day, facts, float(np.median(known)))]
    order = [Confidence.LOW, Confidence.FAIR]
    limits = [doubt.limit for doubt in found]
    word = next((one for one in order if one in limits), Confidence.GOOD)
    return DayConfidence(word, tuple(found))


def _flow_doubts(day: Day, outlook: Outlook) -> list[DayDoubt]:
    """Return what limits the confidence in the day's flow."""
    hours, found = day.hours, []
    since = math.inf
    if not np.isnat(outlook.last):
        since = float((hours.times[-1] - outlook.last) / DAY)
    coming = float((hours.times[-1] - outlook.now) / DAY)
    codes = set(hours.source.tolist())
    if CODES[Source.UNKNOWN] in codes:
        found.append(DayDoubt(DoubtKind.FLOW_PARTLY_UNKNOWN, Confidence.LOW))
    if CODES[Source.FALL] in codes:
        found.append(DayDoubt(DoubtKind.RECESSION, _by_time(since), since))
    if CODES[Source.FORECAST] in codes and coming > NEAR_DAYS:
        found.append(DayDoubt(DoubtKind.FORECAST, _by_time(coming), coming))
    return found


def _by_time(days: float) -> Confidence:
    """Return how sure a flow is so many days ahead."""
    return Confidence.LOW if days > FAR_DAYS else Confidence.FAIR


def _other_doubts(day: Day, facts: ReachFacts, flow: float) -> list[DayDoubt]:
    """Return what else limits it: clarity, bed, a score that changes much with the flow."""
    found = []
    if any(math.isnan(one.metres) for one in day.hours.clarity):
        found.append(DayDoubt(DoubtKind.CLARITY_UNKNOWN, Confidence.FAIR))
    if facts.preview:
        found.append(DayDoubt(DoubtKind.PREVIEW, Confidence.LOW))
    sure = confidence_at(facts, flow)
    if math.isnan(sure) or sure < POOR_BED:
        found.append(DayDoubt(DoubtKind.BED_POOR, Confidence.LOW))
    elif sure < FAIR_BED:
        found.append(DayDoubt(DoubtKind.BED_FAIR, Confidence.FAIR))
    if math.isfinite(day.odds.share) and day.odds.share < EVEN_ODDS:
        found.append(DayDoubt(DoubtKind.ODDS, Confidence.LOW))
    top = day.in_shape[:1]
    if top and not top[0].high - top[0].low <= WIDE_SPAN:
        found.append(DayDoubt(DoubtKind.STEEP_SCORE, Confidence.LOW))
    return found
