"""Reader of a track of depths from a table; columns are found by name."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence

import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray
from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.parts import numbers, utc_from_texts
from reachmap.markup.layers import Quantity
from reachmap.markup.quantities import KINDS, SPELLINGS, unit_of
from reachmap.markup.sounder_rows import Rows

NAMES = {
    **dict.fromkeys(("lon", "long", "longitude", "lng", "lon dd", "gps longitude"), "lon"),
    **dict.fromkeys(("lat", "latitude", "lat dd", "gps latitude"), "lat"),
    **dict.fromkeys(("x", "east", "easting"), "x"),
    **dict.fromkeys(("y", "north", "northing"), "y"),
    **dict.fromkeys(("depth", "water depth", "depth below transducer"), "depth"),
    **dict.fromkeys(("depth below surface", "depth from surface"), "surface"),
    **dict.fromkeys(("time", "datetime", "date time", "timestamp", "utc", "utc time"), "time"),
    "date": "date",
    **dict.fromkeys(("set", "track", "segment"), "set"),
    **dict.fromkeys(("name", "label", "point"), "name"),
    **dict.fromkeys(("flow", "discharge"), "flow"),
}
"""Quantity by column name, without its unit."""

MEASURES = {"depth": Quantity.LENGTH, "flow": Quantity.FLOW}

_BRACKETS = re.compile(r"(.*?)\s*[(\[]\s*([^)\]]*?)\s*[)\]]")

FIX = (
    "Name its columns lon and lat (or x and y), depth, and where you have them time, set and flow; "
    "a unit may stand behind: depth_m, depth_ft, flow_cfs"
)


def read_rows(text: str, units: UnitSystem, zone: str, *, depths: bool = True) -> Rows | str:
    """Return the rows of a track file, or a text on its fault as a whole.

    Parameters
    ----------
    text
        Lines that begin with # are left out; columns separated by commas, semicolons or tabs.
    units
        The folder's units, for columns without one.
    zone
        Of times without an offset; "" for UTC.
    depths
        Whether a column of depths is required.
    """
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if len(lines) < 2:
        return "it has no rows"
    mark = max(",;\t", key=lines[0].count)
    heads = next(csv.reader(lines[:1], delimiter=mark))
    held = _held(heads)
    places = next((pair for pair in (("lon", "lat"), ("x", "y")) if set(pair) <= set(held)), None)
    if places is None or (depths and "depth" not in held):
        return f"its columns are {', '.join(head.strip() for head in heads)[:120]}"
    table = pd.read_csv(
        io.StringIO("\n".join(lines[1:])), sep=mark, header=None, names=range(len(heads)),
        index_col=False, dtype=str, keep_default_na=False, quoting=csv.QUOTE_NONE,
    ).fillna("")  # fmt: skip

    def cells(name: str) -> list[str]:
        found = table[held[name][0]].str.strip().str.strip('"')
        return [str(one) for one in (found.str.replace(",", ".") if mark == ";" else found)]

    def texts(name: str) -> np.ndarray:
        return np.array(cells(name) if name in held else [""] * len(table), dtype=object)

    measured: dict[str, FloatArray] = {}
    for name, quantity in MEASURES.items():
        if name not in held:
            measured[name] = np.full(len(table), np.nan)
            continue
        unit = SPELLINGS.get(held[name][1], held[name][1]) or unit_of(quantity, units)
        if unit not in KINDS[quantity]:
            return f"{held[name][1]!r} is not a unit of {name}"
        measured[name] = np.asarray(to_si(numbers(cells(name)), unit))
    depth = measured["depth"]
    if (depth[np.isfinite(depth)] <= 0).all():  # depths written as negative heights
        depth = -depth
    return Rows(
        numbers(cells(places[0])),
        numbers(cells(places[1])),
        places == ("lon", "lat"),
        depth,
        measured["flow"],
        _times(held, cells, len(table), zone),
        texts("set"),
        texts("name"),
        np.full(len(table), "surface" in held),
    )


def _held(heads: Sequence[str]) -> dict[str, tuple[int, str]]:
    """Return index and unit of each column that is read; the first of a kind is used."""
    held: dict[str, tuple[int, str]] = {}
    for index, head in enumerate(heads):
        name, unit = _column(head)
        if name == "surface":  # the preferred one where a file has both
            held["depth"] = (index, unit)
        if name and name not in held:
            held[name] = (index, unit)
    return held


def _times(
    held: Mapping[str, tuple[int, str]],
    cells: Callable[[str], list[str]],
    count: int,
    zone: str,
) -> np.ndarray[tuple[int], np.dtype[np.datetime64]]:
    """Return each row's time as UTC: one column, or a date and a time in two; NaT for none."""
    parts = [name for name in ("date", "time") if name in held]
    if not parts:
        return np.full(count, np.datetime64("NaT", "s"))
    joined = [" ".join(pair).strip() for pair in zip(*map(cells, parts), strict=True)]
    utc = any("utc" in held[name][1] for name in parts)
    return utc_from_texts(joined, "" if utc else zone)


def _column(head: str) -> tuple[str, str]:
    """Return a column's quantity and unit; "" for one that is not read."""
    plain = head.strip().strip('"').lstrip("\ufeff").lower()
    match = _BRACKETS.fullmatch(plain)
    name, unit = (match[1], match[2]) if match else (plain, "")
    words = re.sub(r"[\s_.-]+", " ", name).strip()
    if words in NAMES or unit:
        return NAMES.get(words, ""), unit
    words, _, unit = words.rpartition(" ")
    return NAMES.get(words, ""), unit
