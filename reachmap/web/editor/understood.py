"""What a dropped thing is, from its columns, its names and its shape: proposals, each with why.

Nothing that is worked out here is kept before the page has shown it and somebody nodded.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from reachmap.markup.described import fill, plain_name
from reachmap.markup.layers import LAYER_FIELDS, LINE, NUMBERS, POINT
from reachmap.markup.quantities import KINDS, SPELLINGS
from reachmap.web.editor import hints
from reachmap.web.editor.import_columns import IDLE, IDLE_TABLES, columns_of

_NUMBER, _LENGTH = r"(\d[\d,]*\.?\d*)", r"(ft|feet|foot|'|m|metres?|meters?|cm|in|inches)"
_DEEP = re.compile(
    rf"{_NUMBER} ?{_LENGTH} ?(?:deep|depth)\b|\bdepth ?(?:of |is )?{_NUMBER} ?{_LENGTH}(?![a-z])"
)
_FLOW = re.compile(rf"{_NUMBER} ?(cfs|cms|m3/s)\b")
_HIGH = re.compile(rf"{_NUMBER} ?{_LENGTH}(?![a-z])")


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a field was proposed: the words it was read from, and the column they stand in."""

    field: str
    words: str
    column: str

    def as_json(self) -> dict[str, str]:
        """Return it as the page takes it."""
        return {"field": self.field, "words": self.words, "column": self.column}


@dataclass(slots=True)
class Understood:
    """A proposal: layer ("" for none), fields as text, and a reason for each that was inferred."""

    layer: str = ""
    values: dict[str, str] = field(default_factory=dict)
    reasons: list[Reason] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """Return it as the page takes it."""
        return {
            "layer": self.layer,
            "values": self.values,
            "reasons": [one.as_json() for one in self.reasons],
        }

    def put(self, name: str, value: str, words: str, column: str) -> None:
        """Propose a field unless it is filled already."""
        if not self.values.get(name):
            self.values[name] = str(value)
            self.reasons.append(Reason(name, words[:120], column))


@dataclass(frozen=True, slots=True)
class _Texts:
    """Free texts of a thing as (column, plain text), the most telling first."""

    texts: tuple[tuple[str, str], ...]

    def first(self, table: hints.Hints) -> tuple[str, str, str] | None:
        """Return (word, words, column) of the first text that holds one of a table's words."""
        for column, text in self.texts:
            if found := hints.said(table, text):
                return (*found[0], column)
        return None

    def has(self, pattern: re.Pattern[str]) -> tuple[str, str] | None:
        """Return (words, column) of the first text a pattern is found in."""
        for column, text in self.texts:
            if match := pattern.search(text):
                return match[0].strip(), column
        return None


def understand(
    row: Mapping[str, Any],
    shape: str,
    layer: str,
    values: Mapping[str, str],
    places: Sequence[tuple[str, str]],
) -> Understood:
    """Return what a thing is understood to be.

    Parameters
    ----------
    row
        Its columns, by plain name.
    shape
        Point, LineString or Polygon.
    layer, values
        What the file itself says in the drawing's own words; "" and {} for nothing.
    places
        Where it stands: ("folder", name) and ("file", stem).
    """
    columns = columns_of(row)
    texts = _texts(row, {column for _, column in columns.values()}, places)
    made = Understood(layer, dict(values))
    if not layer:
        made.layer, words, column = _layer(shape, columns, texts)
        if not made.layer:
            return Understood()
        made.reasons.append(Reason("", words[:120], column))
        _free_text(made, row)
    _from_columns(made, columns)
    _from_texts(made, texts)
    return made


def _texts(row: Mapping[str, Any], taken: set[str], places: Sequence[tuple[str, str]]) -> _Texts:
    """Return the free texts of a thing: its name, other columns, then where it stands."""
    texts = [
        (column, hints.plain_text(value))
        for column, value in row.items()
        if isinstance(value, str) and value.strip() and column not in taken | IDLE
    ]
    texts.sort(key=lambda one: one[0] != "name")
    for place, name in places:
        plain = hints.plain_text(name)
        if name and plain_name(name) not in IDLE_TABLES and not hints.OWN_NAME.search(plain):
            texts.append((place, plain))
    return _Texts(tuple((column, text[:2000]) for column, text in texts))


def _layer(
    shape: str, columns: Mapping[str, tuple[str, str]], texts: _Texts
) -> tuple[str, str, str]:
    """Return (layer, words, column) that a thing belongs to; "" for none."""
    if shape == POINT:
        return _point_layer(columns, texts)
    hazard = texts.first(hints.HAZARDS)
    if hazard and (hazard[0] in hints.AREA_HAZARDS or shape == LINE):
        return "hazards", hazard[1], hazard[2]
    if shape == LINE:
        for layer, pattern in (("edges", hints.EDGE), ("river", hints.RIVER)):
            if found := texts.has(pattern):
                return layer, *found
        return "", "", ""
    return _outline_layer(columns, texts)


