"""Checks across several keys of reach.toml; each yields place, what was found, and the remedy."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from reachmap.base.quoting import quoted
from reachmap.base.units import flow_label
from reachmap.base.words import UnitSystem
from reachmap.markup.config.keys import Keys
from reachmap.markup.config.own_numbers import tunables
from reachmap.markup.config.read import Parsed, Place
from reachmap.markup.config.schema import KIT, ReachKeys
from reachmap.markup.config.sections import FlowKeys
from reachmap.markup.defaults import HEADS, RODS
from reachmap.markup.layers import BEDS_WITHOUT_STONES, MOST_FLOWS

Found = Iterator[tuple[Place, str, str]]

PLAIN_ROD, PLAIN_TIP = 6.0, 7.0
PLAIN_HEAD = {"skagit": 12.0, "scandi": 15.0, "short belly": 18.0}
PLAIN_BELLY = 20.0
"""Longest rods, tips and heads [m] that a plain number of a metric folder may give: beyond, feet
were probably meant (our choice; common practice: rods to 18 ft, tips to 20 ft, skagit
heads to 30 ft, scandi heads to 45 ft, bellies to 70 ft)."""


def check(parsed: Parsed) -> Found:
    """Yield the faults between keys; values at fault by themselves are left out."""
    keys = parsed.keys
    if {"slope", "fall"} <= keys.river.model_fields_set:
        yield ("river", "fall"), "both slope and fall are given", "Keep one of them"
    if keys.river.bed in BEDS_WITHOUT_STONES and "stones" in keys.river.model_fields_set:
        yield (
            ("river", "stones"),
            f"a size of stones is given for a bed of {keys.river.bed}",
            "Keep one of the two: stones of a size belong to gravel, cobble or boulder",
        )
    yield from _flows(keys.flows, keys.units)
    yield from _kit(keys, parsed.raw)
    yield from _likes(keys)
    for name in ("depth", "speed", "lie_depth", "lie_speed"):
        if {name} <= keys.season.model_fields_set & _of_season(keys).model_fields_set:
            place = ("season", str(keys.season.name), name)
            fix = f"Keep it in [season] or in [season.{keys.season.name}]"
            yield place, f"{name} is given twice for {keys.season.name}", fix
    yield from _in_order(keys, "depth_low", "depth_high")
    yield from _in_order(keys, "slowest", "quickest")
    yield from _same("cast", [one.name for one in keys.cast], "two sections for {}", "Keep one")
    yield from _fly_table([one.clarity for one in keys.fly])


def _of_season(keys: ReachKeys) -> Keys:
    """Return the section of the season's own limits within [season]."""
    section: Keys = getattr(keys.season, str(keys.season.name))
    return section


def _flows(section: FlowKeys, units: UnitSystem) -> Found:
    """Yield the faults of the flows to map."""
    given = section.model_fields_set
    ranged = given & {"low", "high", "count", "step"}
    if "given" in given and ranged:
        yield ("flows", "list"), "both a list and a range are given", "Keep one of them"
    elif not given:
        fix = "Add a section [flows] with list = [...], or from, to and count"
        yield ("flows", ""), "no flow to map is given", fix
    elif ranged and (not {"low", "high"} <= given or ("count" in given) == ("step" in given)):
        fix = "Give from, to, and either count (how many flows) or step (how far apart)"
        key = next((a for a, b in (("from", "low"), ("to", "high")) if b not in given), "count")
        yield ("flows", key), "the range of flows is not whole", fix
    elif section.low > section.high:
        yield ("flows", "from"), "from is more than to", "Swap them"
    elif (section.high - section.low) / section.step >= MOST_FLOWS:
        fix = f"Keep to {MOST_FLOWS} at most"
        yield ("flows", "step"), "it would give too many flows", fix
    for one, other in pairwise(flows_of(section)):
        label = flow_label(one, units)
        if label == flow_label(other, units):
            fix = "Take one out, or set them further apart"
            yield ("flows", "list"), f"two flows would both be called {label}", fix


