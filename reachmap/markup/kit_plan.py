"""The angler and the kit in reach.toml; what is not listed is taken from the defaults and told."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeVar

from reachmap.base.quoting import quoted
from reachmap.base.words import Hand, UnitSystem
from reachmap.markup.defaults import ANGLER, HEADS, RODS, TIPS
from reachmap.markup.kit import FAMILIES, Angler, Head, Kit, Rod, Tip
from reachmap.markup.layers import Quantity
from reachmap.markup.reach_toml import Book, Section

T = TypeVar("T")

HEIGHT_LIMITS = (1.0, 2.3)
WADE_LIMITS = (0.1, 1.2)
"""Depth to stand in [m]; 1.2 m is where guidance ends for any adult (Cox 2011 slides, read)."""
LEADER_LIMITS = (0.3, 8.0)
CAST_LIMITS = (5.0, 60.0)
ROD_LIMITS = (2.7, 6.5)
HEAD_LIMITS = (3.0, 30.0)
HEAD_MASS_LIMITS = (0.008, 0.1)
TIP_LIMITS = (0.0, 10.0)
SINK_LIMITS = (0.0, 0.5)
"""Lengths [m], mass [kg], speeds [m/s]: beyond these a mistaken unit or a slip (our choice)."""

PLAIN_ROD, PLAIN_TIP = 6.0, 7.0
PLAIN_HEAD = {
    "skagit": 12.0,
    "scandi": 15.0,
    "short belly": 18.0,
    "mid belly": 20.0,
    "long belly": 20.0,
}
"""Longest rods, tips and heads [m] that a plain number of a metric folder may give: beyond, it is
asked whether feet were meant (our choice; common practice: rods to 18 ft, tips to 20 ft, skagit
heads to 30 ft, scandi heads to 45 ft, bellies to 70 ft)."""

WEIGHTS = range(1, 16)
"""Numbers of the line-weight standard."""


def read_kit(book: Book) -> Kit:
    """Return the angler with rods, heads and tips, noting faults and what was taken for granted."""
    angler = _angler(book.section("angler"))
    rods = tuple(_some(book, "rod", _rod))
    heads = tuple(_some(book, "head", _head))
    tips = tuple(_some(book, "tip", _tip))
    lists = (("rod", rods), ("head", heads), ("tip", tips))
    missing = [name for name, found in lists if not found and not book.told.get(name)]
    if missing:
        words = " and ".join(f"no {name}" for name in missing)
        book.notes.append(
            f"reach.toml lists {words}: a plain kit of common practice stands in. "
            "List your own, since room to cast and the swing depend on it."
        )
    return Kit(angler, rods or RODS, heads or HEADS, tips or TIPS)


def _angler(section: Section) -> Angler:
    """Return the angler, defaults filled in."""
    keys = ("height", "wade_limit", "hand", "leader", "cast_limit")
    missing = [key for key in keys if not section.has(key)]
    if missing:
        section.book.notes.append(
            f"[angler] does not say {', '.join(missing)}: middling values stand in "
            f"(height {ANGLER.height_m:g} m, wade limit {ANGLER.wade_limit_m:g} m, right hand up, "
            f"leader {ANGLER.leader_m:.1f} m, cast {ANGLER.cast_limit_m:.0f} m)."
        )
    length = Quantity.LENGTH
    angler = Angler(
        height_m=section.number("height", length, HEIGHT_LIMITS, ANGLER.height_m),
        wade_limit_m=section.number("wade_limit", length, WADE_LIMITS, ANGLER.wade_limit_m),
        hand=section.word("hand", Hand, ANGLER.hand),
        leader_m=section.number("leader", length, LEADER_LIMITS, ANGLER.leader_m),
        cast_limit_m=section.number("cast_limit", length, CAST_LIMITS, ANGLER.cast_limit_m),
    )
    if angler.wade_limit_m > 0.75 * angler.height_m:
        found = "the wade limit is above the ribs for this height"
        section.fault(
            "wade_limit", found, "Give a depth you can stand in, at most 3/4 of the height"
        )
    section.done()
    return angler


def _some(book: Book, name: str, read: Callable[[Section], T | None]) -> list[T]:
    """Return the items of a repeated section that could be read."""
    found: list[T] = []
    names: set[str] = set()
    for section in book.sections(name):
        given = section.text("name").strip()
        if given and given in names:
            section.fault("name", f"two {name}s are called {quoted(given)}", "Name them apart")
        names.add(given)
        item = read(section)
        section.done()
        if item is not None:
            found.append(item)
    return found


def _length(section: Section, limits: tuple[float, float]) -> float:
    """Return the length of an item [m], NaN with a fault noted where there is none."""
    if not section.has("length"):
        section.fault("length", "length is missing", "Add length = ...")
    return section.number("length", Quantity.LENGTH, limits)


def _question_feet(section: Section, length: float, longest: float, what: str) -> None:
    """Note a fault where a plain number of a metric folder makes an item as long as feet would."""
    given = section.told.get("length")
    with_unit = isinstance(given, str) and any(sign.isalpha() or sign in "'\"" for sign in given)
    if section.book.units is not UnitSystem.METRIC or with_unit or not length > longest:
        return
    plain = str(given).strip()
    found = f"{plain} is {plain} m here, longer than {what} ({longest:g} m at most)"
    fix = f'Meant in feet? Then write "{plain} ft"; if it is right, write "{plain} m"'
    section.fault("length", found, fix)


def _rod(section: Section) -> Rod | None:
    """Return a rod, None where it is at fault."""
    length = _length(section, ROD_LIMITS)
    _question_feet(section, length, PLAIN_ROD, "any rod")
    weight = section.told.get("line_weight")
    section.has("line_weight")
    if not isinstance(weight, int) or isinstance(weight, bool) or weight not in WEIGHTS:
        found = (
            "line_weight is missing" if weight is None else f"{quoted(weight)} is no line weight"
        )
        section.fault(
            "line_weight", found, "Give a whole number from 1 to 15, like line_weight = 7"
        )
        return None
    if math.isnan(length):
        return None
    return Rod(section.text("name").strip() or f"{weight}-weight", length, weight)


def _head(section: Section) -> Head | None:
    """Return a head, None where it is at fault."""
    length = _length(section, HEAD_LIMITS)
    if not section.has("family"):
        fix = f"Add family = one of: {', '.join(FAMILIES)}"
        section.fault("family", "family is missing", fix)
    family = section.choice("family", FAMILIES, FAMILIES[0])
    _question_feet(section, length, PLAIN_HEAD[family], f"any {family} head")
    if math.isnan(length):
        return None
    mass = section.number("weight", Quantity.MASS, HEAD_MASS_LIMITS)
    return Head(section.text("name").strip() or f"{family} head", length, family, mass)


def _tip(section: Section) -> Tip | None:
    """Return a tip, None where it is at fault."""
    length = _length(section, TIP_LIMITS)
    _question_feet(section, length, PLAIN_TIP, "any tip")
    if not section.has("sink"):
        fix = "Add sink = how fast it sinks in still water (0 for a floating tip)"
        section.fault("sink", "sink is missing", fix)
    sink = section.number("sink", Quantity.SINK, SINK_LIMITS)
    if math.isnan(length) or math.isnan(sink):
        return None
    return Tip(section.text("name").strip() or "tip", length, sink)
