"""Which runs in which order on a day, which day is best, and the confidence in that."""

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
"""Number of runs listed: as on the map's list of a flow."""

LEAST_MIN = 20.0
"""Shortest time for which a run is listed [min]; our choice, 10-40."""

LATE_HOURS = 1.5
"""A run that comes into shape this long after the first one is put last [h]; our choice, 1-3."""

WIDE_SPAN = 25.0
"""Span of a score over the flow's band above which confidence is low; our choice, 15-35."""

NEAR_TOP = 2.0
"""Scores within this of the highest count as equal: the first day is best; our choice, 1-5."""

POOR_BED, FAIR_BED = 0.5, 0.7
"""Confidence of the bed below which it is poorly, and fairly, known; our choice."""

EVEN_ODDS = 0.5
"""Share of the flow's members in shape below which confidence is low; our choice, 0.4-0.7."""

FAR_DAYS, NEAR_DAYS = 3.0, 1.5
"""Days ahead above which a recession or forecast has low confidence, and up to which it may have
good; our choice."""


BOTH = "both"
"""`DayPlan.bank` of a list for those who can cross the river."""


@dataclass(frozen=True, slots=True)
class Pick:
    """A run of the day's list: from when (UTC), and how many minutes of it are left by then."""

    run: RunDay
    begin: np.datetime64
    minutes: float


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A day's list: runs in order, all on one bank; total minutes with the ways between.

    `light_min` is the time from the first window's begin to the last one's end [min], or the trip's
    hours if shorter; `left_out` are runs in shape that are not on the list, each with the reason.
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
    worth most together, unless one can cross: no list leads across the river. They are ordered by
    their nearest access, downstream, and downstream from it; one that comes into shape late comes
    last. Runs whose way back may close within the day, that cannot be fished at the flow, to which
    no way on foot is drawn, or whose time is not known, are not listed (`why_not`).
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
    """Return the time from the first window's begin to the last one's end [min]."""
    windows = [run.window for run in day.in_shape if run.window is not None and not why_not(run)]
    if not windows:
        return light_minutes(day.hours)
    span = max(end for _, end in windows) - min(begin for begin, _ in windows)
    return float(span / np.timedelta64(60, "s"))


def _that_fit(runs: Sequence[RunDay], light: float, between_min: float) -> list[RunDay]:
    """Return the best runs whose minutes fit into the light together; the best one always.

    Greedy, best first: a run that does not fit is skipped and a lesser, shorter one may follow.
    """
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

    A long run is left when the last window of the day ends, and when the trip has lasted
    `trip_min` [min]. A run with less than `LEAST_MIN` left by then is not in the list.
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
    in shape and is never best.
    """
    return first_near_top(
        [day.score if day.in_shape and day.score > 0 else -math.inf for day in days]
    )


def first_near_top(worth: Sequence[float]) -> int | None:
    """Return the first position within `NEAR_TOP` of the highest; None where all are -inf."""
    top = max(worth, default=-math.inf)
    if math.isinf(top):
        return None
    return next(index for index, one in enumerate(worth) if one >= top - NEAR_TOP)


class LimitKind(StrEnum):
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
class ConfidenceLimit:
    """A reason that limits a day's confidence to `limit`.

    `days` is the lead [d]: from the last reading for a recession, from now for a forecast; NaN for
    the others.
    """

    kind: LimitKind
    limit: Confidence
    days: float = math.nan


@dataclass(frozen=True, slots=True)
class DayConfidence:
    """Confidence in a day's advice: the lowest of its limits, and those limits."""

    word: Confidence
    because: tuple[ConfidenceLimit, ...]


def how_sure(day: Day, facts: ReachFacts, outlook: Outlook) -> DayConfidence:
    """Return the confidence in a day's advice: the lowest of its limits, good without any."""
    hours = day.hours
    known = hours.flow[np.isfinite(hours.flow)]
    if not known.size:
        unknown = ConfidenceLimit(LimitKind.FLOW_UNKNOWN, Confidence.LOW)
        return DayConfidence(Confidence.LOW, (unknown,))
    found = [*_flow_limits(day, outlook), *_other_limits(day, facts, float(np.median(known)))]
    order = [Confidence.LOW, Confidence.FAIR]
    limits = [one.limit for one in found]
    word = next((one for one in order if one in limits), Confidence.GOOD)
    return DayConfidence(word, tuple(found))


def _flow_limits(day: Day, outlook: Outlook) -> list[ConfidenceLimit]:
    """Return what limits the confidence in the day's flow."""
    hours, found = day.hours, []
    since = math.inf
    if not np.isnat(outlook.last):
        since = float((hours.times[-1] - outlook.last) / DAY)
    coming = float((hours.times[-1] - outlook.now) / DAY)
    codes = set(hours.source.tolist())
    if CODES[Source.UNKNOWN] in codes:
        found.append(ConfidenceLimit(LimitKind.FLOW_PARTLY_UNKNOWN, Confidence.LOW))
    if CODES[Source.FALL] in codes:
        found.append(ConfidenceLimit(LimitKind.RECESSION, _by_time(since), since))
    if CODES[Source.FORECAST] in codes and coming > NEAR_DAYS:
        found.append(ConfidenceLimit(LimitKind.FORECAST, _by_time(coming), coming))
    return found


def _by_time(days: float) -> Confidence:
    """Return the confidence in a flow so many days ahead [d]."""
    return Confidence.LOW if days > FAR_DAYS else Confidence.FAIR


def _other_limits(day: Day, facts: ReachFacts, flow: float) -> list[ConfidenceLimit]:
    """Return the other limits: clarity, bed, odds, a score that changes much with the flow."""
    found = []
    if any(math.isnan(one.metres) for one in day.hours.clarity):
        found.append(ConfidenceLimit(LimitKind.CLARITY_UNKNOWN, Confidence.FAIR))
    if facts.preview:
        found.append(ConfidenceLimit(LimitKind.PREVIEW, Confidence.LOW))
    sure = confidence_at(facts, flow)
    if math.isnan(sure) or sure < POOR_BED:
        found.append(ConfidenceLimit(LimitKind.BED_POOR, Confidence.LOW))
    elif sure < FAIR_BED:
        found.append(ConfidenceLimit(LimitKind.BED_FAIR, Confidence.FAIR))
    if math.isfinite(day.odds.share) and day.odds.share < EVEN_ODDS:
        found.append(ConfidenceLimit(LimitKind.ODDS, Confidence.LOW))
    best = day.in_shape[:1]
    if best and not best[0].high - best[0].low <= WIDE_SPAN:
        found.append(ConfidenceLimit(LimitKind.STEEP_SCORE, Confidence.LOW))
    return found
