"""A run at a flow in ten plain lines, to be read in the rain; what is unknown is named."""

from __future__ import annotations

import math
from collections.abc import Callable

from reachmap.angler.card_facts import RunCard, Span, Standing
from reachmap.angler.standing import DRY_M
from reachmap.angler.wind import Wind, WindWord
from reachmap.base.units import flow_words, from_si, rounded_flow
from reachmap.base.words import Side, Strip, UnitSystem, WayIn
from reachmap.gauge.clarity_data import BasisKind
from reachmap.text.days import basis_words
from reachmap.text.fly import fly_words
from reachmap.text.hazards import EVERY_PLACE, hazard_sentence, left_out_words
from reachmap.text.numbers import (
    NOT_KNOWN,
    distance_words,
    length_words,
    list_words,
    span_words,
    speed_words,
    time_words,
)
from reachmap.text.plan import (
    HELPS,
    angle_words,
    angles_words,
    art_words,
    ladder_words,
    why_words,
)
from reachmap.text.terms import ENDS_IN, FROM_BANK, KINDS
from reachmap.text.way_back import way_back_words

MOST_NAMED = 3
"""Most hazards named on a card; one straight off only where nothing else is. Our choice."""

Maker = Callable[[RunCard, UnitSystem], str]


def no_water_line(run: str, flow: float, units: UnitSystem) -> str:
    """Return the one line on a run without swing water at a flow [m3/s]."""
    at = flow_words(flow, units)
    return f"{run}: no swing water found at {at}. Look at another flow or another run."


def run_card_lines(card: RunCard, units: UnitSystem) -> list[str]:
    """Return ten plain lines on a run at a flow; six where there is no place to cast from."""
    makers: tuple[Maker, ...] = (_head, _access, _stand, _below, way_back_line)
    makers += (_fly,) if card.standing is None else (_room, _casts, _swing, _fly, _pace)
    return [make(card, units) for make in makers]


def _head(card: RunCard, units: UnitSystem) -> str:
    """Return line 1: which run, which flow, what water."""
    where = "by the island" if card.side is Side.ISLAND else f"river {card.side}"
    return (
        f"{card.run} at {flow_words(card.flow, units)}: "
        f"{list_words([KINDS[kind] for kind in card.kinds])}, {where}, "
        f"{distance_words(card.fished.length_m, units)}{', prime water' if card.prime else ''}; "
        f"score {card.score:.0f} of 100, {card.confidence} confidence."
    )


def _access(card: RunCard, units: UnitSystem) -> str:
    """Return line 2: how one gets there."""
    stands = card.standing
    if stands is None and card.left_out:
        return f"{EVERY_PLACE} Water to look at."
    if stands is None:
        return "No place found to stand and cast from at this flow: water to look at."
    side = FROM_BANK[stands.side]
    if stands.way is WayIn.FOOT:
        off = distance_words(stands.access_m, units)
        return f"Way in: on foot, {side}; nearest drawn way {off} off."
    if stands.way is WayIn.BOAT:
        return f"Way in: by boat only, {side}; no way on foot is drawn."
    return f"Way in: {NOT_KNOWN}, none is drawn; these lines are for {side}."


def _stand(card: RunCard, units: UnitSystem) -> str:
    """Return line 3: where to stand, and how far out the water can be waded."""
    ground = ""
    if card.standing is not None:
        deep = card.standing.deepest_m
        wet = "" if deep < DRY_M else f" or in up to {length_words(deep, units)} of water"
        ground = f"Stand on dry ground{wet}. "
    grades = [
        f"{grade} to {distance_words(out, units)}"
        for grade, out in (("easy", card.easy_out_m), ("careful", card.careful_out_m))
        if math.isfinite(out)
    ]
    if not grades:
        return f"{ground}No water here grades as wadeable for you: stay out."
    return f"{ground}Wading {', '.join(grades)} out; beyond that stay out."


def _below(card: RunCard, units: UnitSystem) -> str:
    """Return line 4: drawn hazards, and places left out for them."""
    words = hazards_words(card, units)
    return f"Hazards: {words[0].lower()}{words[1:]}"


