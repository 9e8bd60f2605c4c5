"""party.toml: who fishes on a guide's day, each with limits and kit; read and checked as a whole.

A separate file, not sections of reach.toml: guests change from day to day, every build depends on
reach.toml, and a folder that is handed on should not contain people's heights.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time
from typing import Annotated, Any

from pydantic import Field, ValidationError

from reachmap.base.errors import Fault
from reachmap.base.quoting import nearest, one_of, quoted
from reachmap.base.words import Side, UnitSystem
from reachmap.markup.config.keys import Keys
from reachmap.markup.config.kinds import BLANK, Flag, Number, Row, Text, Word, WrongError
from reachmap.markup.kit import Kit
from reachmap.markup.layers import Quantity

PARTY_FILE = "party.toml"

WADE_SHARE = 0.75
"""Largest wading limit as a share of a person's height, as in reach.toml."""


def _clock(text: str) -> None:
    """Raise WrongError for a text that is not a time of day."""
    try:
        time.fromisoformat(text)
    except ValueError:
        fix = 'Write it like "08:00"'
        raise WrongError((f"{quoted(text)} is not a time of day", fix)) from None


def _names(meaning: str, example: str, left_out: str) -> Row:
    """Return a list of names."""
    fix = 'Write it like ["one", "two"]'
    return Row(meaning, example, of=(Text(),), what="a list of names", fix=fix, alone=True,
               left_out=left_out)  # fmt: skip


# fmt: off
class DayKeys(Keys):
    """The day: how the party gets about, how long a turn lasts."""

    about = "how you get about, and how long"

    boat: Annotated[bool, Flag("whether you float with a boat: both banks, downstream", "true")] = False
    crossing: Annotated[bool, Flag("whether you get to the other bank by a bridge or ford", "false")] = False
    bank: Annotated[str, Word("the bank you keep to without either", '"left"', words=(Side.LEFT, Side.RIGHT), what="a bank", left_out="the bank on which the day is worth most")] = ""
    hours: Annotated[float, Number("how long you fish, ways between included [h]", "6", low=1, high=14, quantity=None, left_out="`hours` under [outing] of reach.toml")] = math.nan
    begin: Annotated[str, Text("when the first turn begins, on the clock of the place", '"08:00"', check=_clock, left_out="sunrise")] = Field("", alias="from")
    turn: Annotated[float, Number("about how long a turn lasts before rods swap [min]", "75", low=30, high=240, quantity=None, left_out="75")] = 75.0
    room: Annotated[float, Number("water between two rods in one run; 30-90 yards, common practice", '"50 yd"', low=15, high=300, left_out="50 yd")] = 45.72


class PersonKeys(Keys):
    """One rod of the party."""

    about = "one rod; repeat the block for each"

    name: Annotated[str, Text("what you call them", '"Ann"', missing=("the person has no name", 'Add name = "..."'), blank="")]
    height: Annotated[float, Number("their height", '"5 ft 6 in"', low=1.0, high=2.3, left_out="that of reach.toml")] = math.nan
    wade_limit: Annotated[float, Number("the deepest they will stand, before current; at most 3/4 of their height", '"2 ft"', low=0.0, high=1.2, left_out="that of reach.toml; 0: they do not wade")] = math.nan
    mass: Annotated[float, Number("their mass, as they step in", '"60 kg"', low=30, high=180, quantity=Quantity.MASS, left_out="a light build of that height")] = math.nan
    cast_limit: Annotated[float, Number("their everyday longest cast, to the fly", '"60 ft"', low=5, high=60, left_out="that of reach.toml")] = math.nan
    rod: Annotated[str, Text("the rod of reach.toml they bring", '"my 13 footer"', left_out="not told")] = ""
    heads: Annotated[tuple[str, ...], _names("heads of reach.toml they bring: the shortest must fit behind", '["short head"]', "all of reach.toml")] = ()
    tips: Annotated[tuple[str, ...], _names("tips of reach.toml they bring", '["T-11"]', "all of reach.toml")] = ()
# fmt: on


class PartyKeys(Keys):
    """All of party.toml."""

    day: DayKeys
    person: tuple[PersonKeys, ...]


@dataclass(frozen=True, slots=True)
class PartyRead:
    """party.toml as read, and every fault of it with its place."""

    keys: PartyKeys
    faults: tuple[Fault, ...]


