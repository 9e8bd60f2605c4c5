"""Editing the few keys of reach.toml that the page shows; all other lines stay as written."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from reachmap.base.errors import ReachmapError
from reachmap.base.words import UnitSystem
from reachmap.markup.config.render import template, write_units
from reachmap.web.editor.schema import LONGEST_TEXT

KEYS: Mapping[str, tuple[str, str]] = {
    "name": ("", "name"),
    "units": ("", "units"),
    "traced_flow": ("river", "traced_flow"),
    "slope": ("river", "slope"),
    "fall": ("river", "fall"),
    "flows": ("flows", "list"),
}
"""Where each fact stands in reach.toml, as (section, key)."""

RANGE = ("from", "to", "count", "step")
"""Keys of a range of flows, which a list takes the place of."""

INVENTED = ("traced_flow", "slope", "fall", "flows")
"""Facts of the starting template that are examples, not the angler's."""


class FactsError(ReachmapError):
    """reach.toml cannot take what was typed."""


def facts_in(text: str) -> dict[str, str] | None:
    """Return the facts as they stand in reach.toml, each as text; None where it is not TOML."""
    try:
        message = tomllib.loads(text)
    except ValueError:
        return None
    facts = {}
    for fact, (section, key) in KEYS.items():
        home = message.get(section, {}) if section else message
        value = home.get(key) if isinstance(home, dict) else None
        facts[fact] = _words(value)
    flows = message.get("flows")
    if isinstance(flows, dict) and not facts["flows"] and any(key in flows for key in RANGE):
        facts["flows"] = "; ".join(f"{key} {_words(flows[key])}" for key in RANGE if key in flows)
    return facts


def with_facts(text: str, new: Mapping[str, object]) -> str:
    """Return reach.toml with new facts; what is not among them, and every comment, stays.

    Where the units change, plain numbers get their old unit behind: none changes its meaning.

    Parameters
    ----------
    text
        reach.toml.
    new
        Facts by the names of `KEYS`, as typed; "" takes one out.

    Raises
    ------
    FactsError
        If the text is not TOML, or a fact is none that can be kept.
    """
    now = facts_in(text)
    if now is None:
        msg = "reach.toml is not valid TOML: mend it in a text editor first."
        raise FactsError(msg)
    try:
        book = tomlkit.parse(text)
        if new.get("units") not in (None, "", now["units"]):
            write_units(book, units_in(text), but=())
        for fact, typed in new.items():
            if fact not in KEYS or not isinstance(typed, str) or len(typed) > LONGEST_TEXT:
                msg = f"{fact!r} is nothing this page can keep."
                raise FactsError(msg)
            if typed.strip() != now[fact]:
                _put(book, fact, typed.strip())
        made = tomlkit.dumps(book)
    except TOMLKitError as error:
        msg = f"reach.toml cannot be changed here ({error}): change it in a text editor."
        raise FactsError(msg) from None
    tomllib.loads(made)
    return made


def begun(name: str) -> str:
    """Return the reach.toml of a river that is about to be drawn; example facts are comments."""
    keys = "|".join(KEYS[fact][1] for fact in INVENTED)
    text = re.sub(rf"^(?=(?:{keys}) = )", "# ", template(), flags=re.MULTILINE)
    return with_facts(text, {"name": name})


def invented_in(text: str) -> list[str]:
    """Return which facts still are the template's examples: all of them, or none is meant."""
    now, examples = facts_in(text), facts_in(template(units_in(text)))
    if now is None or examples is None or now["name"] != examples["name"]:
        return []
    return [fact for fact in INVENTED if now[fact] and now[fact] == examples[fact]]


def _put(book: tomlkit.TOMLDocument, fact: str, typed: str) -> None:
    """Set one fact, or take it out."""
    section, key = KEYS[fact]
    if section and section not in book:
        book[section] = tomlkit.table()
    home: Any = book[section] if section else book
    if fact == "flows":
        for other in RANGE:
            home.pop(other, None)
    if not typed:
        home.pop(key, None)
    elif fact == "flows":
        home[key] = [_value(part.strip()) for part in _parts(typed)]
    else:
        home[key] = typed if fact in ("name", "units") else _value(typed)


def _parts(typed: str) -> list[str]:
    """Return a list of flows apart: by semicolons, or by commas that do not part thousands."""
    apart = typed.split(";") if ";" in typed else typed.split(",")
    if len(apart) == 1:
        apart = typed.split() if all(_is_plain(part) for part in typed.split()) else apart
    return [part for part in apart if part.strip()]


def _value(typed: str) -> int | float | str:
    """Return what was typed as TOML holds it: a plain number as one, all else as text."""
    if not _is_plain(typed):
        return typed
    return int(typed) if typed.lstrip("+-").isdigit() else float(typed)


def _is_plain(typed: str) -> bool:
    """Return whether a text is a plain finite number."""
    try:
        return typed.isascii() and "_" not in typed and math.isfinite(float(typed))
    except ValueError:
        return False


def _words(value: Any) -> str:
    """Return a TOML value as it is typed."""
    if value is None:
        return ""
    if isinstance(value, list):
        return ", ".join(_words(item) for item in value)
    if isinstance(value, float):
        return f"{value:.12g}"
    return str(value)


def units_in(text: str) -> UnitSystem:
    """Return the folder's units; US where it does not say (the check tells of that)."""
    facts = facts_in(text) or {}
    try:
        return UnitSystem(facts.get("units", ""))
    except ValueError:
        return UnitSystem.US


def crs_in(text: str) -> str:
    """Return the CRS that reach.toml names for files that do not say theirs; "" for none."""
    try:
        named = tomllib.loads(text).get("crs", "")
    except ValueError:
        return ""
    return named if isinstance(named, str) else ""
