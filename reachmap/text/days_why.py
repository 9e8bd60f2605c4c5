"""Reasons for a day's score, in a guide's words: limb, water to fish, hours."""

from __future__ import annotations

import math
from datetime import tzinfo

import numpy as np

from reachmap.base.language import noted, number_text, tr, tr_count
from reachmap.base.units import TEMPERATURE, flow_words, from_celsius
from reachmap.base.words import UnitSystem
from reachmap.gauge.daily_course import CourseKind, DailyCourse
from reachmap.gauge.series import DAY, HOUR
from reachmap.planner.choose import DayPlan
from reachmap.planner.day import Day, RunDay, why_not
from reachmap.planner.facts import ReachFacts
from reachmap.planner.freshness import Phase
from reachmap.planner.hours import LIMB_PER_DAY, instant
from reachmap.planner.score import ScoreSettings
from reachmap.planner.water_temp import COLD_C, QUICK_C, WARM_C
from reachmap.text.days import clock
from reachmap.text.numbers import length_words, list_words
from reachmap.text.terms import KINDS

LATE_HOURS = 1.0
"""A start this long after sunrise, or end before sunset, is explained [h]; our choice, 0.5-2."""

WHERE_RUNS = 4
"""Number of best runs whose kinds of water are named; our choice, 3-6."""


def why_sentences(
    day: Day, facts: ReachFacts, units: UnitSystem, rules: ScoreSettings
) -> list[str]:
    """Return the reasons for a day's score, the weightiest first.

    Parameters
    ----------
    day
        The day.
    facts
        Of the reach.
    units
        Of the folder.
    rules
        The bands of clarity.
    """
    hours = day.hours
    if not hours.times.size:
        return [tr("No light is left that day.")]
    if day.closed:
        return [tr("Closed by the rules.")]
    if math.isnan(day.score):
        return [why_unknown(hours.flow, facts, units)]
    sentences = [phase_sentence(day)]
    seen = hours.clarity_m[np.isfinite(hours.clarity_m)]
    if seen.size:
        sentences.append(_clarity_why(float(np.median(seen)), facts, units, rules))
    if where := where_sentence(day, units):
        sentences.append(where)
    sentences.append(
        tr(
            "{fit} of {all} runs in shape at this flow.",
            fit=len(day.in_shape),
            all=len(day.runs),
        )
    )
    if not np.isfinite(hours.flow).all():
        sentences.append(tr("Part of the day is left out: the flow is not known then."))
    return sentences


def phase_sentence(day: Day) -> str:
    """Return the sentence on the river's state between two rises."""
    peak = peak_words(day.since_peak)
    if day.phase is Phase.RISING:
        if _stands(day):
            return tr("Risen, and standing there: it has not dropped yet, and they take on a drop.")
        return tr("The river rises: fish move and hardly take; it is worth little until it drops.")
    if day.phase is Phase.HIGH:
        return tr("Dropping, {peak}, but not in shape yet: wait for it to clear.", peak=peak)
    if day.phase is Phase.FRESH:
        first = (
            noted(
                "The first day in shape behind the rise, {peak}, {heading}: new fish have come up "
                "with it and few flies have been over them."
            )
            if day.since_fishable < 1
            else noted(
                "The second day in shape behind the rise, {peak}, {heading}: new fish have come up "
                "with it and few flies have been over them."
            )
        )
        return tr(first, peak=peak, heading=_heading(day))
    if day.phase is Phase.DROPPING:
        if math.isnan(day.since_peak):
            return tr("Still dropping; no rise within the last month, so the fish have seen flies.")
        return tr("Still dropping, {peak}; the freshest days behind the rise are over.", peak=peak)
    if day.phase is Phase.SETTLED:
        since = tr("no rise within the last month") if math.isnan(day.since_peak) else peak
        return tr("Settled, {since}: steady water fishes less well than a drop.", since=since)
    return tr("Where the river is heading is not known.")


