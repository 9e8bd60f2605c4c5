"""Sentences of the pocket sheet: short, for wet paper and cold hands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from reachmap.angler.card_facts import RunCard, Span
from reachmap.angler.places import Places
from reachmap.base.language import figures_text
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
from reachmap.text.plan import art_words
from reachmap.text.run_card import span_range
from reachmap.text.trade import depth_in_words

ON_PHONE = "The maps on your phone:"
"""Label of the code with the site's address."""

NOTHING = "No run to fish at this flow."
"""Text of an empty list."""

MOST_MORE, MOST_SHUT = 6, 8
"""Most runs named in the note on others in shape, and most runs listed as shut."""

LONGEST_NAME = 26
"""Longest typed name [characters]; the rest is cut, since runs are numbered, too."""

CAUTION = "People drown wading. Trust your eyes over this sheet; turn back early."
"""Printed on every page."""

SIDES: Mapping[str, str] = {
    Side.LEFT: "river left",
    Side.RIGHT: "river right",
    Side.ISLAND: "island or bar",
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
    sentences = ["The river runs up each map. Walk START to OUT."]
    if between:
        sentences.append(between)
    if preview:
        sentences.append("PREVIEW: quick flow, rough speeds.")
    if invented:
        sentences.append("This river is invented.")
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
        ("Way in", _way_in(card, units)),
        ("Stand", _stand(card, places, height_m, units)),
        ("Room", _room(places, units)),
        ("Cast", _cast(card, units)),
        ("Tip", _tip(card, units)),
        ("Mend", _mend(card, units)),
        ("Step", _step(card, units)),
    ]


def _way_in(card: RunCard | None, units: UnitSystem) -> str:
    """Return how one gets there."""
    if card is None or card.standing is None:
        return NOT_KNOWN
    if card.standing.way is WayIn.FOOT:
        off = distance_words(card.standing.access_m, units)
        return f"on foot, {off} from a drawn way"
    if card.standing.way is WayIn.BOAT:
        return "by boat only"
    return f"{NOT_KNOWN}: none is drawn"


def _stand(card: RunCard | None, places: Places, height_m: float, units: UnitSystem) -> str:
    """Return where one stands, how deep at most, and how far out water is within the limits."""
    if card is None or not places.count:
        return "no place found"
    side = SIDES[card.standing.side] if card.standing is not None else ""
    if not math.isfinite(places.deepest_m):
        deep = f"how deep is {NOT_KNOWN}"
    elif places.on_bank:
        deep = "on the bank"
    else:
        deep = f"to {depth_in_words(places.deepest_m, height_m, units)}"
    where = ", ".join(part for part in (side, deep) if part)
    return f"{where}; {_out(card, places, units)}"


def _out(card: RunCard, places: Places, units: UnitSystem) -> str:
    """Return how far out the water is within the limits, and to go no farther."""
    easy, careful = card.easy_out_m, card.careful_out_m
    far = easy if math.isfinite(easy) else careful
    if not math.isfinite(far):
        return "do not wade" if places.on_bank else "no farther out than there"
    near = "within" if math.isfinite(easy) else "close to"
    return f"{near} your limits {distance_words(far, units)} out, no farther"


def _room(places: Places, units: UnitSystem) -> str:
    """Return the room behind the tightest place; not known where one is not."""
    words = room_words(places, units, short)
    return words if words[:1].isalpha() else f"{words} at the tightest place"


def _cast(card: RunCard | None, units: UnitSystem) -> str:
    """Return the cast, its length, its angle, and whether it is the off hand's."""
    if card is None or card.casting is None:
        return "none has room here"
    words = [str(card.casting.cast)]
    if card.swinging is not None:
        words.append(span_words(*card.swinging.cast_m, units))
        words.append(_angle(card.swinging.angle_deg))
    if not card.casting.natural_hand:
        words.append("off hand")
    return ", ".join(words)