def hazards_words(card: RunCard, units: UnitSystem) -> str:
    """Return the drawn hazards near a run, and places left out; "none" only after a full search."""
    within = distance_words(card.look_m, units)
    if not card.near and card.looked:
        return (
            f"None is drawn within {within} of this run, its stands, the way in and the "
            "current below. Look for yourself."
        )
    if not card.near:
        return (
            f"Not all known. None drawn was met, but the way in or the current below "
            f"could not be followed for {within}. Look for yourself."
        )
    named = [hazard_sentence(row, units) for row in card.near[:MOST_NAMED]]
    more = f"; and {len(card.near) - MOST_NAMED} more" if len(card.near) > MOST_NAMED else ""
    words = f"{'; '.join(named)}{more}. {left_out_words(card.left_out)}".strip()
    return f"{words[0].upper()}{words[1:]}"


def way_back_line(card: RunCard, units: UnitSystem) -> str:
    """Return line 5: the way back in rising water, and the effect of a hand's breadth more."""
    if card.back is not None:
        way = f"Way back {way_back_words(card.back, units)}"
    elif card.by_land:
        way = "Way back: along the bank at every mapped flow. Step out when the water rises."
    else:
        way = f"Way back: {NOT_KNOWN}."
    return f"{way} {_more_water(card.standing, units) if card.standing else ''}".strip()


def _more_water(stands: Standing, units: UnitSystem) -> str:
    """Return the effect of a hand's breadth more water on a run's places, in one sentence."""
    shut, count, flow = stands.hand_shuts, stands.count, stands.hand_flow_m3_s
    about = flow_words(rounded_flow(flow, units), units) if math.isfinite(flow) else ""
    at = f"about {about}" if about else "at a flow not mapped"
    words = f"A hand's breadth more water ({length_words(stands.hand_m, units)}, {at})"
    if not shut:
        return f"{words} leaves its places and the way back within your limits."
    places = "its only place" if count == 1 else f"{shut} of {count} places"
    places = f"all {count} places" if 1 < count == shut else places
    return f"{words} shuts {places}, or the way in or back."


def _room(card: RunCard, units: UnitSystem) -> str:
    """Return line 6: room behind and the longest head; what is unknown is no number."""
    stands = card.standing
    if stands is None or stands.room_m is None:
        return "Room behind: not known; nobody mapped what stands there. Look before you cast."
    longest = "no head fits"
    if stands.every_head:
        longest = "every head you own fits"
    elif stands.head_m is not None:
        longest = f"longest head that fits {span_words(*stands.head_m, units)}"
    span = span_words(*stands.room_m, units)
    if stands.blind:
        return (
            f"Room behind: not known at {stands.blind} of {stands.count} places, look before you "
            f"cast; at the others {span}, +-20 %; {longest}."
        )
    return f"Room behind {span}, +-20 %; {longest}."


def _casts(card: RunCard, units: UnitSystem) -> str:
    """Return line 7: casts, head, loop, hand and wind."""
    made = card.casting
    if made is None:
        return "Casts: none that you own the gear for has room here."
    rest = "no other fits at every place"
    if made.all_fit:
        rest = "every cast has room"
    elif made.others:
        rest = f"at every place also {', '.join(made.others)}"
    hand = "natural" if made.natural_hand else "off"
    out = f"{length_words(made.out_m, units)} of " if math.isfinite(made.out_m) else ""
    return (
        f"Cast: {made.cast} with {out}{made.head}, loop {made.loop}, {hand} hand; {rest}. "
        f"{_wind(card.wind, units)}"
    )


def _wind(wind: Wind, units: UnitSystem) -> str:
    """Return the wind assumed."""
    if math.isfinite(wind.towards_rad):
        unit = "mph" if units is UnitSystem.US else "m/s"
        return f"Wind {from_si(wind.speed_m_s, unit):.0f} {unit} as forecast."
    return "Calm assumed." if wind.word is WindWord.CALM else f"Wind {wind.word.value}."


