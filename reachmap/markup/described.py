"""Parsing of fields in the free text of KML and GPX features.

The rule, also in docs/reach-folder.md: a name or description may hold pairs like
``depth = 4.2; flow = 1200``, separated by semicolons or line ends, with ``=`` or ``:`` between
field and value. The rest stays text: that of the name is the name, that of the description the
note.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from reachmap.base.errors import Fault
from reachmap.base.quoting import nearest, quoted

_BREAK = re.compile(r"<br\s*/?>|[;\r\n]+", re.IGNORECASE)
_PAIR = re.compile(r"\s*([A-Za-z][A-Za-z _-]{0,30}?)\s*[=:]\s*(.*?)\s*", re.DOTALL)

LONGEST_NOTE = 2_000
"""Longer texts are taken as notes without looking for fields [characters] (our choice)."""


def pairs_in(text: str, fields: Collection[str]) -> tuple[dict[str, str], str, list[str]]:
    """Return the pairs found in a text, the rest of it, and field names that look misspelt.

    Parameters
    ----------
    text
        Name or description.
    fields
        Names of the layer's fields.

    Examples
    --------
    >>> pairs_in("bar head; depth = 4.2 ft", ["depth", "flow"])
    ({'depth': '4.2 ft'}, 'bar head', [])
    """
    if len(text) > LONGEST_NOTE:
        return {}, text, []
    pairs: dict[str, str] = {}
    rest: list[str] = []
    slips: list[str] = []
    for piece in _BREAK.split(text):
        match = _PAIR.fullmatch(piece)
        name = plain_name(match[1]) if match else ""
        if match and name in fields:
            pairs.setdefault(name, match[2])
            continue
        if name and (near := nearest(name, fields)) is not None:
            slips.append(f"{match[1] if match else name} (for {near}?)")
        if piece.strip():
            rest.append(piece.strip())
    return pairs, "; ".join(rest), slips


def fill(
    row: dict[str, object], texts: Iterable[tuple[str, str]], fields: Collection[str], where: str
) -> list[Fault]:
    """Fill a feature's row from its free texts; existing values are kept.

    Parameters
    ----------
    row
        Fields of the feature so far; changed.
    texts
        Each with the field that takes the rest of it, such as ("name", "bar head").
    fields
        Names of the layer's fields.
    where
        For messages.
    """
    faults: list[Fault] = []
    for home, text in texts:
        pairs, rest, slips = pairs_in(text, fields)
        for slip in slips:
            fix = f"Write one of: {', '.join(fields)}"
            faults.append(Fault(where, f"its text has the unknown field {quoted(slip)}", fix))
        for name, value in pairs.items():
            if is_nothing(row.get(name)):
                row[name] = value
        target = home if home in fields else "note"
        if rest and target in fields:
            before = row.get(target)
            row[target] = rest if is_nothing(before) else f"{before}; {rest}"
    return faults


def plain_name(text: str) -> str:
    """Return the name of a column or field with case, spaces and hyphens normalised."""
    return re.sub(r"[\s-]+", "_", text.strip().lower())


def is_nothing(value: object) -> bool:
    """Return whether a cell of a table is empty: None, NaN, NaT or blank text."""
    if value is None:
        return True
    if isinstance(value, str):
        return not value.strip()
    return bool(value != value)  # only NaN and NaT differ from themselves
