"""A run at a flow in ten plain lines, to be read in the rain; what is unknown is named."""

from __future__ import annotations

import math
from collections.abc import Callable

from reachmap.angler.card_facts import RunCard, Span, Standing
from reachmap.angler.standing import DRY_M
from reachmap.angler.wind import Wind, WindWord
from reachmap.base.language import noted, tr, tr_count
from reachmap.base.units import flow_words, from_si, rounded_flow
from reachmap.base.words import Side, Strip, SwingEnd, UnitSystem, WayIn
from reachmap.text.hazards import hazard_sentence, left_out_words
from reachmap.text.numbers import (
    distance_words,
    length_words,
    list_words,
    span_words,
    time_words,
)
from reachmap.text.plain_words import in_words
from reachmap.text.plan import (
    HELPS,
    angle_words,
    angles_words,
    art_words,
)
from reachmap.text.run_card_fly import fly_line
from reachmap.text.terms import ENDS_IN, FROM_BANK, KINDS, SIDES
from reachmap.text.way_back import way_back_words

MOST_NAMED = 3
"""Most hazards named on a card; one straight off only where nothing else is. Our choice."""

Maker = Callable[[RunCard, UnitSystem], str]


def no_water_line(run: str, flow: float, units: UnitSystem) -> str:
    """Return the one line on a run without swing water at a flow [m3/s]."""
    at = flow_words(flow, units)
    return tr(
        "{run}: no swing water found at {at}. Look at another flow or another run.", run=run, at=at
    )


def run_card_lines(card: RunCard, units: UnitSystem) -> list[str]:
    """Return ten plain lines on a run at a flow; six where there is no place to cast from."""
    makers: tuple[Maker, ...] = (_head, _access, _stand, _below, way_back_line)
    makers += (fly_line,) if card.standing is None else (_room, _casts, _swing, fly_line, _pace)
    return [make(card, units) for make in makers]


def _head(card: RunCard, units: UnitSystem) -> str:
    """Return line 1: which run, which flow, what water."""
    where = tr("by the island") if card.side is Side.ISLAND else tr(SIDES[card.side])
    return tr(
        "{run} at {flow}: "
        "{kinds}, {where}, {length}{prime}; score {score} of 100, {confidence} confidence.",
        run=card.run,
        flow=flow_words(card.flow, units),
        kinds=list_words([tr(KINDS[kind]) for kind in card.kinds]),
        where=where,
        length=distance_words(card.fished.length_m, units),
        prime=tr(", prime water") if card.prime else "",
        score=f"{card.score:.0f}",
        confidence=in_words(card.confidence),
    )


def _access(card: RunCard, units: UnitSystem) -> str:
    """Return line 2: how one gets there."""
    stands = card.standing
    if stands is None and card.left_out:
        return tr("Every place to stand is left out for a drawn hazard. Water to look at.")
    if stands is None:
        return tr("No place found to stand and cast from at this flow: water to look at.")
    side = tr(FROM_BANK[stands.side])
    if stands.way is WayIn.FOOT:
        off = distance_words(stands.access_m, units)
        return tr("Way in: on foot, {side}; nearest drawn way {off} off.", side=side, off=off)
    if stands.way is WayIn.BOAT:
        return tr("Way in: by boat only, {side}; no way on foot is drawn.", side=side)
    return tr("Way in: not known, none is drawn; these lines are for {side}.", side=side)


def _stand(card: RunCard, units: UnitSystem) -> str:
    """Return line 3: where to stand, and how far out the water can be waded."""
    ground = ""
    if card.standing is not None:
        deep = card.standing.deepest_m
        wet = (
            ""
            if deep < DRY_M
            else tr(" or in up to {deep} of water", deep=length_words(deep, units))
        )
        ground = tr("Stand on dry ground{wet}. ", wet=wet)
    grades = [
        tr("{grade} to {out}", grade=grade, out=distance_words(out, units))
        for grade, out in ((tr("easy"), card.easy_out_m), (tr("careful"), card.careful_out_m))
        if math.isfinite(out)
    ]
    if not grades:
        return tr("{ground}No water here grades as wadeable for you: stay out.", ground=ground)
    return tr(
        "{ground}Wading {grades} out; beyond that stay out.",
        ground=ground,
        grades=", ".join(grades),
    )


