"""How the fly swims, which fly, and how clear the water is: line 9 of a run's card."""

from __future__ import annotations

from reachmap.angler.card_facts import RunCard
from reachmap.base.language import tr
from reachmap.base.words import UnitSystem
from reachmap.gauge.clarity_data import BasisKind
from reachmap.text.days import basis_words
from reachmap.text.fly import fly_words
from reachmap.text.numbers import length_words, speed_words
from reachmap.text.plain_words import in_words
from reachmap.text.plan import ladder_words, why_words


def fly_line(card: RunCard, units: UnitSystem) -> str:
    """Return line 9: how the fly swims, and which."""
    words = ""
    if (swims := card.swimming) is not None:
        words = tr(
            "Fly swims {speed}, {depth} down, {above} above the bed{wants}. ",
            speed=speed_words(swims.speed_m_s, units),
            depth=length_words(swims.depth_m, units),
            above=length_words(swims.above_m, units),
            wants=tr(" (wants a {wants} tip)", wants=in_words(swims.wants)) if swims.wants else "",
        )
    if ladder := ladder_words(card.ladder, units):
        why = why_words(card.ladder)
        words += tr("Tips: {ladder}{why}. ", ladder=ladder, why=f"; {why}" if why else "")
    return f"{words}{fly_words(card.fly, card.clarity.metres, units)}{_clarity(card, units)}"


def _clarity(card: RunCard, units: UnitSystem) -> str:
    """Return the clarity with its band and basis; empty where the angler gave it."""
    kind = card.clarity.basis.kind
    if kind is BasisKind.GIVEN:
        return ""
    if kind is BasisKind.NONE:
        return tr(" Clarity is assumed: nobody said.")
    words = clarity_words(card, units)
    return f" {words[0].upper()}{words[1:]}."


def clarity_words(card: RunCard, units: UnitSystem) -> str:
    """Return the band of clarity and the notes behind it."""
    clarity = card.clarity
    low, high = (length_words(one, units) for one in (clarity.low, clarity.high))
    beyond = "" if card.clarity_noted else tr("; nobody noted it at such a flow")
    return tr(
        "clarity {low} to {high}, by {basis}{beyond}",
        low=low,
        high=high,
        basis=basis_words(clarity.basis),
        beyond=beyond,
    )
