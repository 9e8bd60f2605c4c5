"""Reasons for a guide's day in sentences: runs left out, plan B, the boat's route."""

from __future__ import annotations

import math

import numpy as np

from reachmap.base.language import figures_text, noted, tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.planner.guide.day import LeftOut, Why
from reachmap.planner.guide.plan import Backup, GuideDay
from reachmap.planner.guide.ways import IDLE
from reachmap.text.days import clock
from reachmap.text.numbers import list_words, time_words
from reachmap.text.today import SHUT

WHY = {
    Why.CLOSED: noted("closed by your rules.csv"),
    Why.ISLAND: noted("fished from an island only: not planned"),
    Why.BOAT: noted("by boat only"),
    Why.OFF_FLOAT: noted("above where you put in, or below where you take out"),
    Why.BEYOND: noted("no place of it lies within anybody's limits and casts"),
    Why.UNKNOWN: noted("its time or its worth is not known at this flow"),
    Why.TAKEN: noted("taken"),
    Why.OTHER_BANK: noted("on the other bank"),
    Why.LESSER: noted("worth less than the runs that were planned with"),
    Why.SPARE: noted("open: nobody is planned there"),
}
"""Why a run has no part in the plan; a run that is cut off or shut has its own sentence."""


def left_words(day: GuideDay, one: LeftOut, units: UnitSystem) -> str:
    """Return why a run has no part in the plan."""
    if one.why is Why.CUT_OFF:
        return tr(
            "its way back is known open to {until} only, and may close from {when}",
            until=flow_words(one.until, units),
            when=clock(one.when, day.zone),
        )
    if one.why is Why.SHUT:
        return tr(SHUT.get(one.run.shut, "one cannot fish it at this flow"))
    return tr(WHY[one.why])


def backup_sentence(day: GuideDay, backup: Backup) -> str:
    """Return plan B for a run that is taken, in one line: only what changes."""
    head = tr("If {run} is taken: ", run=backup.run)
    plan = day.plan
    if backup.spots is None or plan.solved is None:
        return tr("{head}nothing else serves all rods; wait, or go home.", head=head)
    people, spots = day.inputs.party.people, plan.layout.frame.spots
    changes = []
    for rod, (before, now) in enumerate(zip(plan.solved.spots, backup.spots, strict=True)):
        changed = [
            f"{clock(plan.layout.at(turn), day.zone)} "
            f"{'rest' if there == IDLE else spots[there].name}"
            for turn, (here, there) in enumerate(zip(before, now, strict=True))
            if here != there
        ]
        if changed:
            changes.append(f"{people[rod].name}: {', '.join(changed)}")
    lost = 1 - backup.worth / plan.solved.worth if plan.solved.worth > 0 else 0.0
    cost = (
        tr(" ({lost} in 100 of the day's worth lost)", lost=f"{100 * lost:.0f}")
        if lost >= 0.005
        else ""
    )
    return f"{head}{'; '.join(changes) or 'nothing changes'}{cost}."


def why_sentences(day: GuideDay) -> list[str]:
    """Return the reasons for the plan."""
    plan, inputs = day.plan, day.inputs
    if plan.solved is None:
        return []
    people, frame = inputs.party.people, plan.layout.frame
    best = max(range(len(frame.spots)), key=lambda n: frame.spots[n].pass_worth)
    first = [
        (turn, people[rod].name)
        for rod, way in enumerate(plan.rods)
        for turn, one in enumerate(way)
        if one.spot == best
    ]
    lines = []
    if first:
        turn, name = min(first)
        when = clock(plan.layout.at(turn), day.zone)
        lines.append(
            tr(
                "{best} gives most for a pass: {name} has it from {when}.",
                best=frame.spots[best].name,
                name=name,
                when=when,
            )
        )
    total = sum(way.worth for way in plan.solved.ways)
    shares = [f"{people[n].name} {100 * way.worth / total:.0f}"
              for n, way in enumerate(plan.solved.ways)] if total > 0 else []  # fmt: skip
    if len(shares) > 1:
        lines.append(
            tr("Of all that the plan can meet in 100: {shares}.", shares=list_words(shares))
        )
    order = tr("The boat goes downstream only") if inputs.party.boat else tr("Rods walk downstream")
    lines.append(
        tr(
            "{order}; odds within {tie_ratio} in 100 count as the "
            "same, and then the plan with the least moving is taken. A run fished before counts "
            "{follow_share} of what it was.",
            order=order,
            tie_ratio=f"{100 * (inputs.settings.tie_ratio - 1):.0f}",
            follow_share=figures_text(inputs.settings.follow_share),
        )
    )
    if plan.kept:
        gain = plan.best_worth / plan.solved.worth - 1 if plan.solved.worth > 0 else 0.0
        lines.append(
            tr(
                "This is the plan made before for this day: a new one would be worth "
                "{gain} in 100 more, too little to shuffle the rods (--fresh does).",
                gain=f"{max(100 * gain, 0):.0f}",
            )
        )
    return lines


def boat_sentences(day: GuideDay) -> list[str]:
    """Return the boat's stops with the minutes afloat between them; none without a boat."""
    plan, inputs = day.plan, day.inputs
    if not inputs.party.boat or plan.solved is None:
        return []
    layout, water = plan.layout, inputs.water
    put_in, take_out = layout.put_in, layout.take_out
    lines, last = [], None if put_in is None else put_in.station_m
    lines.append(
        tr("Put in: ") + (_landing(put_in.note) if put_in else tr("no landing is drawn above"))
    )
    before: set[int] = set()
    for turn in range(layout.frame.turns):
        here = {way[turn].spot for way in plan.rods} - {IDLE}
        if not here or here == before:
            continue
        middle = float(np.mean([layout.frame.spots[one].middle_m for one in here]))
        names = list_words([layout.frame.spots[one].name for one in sorted(here)])
        afloat = _afloat(water.float_minutes(last, middle)) if last is not None else ""
        lines.append(f"{clock(layout.at(turn), day.zone)} {names}{afloat}")
        last, before = middle, here
    if take_out is not None and last is not None:
        afloat = _afloat(water.float_minutes(last, take_out.station_m))
        lines.append(
            tr("Take out: {landing}{afloat}", landing=_landing(take_out.note), afloat=afloat)
        )
    else:
        lines.append(tr("Take out: no landing is drawn below"))
    lines.append(
        tr(
            "Minutes afloat are those of the mean speed along the thalweg: surface and oars are "
            "not "
            "reckoned with, nor wood, drops or rocks. Nothing here says that it can be floated."
        )
    )
    if water.float_guessed > 0:
        part = tr("{float_guessed} in 100", float_guessed=f"{100 * water.float_guessed:.0f}")
        lines.append(
            tr("On {part} of the way no speed is known: the slowest known stands in.", part=part)
        )
    return lines


def _landing(note: str) -> str:
    """Return a landing's note."""
    return note or tr("the landing you drew")


def _afloat(minutes: float) -> str:
    """Return the minutes afloat before a stop."""
    if math.isnan(minutes):
        return tr(", minutes afloat not known")
    return tr(", {minutes} afloat", minutes=time_words(minutes)) if minutes >= 1 else ""
