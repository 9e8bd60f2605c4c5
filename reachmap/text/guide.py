"""The guide's day in plain words: who goes where, when rods swap, and why."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np

from reachmap.angler.standing import DRY_M
from reachmap.base.units import flow_words
from reachmap.base.words import UnitSystem
from reachmap.planner.guide.people import Offer, Person, is_lower, limit_of
from reachmap.planner.guide.plan import GuideDay, Turn
from reachmap.planner.guide.ways import IDLE
from reachmap.text.days import clock
from reachmap.text.numbers import distance_words, length_words, list_words, time_words
from reachmap.text.terms import SIDES
from reachmap.text.today import MINDED

COURTESY = (
    "Step down after each cast, and don't go in below another: go in above, or ask, and leave the "
    "room that you would want."
)
"""The courtesy of the trade in one line; common practice, no published source."""

NOBODY_ASKED = "Nobody asked the others on the river: be ready for plan B."


def head_told(day: GuideDay, units: UnitSystem) -> str:
    """Return the day in one line: who, how, when, at which flow."""
    asked, laid = day.asked, day.plan.laid
    rods = len(asked.party.people)
    how = "with one boat" if asked.party.boat else "on foot"
    who = "1 rod" if rods == 1 else f"{rods} rods"
    turns = laid.frame.turns
    if not turns:
        return f"{who} {how}."
    ends = f"{clock(laid.begin, day.zone)} to {clock(laid.at(turns), day.zone)}"
    each = time_words(laid.frame.turn_min)
    parts = "in one turn" if turns == 1 else f"in {turns} turns of {each}"
    return f"{who} {how}, {ends}, {parts}, at {flow_words(asked.water.flow, units)}."


def date_told(day: GuideDay) -> str:
    """Return the day's name, like Mon 14 Jan 2030."""
    return f"{day.asked.day.light.day:%a %d %b %Y}"


def water_told(day: GuideDay, units: UnitSystem) -> str:
    """Return which flow the plan is worked out for and why that one."""
    water = day.asked.day
    planned = flow_words(water.planned_flow, units)
    top = float(np.max(water.high))
    first = f"The day's flow is {planned} at most" if not water.typed else f"You gave {planned}"
    reckoned = f"the way back is held against {flow_words(top, units)}"
    if math.isnan(top):
        reckoned = "how high it may come is not known, so no place counts that more water cuts off"
    return (
        f"{first}; planned is with {flow_words(day.asked.water.flow, units)}, the next flow that "
        f"was read at or above it; {reckoned}."
    )


def light_told(day: GuideDay) -> str:
    """Return the light and how long before its end the last turn is over."""
    up = day.asked.day.light.hours
    if up is None:
        return "The sun does not rise on that day."
    rise, fall = (f"{one:%H:%M}" for one in up)
    return f"Sun up {rise}, down {fall}; the last turn ends before that."


def spot_words(day: GuideDay, number: int) -> str:
    """Return a run with its bank, like Sandpiper, river left."""
    spot = day.plan.laid.frame.spots[number]
    return f"{spot.name}, {SIDES[spot.bank]}"


def turn_words(day: GuideDay, turn: Turn, units: UnitSystem) -> str:
    """Return what a rod does in a turn, after the run's name."""
    if turn.spot == IDLE:
        return "rests: no room, or nothing open for this rod"
    plan, people = day.plan, day.asked.party.people
    spot = plan.laid.frame.spots[turn.spot]
    parts = []
    if turn.stays:
        parts.append("stays and fishes on")
    elif turn.move_min >= 1:
        how = "afloat and ashore" if day.asked.party.boat else "the walk"
        parts.append(f"first cast about {clock(turn.fish, day.zone)}, after {how}")
    if turn.beside:
        others = list_words([people[one].name for one in turn.beside])
        far = distance_words(day.asked.party.room_m, units)
        if turn.place == 0:
            parts.append(f"goes in first; {others} in the same run")
        else:
            parts.append(f"with {others}: goes in above, once the one before is {far} down")
    if turn.before:
        parts.append(f"after {'one rod' if turn.before == 1 else f'{turn.before} rods'} today")
    elif not turn.stays and not turn.beside:
        parts.append("first through it")
    room = "1 rod" if spot.holds == 1 else f"{spot.holds} rods"
    parts.append(f"room for {room}")
    return "; ".join(parts)


