"""The angler's own numbers in reach.toml, checked key by key."""

from __future__ import annotations

import math

from reachmap.base.quoting import one_of, quoted
from reachmap.base.words import Cast, WadeRule
from reachmap.markup.layers import FLOW_LIMITS, Quantity
from reachmap.markup.own import Own, OwnCast, OwnFly, Sighting
from reachmap.markup.own_keys import OWN_KEYS, SECTION_WORDS
from reachmap.markup.reach_toml import Book, Section

OWN_SECTIONS = (*SECTION_WORDS, "cast", "fly")
"""Sections that hold own numbers."""

CLARITY_LIMITS = (0.02, 20.0)
FLY_LIMITS = (0.003, 0.3)
"""Clarity and length of a fly [m] beyond these are a mistaken unit or a slip (our choice)."""
ANCHORED, TILT, APEX = (0.0, 0.6), (0.0, 75.0), (0.05, 1.5)
"""Shares and degrees beyond these are no cast (our choice)."""


def read_own(book: Book) -> Own:
    """Return the own numbers, noting faults."""
    sections = {name: book.section(name) for name in SECTION_WORDS}
    numbers: dict[str, float] = {}
    for one in OWN_KEYS:
        section, limits = sections[one.section], (one.low, one.high)
        value = (
            section.ratio(one.key, limits)
            if one.quantity is None
            else section.number(one.key, one.quantity, limits)
        )
        if not math.isnan(value):
            numbers[one.name] = value
    own = Own(
        numbers,
        rules=_rules(sections["wading"]),
        casts=_casts(book),
        flies=_flies(book),
        sightings=_sightings(sections["clarity"]),
    )
    _ordered(sections["swing"], own, "depth_low", "depth_high")
    _ordered(sections["swing"], own, "slowest", "quickest")
    for section in sections.values():
        section.done()
    return own


def _ordered(section: Section, own: Own, low: str, high: str) -> None:
    """Note a low that is not below its high; a key left out stands at its usual value."""
    usual = {one.name: one.usual for one in OWN_KEYS if one.section == section.name}
    pair = [
        own.numbers.get(f"{section.name}.{key}", float(usual[f"{section.name}.{key}"].split()[0]))
        for key in (low, high)
    ]
    if pair[0] >= pair[1]:
        at = low if section.has(low) else high
        section.fault(at, f"{low} is not below {high}", f"Give {low} the smaller number")


def _rules(section: Section) -> tuple[WadeRule, ...]:
    """Return the wading rules named; none where none is or one is at fault."""
    found: list[WadeRule] = []
    for name in section.texts("rules", ()):
        try:
            found.append(WadeRule(name.strip().lower()))
        except ValueError:
            fix = one_of(name, [str(rule) for rule in WadeRule])
            section.fault("rules", f"{quoted(name)} is not a wading rule", fix)
    return tuple(dict.fromkeys(found))


def _sightings(section: Section) -> tuple[Sighting, ...]:
    """Return two sightings of clarity; none where none are given or they are at fault."""
    if not section.has("sightings"):
        return ()
    given = section.told["sightings"]
    whole = isinstance(given, list) and len(given) == 2
    if not whole or not all(isinstance(one, list) and len(one) == 2 for one in given):
        fix = 'Give two pairs of flow and clarity, like [[900, "5 ft"], [2400, "1.5 ft"]]'
        section.fault("sightings", f"{quoted(given)} is not two sightings", fix)
        return ()
    found = [
        Sighting(
            section.one_number("sightings", flow, Quantity.FLOW, FLOW_LIMITS),
            section.one_number("sightings", clarity, Quantity.LENGTH, CLARITY_LIMITS),
        )
        for flow, clarity in given
    ]
    if any(math.isnan(one.flow) or math.isnan(one.clarity_m) for one in found):
        return ()
    if found[0].flow == found[1].flow:
        section.fault("sightings", "both are at one flow", "Give sightings at two different flows")
        return ()
    return tuple(sorted(found, key=lambda one: one.flow))


def _casts(book: Book) -> tuple[OwnCast, ...]:
    """Return own figures of casts."""
    found: list[OwnCast] = []
    for section in book.sections("cast"):
        names = [str(cast) for cast in Cast]
        name = section.text("name").strip()
        known = {word.lower(): word for word in names}
        figures = (
            section.ratio("anchored", ANCHORED),
            section.ratio("tilt", TILT),
            section.ratio("apex", APEX),
        )
        section.done()
        if name.lower() not in known:
            what = f"{quoted(name)} is not a cast" if name else "it does not name its cast"
            section.fault("name", what, one_of(name, names))
        elif any(one.cast == known[name.lower()] for one in found):
            section.fault("name", f"two sections for {quoted(name)}", "Keep one of them")
        else:
            found.append(OwnCast(Cast(known[name.lower()]), *figures))
    return tuple(found)


def _flies(book: Book) -> tuple[OwnFly, ...]:
    """Return the fly table, by rising clarity; empty where none is given or it is at fault."""
    rows: list[OwnFly] = []
    sections = book.sections("fly")
    for section in sections:
        clarity = section.number("clarity", Quantity.LENGTH, (0.0, CLARITY_LIMITS[1]))
        if not section.has("clarity"):
            section.fault("clarity", "clarity is missing", "Add clarity = from where on it holds")
        short, long = _fly_length(section)
        rows.append(
            OwnFly(
                clarity,
                short,
                long,
                section.text("colour").strip() or "any colour",
                section.text("shape").strip() or "any shape",
                section.text("note").strip() or "your own table",
            )
        )
        section.done()
    if any(math.isnan(row.clarity_m) or math.isnan(row.short_m) for row in rows):
        return ()
    rows.sort(key=lambda row: row.clarity_m)
    steps = [row.clarity_m for row in rows]
    if rows and steps[0] > 0:
        fix = "Begin the table with a row of clarity = 0"
        sections[0].fault("clarity", "no row holds for coloured water", fix)
        return ()
    if len(set(steps)) < len(steps):
        sections[0].fault("clarity", "two rows begin at one clarity", "Set them apart")
        return ()
    return tuple(rows)


def _fly_length(section: Section) -> tuple[float, float]:
    """Return the shortest and longest fly of a row [m]; NaN where they are at fault."""
    given = section.told.get("length")
    if not section.has("length") or not isinstance(given, list) or len(given) != 2:
        fix = 'Give shortest and longest, like length = ["2 in", "3 in"]'
        section.fault("length", "the fly has no pair of lengths", fix)
        return math.nan, math.nan
    short, long = (section.one_number("length", one, Quantity.LENGTH, FLY_LIMITS) for one in given)
    if short > long:
        section.fault("length", "the shortest is longer than the longest", "Swap them")
        return math.nan, math.nan
    return (short, long) if not math.isnan(long) else (math.nan, math.nan)