def _below(card: RunCard, units: UnitSystem) -> str:
    """Return line 4: drawn hazards, and places left out for them."""
    words = hazards_words(card, units)
    return tr("Hazards: {hazards}", hazards=f"{words[0].lower()}{words[1:]}")


def hazards_words(card: RunCard, units: UnitSystem) -> str:
    """Return the drawn hazards near a run, and places left out; "none" only after a full search."""
    within = distance_words(card.look_m, units)
    if not card.near and card.looked:
        return tr(
            "None is drawn within {within} of this run, its stands, the way in and the "
            "current below. Look for yourself.",
            within=within,
        )
    if not card.near:
        return tr(
            "Not all known. None drawn was met, but the way in or the current below "
            "could not be followed for {within}. Look for yourself.",
            within=within,
        )
    named = [hazard_sentence(row, units) for row in card.near[:MOST_NAMED]]
    more = (
        tr("; and {near} more", near=len(card.near) - MOST_NAMED)
        if len(card.near) > MOST_NAMED
        else ""
    )
    words = f"{'; '.join(named)}{more}. {left_out_words(card.left_out)}".strip()
    return f"{words[0].upper()}{words[1:]}"


def way_back_line(card: RunCard, units: UnitSystem) -> str:
    """Return line 5: the way back in rising water, and the effect of a hand's breadth more."""
    if card.back is not None:
        way = tr("Way back {back}", back=way_back_words(card.back, units))
    elif card.by_land:
        way = tr("Way back: along the bank at every mapped flow. Step out when the water rises.")
    else:
        way = tr("Way back: not known.")
    return f"{way} {_more_water(card.standing, units) if card.standing else ''}".strip()


def _more_water(stands: Standing, units: UnitSystem) -> str:
    """Return the effect of a hand's breadth more water on a run's places, in one sentence."""
    shut, count, flow = stands.hand_shuts, stands.count, stands.hand_flow_m3_s
    about = flow_words(rounded_flow(flow, units), units) if math.isfinite(flow) else ""
    at = tr("about {about}", about=about) if about else tr("at a flow not mapped")
    words = tr(
        "A hand's breadth more water ({hand}, {at})", hand=length_words(stands.hand_m, units), at=at
    )
    if not shut:
        return tr("{words} leaves its places and the way back within your limits.", words=words)
    places = (
        tr("its only place")
        if count == 1
        else tr("{shut} of {count} places", shut=shut, count=count)
    )
    places = tr("all {count} places", count=count) if 1 < count == shut else places
    return tr("{words} shuts {places}, or the way in or back.", words=words, places=places)


def _room(card: RunCard, units: UnitSystem) -> str:
    """Return line 6: room behind and the longest head; what is unknown is no number."""
    stands = card.standing
    if stands is None or stands.room_m is None:
        return tr("Room behind: not known; nobody mapped what stands there. Look before you cast.")
    longest = tr("no head fits")
    if stands.every_head:
        longest = tr("every head you own fits")
    elif stands.head_m is not None:
        longest = tr("longest head that fits {span}", span=span_words(*stands.head_m, units))
    span = span_words(*stands.room_m, units)
    if stands.blind:
        return tr(
            "Room behind: not known at {blind} of {count} places, look before you "
            "cast; at the others {span}, +-20 %; {longest}.",
            blind=stands.blind,
            count=stands.count,
            span=span,
            longest=longest,
        )
    return tr("Room behind {span}, +-20 %; {longest}.", span=span, longest=longest)


def _casts(card: RunCard, units: UnitSystem) -> str:
    """Return line 7: casts, head, loop, hand and wind."""
    made = card.casting
    if made is None:
        return tr("Casts: none that you own the gear for has room here.")
    rest = tr("no other fits at every place")
    if made.all_fit:
        rest = tr("every cast has room")
    elif made.others:
        rest = tr("at every place also {others}", others=", ".join(map(in_words, made.others)))
    hand = tr("natural") if made.natural_hand else tr("off")
    out = tr("{out} of ", out=length_words(made.out_m, units)) if math.isfinite(made.out_m) else ""
    return tr(
        "Cast: {cast} with {out}{head}, loop {loop}, {hand} hand; {rest}. {wind}",
        cast=in_words(made.cast),
        out=out,
        head=made.head,
        loop=in_words(made.loop),
        hand=hand,
        rest=rest,
        wind=_wind(card.wind, units),
    )