def _swing(card: RunCard, units: UnitSystem) -> str:
    """Return line 8: how to swing it."""
    swing = card.swinging
    if swing is None:
        return "Swing: none worked out, for want of a place with room to cast."
    seconds = "time not known"
    if swing.seconds is not None:
        seconds = f"{span_range(swing.seconds)} s {ENDS_IN.get(swing.end, 'to its end')}"
    still = ""
    if math.isfinite(swing.wait_s):
        still = f"; the tip comes round later: wait {swing.wait_s:.0f} s after the line is straight"
    return (
        f"Swing: cast {span_words(*swing.cast_m, units)}, {angles_words(*swing.angle_deg)}, "
        f"{swing.tip}{_art(card)}; {seconds}{still}."
    )


def _art(card: RunCard) -> str:
    """Return the line handling at most places: mends, a rod held high."""
    words = art_words(card.plan)
    return f", {words}" if words else ""


def _fly(card: RunCard, units: UnitSystem) -> str:
    """Return line 9: how the fly swims, and which."""
    words = ""
    if (swims := card.swimming) is not None:
        words = (
            f"Fly swims {speed_words(swims.speed_m_s, units)}, "
            f"{length_words(swims.depth_m, units)} down, "
            f"{length_words(swims.above_m, units)} above the bed"
            f"{f' (wants a {swims.wants} tip)' if swims.wants else ''}. "
        )
    if ladder := ladder_words(card.ladder, units):
        why = why_words(card.ladder)
        words += f"Tips: {ladder}{f'; {why}' if why else ''}. "
    return f"{words}{fly_words(card.fly, card.clarity.metres, units)}{_clarity(card, units)}"


def _clarity(card: RunCard, units: UnitSystem) -> str:
    """Return the clarity with its band and basis; empty where the angler gave it."""
    kind = card.clarity.basis.kind
    if kind is BasisKind.GIVEN:
        return ""
    if kind is BasisKind.NONE:
        return " Clarity is assumed: nobody said."
    words = clarity_words(card, units)
    return f" {words[0].upper()}{words[1:]}."


def clarity_words(card: RunCard, units: UnitSystem) -> str:
    """Return the band of clarity and the notes behind it."""
    clarity = card.clarity
    low, high = (length_words(one, units) for one in (clarity.low, clarity.high))
    beyond = "" if card.clarity_noted else "; nobody noted it at such a flow"
    return f"clarity {low} to {high}, by {basis_words(clarity.basis)}{beyond}"


def _pace(card: RunCard, units: UnitSystem) -> str:
    """Return line 10: step, time, second pass, and unknown room behind."""
    stands, fished = card.standing, card.fished
    if stands is None or math.isnan(fished.minutes):
        return "Pace: none, for want of a place with room to cast."
    unknown = ""
    if stands.blind:
        unknown = f" Not known: what stands behind {stands.blind} of {stands.count} places."
    return (
        f"Step {length_words(fished.step_m, units)}, about {fished.seconds:.0f} s a cast: "
        f"{time_words(fished.minutes)} once through.{_second(card, units)}{unknown}"
    )


def _second(card: RunCard, units: UnitSystem) -> str:
    """Return how the run is begun, the aid that would help, and the second pass."""
    plan = card.plan
    if plan is None:
        return ""
    words = " Near water first, from a rod's length of line"
    if plan.pulls:
        words += f", {plan.pulls} pull{'' if plan.pulls == 1 else 's'} more to the full cast"
    words += "."
    if plan.help is not None:
        words += f" {HELPS[plan.help].capitalize()} would help."
    if plan.second and math.isfinite(plan.out_cast_m):
        take = " the take is expected there," if plan.take is Strip.OUTSIDE else ""
        words += (
            f" Second pass outside:{take} cast {length_words(plan.out_cast_m, units)}, "
            f"{angle_words(plan.out_angle_deg)}, {plan.out_tip}."
        )
    return words


def span_range(span: Span) -> str:
    """Return a span of whole numbers, one where both are alike."""
    low, high = (f"{value:.0f}" for value in span)
    return low if low == high else f"{low}-{high}"
