"""The angler and the tackle: rods, heads, tips, limits of wading and casting."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reachmap.base.words import Cast, Hand


@dataclass(frozen=True, slots=True)
class Rod:
    """A two-handed rod: length [m], line weight as a number of the two-handed standard."""

    name: str
    length_m: float
    line_weight: int


@dataclass(frozen=True, slots=True)
class Head:
    """A shooting head or belly: length [m].

    `family` is skagit, scandi, short belly, mid belly or long belly; `mass_kg` its mass, NaN if not
    given: then that of its family.
    """

    name: str
    length_m: float
    family: str
    mass_kg: float = math.nan


@dataclass(frozen=True, slots=True)
class Tip:
    """A tip: length [m] and sink rate in still water [m/s], 0 for a floating tip."""

    name: str
    length_m: float
    sink_m_s: float


@dataclass(frozen=True, slots=True)
class Angler:
    """The person: height, deepest water to stand in, leader, longest cast, all [m]; upper hand."""

    height_m: float
    wade_limit_m: float
    hand: Hand
    leader_m: float
    cast_limit_m: float


@dataclass(frozen=True, slots=True)
class Kit:
    """An angler with rods, heads and tips; at least one of each.

    Their order has no meaning: preferences where several are suitable are in `prefer_rods`,
    `prefer_heads` (names) and `prefer_casts`; those not named come after.
    """

    angler: Angler
    rods: tuple[Rod, ...]
    heads: tuple[Head, ...]
    tips: tuple[Tip, ...]
    prefer_rods: tuple[str, ...] = ()
    prefer_heads: tuple[str, ...] = ()
    prefer_casts: tuple[Cast, ...] = ()


FAMILIES = ("skagit", "scandi", "short belly", "mid belly", "long belly")
"""Families of heads and bellies, from shortest to longest."""