def _wind(wind: Wind, units: UnitSystem) -> str:
    """Return the wind assumed."""
    if math.isfinite(wind.towards_rad):
        unit = "mph" if units is UnitSystem.US else "m/s"
        return tr(
            "Wind {speed} {unit} as forecast.",
            speed=f"{from_si(wind.speed_m_s, unit):.0f}",
            unit=unit,
        )
    if wind.word is WindWord.CALM:
        return tr("Calm assumed.")
    return tr("Wind {word}.", word=in_words(wind.word.value))


def _swing(card: RunCard, units: UnitSystem) -> str:
    """Return line 8: how to swing it."""
    swing = card.swinging
    if swing is None:
        return tr("Swing: none worked out, for want of a place with room to cast.")
    seconds = tr("time not known")
    if swing.seconds is not None:
        seconds = swing_words(swing.seconds, swing.end)
    still = ""
    if math.isfinite(swing.wait_s):
        still = tr(
            "; the tip comes round later: wait {wait} s after the line is straight",
            wait=f"{swing.wait_s:.0f}",
        )
    return tr(
        "Swing: cast {far}, {angle}, {tip}{art}; {seconds}{still}.",
        far=span_words(*swing.cast_m, units),
        angle=angles_words(*swing.angle_deg),
        tip=swing.tip,
        art=_art(card),
        seconds=seconds,
        still=still,
    )


def _art(card: RunCard) -> str:
    """Return the line handling at most places: mends, a rod held high."""
    words = art_words(card.plan)
    return f", {words}" if words else ""


def _pace(card: RunCard, units: UnitSystem) -> str:
    """Return line 10: step, time, second pass, and unknown room behind."""
    stands, fished = card.standing, card.fished
    if stands is None or math.isnan(fished.minutes):
        return tr("Pace: none, for want of a place with room to cast.")
    unknown = ""
    if stands.blind:
        unknown = tr(
            " Not known: what stands behind {blind} of {count} places.",
            blind=stands.blind,
            count=stands.count,
        )
    return tr(
        "Step {step}, about {seconds} s a cast: {minutes} once through.{second}{unknown}",
        step=length_words(fished.step_m, units),
        seconds=f"{fished.seconds:.0f}",
        minutes=time_words(fished.minutes),
        second=_second(card, units),
        unknown=unknown,
    )


def _second(card: RunCard, units: UnitSystem) -> str:
    """Return how the run is begun, the aid that would help, and the second pass."""
    plan = card.plan
    if plan is None:
        return ""
    words = tr("Near water first, from a rod's length of line.")
    if plan.pulls:
        words = tr_count(
            "Near water first, from a rod's length of line, {count} pull more to the full cast.",
            "Near water first, from a rod's length of line, {count} pulls more to the full cast.",
            plan.pulls,
        )
    if plan.help is not None:
        words += " " + tr("{help} would help.", help=tr(HELPS[plan.help]).capitalize())
    if plan.second and math.isfinite(plan.out_cast_m):
        second = noted("Second pass outside: cast {far}, {angle}, {tip}.")
        if plan.take is Strip.OUTSIDE:
            second = noted(
                "Second pass outside: the take is expected there, cast {far}, {angle}, {tip}."
            )
        far, angle = length_words(plan.out_cast_m, units), angle_words(plan.out_angle_deg)
        words += " " + tr(second, far=far, angle=angle, tip=plan.out_tip)
    return f" {words}"


def swing_words(seconds: Span, end: SwingEnd) -> str:
    """Return how long a swing takes and how it ends."""
    how = tr(ENDS_IN[end]) if end in ENDS_IN else tr("to its end")
    return tr("{seconds} s {end}", seconds=span_range(seconds), end=how)


def span_range(span: Span) -> str:
    """Return a span of whole numbers, one where both are alike."""
    low, high = (f"{value:.0f}" for value in span)
    return low if low == high else f"{low}-{high}"
