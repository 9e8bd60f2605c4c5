"""Sentences on each piece of a map's evidence: used, or why not."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from reachmap.base.language import noted, number_text, tr
from reachmap.base.words import UnitSystem
from reachmap.ground.used import Fact, Kind, Why
from reachmap.markup.model import BY_PHONE, Origin
from reachmap.text.numbers import length_words

MOST_NAMED = 8
"""Most pieces of evidence named in one sentence (our choice)."""

NOUNS = {
    (Kind.SOUNDING, Origin.DRAWN): noted("sounding"),
    (Kind.SOUNDING, Origin.LOG): noted("logged depth"),
    (Kind.EDGE, Origin.DRAWN): noted("drawn edge"),
    (Kind.EDGE, Origin.LOG): noted("logged edge"),
    (Kind.EDGE, Origin.WALK): noted("walked edge"),
    (Kind.EDGE, Origin.PHOTO): noted("edge of a photo"),
    (Kind.LEVEL, Origin.DRAWN): noted("noted level"),
    (Kind.SPEED, Origin.DRAWN): noted("noted speed"),
    (Kind.SPEED, Origin.LOG): noted("logged speed"),
    (Kind.SPEED, Origin.FLOAT): noted("speed of a drift"),
    (Kind.TRIP, Origin.LOG): noted("edge, depth or speed of the log"),
    (Kind.ZERO, Origin.DRAWN): noted("height of the gauge's zero"),
}
"""Name of each piece of evidence, singular."""

MANY = {
    "edge, depth or speed of the log": noted("edges, depths or speeds of the log"),
    "edge of a photo": noted("edges of photos"),
    "speed of a drift": noted("speeds of drifts"),
}
"""Plurals that do not end in an s put behind."""

REASONS = {
    Why.OUTSIDE: noted("it lies outside the drawn reach"),
    Why.NO_DATUM: noted(
        "it is a height, and without a DEM or a noted level heights here are local"
    ),
    Why.NO_FLOW: noted("nobody says the river's flow then: add the flow of the trip"),
    Why.DRY_GROUND: noted("the ground there is dry at that flow"),
    Why.DEM_GROUND: noted("its bed is not the DEM's dry ground"),
    Why.SEEN_DRY: noted("the DEM saw that ground dry, and knows it better"),
    Why.OFF_FORM: noted("the bed there is no channel under the lowest water"),
    Why.OTHER_DATUM: noted("its height is far from the low water: another datum, or feet?"),
    Why.ALL_TOO_DEEP: noted(
        "the soundings run deeper than the flow allows: feet given as metres, or a wrong flow?"
    ),
    Why.TOO_DEEP: noted("it is far deeper than its section carries; a wrong decimal?"),
    Why.OTHER_LEVELS: noted("the other levels say another height: a slip of the pen?"),
    Why.DEM_WATER: noted("the DEM shows the water there itself, and knows it better"),
    Why.WITHIN_LOWER: noted("it lies within water that is there at a lower flow"),
    Why.RISE_UNLIKE: noted("it is no rise above the low water that a river has: another datum?"),
    Why.UNSEEN_GROUND: noted("nobody knows the height of the ground there"),
    Why.NEEDS_FIT: noted("a speed tells of the river's roughness: run reachmap fit"),
    Why.NEEDS_DEPTHS: noted(
        "it says how high the water stood over depths, and no depth was taken; run "
        "reachmap fit to use it"
    ),
    Why.NO_PLACE: noted(
        "nothing says where on the river the gauge stands: its stages count as rises"
    ),
}
"""Why a piece of evidence was not used, in words."""

SUSPECT = frozenset(
    {
        Why.DRY_GROUND,
        Why.DEM_GROUND,
        Why.OTHER_DATUM,
        Why.ALL_TOO_DEEP,
        Why.TOO_DEEP,
        Why.OTHER_LEVELS,
        Why.NO_DATUM,
        Why.OUTSIDE,
        Why.RISE_UNLIKE,
    }
)
"""Reasons that mean a faulty note: the map warns of them."""


def reason_words(fact: Fact, units: UnitSystem) -> str:
    """Return why a piece of evidence was not used, with its number where it has one."""
    value = fact.value
    if math.isnan(value) or fact.origin is Origin.TRACK:
        return tr(REASONS[fact.why])
    length = length_words(abs(value), units)
    with_number = {
        Why.DRY_GROUND: tr(
            "the ground there stands {length} above the water of its flow", length=length
        ),
        Why.DEM_GROUND: tr(
            "its bed lies {length} {value} the DEM's dry ground", length=length, value=_side(value)
        ),
        Why.OTHER_DATUM: tr(
            "its height is {length} {value} the low water: another datum, or feet?",
            length=length,
            value=_side(value),
        ),
        Why.ALL_TOO_DEEP: tr(
            "the soundings run about {value} times as deep as the "
            "flow allows: feet given as metres, or a wrong flow?",
            value=number_text(value, 1),
        ),
        Why.TOO_DEEP: tr(
            "it is {value} times as deep as its section carries; a wrong decimal?",
            value=f"{value:.0f}",
        ),
        Why.RISE_UNLIKE: tr(
            "it stands {length} {value} the low water: another datum?",
            length=length,
            value=_side(value),
        ),
    }
    return with_number.get(fact.why, tr(REASONS[fact.why]))


def used_words(facts: Sequence[Fact]) -> list[str]:
    """Return one sentence on the evidence that was used; none where there is none."""
    counts: dict[str, int] = {}
    for one in facts:
        if one.why is Why.USED:
            noun = _noun(one)
            counts[noun] = counts.get(noun, 0) + one.number
    pieces = [counted(number, noun) for noun, number in counts.items()]
    return [tr("Evidence used: {pieces}.", pieces=", ".join(pieces))] if pieces else []


def not_used_words(facts: Sequence[Fact], units: UnitSystem) -> list[str]:
    """Return a sentence for each reason why evidence was not used, with the pieces concerned."""
    groups: dict[tuple[str, str], list[Fact]] = {}
    for one in facts:
        if one.why is not Why.USED:
            groups.setdefault((_noun(one), reason_words(one, units)), []).append(one)
    found = []
    for (noun, reason), some in groups.items():
        what = counted(sum(one.number for one in some), noun)
        found.append(
            tr(
                "Not used: {what}{some}: {reason}",
                what=what,
                some=_named(some),
                reason=_ended(reason),
            )
        )
    return found


def set_aside_words(facts: Iterable[Fact], units: UnitSystem) -> list[str]:
    """Return a warning for each note of the drawing or a track that cannot be right.

    The log and photos are left out: warnings are on pages that are handed on.
    """
    found = []
    for one in facts:
        if one.why not in SUSPECT or one.origin in BY_PHONE:
            continue
        what = counted(one.number, _noun(one)) if one.origin is Origin.TRACK else _noun(one)
        name = "" if one.origin is Origin.TRACK or not one.name else f" {one.name}"
        verb = tr("were") if one.number > 1 else tr("was")
        first = what[:1].upper() + what[1:]
        found.append(
            tr(
                "{first}{name} {verb} set aside: {one}",
                first=first,
                name=name,
                verb=verb,
                one=_ended(reason_words(one, units)),
            )
        )
    return found


def counted(number: int, noun: str) -> str:
    """Return a number of things."""
    if number == 1:
        return f"1 {noun}"
    first, of, rest = noun.partition(" of track")
    return f"{number:,} {MANY.get(noun, f'{first}s{of}{rest}')}"


def _ended(words: str) -> str:
    """Return words as the end of a sentence."""
    return words if words.endswith("?") else f"{words}."


def _noun(fact: Fact) -> str:
    """Return the name of a piece of evidence."""
    if fact.origin is Origin.TRACK:
        return tr("depth of track {fact}", fact=fact.name)
    return tr(NOUNS[fact.kind, fact.origin])


def _named(facts: Sequence[Fact]) -> str:
    """Return the names or days of facts in brackets; "" where they have none."""
    if facts[0].origin is Origin.TRACK:
        return ""
    names = list(dict.fromkeys(one.name or one.date for one in facts if one.name or one.date))
    if not names:
        return ""
    more = tr(" and {names} more", names=len(names) - MOST_NAMED) if len(names) > MOST_NAMED else ""
    return f" ({', '.join(names[:MOST_NAMED])}{more})"


def _side(value: float) -> str:
    """Return the word for a positive or negative height difference."""
    return tr("above") if value > 0 else tr("below")
