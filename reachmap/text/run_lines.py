"""A run at a flow in seven lines, always in the same order, each with its confidence."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from reachmap.angler.card_facts import RunCard, Span
from reachmap.angler.standing import DRY_M
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
    NOT_KNOWN,
    distance_words,
    length_words,
    span_words,
    time_words,
)
from reachmap.text.plan import angles_words, art_words
from reachmap.text.run_card import clarity_words, hazards_words, span_range, way_back_line
from reachmap.text.terms import ENDS_IN, FROM_BANK
from reachmap.text.trade import depth_in_words, pace_in_words

SURE: Mapping[str, str] = {
    Confidence.GOOD: "well supported",
    Confidence.FAIR: "fairly sure",
    Confidence.LOW: "a guess",
}
"""Confidence of a piece of water, on a card and in a list."""

SHORT_CAST_M, LONG_CAST_M = 17.0, 24.0
"""Casts up to the one are short, from the other long [m]; our choice, 14-20 and 21-28."""

WHERE_BY_KIND: Mapping[str, str] = {
    WaterKind.INSIDE_BEND: "the soft strip lies along the bar",
    WaterKind.SEAM: "the quick water runs beside the slow within a cast",
    WaterKind.TAILOUT: "the tail lifts evenly to its lip",
    WaterKind.SOFT_EDGE: "the soft strip lies along the bank",
    WaterKind.EVEN_RUN: "it runs evenly, at a pace one swings",
}
"""Place of the water worth fishing, by kind."""

ENDS: Mapping[str, str] = {
    SwingEnd.HANGS: "let it hang",
    SwingEnd.STALLS: "strip in where it stalls",
    SwingEnd.LEAVES: "strip in when it leaves the soft water",
    SwingEnd.TOUCHES: "keep the tip light, it touches",
    SwingEnd.AGROUND: "lift before it runs aground",
    SwingEnd.TIMEOUT: "help it round",
    SwingEnd.UNKNOWN: "look how it ends",
}
"""What to do at the end of a swing."""

HANGS: Mapping[str, str] = {
    HangDown.PULL: "give it short pulls at the hang",
    HangDown.LIFT: "lift it as soon as it hangs",
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
    """

    card: RunCard
    speed_m_s: float
    height_m: float
    units: UnitSystem
    stretch: str = ""
    minutes: str = ""


def run_lines(facts: Facts) -> tuple[Line, ...]:
    """Return the seven lines of a run's card."""
    makers: tuple[tuple[str, Callable[[Facts], tuple[str, str]]], ...] = (
        ("Stand", _stand),
        ("Cast", _cast),
        ("Tip, fly, mend", _fly),
        ("Step and pace", _pace),
        ("How long", _long),
        ("Way in and back", _way),
        ("What lies below", _below),
    )
    return tuple(Line(name, *make(facts)) for name, make in makers)


def why_sentence(card: RunCard, kind: WaterKind | None = None) -> str:
    """Return one sentence on why and how a run fishes at this flow, in a guide's words.

    `kind` is that of the water one begins with; None for the first that is fished.
    """
    where = f"At this height {WHERE_BY_KIND[kind or card.kinds[0]]}"
    if card.standing is None:
        return f"{where}, but no place to stand was found: water to look at."
    if card.swinging is None:
        return f"{where}: look before you cast."
    casts = "a middling cast"
    if card.swinging.cast_m[1] <= SHORT_CAST_M:
        casts = "short casts"
    elif card.swinging.cast_m[0] >= LONG_CAST_M:
        casts = "long casts"
    swing = card.swinging
    end = HANGS.get(swing.hang, "") if swing.hang and swing.end is SwingEnd.HANGS else ""
    return f"{where}: {casts}, and {end or ENDS[swing.end]}."


def _stand(facts: Facts) -> tuple[str, str]:
    """Return where to stand, how deep and how far out."""
    card, stands, units = facts.card, facts.card.standing, facts.units
    sure = SURE[card.confidence]
    if stands is None:
        return "No place to stand and cast from was found: water to look at.", sure
    deep = stands.deepest_m
    if not math.isfinite(deep):
        depth = f"how deep is {NOT_KNOWN}"
    elif deep < DRY_M:
        depth = "on dry ground"
    else:
        depth = f"at most {depth_in_words(deep, facts.height_m, units)}"
    where = FROM_BANK[stands.side]
    return f"{where[0].upper()}{where[1:]}, {depth}. {_out_words(card, units)}", sure


def _out_words(card: RunCard, units: UnitSystem) -> str:
    """Return how far out water within the limits reaches."""
    easy, careful = card.easy_out_m, card.careful_out_m
    parts = []
    if math.isfinite(easy):
        parts.append(f"within your limits to {distance_words(easy, units)} out")
    if math.isfinite(careful) and not careful <= easy:
        near = "close to them" if parts else "close to your limits"
        parts.append(f"{near} to {distance_words(careful, units)}{'' if parts else ' out'}")
    if not parts:
        return "No water here is within your limits: stay out of it."
    words = ", ".join(parts)
    return f"{words[0].upper()}{words[1:]}; beyond that stay out."


