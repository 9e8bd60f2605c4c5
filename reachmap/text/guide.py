"""The guide's day in sentences: which rod goes where, when rods swap."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np

from reachmap.angler.standing import DRY_M
from reachmap.base.language import date_text, noted, tr
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.planner.guide.people import Offer, Person, is_lower, limit_of
from reachmap.planner.guide.plan import GuideDay, Turn
from reachmap.planner.guide.ways import IDLE
from reachmap.text.days import clock
from reachmap.text.numbers import distance_words, length_words, list_words, time_words
from reachmap.text.terms import SIDES
from reachmap.text.today import MINDED

COURTESY = noted(
    "Step down after each cast, and don't go in below another: go in above, or ask, and leave the "
    "room that you would want."
)
"""The courtesy of the trade in one line; common practice, no published source."""

NOBODY_ASKED = noted("Nobody asked the others on the river: be ready for plan B.")


def head_sentence(day: GuideDay, units: UnitSystem) -> str:
    """Return the day in one line: who, how, when, at which flow."""
    inputs, layout = day.inputs, day.plan.layout
    rods = len(inputs.party.people)
    how = tr("with one boat") if inputs.party.boat else tr("on foot")
    who = tr("1 rod") if rods == 1 else tr("{rods} rods", rods=rods)
    turns = layout.frame.turns
    if not turns:
        return f"{who} {how}."
    ends = tr(
        "{begin} to {turns}",
        begin=clock(layout.begin, day.zone),
        turns=clock(layout.at(turns), day.zone),
    )
    each = time_words(layout.frame.turn_min)
    parts = (
        tr("in one turn")
        if turns == 1
        else tr("in {turns} turns of {each}", turns=turns, each=each)
    )
    return tr(
        "{who} {how}, {ends}, {parts}, at {flow}.",
        who=who,
        how=how,
        ends=ends,
        parts=parts,
        flow=flow_words(inputs.water.flow, units),
    )


def date_words(day: GuideDay) -> str:
    """Return the day's name, like Mon 14 Jan 2030."""
    return date_text(day.inputs.day.light.day, "year")


def water_sentence(day: GuideDay, units: UnitSystem) -> str:
    """Return the flow that the plan is made for, and the reason."""
    water = day.inputs.day
    planned = flow_words(water.planned_flow, units)
    top = float(np.max(water.high))
    first = (
        tr("The day's flow is {planned} at most", planned=planned)
        if not water.typed
        else tr("You gave {planned}", planned=planned)
    )
    compared = tr("the way back is held against {top}", top=flow_words(top, units))
    if math.isnan(top):
        compared = tr(
            "how high it may come is not known, so no place counts that more water cuts off"
        )
    return tr(
        "{first}; planned is with {flow}, the next flow that was read at or above it; {compared}.",
        first=first,
        flow=flow_words(day.inputs.water.flow, units),
        compared=compared,
    )


def light_sentence(day: GuideDay) -> str:
    """Return sunrise and sunset, and that the last turn ends before it."""
    up = day.inputs.day.light.hours
    if up is None:
        return tr("The sun does not rise on that day.")
    rise, fall = (f"{one:%H:%M}" for one in up)
    return tr("Sun up {rise}, down {fall}; the last turn ends before that.", rise=rise, fall=fall)


def spot_words(day: GuideDay, number: int) -> str:
    """Return a run with its bank, like Sandpiper, river left."""
    spot = day.plan.layout.frame.spots[number]
    return f"{spot.name}, {SIDES[spot.bank]}"


def turn_words(day: GuideDay, turn: Turn, units: UnitSystem) -> str:
    """Return a rod's turn in words, after the run's name."""
    if turn.spot == IDLE:
        if day.inputs.party.boat:
            return tr("rests: at the boat's stop there is no room, or no water for this rod")
        return tr("rests: no room left, or no run is open for this rod")
    plan, people = day.plan, day.inputs.party.people
    spot = plan.layout.frame.spots[turn.spot]
    parts = []
    if turn.stays:
        parts.append(tr("stays and fishes on"))
    elif turn.move_min >= 1:
        how = tr("afloat and ashore") if day.inputs.party.boat else tr("the walk")
        parts.append(
            tr("first cast about {fish}, after {how}", fish=clock(turn.fish, day.zone), how=how)
        )
    if turn.sharing:
        others = list_words([people[one].name for one in turn.sharing])
        far = distance_words(day.inputs.party.room_m, units)
        if turn.place == 0:
            parts.append(tr("goes in first; {others} in the same run", others=others))
        else:
            parts.append(
                tr(
                    "with {others}: goes in above, once the one before is {far} down",
                    others=others,
                    far=far,
                )
            )
    if turn.before:
        parts.append(
            tr(
                "after {rods} today",
                rods=tr("one rod") if turn.before == 1 else tr("{before} rods", before=turn.before),
            )
        )
    elif not turn.stays and not turn.sharing:
        parts.append(tr("first through it"))
    room = tr("1 rod") if spot.holds == 1 else tr("{holds} rods", holds=spot.holds)
    parts.append(tr("room for {room}", room=room))
    return "; ".join(parts)


