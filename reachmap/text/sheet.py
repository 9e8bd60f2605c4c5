"""Sentences of the pocket sheet: short, for wet paper and cold hands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from reachmap.angler.card_facts import RunCard, Span
from reachmap.angler.places import Places
from reachmap.base.language import figures_text, noted, tr
from reachmap.base.units import LENGTH, flow_words, rounded_flow
from reachmap.base.words import Confidence, Side, UnitSystem, WayIn
from reachmap.text.fly import tied_words
from reachmap.text.numbers import (
    NOT_KNOWN,
    distance_words,
    length_words,
    short,
    span_words,
)
from reachmap.text.odds import window_flows
from reachmap.text.places import room_words
from reachmap.text.plain_words import in_words
from reachmap.text.plan import is_mended, mends_words
from reachmap.text.run_card import span_range
from reachmap.text.trade import depth_in_words

ON_PHONE = noted("The maps on your phone:")
"""Label of the code with the site's address."""

NOTHING = noted("No run to fish at this flow.")
"""Text of an empty list."""

MOST_MORE, MOST_SHUT = 6, 8
"""Most runs named in the note on others in shape, and most runs listed as shut."""

LONGEST_NAME = 26
"""Longest typed name [characters]; the rest is cut, since runs are numbered, too."""

CAUTION = noted("People drown wading. Trust your eyes over this sheet; turn back early.")
"""Printed on every page."""

SIDES: Mapping[str, str] = {
    Side.LEFT: noted("river left"),
    Side.RIGHT: noted("river right"),
    Side.ISLAND: noted("island or bar"),
}
"""Sides, as short as a row of the sheet wants them."""


def cut(text: str, length: int = LONGEST_NAME) -> str:
    """Return a typed name that fits.

    Examples
    --------
    >>> cut("Sandpiper"), cut("abcdefgh", 5)
    ('Sandpiper', 'abcd…')
    """
    words = " ".join(text.split())
    return words if len(words) <= length else f"{words[: length - 1]}…"


def how_to_read(*, preview: bool, invented: bool, between: str = "") -> str:
    """Return how to read the maps, and the notes on the whole sheet.

    `between` is the sentence on an interpolated flow; empty where it was solved.
    """
    sentences = [tr("The river runs up each map. Walk START to OUT.")]
    if between:
        sentences.append(between)
    if preview:
        sentences.append(tr("PREVIEW: quick flow, rough speeds."))
    if invented:
        sentences.append(tr("This river is invented."))
    return " ".join(sentences)


def panel_rows(
    card: RunCard | None, places: Places, height_m: float, units: UnitSystem
) -> list[tuple[str, str]]:
    """Return what to do at a run at this flow: name and text of each row.

    Parameters
    ----------
    card
        The run at the flow; None where it is not known.
    places
        Depth stood in and room behind over all its places: the deepest, the least; not known where
        one is not.
    height_m
        The person's [m].
    units
        The reach folder's units.
    """
    return [
        (tr("Way in"), _way_in(card, units)),
        (tr("Stand"), _stand(card, places, height_m, units)),
        (tr("Room"), _room(places, units)),
        (tr("Cast"), _cast(card, units)),
        (tr("Tip"), _tip(card, units)),
        (tr("Mend"), _mend(card, units)),
        (tr("Step"), _step(card, units)),
    ]


def _way_in(card: RunCard | None, units: UnitSystem) -> str:
    """Return how one gets there."""
    if card is None or card.standing is None:
        return tr(NOT_KNOWN)
    if card.standing.way is WayIn.FOOT:
        off = distance_words(card.standing.access_m, units)
        return tr("on foot, {off} from a drawn way", off=off)
    if card.standing.way is WayIn.BOAT:
        return tr("by boat only")
    return tr("not known: none is drawn")


def _stand(card: RunCard | None, places: Places, height_m: float, units: UnitSystem) -> str:
    """Return where one stands, how deep at most, and how far out water is within the limits."""
    if card is None or not places.count:
        return tr("no place found")
    side = tr(SIDES[card.standing.side]) if card.standing is not None else ""
    if not math.isfinite(places.deepest_m):
        deep = tr("how deep is not known")
    elif places.on_bank:
        deep = tr("on the bank")
    else:
        deep = tr("to {deepest}", deepest=depth_in_words(places.deepest_m, height_m, units))
    where = ", ".join(part for part in (side, deep) if part)
    return f"{where}; {_out(card, places, units)}"


def _out(card: RunCard, places: Places, units: UnitSystem) -> str:
    """Return how far out the water is within the limits, and to go no farther."""
    easy, careful = card.easy_out_m, card.careful_out_m
    far = easy if math.isfinite(easy) else careful
    if not math.isfinite(far):
        return tr("do not wade") if places.on_bank else tr("no farther out than there")
    out = distance_words(far, units)
    if math.isfinite(easy):
        return tr("within your limits {far} out, no farther", far=out)
    return tr("close to your limits {far} out, no farther", far=out)


def _room(places: Places, units: UnitSystem) -> str:
    """Return the room behind the tightest place; not known where one is not."""
    words = room_words(places, units, short)
    if not places.count or not math.isfinite(places.least_room_m):
        return words
    return tr("{room} at the tightest place", room=words)


def _cast(card: RunCard | None, units: UnitSystem) -> str:
    """Return the cast, its length, its angle, and whether it is the off hand's."""
    if card is None or card.casting is None:
        return tr("none has room here")
    words = [in_words(card.casting.cast)]
    if card.swinging is not None:
        words.append(span_words(*card.swinging.cast_m, units))
        words.append(_angle(card.swinging.angle_deg))
    if not card.casting.natural_hand:
        words.append(tr("off hand"))
    return ", ".join(words)


