"""A run at a flow in seven lines, always in the same order, each with its confidence."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from reachmap.angler.card_facts import RunCard
from reachmap.angler.standing import DRY_M
from reachmap.base.language import noted, tr
from reachmap.base.words import (
    Confidence,
    HangDown,
    Side,
    SwingEnd,
    UnitSystem,
    WaterKind,
    WayIn,
)
from reachmap.gauge.clarity_data import BasisKind
from reachmap.text.fly import tied_words
from reachmap.text.numbers import (
    distance_words,
    length_words,
    span_words,
    time_words,
)
from reachmap.text.plain_words import in_words
from reachmap.text.plan import angles_words, art_words, is_mended
from reachmap.text.run_card import hazards_words, swing_words, way_back_line
from reachmap.text.run_card_fly import clarity_words
from reachmap.text.terms import FROM_BANK
from reachmap.text.trade import depth_in_words, pace_in_words

SURE: Mapping[str, str] = {
    Confidence.GOOD: noted("well supported"),
    Confidence.FAIR: noted("fairly sure"),
    Confidence.LOW: noted("a guess"),
}
"""Confidence of a piece of water, on a card and in a list."""

SHORT_CAST_M, LONG_CAST_M = 17.0, 24.0
"""Casts up to the one are short, from the other long [m]; our choice, 14-20 and 21-28."""

WHERE_BY_KIND: Mapping[str, str] = {
    WaterKind.INSIDE_BEND: noted("the soft strip lies along the bar"),
    WaterKind.SEAM: noted("the quick water runs beside the slow within a cast"),
    WaterKind.TAILOUT: noted("the tail lifts evenly to its lip"),
    WaterKind.SOFT_EDGE: noted("the soft strip lies along the bank"),
    WaterKind.EVEN_RUN: noted("it runs evenly, at a pace one swings"),
}
"""Place of the water worth fishing, by kind."""

ENDS: Mapping[str, str] = {
    SwingEnd.HANGS: noted("let it hang"),
    SwingEnd.STALLS: noted("strip in where it stalls"),
    SwingEnd.LEAVES: noted("strip in when it leaves the soft water"),
    SwingEnd.TOUCHES: noted("keep the tip light, it touches"),
    SwingEnd.AGROUND: noted("lift before it runs aground"),
    SwingEnd.TIMEOUT: noted("help it round"),
    SwingEnd.UNKNOWN: noted("look how it ends"),
}
"""What to do at the end of a swing."""

HANGS: Mapping[str, str] = {
    HangDown.PULL: noted("give it short pulls at the hang"),
    HangDown.LIFT: noted("lift it as soon as it hangs"),
}
"""What to do at the hang-down where letting it hang is not all."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a card: its name, its words and their confidence."""

    name: str
    words: str
    sure: str


@dataclass(frozen=True, slots=True)
class Facts:
    """Facts behind the lines.

    Parameters
    ----------
    card
        The run at the flow.
    speed_m_s
        Speed of its best water [m/s]; NaN unknown.
    height_m
        The person's [m].
    units
        The reach folder's units.
    stretch, minutes
        The prime stretch and the time it takes, in words; empty where none is known.
    whole
        Whether the stretch is the whole run.
    """

    card: RunCard
    speed_m_s: float
    height_m: float
    units: UnitSystem
    stretch: str = ""
    minutes: str = ""
    whole: bool = False


def run_lines(facts: Facts) -> tuple[Line, ...]:
    """Return the seven lines of a run's card."""
    makers: tuple[tuple[str, Callable[[Facts], tuple[str, str]]], ...] = (
        (tr("Stand"), _stand),
        (tr("Cast"), _cast),
        (tr("Tip, fly, mend"), _fly),
        (tr("Step and pace"), _pace),
        (tr("How long"), _long),
        (tr("Way in and back"), _way),
        (tr("What lies below"), _below),
    )
    return tuple(Line(name, *make(facts)) for name, make in makers)