def _outline_layer(columns: Mapping[str, tuple[str, str]], texts: _Texts) -> tuple[str, str, str]:
    """Return the layer of an outline."""
    for name in ("side", "cover"):
        if name in columns:
            return "banks", *columns[name]
    if found := texts.has(hints.EDGE):
        return "edges", *found
    side, cover = texts.first(hints.SIDES), texts.first(hints.COVERS)
    run, bank = texts.has(hints.RUN), texts.has(hints.BANK)
    if run and not (bank or cover):
        return "runs", *run
    if side and not texts.has(hints.UPSTREAM):
        return "banks", side[1], side[2]
    if bank:
        return "banks", *bank
    if run:
        return "runs", *run
    return ("banks", cover[1], cover[2]) if cover else ("", "", "")


def _point_layer(columns: Mapping[str, tuple[str, str]], texts: _Texts) -> tuple[str, str, str]:
    """Return the layer of a point."""
    for name, layer in (("depth", "soundings"), ("bed", "soundings"), ("speed", "speeds"),
                        ("level", "levels")):  # fmt: skip
        if name in columns:
            return layer, columns[name][0], columns[name][1]
    if found := texts.has(_DEEP):
        return "soundings", *found
    for table, layer in (
        (hints.STRUCTURES, "structure"), (hints.HAZARDS, "hazards"), (hints.ACCESSES, "access"),
    ):  # fmt: skip
        if told := texts.first(table):
            return layer, told[1], told[2]
    for pattern, layer in ((hints.TREE, "trees"), (hints.ROCK, "rocks")):
        if found := texts.has(pattern):
            return layer, *found
    return "", "", ""


TABLES = {
    ("banks", "side"): hints.SIDES,
    ("banks", "cover"): hints.COVERS,
    ("hazards", "kind"): hints.HAZARDS,
    ("access", "kind"): hints.ACCESSES,
    ("structure", "kind"): hints.STRUCTURES,
    ("river", "part"): hints.PARTS,
}
"""Fields of fixed words that are read from free text."""


def _from_columns(made: Understood, columns: Mapping[str, tuple[str, str]]) -> None:
    """Fill fields from columns; words that are none of the field's are read by their hints."""
    for name, spec in LAYER_FIELDS[made.layer].by_name.items():
        stands = made.values.get(name, "")
        value, column = columns.get(name, (stands, name))
        if not value:
            continue
        if spec.words is not None:
            _put_word(made, name, value, column)
        elif spec.quantity in NUMBERS and not stands:
            made.put(name, value, value, column)


def _put_word(made: Understood, name: str, value: str, column: str) -> None:
    """Fill a field of fixed words from a column's value; "" with a reason where it is unknown."""
    words = LAYER_FIELDS[made.layer].by_name[name].words
    plain = hints.plain_text(value).strip()
    if words is None or value in list(words):
        made.values[name] = value
        return
    known = [(plain, value)] if plain in list(words) else []
    if name == "side" and plain in hints.SIDE_LETTERS:
        known = [(hints.SIDE_LETTERS[plain], value)]
    known = known or hints.said(TABLES.get((made.layer, name), {}), plain)
    made.values[name] = ""
    if known:
        made.put(name, known[0][0], value, column)
    else:
        made.reasons.append(Reason(name, value[:120], column))


def _from_texts(made: Understood, texts: _Texts) -> None:
    """Fill fields that are still empty from free texts."""
    for (layer, name), table in TABLES.items():
        upstream = name == "side" and texts.has(hints.UPSTREAM)
        if layer == made.layer and not upstream and (found := texts.first(table)):
            made.put(name, *found)
    fields = LAYER_FIELDS[made.layer].by_name
    if "depth" in fields and (words := texts.has(_DEEP)):
        made.put("depth", _measure(words[0], _HIGH), *words)
    if "flow" in fields and (words := texts.has(_FLOW)):
        made.put("flow", _measure(words[0], _FLOW), *words)
    if made.layer in ("trees", "rocks") and (words := texts.has(_HIGH)):
        made.put("height", _measure(words[0], _HIGH), *words)
    if made.layer == "banks" and made.values.get("cover") in ("grass", "brush", "trees"):
        _cover_height(made, texts)


def _cover_height(made: Understood, texts: _Texts) -> None:
    """Fill the cover's height where a length stands right beside the word for the cover."""
    growth = hints.COVERS[made.values["cover"]].pattern
    beside = re.compile(
        rf"{_NUMBER} ?{_LENGTH} ?(?:tall |high )?{growth}"
        rf"|{growth},? (?:of )?{_NUMBER} ?{_LENGTH}(?![a-z])"
    )
    if found := texts.has(beside):
        made.put("cover_height", _measure(found[0], _HIGH), *found)


def _measure(words: str, pattern: re.Pattern[str]) -> str:
    """Return the number with its unit in some words."""
    match = pattern.search(words)
    if match is None:
        return ""
    unit = SPELLINGS.get(match[2], match[2])
    known = any(unit in units for units in KINDS.values())
    return f"{match[1].replace(',', '')} {unit}" if known else ""


def _free_text(made: Understood, row: Mapping[str, Any]) -> None:
    """Fill fields from the pairs in a thing's free texts; the rest stays as its name or note."""
    fields = list(LAYER_FIELDS[made.layer].by_name)
    columns = (("name", "name"), ("note", "description"), ("note", "desc"), ("note", "cmt"))
    texts = [(home, row[name]) for home, name in columns if isinstance(row.get(name), str)]
    filled: dict[str, object] = dict(made.values)
    fill(filled, texts, fields, made.layer)
    made.values = {name: str(value)[:2000] for name, value in filled.items()}