def _angle(span: Span) -> str:
    """Return the angle of the cast from straight across, like ``45-55 deg down``."""
    low, high = sorted(round(one) for one in span)
    if max(abs(low), abs(high)) < 5:
        return "straight across"
    if low < 0 < high:
        return f"{-low} deg up to {high} deg down"
    way = "down" if high > 0 else "up"
    a, b = sorted((abs(low), abs(high)))
    return f"{a} deg {way}" if a == b else f"{a}-{b} deg {way}"


def _tip(card: RunCard | None, units: UnitSystem) -> str:
    """Return tip and fly."""
    if card is None or card.swinging is None or not card.swinging.tip:
        return NOT_KNOWN
    wants = card.swimming.wants if card.swimming is not None else None
    more = f" (wants a {wants} one)" if wants else ""
    return f"{cut(card.swinging.tip)}{more}; {tied_words(card.fly, units)}"


def _mend(card: RunCard | None, units: UnitSystem) -> str:
    """Return mends, a rod held high, line to feed."""
    if card is None or card.plan is None:
        return NOT_KNOWN
    words = art_words(card.plan)
    mended = words.removeprefix("mend ") if words.startswith("mend") else ""
    rest = "" if mended else words
    parts = [mended or "none", *([rest] if rest else [])]
    if card.swinging is not None and card.swinging.fed_m > 0:
        parts.append(f"feed {length_words(card.swinging.fed_m, units)} of line")
    return ", ".join(parts)


def _step(card: RunCard | None, units: UnitSystem) -> str:
    """Return the step, the time of a cast and of the swing."""
    if card is None or card.standing is None or not math.isfinite(card.fished.minutes):
        return NOT_KNOWN
    words = f"{length_words(card.fished.step_m, units)} a cast, {card.fished.seconds:.0f} s each"
    if card.swinging is not None and card.swinging.seconds is not None:
        words += f", swing {span_range(card.swinging.seconds)} s"
    return words


def sure_words(card: RunCard | None) -> str:
    """Return a word for water of low confidence; empty for better."""
    return "a guess" if card is not None and card.confidence is Confidence.LOW else ""


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
        return NOT_KNOWN
    first, last, top = (flow_words(rounded_flow(one, units), units) for one in (low, high, best))
    if first == last:
        return f"{first} only"
    below, above = (
        "?" if run.get(name) else "" for name in ("window_open_low", "window_open_high")
    )
    bare = first.rsplit(" ", 1)[0]
    return f"{below}{bare}-{last}{above}, best {top.rsplit(' ', 1)[0]}"


def more_words(codes: Sequence[str]) -> str:
    """Return the note on other runs in shape, by the codes of their best water; empty for none."""
    if not codes:
        return ""
    named = ", ".join(codes[:MOST_MORE])
    rest = len(codes) - MOST_MORE
    more = f" and {rest} more" if rest > 0 else ""
    return f"In shape too, by their names in the GPS: {named}{more}."


def key_words(letters: Mapping[str, str]) -> str:
    """Return what the letters on the maps mean; empty where there are none."""
    ways = [f"{letter} {words}" for letter, words in letters.items() if words in WAYS_IN]
    met = [f"{letter} {words}" for letter, words in letters.items() if words not in WAYS_IN]
    squares = f"In a square: {', '.join(ways)}. " if ways else ""
    return squares + (
        f"In a triangle, hazards you drew: {', '.join(met)}; there are others."
        if met
        else "No hazard was drawn on these maps; there are some."
    )


WAYS_IN = ("parking", "path", "landing", "ford")
"""Words of the ways in."""

RULES = (
    "Depth is as mapped, not what you may wade. Bricks or not known: too deep, too fast, no room. "
    "Blank is dry ground, or off the map."
)
"""How to read unknown and hatched water."""


def foot_words(codes: Sequence[str]) -> str:
    """Return the survey suggestions by their first and last code; empty for none."""
    return f"Worth a note: {codes[0]} to {codes[-1]} in the GPS." if codes else ""


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
    return [f"to {figures_text(first)} {unit} deep", *between, f"over {last} {unit}"]