def why_sentence(card: RunCard, kind: WaterKind | None = None) -> str:
    """Return one sentence on why and how a run fishes at this flow, in a guide's words.

    `kind` is that of the water one begins with; None for the first that is fished.
    """
    where = tr("At this height {water}", water=tr(WHERE_BY_KIND[kind or card.kinds[0]]))
    if card.standing is None:
        return tr("{where}, but no place to stand was found: water to look at.", where=where)
    if card.swinging is None:
        return tr("{where}: look before you cast.", where=where)
    casts = tr("a middling cast")
    if card.swinging.cast_m[1] <= SHORT_CAST_M:
        casts = tr("short casts")
    elif card.swinging.cast_m[0] >= LONG_CAST_M:
        casts = tr("long casts")
    swing = card.swinging
    end = tr(HANGS.get(swing.hang, "")) if swing.hang and swing.end is SwingEnd.HANGS else ""
    end = end or tr(ENDS[swing.end])
    return tr("{where}: {casts}, and {end}.", where=where, casts=casts, end=end)


def _stand(facts: Facts) -> tuple[str, str]:
    """Return where to stand, how deep and how far out."""
    card, stands, units = facts.card, facts.card.standing, facts.units
    sure = tr(SURE[card.confidence])
    if stands is None:
        return tr("No place to stand and cast from was found: water to look at."), sure
    deep = stands.deepest_m
    if not math.isfinite(deep):
        depth = tr("how deep is not known")
    elif deep < DRY_M:
        depth = tr("on dry ground")
    else:
        depth = tr("at most {deep}", deep=depth_in_words(deep, facts.height_m, units))
    where = tr(FROM_BANK[stands.side])
    return f"{where[0].upper()}{where[1:]}, {depth}. {_out_words(card, units)}", sure


def _out_words(card: RunCard, units: UnitSystem) -> str:
    """Return how far out water within the limits reaches."""
    easy, careful = card.easy_out_m, card.careful_out_m
    parts = []
    if math.isfinite(easy):
        parts.append(tr("within your limits to {easy} out", easy=distance_words(easy, units)))
    if math.isfinite(careful) and not careful <= easy:
        far = distance_words(careful, units)
        parts.append(
            tr("close to them to {far}", far=far)
            if parts
            else tr("close to your limits to {far} out", far=far)
        )
    if not parts:
        return tr("No water here is within your limits: stay out of it.")
    words = ", ".join(parts)
    words = f"{words[0].upper()}{words[1:]}"
    return tr("{words}; beyond that stay out.", words=words)


def _cast(facts: Facts) -> tuple[str, str]:
    """Return rod, head, cast, its length and angle; the confidence of the room behind."""
    card, units = facts.card, facts.units
    made, swing, stands = card.casting, card.swinging, card.standing
    if made is None:
        sure = tr("room behind not known: look first") if stands and stands.blind else ""
        return tr("None that you own the gear for has room here."), sure or tr(
            "as far as it is mapped"
        )
    hand = tr("natural hand") if made.natural_hand else tr("off hand")
    gear = tr("{rod} with {head}", rod=made.rod, head=made.head) if made.rod else made.head
    cast = in_words(made.cast)
    words = f"{cast[0].upper()}{cast[1:]}, {hand}, {gear}"
    if swing is not None:
        words += f"; {span_words(*swing.cast_m, units)}, {angles_words(*swing.angle_deg)}"
    return f"{words}.", _room_sure(facts)


def _room_sure(facts: Facts) -> str:
    """Return the confidence of the room behind."""
    stands = facts.card.standing
    if stands is None or stands.room_m is None:
        return tr("room behind not known: look first")
    room = tr("{span} behind, give or take a fifth", span=span_words(*stands.room_m, facts.units))
    if stands.blind:
        return tr(
            "room behind not known at {blind} of {count} places: look first",
            blind=stands.blind,
            count=stands.count,
        )
    return room


