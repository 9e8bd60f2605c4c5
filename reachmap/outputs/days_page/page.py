"""The page of the coming days: template, sentences, charts and style in one self-contained file."""

from __future__ import annotations

import base64
import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from importlib.resources import files
from typing import Any

import numpy as np

from reachmap.base.language import moment_text, noted, tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.gauge.record import nearest_flow
from reachmap.outputs.days_page.chart import PHONE, WIDE, chart
from reachmap.outputs.theme import page_style
from reachmap.outputs.theme.night import NIGHT_SCRIPT
from reachmap.outputs.theme.templates import page_template
from reachmap.planner.choose import NEAR_TOP, DayPlan
from reachmap.planner.day import Day, RunDay
from reachmap.planner.days import Days
from reachmap.planner.facts import ReachFacts
from reachmap.planner.sun import local
from reachmap.text.days import (
    LOCAL_RULES,
    boat_sentence,
    bring_sentences,
    clarity_sentence,
    clock,
    confidence_sentence,
    day_name,
    flow_sentence,
    flow_short,
    light_sentence,
    minded,
    not_listed_words,
    rising_sentence,
    run_line,
    side_words,
    zone_words,
)
from reachmap.text.days_list import about_hours, water_sentences
from reachmap.text.days_odds import odds_head, odds_sentence, odds_short
from reachmap.text.days_rules import day_rules_sentences, rules_sentences
from reachmap.text.days_why import not_in_shape, why_sentences
from reachmap.text.numbers import length_words, time_words
from reachmap.text.outlook import outlook_sentences
from reachmap.text.plain_words import in_words
from reachmap.text.run_table import why_words
from reachmap.text.terms import KINDS

HERE = files("reachmap.outputs.days_page")

MOST_MORE = 12
"""Most runs in shape besides the list that are named on a day; the rest are counted."""


@dataclass(frozen=True, slots=True)
class Look:
    """Colours and texts the page shares with the maps, passed in by the caller.

    Parameters
    ----------
    letters, inks
        By kind of water: its letter; its colours of fill and text, by day and by night.
    short, cautions
        Cautions: the line always in view, and the full ones.
    invented, preview
        Notices shown where the river is invented or the build is a quick preview.
    graded
        For whom, by which rule and with which margins water was graded.
    margins_off
        The line of `graded` that is highlighted: margins switched off by the user; empty for none.
    units
        In which numbers are written.
    """

    letters: Mapping[str, str]
    inks: Mapping[str, tuple[str, str, str, str]]
    short: str
    cautions: tuple[str, ...]
    invented: str
    preview: str
    graded: tuple[str, ...] = ()
    margins_off: str = ""
    units: UnitSystem = UnitSystem.US


def days_page(days: Days, look: Look) -> str:
    """Return the page as self-contained HTML without network access.

    Parameters
    ----------
    days
        The coming days.
    look
        Colours and texts shared with the maps.
    """
    letters = dict(look.letters)
    digest = base64.b64encode(hashlib.sha256(NIGHT_SCRIPT.encode()).digest()).decode("ascii")
    return page_template("reachmap.outputs.days_page", "days.html").render(
        policy=(
            f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; "
            "img-src data:; base-uri 'none'; form-action 'none'"
        ),
        style=page_style(document=True)
        + (HERE / "days.css").read_text(encoding="utf-8")
        + _style(look),
        script=NIGHT_SCRIPT,
        wide=chart(days, WIDE, letters, look.units),
        phone=chart(days, PHONE, letters, look.units),
        look=look,
        kinds=[(kind, look.letters[kind], tr(words)) for kind, words in KINDS.items()],
        **_told(days, look.units),
    )