def _stands(day: Day) -> bool:
    """Return whether the flow stays all day as high as it has risen."""
    growth = day.hours.growth[np.isfinite(day.hours.growth)]
    return bool(growth.size and growth.max() <= LIMB_PER_DAY)


def peak_words(days: float) -> str:
    """Return the days since the peak in words; empty where there is none."""
    if math.isnan(days):
        return tr("behind a rise")
    count = round(days)
    if count < 1:
        return tr("on the day of the peak")
    return tr_count("a day after the peak", "{count} days after the peak", count)


def _heading(day: Day) -> str:
    """Return whether the water drops and clears over the day."""
    growth = day.hours.growth[np.isfinite(day.hours.growth)]
    drops = growth.size and growth.mean() < -0.02
    seen = day.hours.clarity_m[np.isfinite(day.hours.clarity_m)]
    clears = seen.size > 1 and seen[-1] > seen[0]
    if drops and clears:
        return tr("dropping and clearing")
    return tr("dropping") if drops else tr("holding")


def where_sentence(day: Day, units: UnitSystem) -> str:
    """Return the sentence on the kinds of water of the best runs; empty where there are none.

    By each run's best water at the day's flow, as it suits the day's clarity and temperature.
    """
    best = [run for run in day.in_shape if why_not(run) is None][:WHERE_RUNS]
    kinds = list(dict.fromkeys(tr(KINDS[run.at.kind]) for run in best if run.at.kind in KINDS))
    if not kinds:
        return ""
    depths = [run.at.depth_m for run in best if math.isfinite(run.at.depth_m)]
    if not depths:
        return tr("What fishes best at this flow: {kinds}.", kinds=list_words(kinds))
    return tr(
        "What fishes best at this flow: {kinds}, about {depth} deep.",
        kinds=list_words(kinds),
        depth=length_words(float(np.median(depths)), units),
    )


def hours_sentence(day: Day, plan: DayPlan, zone: tzinfo, units: UnitSystem) -> str:
    """Return the hours of the day's list, and why they are not all of the light."""
    up = day.light.hours
    if not plan.picks or up is None:
        return ""
    windows = [pick.run.window for pick in plan.picks if pick.run.window is not None]
    last = plan.picks[-1]
    begin = plan.picks[0].begin
    end = last.begin + np.timedelta64(round(last.minutes * 60), "s")
    shut = max(one[1] for one in windows)
    sentence = tr("Go from {begin} to {end}", begin=clock(begin, zone), end=clock(end, zone))
    first = max(instant(up[0]), day.hours.times[0] - HOUR)
    late = (begin - first) / HOUR > LATE_HOURS
    early = (instant(up[1]) - shut) / HOUR > LATE_HOURS
    reasons = []
    water = day.hours.water_c
    known = bool(np.isfinite(water).any())
    if late and known and water[0] < QUICK_C:
        reasons.append(tr("a cold morning ({water}): let it warm", water=_warmth(water[0], units)))
    elif late:
        reasons.append(tr("it comes into shape as the day goes on"))
    if early and known and water[-1] > WARM_C - 1:
        reasons.append(
            tr(
                "it warms to {water} in the afternoon",
                water=_warmth(float(np.nanmax(water)), units),
            )
        )
    elif early:
        reasons.append(tr("it is worth less later in the day"))
    if not known:
        reasons.append(tr("by light and flow alone, the water's temperature is not known"))
    return f"{sentence}: {'; '.join(reasons)}." if reasons else f"{sentence}."


def _warmth(celsius: float, units: UnitSystem) -> str:
    """Return a temperature in the folder's units."""
    return f"{from_celsius(celsius, units):.0f} {TEMPERATURE[units]}"


def warmth_trend_sentence(per_day: float, celsius: float, units: UnitSystem) -> str:
    """Return the trend of the water's temperature and its effect on the hours."""
    if abs(per_day) < 0.1 or not math.isfinite(celsius):
        return ""
    shown = abs(per_day) * (1.8 if units is UnitSystem.US else 1.0)
    by = f"{number_text(shown, 1)} {TEMPERATURE[units]}"
    sentence = noted("It warms by {by} a day on the readings at hand.")
    if celsius < COLD_C + 2:
        sentence = noted("It warms by {by} a day on the readings at hand: starts get earlier.")
    if per_day < 0:
        sentence = noted("It cools by {by} a day on the readings at hand.")
        if celsius < COLD_C + 2:
            sentence = noted("It cools by {by} a day on the readings at hand: starts get later.")
    return tr(sentence, by=by)