def _fly(facts: Facts) -> tuple[str, str]:
    """Return tip, fly and mend; the clarity behind them."""
    card, units = facts.card, facts.units
    tip = card.swinging.tip if card.swinging is not None else ""
    wants = card.swimming.wants if card.swimming is not None else None
    first = (tip or tr("tip not worked out")) + (
        tr(" (it wants a {wants} one)", wants=in_words(wants)) if wants else ""
    )
    parts = [first, tied_words(card.fly, units)]
    if card.plan is not None:
        parts.append(_handled(card, units))
    words = "; ".join(parts)
    basis = card.clarity.basis.kind
    sure = tr("for the clarity you gave") if basis is BasisKind.GIVEN else tr("clarity assumed")
    if basis not in (BasisKind.GIVEN, BasisKind.NONE):
        sure = clarity_words(card, units)
    return f"{words[0].upper()}{words[1:]}.", sure


def _handled(card: RunCard, units: UnitSystem) -> str:
    """Return how to handle the line from landing to the hang-down."""
    words = art_words(card.plan)
    parts = [words] if is_mended(card.plan) else [tr("no mend"), *([words] if words else [])]
    if card.swinging is not None and card.swinging.fed_m > 0:
        parts.append(tr("feed {fed} of line", fed=length_words(card.swinging.fed_m, units)))
    return ", ".join(parts)


def _pace(facts: Facts) -> tuple[str, str]:
    """Return the step, the time of a cast, the swing and the pace of the water."""
    card, units = facts.card, facts.units
    water = tr("water at {speed}", speed=pace_in_words(facts.speed_m_s, units))
    if not math.isfinite(facts.speed_m_s):
        water = tr("the water's pace is not known")
    if card.standing is None or math.isnan(card.fished.minutes):
        return f"{water[0].upper()}{water[1:]}.", tr(SURE[card.confidence])
    words = tr(
        "{step} a cast, about {seconds} s each; {water}",
        step=length_words(card.fished.step_m, units),
        seconds=f"{card.fished.seconds:.0f}",
        water=water,
    )
    if card.swinging is not None and card.swinging.seconds is not None:
        words += f", {swing_words(card.swinging.seconds, card.swinging.end)}"
    if card.swinging is not None and math.isfinite(card.swinging.wait_s):
        words += tr(
            "; wait {wait} s for the tip when the line is straight",
            wait=f"{card.swinging.wait_s:.0f}",
        )
    return f"{words}.", tr("a usual pace, yours may differ")


def _long(facts: Facts) -> tuple[str, str]:
    """Return the time once through and the length of it."""
    fished, units = facts.card.fished, facts.units
    length = distance_words(fished.length_m, units)
    if math.isnan(fished.minutes):
        return tr(
            "Not worked out: no place with room to cast along its {length}.", length=length
        ), tr("not known")
    whole = tr(
        "{minutes} once through, {length}", minutes=time_words(fished.minutes), length=length
    )
    if facts.stretch and facts.minutes and not facts.whole:
        return tr(
            "{minutes} for the {stretch}; {whole}.",
            minutes=facts.minutes,
            stretch=facts.stretch,
            whole=whole,
        ), tr("if nothing takes")
    return f"{whole}.", tr("if nothing takes")


def _way(facts: Facts) -> tuple[str, str]:
    """Return the way in, the way back and the flow that cuts it off."""
    card, stands, units = facts.card, facts.card.standing, facts.units
    if stands is None:
        return tr("Way in not known."), tr("nobody could stand there")
    first, sure = tr("Way in not known, none is drawn."), tr("not known")
    if stands.way is WayIn.FOOT:
        off = distance_words(stands.access_m, units)
        first, sure = (
            tr("In on foot, {off} from the nearest way you drew.", off=off),
            tr("by the ways you drew"),
        )
    elif stands.way is WayIn.BOAT:
        first, sure = tr("In by boat: no way on foot is drawn."), tr("by the ways you drew")
    if stands.side is Side.ISLAND:
        first += " " + tr("You stand on an island or bar.")
    return f"{first} {way_back_line(card, units)}", sure


def _below(facts: Facts) -> tuple[str, str]:
    """Return the drawn hazards; whether the search for them was complete."""
    card = facts.card
    sure = tr("drawn hazards only: look for others")
    return hazards_words(card, facts.units), sure if card.looked else tr(
        "not all could be looked for"
    )


def card_row(line: Line) -> list[Any]:
    """Return a line as plain JSON values."""
    return [line.name, line.words, line.sure]