def _told(days: Days, units: UnitSystem) -> dict[str, Any]:
    """Return the template's values for the whole page."""
    facts = days.facts
    outlook = days.outlook
    cards = [_card(days, index, units) for index in range(len(days.days))]
    return {
        "name": facts.name,
        "gauge": facts.gauge,
        "invented": facts.invented,
        "is_preview": facts.preview,
        "now": moment_text(local(outlook.now, days.zone)),
        "zone": zone_words(outlook.now, days.zone),
        "cards": cards,
        "best": None if days.best is None else cards[days.best],
        "none_words": _none_words(days),
        "local_rules": tr(LOCAL_RULES),
        "odds_head": odds_head(days),
        "rests_on": outlook_sentences(outlook, units, days.zone),
        "assumed": _assumed(days),
        "temperature": water_sentences(days, units),
        "rules": rules_sentences(days.rules, local(outlook.now, days.zone).date()),
        "accesses": facts.accesses,
        "top_flow": flow_words(facts.flows[-1], units),
        "low_flow": flow_words(facts.flows[0], units),
    }


def _card(days: Days, index: int, units: UnitSystem) -> dict[str, Any]:
    """Return the template's values for one day."""
    day, plan, zone = days.days[index], days.plans[index], days.zone
    flow = flow_sentence(day, units)
    return {
        "name": day_name(day),
        "best": index == days.best,
        "score": "?" if math.isnan(day.score) else f"{day.score:.0f}",
        "share": 0.0 if math.isnan(day.score) else day.score,
        "flow": flow,
        "flow_short": flow_short(day, units) or tr("Flow not known"),
        "clarity": clarity_sentence(day, units),
        "see_short": _see_short(day, units),
        "light": light_sentence(day),
        "rising": rising_sentence(day, zone),
        "hours": about_hours(index, days, units),
        "span": _span(plan, zone),
        "odds": odds_sentence(day, days),
        "odds_short": odds_short(day),
        "rules": day_rules_sentences(day, days.rules),
        "why": why_sentences(day, days.facts, units, days.settings.day.score),
        "sure": confidence_sentence(days.sure[index]),
        "sure_word": str(days.sure[index].word),
        "sure_told": in_words(days.sure[index].word),
        "bank": side_words(plan.bank),
        "map": _map(day, days.facts, units),
        "total": time_words(plan.total_min) if plan.picks else "",
        "picks": [_pick(days, plan, number, units) for number in range(len(plan.picks))],
        "more": [
            (run.facts.name, run_line(run, zone, units), not_listed_words(run, reason))
            for run, reason in plan.left_out[:MOST_MORE]
        ],
        "more_count": max(len(plan.left_out) - MOST_MORE, 0),
        "out": _out_of_shape(day),
        "bring": bring_sentences(day, plan, units, days.facts.flies),
    }


def _span(plan: DayPlan, zone: tzinfo) -> str:
    """Return start and end of the day's list in words; empty without one."""
    if not plan.picks:
        return ""
    last = plan.picks[-1]
    end = last.begin + np.timedelta64(round(last.minutes * 60), "s")
    return f"{clock(plan.picks[0].begin, zone)}-{clock(end, zone)}"


def _map(day: Day, facts: ReachFacts, units: UnitSystem) -> tuple[str, str] | None:
    """Return link and text of the map whose flow is nearest to the day's; None if unknown."""
    known = day.hours.flow[np.isfinite(day.hours.flow)]
    if not known.size:
        return None
    index = nearest_flow(float(np.median(known)), np.array(facts.page_flows))
    return f"maps/{facts.pages[index]}.html", flow_words(facts.page_flows[index], units)


