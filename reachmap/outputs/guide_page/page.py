"""The page of a guide's day: template, sentences and style in one printable file."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import Any

from reachmap.base.language import moment_text, tr
from reachmap.base.words import UnitSystem
from reachmap.outputs.theme import page_style
from reachmap.outputs.theme.night import NIGHT_SCRIPT
from reachmap.outputs.theme.templates import page_template
from reachmap.planner.guide.plan import GuideDay
from reachmap.planner.guide.ways import IDLE
from reachmap.text import cautions
from reachmap.text.days import LOCAL_RULES, clock
from reachmap.text.days_rules import rules_sentences
from reachmap.text.guide import (
    COURTESY,
    NOBODY_ASKED,
    date_words,
    head_sentence,
    light_sentence,
    mind_words,
    no_plan_sentence,
    person_sentence,
    rig_words,
    spot_words,
    standing_words,
    swap_sentences,
    turn_words,
    water_sentence,
)
from reachmap.text.guide_why import backup_sentence, boat_sentences, left_words, why_sentences
from reachmap.text.wading_terms import terms_from

HERE = files("reachmap.outputs.guide_page")


def guide_page(day: GuideDay, units: UnitSystem) -> str:
    """Return the page as self-contained HTML without network access.

    Parameters
    ----------
    day
        The plan.
    units
        In which numbers are written.
    """
    digest = base64.b64encode(hashlib.sha256(NIGHT_SCRIPT.encode()).digest()).decode("ascii")
    terms = terms_from(day.reach.wading_terms, units)
    people = range(len(day.inputs.party.people))
    return page_template("reachmap.outputs.guide_page", "guide.html").render(
        policy=(
            f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; "
            "img-src data:; base-uri 'none'; form-action 'none'"
        ),
        style=page_style(document=True) + (HERE / "guide.css").read_text(encoding="utf-8"),
        script=NIGHT_SCRIPT,
        name=day.reach.name,
        date=date_words(day),
        made=moment_text(day.made),
        head=head_sentence(day, units),
        water=water_sentence(day, units),
        light=light_sentence(day),
        no_plan="" if day.plan.solved is not None else no_plan_sentence(day),
        people=[one.name for one in day.inputs.party.people],
        turns=_turns(day, units),
        rods=[_rod(day, rod, units) for rod in people] if day.plan.rods else [],
        swaps=swap_sentences(day),
        backups=[backup_sentence(day, one) for one in day.plan.backups],
        why=why_sentences(day),
        boat=boat_sentences(day),
        limits=[person_sentence(day, rod, units) for rod in people],
        out=[(one.run.name, left_words(day, one, units)) for one in day.plan.left_out],
        rules=rules_sentences(day.inputs.day.rules, day.made.date()),
        courtesy=tr(COURTESY),
        nobody_asked=tr(NOBODY_ASKED),
        local_rules=tr(LOCAL_RULES),
        short=tr(cautions.SHORT),
        cautions=cautions.CAUTIONS,
        invented=tr(cautions.INVENTED) if day.reach.invented else "",
        preview=tr(cautions.PREVIEW) if day.reach.preview else "",
        graded=terms.lines,
        margins_off=terms.margins_off,
    )


def _turns(day: GuideDay, units: UnitSystem) -> list[dict[str, Any]]:
    """Return a row of the plan for each turn."""
    rows = []
    for turn in range(day.plan.layout.frame.turns if day.plan.rods else 0):
        cells = []
        for way in day.plan.rods:
            one = way[turn]
            where = "" if one.spot == IDLE else spot_words(day, one.spot)
            cells.append((where, turn_words(day, one, units)))
        rows.append({"when": clock(day.plan.layout.at(turn), day.zone), "cells": cells})
    return rows


def _rod(day: GuideDay, rod: int, units: UnitSystem) -> dict[str, Any]:
    """Return the template's values for one rod's day."""
    steps, seen = [], set()
    for one in day.plan.rods[rod]:
        if one.spot == IDLE or one.spot in seen:
            continue
        seen.add(one.spot)
        steps.append(
            {
                "when": clock(one.begin, day.zone),
                "where": spot_words(day, one.spot),
                "stand": standing_words(day, rod, one.spot, units),
                "rig": rig_words(day, rod, one),
                "mind": mind_words(day, one.spot),
            }
        )
    return {"name": day.inputs.party.people[rod].name, "steps": steps}
