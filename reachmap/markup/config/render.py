"""Output from the schema of reach.toml: tables of the docs, a new folder's file, unit switch."""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping
from typing import Any

import tomlkit

from reachmap.base.words import UnitSystem
from reachmap.markup.config.keys import Keys
from reachmap.markup.config.kinds import Kind
from reachmap.markup.config.own_numbers import Tunable
from reachmap.markup.config.party import DayKeys, PersonKeys
from reachmap.markup.config.schema import KIT, OWN, PLAIN, TABLES, TopKeys

HEAD = """\
# A reach folder for reachmap. Lines that begin with # are comments.
#
# EVERY VALUE BELOW IS AN INVENTED EXAMPLE: put your own river's in its place.
# Then draw the river and its banks into markup.gpkg, and run:  reachmap check DIR
#
# Plain numbers here and in the drawing are read in the folder's units; any number may carry its own
# unit instead, like "1.8 m" or "900 cfs".
"""

OWN_HEAD = """
# Everything below is in force as it stands; take the # away to change it (the line of its
# section too). Where a number is from stands behind it."""


def template(units: UnitSystem = UnitSystem.US) -> str:
    """Return the commented reach.toml of a new folder, its examples in the folder's units."""
    lines = [HEAD, *_block(TopKeys, units)]
    for name, keys in (PLAIN | KIT).items():
        lines += _section(name, keys, units)
    lines.append(OWN_HEAD)
    for name, keys in (OWN | TABLES).items():
        lines += _section(name, keys, units)
    return "\n".join([*lines, ""])


def _section(name: str, keys: type[Keys], units: UnitSystem) -> Iterator[str]:
    """Return the lines of a section of the template."""
    yield ""
    head = f"[[{name}]]" if name in KIT | TABLES else f"[{name}]"
    head = f"# {head}" if keys.commented else head
    yield f"{head:<27} # {keys.about}" if keys.about else head
    yield from _block(keys, units)
    if more := keys.more[units is UnitSystem.METRIC]:
        yield from ([] if more.startswith("#") else [""])
        yield more


def _block(keys: type[Keys], units: UnitSystem) -> Iterator[str]:
    """Return the lines of the keys of a section of the template."""
    for key, (kind, _) in keys.kinds().items():
        example, meaning = kind.example, kind.meaning
        if isinstance(example, tuple):  # one for US units, one for metric ones, or one for both
            example = "".join(example[:1] if units is UnitSystem.US else example[-1:])
        if isinstance(kind, Tunable):
            meaning = f"{'not set, an example: ' if example else ''}{meaning}; {kind.source}"
            example = example or kind.shown(kind.usual)
        if example:
            line = f"{key} = {example}"
            line = f"# {line}" if keys.commented or kind.commented else line
            yield f"{line:<27} # {meaning}"


def key_table() -> list[str]:
    """Return the table of all keys except the tunable numbers, for the docs."""
    rows = ["| key | holds | limits | if left out |", "|---|---|---|---|"]
    sections: dict[str, type[Keys]] = {"": TopKeys, **PLAIN, **KIT, **OWN, **TABLES}
    for name, keys in sections.items():
        head = f"[[{name}]]" if name in KIT | TABLES else f"[{name}]"
        for key, (kind, default) in keys.kinds().items():
            if isinstance(kind, Tunable):
                continue
            mark = f"**{head}** " if name and head else ""
            usual = kind.left_out or _usual(kind, default)
            rows.append(f"| {mark}`{key}` | {kind.meaning} | {kind.limits()} | {usual} |")
            head = ""
    return rows


def party_table() -> list[str]:
    """Return the table of the keys of party.toml, for the docs."""
    rows = ["| key | holds | limits | if left out |", "|---|---|---|---|"]
    for head, keys in (("[day]", DayKeys), ("[[person]]", PersonKeys)):
        name = head
        for key, (kind, default) in keys.kinds().items():
            mark = f"**{name}** " if name else ""
            usual = kind.left_out or _usual(kind, default)
            rows.append(f"| {mark}`{key}` | {kind.meaning} | {kind.limits()} | {usual} |")
            name = ""
    return rows


def _usual(kind: Kind, default: Any) -> str:
    """Return the value used where a key is left out."""
    return "a fault" if kind.missing else kind.shown(default).strip('"')


def number_table() -> list[str]:
    """Return the table of the tunable numbers, for the docs."""
    rows = ["| key | meaning | usual | limits | source |", "|---|---|---|---|---|"]
    for name, keys in OWN.items():
        head = f"**[{name}]** "
        for key, (one, _) in keys.kinds().items():
            if isinstance(one, Tunable):
                usual = f"not set; an example: `{one.example}`" if one.example else ""
                usual = usual or f"`{one.shown(one.usual)}`"
                told = f"{one.meaning} | {usual} | {one.limits()} | {one.source}"
                rows.append(f"| {head}`{key}` | {told} |")
                head = ""
    return rows


def write_units(
    book: tomlkit.TOMLDocument, units: UnitSystem, *, but: tuple[str, ...] = ("river", "flows")
) -> None:
    """Append the unit to every plain number of reach.toml, except in some sections.

    Parameters
    ----------
    book
        reach.toml; changed in place, its comments stay.
    units
        In which plain numbers have been read so far.
    but
        Sections left unchanged.
    """
    for section, keys in (PLAIN | KIT | OWN | TABLES).items():
        if section not in but:
            found = book.get(section)
            for item in found if isinstance(found, list) else [found]:
                if isinstance(item, MutableMapping):
                    _write_in(item, keys, units)


def _write_in(home: MutableMapping[str, Any], keys: type[Keys], units: UnitSystem) -> None:
    """Append the units to the numbers of one section, nested sections included."""
    kinds = keys.kinds()
    for key in list(home):
        if isinstance(home[key], MutableMapping):
            _write_in(home[key], keys, units)
        elif key in kinds:
            new = kinds[key][0].with_units(home[key], units)
            if new != home[key]:
                home[key] = new