def read_party(name: str, text: str, units: UnitSystem, kit: Kit) -> PartyRead:
    """Return the values of party.toml, with every fault.

    Parameters
    ----------
    name
        Of the file, for messages.
    text
        Its text.
    units
        In which plain numbers are read.
    kit
        The kit of reach.toml: rods, heads and tips that may be named.
    """
    empty: dict[str, Any] = {"day": {}, "person": []}
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        fault = Fault(name, f"it is not valid TOML: {str(error)[:200]}", "Mend that place")
        return PartyRead(_checked(empty, units)[0], (fault,))
    faults = _shaped(raw, name)
    keys, wrong = _checked(raw, units)
    faults += [Fault(f"{name}, {_place(where)}", *words) for where, words in wrong]
    faults += _together(keys, name, kit)
    return PartyRead(keys, tuple(faults))


def _shaped(raw: dict[str, Any], name: str) -> list[Fault]:
    """Remove unknown sections from `raw`; return the faults."""
    faults = []
    for key in [key for key in raw if key not in PartyKeys.model_fields]:
        del raw[key]
        near = nearest(key, PartyKeys.model_fields)
        fix = f"Did you mean {near}?" if near else "It holds [day] and [[person]] blocks"
        faults.append(Fault(name, f"{quoted(key)} is not a section here", fix))
    if not isinstance(raw.setdefault("day", {}), dict):
        faults.append(Fault(name, "day is not a section", "Write [day], its values below"))
        raw["day"] = {}
    people = raw.setdefault("person", [])
    if not isinstance(people, list) or not all(isinstance(one, dict) for one in people):
        fix = "Write [[person]] with two brackets on each side, once for each"
        faults.append(Fault(name, "person is not a list", fix))
        raw["person"] = []
    elif not people:
        faults.append(Fault(name, "it names nobody", 'Add a block [[person]] with name = "..."'))
    return faults


def _checked(
    raw: dict[str, Any], units: UnitSystem
) -> tuple[PartyKeys, list[tuple[tuple[str | int, ...], tuple[str, str]]]]:
    """Return the values, those at fault blanked, and the faults; `raw` is changed."""
    context = {"units": units}
    wrong: list[tuple[tuple[str | int, ...], tuple[str, str]]] = []
    try:
        return PartyKeys.model_validate(raw, context=context), []
    except ValidationError as error:
        for one in error.errors(include_url=False):
            where = one["loc"]
            model = DayKeys if where[0] == "day" else PersonKeys
            home: Any = raw["day"] if where[0] == "day" else raw["person"][where[1]]
            key = str(where[-1])
            if one["type"] == "extra_forbidden":
                known = sorted(field.alias or n for n, field in model.model_fields.items())
                wrong.append((where, (f"{quoted(key)} is not a key here", one_of(key, known))))
                del home[key]
            elif one["type"] == "missing":
                wrong.append((where, model.kinds()[key][0].missing or ("", "")))
                home[key] = BLANK
            else:
                wrong += [(where, words) for words in one["ctx"]["faults"]]
                home[key] = BLANK
    return PartyKeys.model_validate(raw, context=context), wrong


def _place(where: Sequence[str | int]) -> str:
    """Return the position of a value, in words."""
    if where[0] == "day":
        return f"[day] {where[-1]}"
    return f"[[person]] {int(where[1]) + 1}, {where[-1]}"


def _together(keys: PartyKeys, name: str, kit: Kit) -> list[Fault]:
    """Return the faults between values: duplicate names, unknown kit, too deep a wading limit."""
    faults = []
    seen: set[str] = set()
    own = {
        "rod": [rod.name for rod in kit.rods],
        "heads": [head.name for head in kit.heads],
        "tips": [tip.name for tip in kit.tips],
    }
    for number, one in enumerate(keys.person, start=1):
        place = f"{name}, [[person]] {number}"
        who = str(one.name)
        if who and who.casefold() in seen:
            faults.append(Fault(place, f"{quoted(who)} is named twice", "Give each another name"))
        seen.add(who.casefold())
        for key, names in own.items():
            named = getattr(one, key)
            for item in (named,) if isinstance(named, str) else named:
                if item and item not in names:
                    found = f"{quoted(item)} is none of the {key} in reach.toml"
                    faults.append(Fault(f"{place}, {key}", found, one_of(item, names)))
        height = kit.angler.height_m if math.isnan(one.height) else one.height
        if one.wade_limit > WADE_SHARE * height:
            found = "wade_limit is more than 3/4 of their height"
            faults.append(Fault(f"{place}, wade_limit", found, "Give less: nobody stands deeper"))
    return faults