def course_sentence(course: DailyCourse, day: Day, zone: tzinfo) -> str:
    """Return the sentence on the flow's daily wave: hours of low and high, and its range."""
    midnight = day.hours.times[0].astype("datetime64[D]").astype("datetime64[s]")
    low, high, up = (
        clock(midnight + np.timedelta64(hour, "h"), zone)
        for hour in (course.low_hour, course.high_hour, course.up_hour)
    )
    more = round((course.swing - 1) * 100)
    ends = tr(
        "seen on {days} days; a change of weather or of the dam's plan ends it", days=course.days
    )
    if course.kind is CourseKind.RELEASE:
        return tr(
            "Releases lift it by {more} % within the day, stepping up about {up} ({ends}). Water "
            "may come within minutes: be where the way back stays open well before.",
            more=more,
            up=up,
            ends=ends,
        )
    return tr(
        "It runs up and down every day by {more} %, as with melting snow: lowest about {low}, "
        "highest about {high} ({ends}).",
        more=more,
        low=low,
        high=high,
        ends=ends,
    )


def tide_sentence(turns: list[tuple[np.datetime64, bool]], zone: tzinfo) -> str:
    """Return the day's high and low waters, or that the tide table does not cover the day."""
    if not turns:
        return tr("The tide table says nothing of this day.")
    words = list_words(
        [
            tr(
                "{high} water {when}",
                high=tr("high") if high else tr("low"),
                when=clock(when, zone),
            )
            for when, high in turns
        ]
    )
    return tr(
        "Tide: {words}. The ebb fishes, the flood stands the current up; the maps know nothing of "
        "the tide.",
        words=words,
    )


def tide_turns_of(
    day: Day, turns: list[tuple[np.datetime64, bool]]
) -> list[tuple[np.datetime64, bool]]:
    """Return the turns of the tide within half a day of a day's light."""
    middle = day.hours.times[day.hours.times.size // 2]
    return [turn for turn in turns if abs(turn[0] - middle) < DAY / 2]


def why_unknown(flow: np.ndarray, facts: ReachFacts, units: UnitSystem) -> str:
    """Return why a day cannot be judged."""
    known = flow[np.isfinite(flow)]
    if known.size < flow.size / 2:
        return tr("The flow is not known for most of the day.")
    if np.median(known) > facts.flows[-1]:
        top = flow_words(facts.flows[-1], units)
        return tr(
            "The flow is above {flow}, the highest that is mapped: nothing is known of it.",
            flow=top,
        )
    low = flow_words(facts.flows[0], units)
    return tr(
        "The flow is below {flow}, the lowest that is mapped: nothing is known of it.", flow=low
    )


def _clarity_why(metres: float, facts: ReachFacts, units: UnitSystem, rules: ScoreSettings) -> str:
    """Return the effect of the clarity on the day, by the season's band."""
    seen = length_words(metres, units)
    low, high = rules.band(facts.season)
    if metres < low / 2:
        return tr("One sees about {seen}: hardly fishable, the soft edge at best.", seen=seen)
    if metres < low:
        return tr("One sees about {seen}: coloured, and that takes some of the score.", seen=seen)
    if metres > high:
        return tr(
            "One sees about {seen}: too clear, and that takes some of the score; fish early and "
            "late, small and far off.",
            seen=seen,
        )
    return tr("One sees about {seen}: the colour one wants.", seen=seen)


def not_in_shape(run: RunDay) -> str:
    """Return why a run whose score suits the flow is not in shape on the day."""
    if run.closed:
        return tr("closed by the rules")
    return tr("held down by clarity or a rising river")