def _angle(span: Span) -> str:
    """Return the angle of the cast from straight across, like ``45-55 deg down``."""
    low, high = sorted(round(one) for one in span)
    if max(abs(low), abs(high)) < 5:
        return tr("straight across")
    if low < 0 < high:
        return tr("{up} deg up to {down} deg down", up=-low, down=high)
    a, b = sorted((abs(low), abs(high)))
    angle = f"{a}" if a == b else f"{a}-{b}"
    return tr("{angle} deg down", angle=angle) if high > 0 else tr("{angle} deg up", angle=angle)


def _tip(card: RunCard | None, units: UnitSystem) -> str:
    """Return tip and fly."""
    if card is None or card.swinging is None or not card.swinging.tip:
        return tr(NOT_KNOWN)
    wants = card.swimming.wants if card.swimming is not None else None
    more = tr(" (wants a {wants} one)", wants=in_words(wants)) if wants else ""
    return f"{cut(card.swinging.tip)}{more}; {tied_words(card.fly, units)}"


def _mend(card: RunCard | None, units: UnitSystem) -> str:
    """Return mends, a rod held high, line to feed."""
    if card is None or card.plan is None:
        return tr(NOT_KNOWN)
    parts = [mends_words(card.plan) if is_mended(card.plan) else tr("none")]
    parts += [tr("rod held high")] if card.plan.high else []
    if card.swinging is not None and card.swinging.fed_m > 0:
        parts.append(tr("feed {fed} of line", fed=length_words(card.swinging.fed_m, units)))
    return ", ".join(parts)


def _step(card: RunCard | None, units: UnitSystem) -> str:
    """Return the step, the time of a cast and of the swing."""
    if card is None or card.standing is None or not math.isfinite(card.fished.minutes):
        return tr(NOT_KNOWN)
    words = tr(
        "{step} a cast, {seconds} s each",
        step=length_words(card.fished.step_m, units),
        seconds=f"{card.fished.seconds:.0f}",
    )
    if card.swinging is not None and card.swinging.seconds is not None:
        words += tr(", swing {seconds} s", seconds=span_range(card.swinging.seconds))
    return words


def sure_words(card: RunCard | None) -> str:
    """Return a word for water of low confidence; empty for better."""
    return tr("a guess") if card is not None and card.confidence is Confidence.LOW else ""


def window_ends(run: Mapping[str, Any], units: UnitSystem) -> str:
    """Return the flows of a run's window, like ``900-4200 cfs, best 1800``; not known where none.

    Parameters
    ----------
    run
        Of the layer `runs`.
    units
        The reach folder's units.
    """
    low, high, best = window_flows(run)
    if not (math.isfinite(low) and math.isfinite(high) and math.isfinite(best)):
        return tr(NOT_KNOWN)
    first, last, top = (flow_words(rounded_flow(one, units), units) for one in (low, high, best))
    if first == last:
        return tr("{first} only", first=first)
    below, above = (
        "?" if run.get(name) else "" for name in ("window_open_low", "window_open_high")
    )
    bare = first.rsplit(" ", 1)[0]
    span = f"{below}{bare}-{last}{above}"
    return tr("{span}, best {best}", span=span, best=top.rsplit(" ", 1)[0])


def more_words(codes: Sequence[str]) -> str:
    """Return the note on other runs in shape, by the codes of their best water; empty for none."""
    if not codes:
        return ""
    named = ", ".join(codes[:MOST_MORE])
    rest = len(codes) - MOST_MORE
    more = tr(" and {rest} more", rest=rest) if rest > 0 else ""
    return tr("In shape too, by their names in the GPS: {named}{more}.", named=named, more=more)


def key_words(letters: Mapping[str, str]) -> str:
    """Return what the letters on the maps mean; empty where there are none."""
    ways = [f"{letter} {tr(words)}" for letter, words in letters.items() if words in WAYS_IN]
    met = [f"{letter} {tr(words)}" for letter, words in letters.items() if words not in WAYS_IN]
    squares = tr("In a square: {ways}. ", ways=", ".join(ways)) if ways else ""
    return squares + (
        tr("In a triangle, hazards you drew: {met}; there are others.", met=", ".join(met))
        if met
        else tr("No hazard was drawn on these maps; there are some.")
    )


WAYS_IN = (noted("parking"), noted("path"), noted("landing"), noted("ford"))
"""Words of the ways in."""

RULES = noted(
    "Depth is as mapped, not what you may wade. Bricks or not known: too deep, too fast, no room. "
    "Blank is dry ground, or off the map."
)
"""How to read unknown and hatched water."""


def foot_words(codes: Sequence[str]) -> str:
    """Return the survey suggestions by their first and last code; empty for none."""
    return (
        tr("Worth a note: {first} to {last} in the GPS.", first=codes[0], last=codes[-1])
        if codes
        else ""
    )


def step_words(breaks: Sequence[float], units: UnitSystem) -> list[str]:
    """Return names of the steps of depth between some depths [ft or m], the shallowest first.

    Examples
    --------
    >>> step_words((2.0, 4.0), UnitSystem.US)
    ['to 2 ft deep', '2-4 ft', 'over 4 ft']
    """
    unit = LENGTH[units]
    first, *rest = breaks
    between = [f"{figures_text(a)}-{figures_text(b)} {unit}" for a, b in pairwise((first, *rest))]
    last = figures_text(breaks[-1])
    return [
        tr("to {first} {unit} deep", first=figures_text(first), unit=unit),
        *between,
        tr("over {last} {unit}", last=last, unit=unit),
    ]