def swaps_told(day: GuideDay) -> list[str]:
    """Return when rods change places: who swaps with whom, who moves on."""
    plan, people = day.plan, day.asked.party.people
    told: list[str] = []
    for turn in range(1, plan.laid.frame.turns if plan.rods else 0):
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
        words = [f"{people[a].name} and {people[b].name} swap" for a, b in pairs]
        swapped = {rod for pair in pairs for rod in pair}
        words += [
            f"{people[rod].name} to {plan.laid.frame.spots[now[rod]].name}"
            for rod in moved
            if rod not in swapped
        ]
        told.append(f"{clock(plan.laid.at(turn), day.zone)}: {'; '.join(words)}.")
    return told


def rig_words(day: GuideDay, rod: int, turn: Turn) -> str:
    """Return cast, head and tip for most places of a run, from what the person carries."""
    offer = day.plan.laid.offers[rod].get(turn.spot)
    if offer is None:
        return ""
    person = day.asked.party.people[rod]
    graded = day.asked.facts.grading
    cast = _most([one.cast for one in offer.stands])
    head = _head(person, offer)
    tip = _most([one.tip for one in offer.stands])
    if tip and person.tips and tip not in person.tips:
        tip = f"{tip} is what it wants, not with {person.name}: the nearest they have"
    stick = person.rod or _most([one.rod for one in offer.stands])
    if stick and person.rod == "" and len(graded.rods) < 2:
        stick = ""
    return ", ".join(part for part in (cast, stick, head, tip) if part)


def _head(person: Person, offer: Offer) -> str:
    """Return the longest of a person's heads that fits behind all places; the map's without."""
    if not person.heads:
        return _most([one.head for one in offer.stands])
    room = min(one.head_max_m for one in offer.stands)
    fit = [(long, name) for name, long in person.heads if long <= room]
    return max(fit)[1] if fit else min((long, name) for name, long in person.heads)[1]


def _most(words: Sequence[str]) -> str:
    """Return the word that stands most often; empty where none does."""
    told = [word for word in words if word]
    return Counter(told).most_common(1)[0][0] if told else ""


def mind_words(day: GuideDay, number: int) -> str:
    """Return the one thing to mind at a run."""
    mind = day.plan.laid.runs[number].mind
    return MINDED.get(mind, "your own eyes")


def standing_words(day: GuideDay, rod: int, number: int, units: UnitSystem) -> str:
    """Return from where a rod fishes a run: dry ground or wading, how much of it is theirs."""
    offer = day.plan.laid.offers[rod][number]
    deepest = max(one.depth_m for one in offer.stands)
    dry = deepest <= DRY_M
    where = "from dry ground" if dry else f"standing to {length_words(deepest, units)} as mapped"
    able = sum(one.castable for one in offer.run.stands)
    if len(offer.stands) < able:
        where += f"; {len(offer.stands)} of {able} places are theirs"
    return where


def person_told(day: GuideDay, rod: int, units: UnitSystem) -> str:
    """Return for whom the plan reckons, and what it leaves them."""
    graded, person = day.asked.facts.grading, day.asked.party.people[rod]
    limit = limit_of(person, graded)
    if not is_lower(limit, graded.limit):
        return f"{person.name}: as the map was graded for; its limits hold."
    share = round(10 * day.asked.settings.easy_share)
    return (
        f"{person.name}: limits lower than those the map was graded for (stands to "
        f"{length_words(limit.depth_m, units)} at most). Offered are only dry ground that dry "
        f"ground joins to a way in, and water that stays within {share} tenths of every limit of "
        "theirs, its whole zone reckoned with; what is not known is not offered."
    )


def none_told(day: GuideDay) -> str:
    """Return why there is no plan."""
    if day.plan.laid.frame.turns == 0:
        return "There is no plan: too little light is left on that day."
    if not day.plan.laid.frame.spots:
        return "There is no plan: no run serves anybody of the party at this flow."
    return "There is no plan: the runs that serve do not hold all rods on any of their ways."