def _see_short(day: Day, units: UnitSystem) -> str:
    """Return the clarity as shown in the table of days."""
    known = [one.metres for one in day.hours.clarity if math.isfinite(one.metres)]
    if not known:
        return tr("not known")
    return length_words(known[len(known) // 2], units)


def _pick(days: Days, plan: DayPlan, number: int, units: UnitSystem) -> dict[str, str]:
    """Return one run of a day's list."""
    pick = plan.picks[number]
    facts = pick.run.facts
    kind, comma, note = ("",) * 3
    if facts.access >= 0:
        kind, comma, note = days.facts.accesses[facts.access].partition(", ")
    near = f"{in_words(kind)}{comma}{note}"
    wade = {
        "careful": tr("careful wading"),
        "no": tr("no wading here"),
        "unknown": tr("wading not known"),
    }
    return {
        "begin": clock(pick.begin, days.zone),
        "name": facts.name,
        "line": run_line(pick.run, days.zone, units),
        "mind": minded(pick.run),
        "kind": pick.run.at.kind,
        "near": near,
        "wade": wade.get(pick.run.at.wade, ""),
    }


def _out_of_shape(day: Day) -> list[tuple[str, str]]:
    """Return the reasons why runs are out of shape, each with its runs."""
    found: dict[str, list[str]] = {}
    for run in day.runs:
        if run.window is None:
            found.setdefault(_why_out(run), []).append(run.facts.name)
    return [(why, ", ".join(names)) for why, names in found.items()]


def _why_out(run: RunDay) -> str:
    """Return why a run is out of shape on a day."""
    if math.isnan(run.score):
        return tr("not known at this flow")
    if run.closed or run.at.in_shape:
        return not_in_shape(run)
    return why_words(run.at.why) or tr("not in shape")


def _none_words(days: Days) -> str:
    """Return the text shown where no day can be recommended."""
    known = [day for day in days.days if not math.isnan(day.score)]
    if not known:
        return tr("No day can be named: the flow of none of them is known well enough.")
    return boat_sentence(days.facts) or tr("No run comes into shape on any of these days.")


def _assumed(days: Days) -> list[str]:
    """Return the assumptions made, as sentences."""
    facts, model = days.facts, days.model
    lines = [
        tr("Scores between two mapped flows lie on a straight line between theirs."),
        tr(
            "A day is worth what its three best runs are worth over its six best hours, on average "
            "over the courses the flow may take. Too coloured and too clear take from it, so do a "
            "rise and a river that stands, and the days since it came into shape behind a rise "
            "(common practice, no published source)."
        ),
        tr(
            "Of days within {near} of the highest worth the first is named best: the sooner, the "
            "surer.",
            near=f"{NEAR_TOP:.0f}",
        ),
        tr(
            "Minutes hold for one pass; {minutes} minutes are reckoned from run to run. All runs "
            "of a list lie on one bank.",
            minutes=f"{facts.between_min:.0f}",
        ),
        tr(
            "The {season} limits of the build hold. Clock: {clock}.",
            season=in_words(facts.season),
            clock=days.zone.key,
        ),
    ]
    laws = (
        (noted("{notes} on the rising limb"), model.rising),
        (noted("{notes} on the falling limb"), model.falling),
    )
    words = [tr(message, notes=law.notes) for message, law in laws if law is not None]
    if not words and model.both is not None:
        words = [tr("{notes} on either limb", notes=model.both.notes)]
    if words:
        lines.append(tr("Clarity rests on your own notes: {notes}.", notes=", ".join(words)))
    elif model.own is not None:
        lines.append(tr("Clarity rests on two sightings in reach.toml."))
    else:
        lines.append(
            tr(
                "Clarity: too few notes of this river to say anything. Note how far you see, with "
                "the flow, on the rise and on the fall: four of each are enough to begin."
            )
        )
    if math.isfinite(model.clears):
        rate = f"{math.expm1(model.clears) * 100:.0f}"
        lines.append(
            tr("Between your notes of one fall the water cleared by {rate} % a day.", rate=rate)
        )
    return [*lines, *days.remarks]


def _style(look: Look) -> str:
    """Return the colours of the kinds of water, by day and by night."""
    parts = []
    for kind, (fill, ink, night_fill, night_ink) in look.inks.items():
        parts.append(
            f".k-{kind}{{fill:{fill};stroke:{ink};background:{fill};color:{ink}}}"
            f"text.k-{kind}{{fill:{ink};stroke:none}}"
            f'@media screen{{:root[data-light="night"] .k-{kind}{{fill:{night_fill};'
            f"stroke:{night_ink};background:{night_fill};color:{night_ink}}}"
            f':root[data-light="night"] text.k-{kind}{{fill:{night_ink};stroke:none}}}}'
        )
    return "".join(parts)
