"""A track of depths as a table: its columns found by name, numbers and times in SI."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray
from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.parts import numbers, utc_from_texts
from reachmap.markup.layers import Quantity
from reachmap.markup.quantities import KINDS, SPELLINGS, unit_of

NAMES = {
    "lon": "lon", "long": "lon", "longitude": "lon", "lng": "lon",
    "lat": "lat", "latitude": "lat",
    "x": "x", "east": "x", "easting": "x",
    "y": "y", "north": "y", "northing": "y",
    "depth": "depth", "time": "time", "date": "time", "datetime": "time",
    "set": "set", "track": "set",
    "flow": "flow", "discharge": "flow",
}  # fmt: skip
"""What each column's name, without its unit, holds."""

MEASURES = {"depth": Quantity.LENGTH, "flow": Quantity.FLOW}

_HEAD = re.compile(r"\s*([a-z]+)\s*(?:[_(\[ ]\s*([a-z0-9/^³]+)\s*[)\]]?)?\s*")

FIX = (
    "Name its columns lon and lat (or x and y), depth, and where you have them time, set and flow; "
    "a unit may stand behind: depth_m, depth_ft, flow_cfs"
)


@dataclass(frozen=True, slots=True)
class Rows:
    """The rows of a track file.

    Parameters
    ----------
    x, y
        As written, shape (n,); NaN where a cell is no number.
    degrees
        Whether they are longitude and latitude.
    depth_m, flow
        [m], [m3/s]; NaN where not given.
    times
        UTC datetime64[s]; NaT where not given.
    sets
        Name of each row's set, "" for none.
    """

    x: FloatArray
    y: FloatArray
    degrees: bool
    depth_m: FloatArray
    flow: FloatArray
    times: np.ndarray[tuple[int], np.dtype[np.datetime64]]
    sets: np.ndarray


def read_rows(text: str, units: UnitSystem, zone: str) -> Rows | str:
    """Return the rows of a track file, or what is wrong with it as a whole.

    Parameters
    ----------
    text
        Lines that begin with # are left out; columns parted by commas, semicolons or tabs.
    units
        The folder's, for columns that name no unit.
    zone
        Of times without an offset; "" for UTC.
    """
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if len(lines) < 2:
        return "it has no rows"
    mark = max(",;\t", key=lines[0].count)
    heads = next(csv.reader(lines[:1], delimiter=mark))
    held: dict[str, tuple[int, str]] = {}
    for index, head in enumerate(heads):
        name, unit = _column(head)
        if name and name not in held:
            held[name] = (index, unit)
    places = next((pair for pair in (("lon", "lat"), ("x", "y")) if set(pair) <= set(held)), None)
    if places is None or "depth" not in held:
        return f"its columns are {', '.join(head.strip() for head in heads)[:120]}"
    table = pd.read_csv(
        io.StringIO("\n".join(lines[1:])), sep=mark, header=None, names=range(len(heads)),
        index_col=False, dtype=str, keep_default_na=False, quoting=csv.QUOTE_NONE,
    ).fillna("")  # fmt: skip

    def cells(name: str) -> list[str]:
        found = table[held[name][0]].str.strip().str.strip('"')
        return [str(one) for one in (found.str.replace(",", ".") if mark == ";" else found)]

    measured: dict[str, FloatArray] = {}
    for name, quantity in MEASURES.items():
        if name not in held:
            measured[name] = np.full(len(table), np.nan)
            continue
        unit = SPELLINGS.get(held[name][1], held[name][1]) or unit_of(quantity, units)
        if unit not in KINDS[quantity]:
            return f"{held[name][1]!r} is not a unit of {name}"
        measured[name] = np.asarray(to_si(numbers(cells(name)), unit))
    none = np.full(len(table), np.datetime64("NaT", "s"))
    return Rows(
        numbers(cells(places[0])),
        numbers(cells(places[1])),
        places == ("lon", "lat"),
        measured["depth"],
        measured["flow"],
        utc_from_texts(cells("time"), zone) if "time" in held else none,
        np.array(cells("set") if "set" in held else [""] * len(table), dtype=object),
    )


def _column(head: str) -> tuple[str, str]:
    """Return what a column holds and its unit; "" for one that is not read."""
    match = _HEAD.fullmatch(head.strip().strip('"').lstrip("\ufeff").lower())
    return ("", "") if match is None else (NAMES.get(match[1], ""), match[2] or "")