def swap_sentences(day: GuideDay) -> list[str]:
    """Return a sentence for each turn at which rods swap or move on."""
    plan, people = day.plan, day.inputs.party.people
    sentences: list[str] = []
    for turn in range(1, plan.layout.frame.turns if plan.rods else 0):
        before = [way[turn - 1].spot for way in plan.rods]
        now = [way[turn].spot for way in plan.rods]
        pairs = [
            (a, b)
            for a in range(len(people))
            for b in range(a + 1, len(people))
            if before[a] == now[b] != before[b] == now[a] and IDLE not in (before[a], before[b])
        ]
        moved = [rod for rod in range(len(people)) if now[rod] not in (before[rod], IDLE)]
        if not moved:
            continue
        words = [tr("{a} and {b} swap", a=people[a].name, b=people[b].name) for a, b in pairs]
        swapped = {rod for pair in pairs for rod in pair}
        words += [
            tr("{rod} to {rod2}", rod=people[rod].name, rod2=plan.layout.frame.spots[now[rod]].name)
            for rod in moved
            if rod not in swapped
        ]
        sentences.append(f"{clock(plan.layout.at(turn), day.zone)}: {'; '.join(words)}.")
    return sentences


def rig_words(day: GuideDay, rod: int, turn: Turn) -> str:
    """Return cast, rod, head and tip for most places of a run, from the person's gear."""
    offer = day.plan.layout.offers[rod].get(turn.spot)
    if offer is None:
        return ""
    person = day.inputs.party.people[rod]
    graded = day.inputs.facts.grading
    cast = _most([one.cast for one in offer.stands])
    head = _head(person, offer)
    tip = _most([one.tip for one in offer.stands])
    if tip and person.tips and tip not in person.tips:
        tip = tr(
            "{tip} is what it wants, not with {person}: the nearest they have",
            tip=tip,
            person=person.name,
        )
    stick = person.rod or _most([one.rod for one in offer.stands])
    if stick and person.rod == "" and len(graded.rods) < 2:
        stick = ""
    return ", ".join(part for part in (cast, stick, head, tip) if part)


def _head(person: Person, offer: Offer) -> str:
    """Return the longest of a person's heads that fits behind all places; the map's for none."""
    if not person.heads:
        return _most([one.head for one in offer.stands])
    room = min(one.head_max_m for one in offer.stands)
    fit = [(long, name) for name, long in person.heads if long <= room]
    return max(fit)[1] if fit else min((long, name) for name, long in person.heads)[1]


def _most(words: Sequence[str]) -> str:
    """Return the most frequent word; empty where there is none."""
    given = [word for word in words if word]
    return Counter(given).most_common(1)[0][0] if given else ""


def mind_words(day: GuideDay, number: int) -> str:
    """Return the one thing to mind at a run."""
    mind = day.plan.layout.runs[number].mind
    return tr(MINDED.get(mind, "your own eyes"))


def standing_words(day: GuideDay, rod: int, number: int, units: UnitSystem) -> str:
    """Return from where a rod fishes a run: dry ground or wading, and its number of places."""
    offer = day.plan.layout.offers[rod][number]
    deepest = max(one.depth_m for one in offer.stands)
    dry = deepest <= DRY_M
    where = (
        tr("from dry ground")
        if dry
        else tr("standing to {deepest} as mapped", deepest=length_words(deepest, units))
    )
    able = sum(one.castable for one in offer.run.stands)
    if len(offer.stands) < able:
        where += tr("; {stands} of {able} places are theirs", stands=len(offer.stands), able=able)
    return where


def person_sentence(day: GuideDay, rod: int, units: UnitSystem) -> str:
    """Return the sentence on a person's limits against those the map was graded for."""
    graded, person = day.inputs.facts.grading, day.inputs.party.people[rod]
    limit = limit_of(person, graded)
    if not is_lower(limit, graded.limit):
        return tr("{person}: as the map was graded for; its limits hold.", person=person.name)
    share = round(10 * day.inputs.settings.easy_share)
    return tr(
        "{person}: limits lower than those the map was graded for (stands to "
        "{depth} at most). Offered are only dry ground that dry "
        "ground joins to a way in, and water that stays within {share} tenths of every limit of "
        "theirs, its whole zone reckoned with; what is not known is not offered.",
        person=person.name,
        depth=length_words(limit.depth_m, units),
        share=share,
    )


def no_plan_sentence(day: GuideDay) -> str:
    """Return why there is no plan."""
    if day.plan.layout.frame.turns == 0:
        return tr("There is no plan: too little light is left on that day.")
    if not day.plan.layout.frame.spots:
        return tr("There is no plan: no run serves anybody of the party at this flow.")
    return tr("There is no plan: the runs that serve do not hold all rods on any of their ways.")