def flows_of(section: FlowKeys) -> tuple[float, ...]:
    """Return the flows to map [m3/s], ascending, without duplicates; () where there are none."""
    low, high, gap = section.low, section.high, section.step
    flows = list(section.given)
    if not flows and low <= high:
        if section.count:
            gap = (high - low) / max(section.count - 1, 1)
            flows = [low + gap * index for index in range(section.count)]
        elif (high - low) / gap < MOST_FLOWS:
            flows = [low + gap * index for index in range(int((high - low) / gap + 1e-6) + 1)]
    return tuple(sorted(set(flows)))


def _kit(keys: ReachKeys, raw: Mapping[str, Any]) -> Found:
    """Yield the faults of the person and the kit."""
    if keys.angler.wade_limit > 0.75 * keys.angler.height:
        fix = "Give a depth you can stand in, at most 3/4 of the height"
        yield ("angler", "wade_limit"), "the wade limit is above the ribs for this height", fix
    longest = [("rod", PLAIN_ROD, "any rod", one.length) for one in keys.rod]
    longest += [
        ("head", PLAIN_HEAD.get(one.family, PLAIN_BELLY), f"any {one.family} head", one.length)
        for one in keys.head
    ]
    longest += [("tip", PLAIN_TIP, "any tip", one.length) for one in keys.tip]
    counts = dict.fromkeys(KIT, -1)
    for section, most, what, length in longest:
        counts[section] += 1
        given = str(raw[section][counts[section]].get("length")).strip()
        plain = not any(sign.isalpha() or sign in "'\"" for sign in given)
        if keys.units is UnitSystem.METRIC and plain and length > most:
            found = f"{given} is {given} m here, longer than {what} ({most:g} m at most)"
            fix = f'Meant in feet? Then write "{given} ft"; if it is right, write "{given} m"'
            yield (section, counts[section], "length"), found, fix
    for section in KIT:
        names = [one.name for one in getattr(keys, section)]
        yield from _same(section, names, f"two {section}s are called {{}}", "Name them apart")


def _likes(keys: ReachKeys) -> Found:
    """Yield names under [prefer] that are not in the kit, or are named twice."""
    owned = {
        "rods": [one.name or f"{one.line_weight}-weight" for one in keys.rod]
        or [one.name for one in RODS],
        "heads": [one.name or f"{one.family} head" for one in keys.head]
        or [one.name for one in HEADS],
    }
    for key, names in owned.items():
        for name in getattr(keys.prefer, key):
            if name not in names:
                fix = f"Use one of: {', '.join(names)}"
                yield ("prefer", key), f"no {key[:-1]} is called {quoted(name)}", fix
    for key in ("casts", "heads", "rods"):
        given = [str(one) for one in getattr(keys.prefer, key)]
        if len(set(given)) < len(given):
            yield ("prefer", key), "one of them is named twice", "Name each once"


def _same(section: str, names: Sequence[str], found: str, fix: str) -> Found:
    """Yield names that are given twice."""
    for index, name in enumerate(names):
        if name and name in names[:index]:
            yield (section, index, "name"), found.format(quoted(str(name))), fix


def _in_order(keys: ReachKeys, low: str, high: str) -> Found:
    """Yield a lower limit not below its upper one; a key left out has its default."""
    section = getattr(keys, "swing")  # noqa: B009
    pair = [getattr(section, key) for key in (low, high)]
    usual = [tunables()[f"swing.{key}"].usual for key in (low, high)]
    low_high = [other if math.isnan(one) else one for one, other in zip(pair, usual, strict=True)]
    if low_high[0] >= low_high[1]:
        at = low if low in section.model_fields_set else high
        yield ("swing", at), f"{low} is not below {high}", f"Give {low} the smaller number"


def _fly_table(steps: list[float]) -> Found:
    """Yield the faults of the clarities at which the rows of the fly table begin."""
    if not steps or any(map(math.isnan, steps)):
        return
    if min(steps) > 0:
        fix = "Begin the table with a row of clarity = 0"
        yield ("fly", 0, "clarity"), "no row holds for coloured water", fix
    elif len(set(steps)) < len(steps):
        yield ("fly", 0, "clarity"), "two rows begin at one clarity", "Set them apart"