def _cast(facts: Facts) -> tuple[str, str]:
    """Return rod, head, cast, its length and angle; the confidence of the room behind."""
    card, units = facts.card, facts.units
    made, swing, stands = card.casting, card.swinging, card.standing
    if made is None:
        sure = "room behind not known: look first" if stands and stands.blind else ""
        return "None that you own the gear for has room here.", sure or "as far as it is mapped"
    hand = "natural hand" if made.natural_hand else "off hand"
    gear = f"{made.rod} with {made.head}" if made.rod else made.head
    words = f"{made.cast[0].upper()}{made.cast[1:]}, {hand}, {gear}"
    if swing is not None:
        words += f"; {span_words(*swing.cast_m, units)}, {angles_words(*swing.angle_deg)}"
    return f"{words}.", _room_sure(facts)


def _room_sure(facts: Facts) -> str:
    """Return the confidence of the room behind."""
    stands = facts.card.standing
    if stands is None or stands.room_m is None:
        return "room behind not known: look first"
    room = f"{span_words(*stands.room_m, facts.units)} behind, give or take a fifth"
    if stands.blind:
        return f"room behind not known at {stands.blind} of {stands.count} places: look first"
    return room


def _fly(facts: Facts) -> tuple[str, str]:
    """Return tip, fly and mend; the clarity behind them."""
    card, units = facts.card, facts.units
    tip = card.swinging.tip if card.swinging is not None else ""
    wants = card.swimming.wants if card.swimming is not None else None
    first = (tip or "tip not worked out") + (f" (it wants a {wants} one)" if wants else "")
    parts = [first, tied_words(card.fly, units)]
    if card.plan is not None:
        parts.append(_handled(card, units))
    words = "; ".join(parts)
    basis = card.clarity.basis.kind
    sure = "for the clarity you gave" if basis is BasisKind.GIVEN else "clarity assumed"
    if basis not in (BasisKind.GIVEN, BasisKind.NONE):
        sure = clarity_words(card, units)
    return f"{words[0].upper()}{words[1:]}.", sure


def _handled(card: RunCard, units: UnitSystem) -> str:
    """Return how to handle the line from landing to the hang-down."""
    words = art_words(card.plan)
    parts = [words] if words.startswith("mend") else ["no mend", *([words] if words else [])]
    if card.swinging is not None and card.swinging.fed_m > 0:
        parts.append(f"feed {length_words(card.swinging.fed_m, units)} of line")
    return ", ".join(parts)


def _pace(facts: Facts) -> tuple[str, str]:
    """Return the step, the time of a cast, the swing and the pace of the water."""
    card, units = facts.card, facts.units
    water = f"water at {pace_in_words(facts.speed_m_s, units)}"
    if not math.isfinite(facts.speed_m_s):
        water = f"the water's pace is {NOT_KNOWN}"
    if card.standing is None or math.isnan(card.fished.minutes):
        return f"{water[0].upper()}{water[1:]}.", SURE[card.confidence]
    words = (
        f"{length_words(card.fished.step_m, units)} a cast, about {card.fished.seconds:.0f} s "
        f"each; {water}"
    )
    if card.swinging is not None and card.swinging.seconds is not None:
        words += f", {_swing_words(card.swinging.seconds, card.swinging.end)}"
    if card.swinging is not None and math.isfinite(card.swinging.wait_s):
        words += f"; wait {card.swinging.wait_s:.0f} s for the tip when the line is straight"
    return f"{words}.", "a usual pace, yours may differ"


def _swing_words(seconds: Span, end: SwingEnd) -> str:
    """Return how long the fly takes to come round."""
    return f"{span_range(seconds)} s {ENDS_IN.get(end, 'to its end')}"


def _long(facts: Facts) -> tuple[str, str]:
    """Return the time once through and the length of it."""
    fished, units = facts.card.fished, facts.units
    length = distance_words(fished.length_m, units)
    if math.isnan(fished.minutes):
        return f"Not worked out: no place with room to cast along its {length}.", "not known"
    whole = f"{time_words(fished.minutes)} once through, {length}"
    if facts.stretch and facts.minutes and not facts.stretch.startswith("all "):
        return f"{facts.minutes} for the {facts.stretch}; {whole}.", "if nothing takes"
    return f"{whole}.", "if nothing takes"


def _way(facts: Facts) -> tuple[str, str]:
    """Return the way in, the way back and the flow that cuts it off."""
    card, stands, units = facts.card, facts.card.standing, facts.units
    if stands is None:
        return f"Way in {NOT_KNOWN}.", "nobody could stand there"
    first, sure = f"Way in {NOT_KNOWN}, none is drawn.", "not known"
    if stands.way is WayIn.FOOT:
        off = distance_words(stands.access_m, units)
        first, sure = f"In on foot, {off} from the nearest way you drew.", "by the ways you drew"
    elif stands.way is WayIn.BOAT:
        first, sure = "In by boat: no way on foot is drawn.", "by the ways you drew"
    if stands.side is Side.ISLAND:
        first = f"{first} You stand on an island or bar."
    return f"{first} {way_back_line(card, units)}", sure


def _below(facts: Facts) -> tuple[str, str]:
    """Return the drawn hazards; whether the search for them was complete."""
    card = facts.card
    sure = "drawn hazards only: look for others"
    return hazards_words(card, facts.units), sure if card.looked else "not all could be looked for"


def card_row(line: Line) -> list[Any]:
    """Return a line as plain JSON values."""
    return [line.name, line.words, line.sure]
