"""Reader of the angler's clarity notes: a CSV of dates, distances seen and flows."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import tzinfo

import numpy as np

from reachmap.base.errors import Fault
from reachmap.base.units import FLOW, LENGTH, to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.clarity_data import ClarityNote, Limb
from reachmap.gauge.series import HOUR, NOTHING, Series, flow_on
from reachmap.gauge.typed_csv import csv_lines, utc_time

NAMES = {
    "clarity": "clarity",
    "visibility": "clarity",
    "flow": "flow",
    "discharge": "flow",
    "turbidity": "turbidity",
    "limb": "limb",
    "time": "time",
    "date": "time",
}
"""What each column's name, without its unit, holds."""

LIMB_HOURS = 6.0
"""Time before a note over which its limb is judged [h]; our choice, 3-24."""

LIMB_SHARE = 0.01
"""A smaller relative change counts as neither rising nor falling; our choice, 0.005-0.03."""

FIX = "Name its columns time, clarity_ft, flow_cfs, limb and turbidity; clarity is a must"


def read_notes(
    file: str, text: str, units: UnitSystem, zone: tzinfo
) -> tuple[list[ClarityNote], list[Fault]]:
    """Return the notes of a CSV, and a fault for every row that cannot be read.

    Parameters
    ----------
    file
        Its name, for the faults.
    text
        Its text; lines that begin with # are left out. Columns `time` (ISO 8601), `clarity`,
        `flow`, `limb` (rising or falling) and `turbidity`, numbers with their unit behind
        (`clarity_ft`, `flow_m3s`) or plain in the folder's units.
    units
        The folder's units.
    zone
        Of times without an offset.
    """
    rows = csv_lines(text)
    heads = [_head(cell, units) for cell in rows[0]] if rows else []
    if "clarity" not in [name for name, _ in heads]:
        return [], [Fault(file, "it has no column of clarity", FIX)]
    notes, faults = [], []
    for number, row in enumerate(rows[1:], start=2):
        cells = {head[0]: (cell.strip(), head[1]) for head, cell in zip(heads, row, strict=False)}
        note = _note(cells, zone)
        if isinstance(note, str):
            faults.append(Fault(f"{file}, row {number}", note, "Correct it, or take it out"))
        else:
            notes.append(note)
    return notes, faults


def _head(cell: str, units: UnitSystem) -> tuple[str, str]:
    """Return a column's quantity and unit, empty where it is not read."""
    name, _, unit = cell.strip().lower().partition("_")
    held = NAMES.get(name, "")
    if held not in ("clarity", "flow"):
        return held, ""
    usual = LENGTH[units] if held == "clarity" else FLOW[units]
    return held, {"m3s": "m3/s", "cms": "m3/s"}.get(unit, unit) or usual


def _note(cells: Mapping[str, tuple[str, str]], zone: tzinfo) -> ClarityNote | str:
    """Return a row as a note, or what is wrong with it."""
    try:
        clarity = _number(cells, "clarity")
        flow, turbidity = _number(cells, "flow"), _number(cells, "turbidity")
        when = _time(cells.get("time", ("", ""))[0], zone)
        word = cells.get("limb", ("", ""))[0].lower()
        limb = Limb(word) if word else Limb.UNKNOWN
    except (ValueError, KeyError) as error:
        return f"{error} makes no sense"
    if not 0 < clarity < 60:
        return "clarity is not a length above zero"
    if flow <= 0 or turbidity <= 0:
        return "flow or turbidity is not above zero"
    return ClarityNote(clarity, flow, turbidity, limb, when)


def _number(cells: Mapping[str, tuple[str, str]], name: str) -> float:
    """Return a number in SI, turbidity unconverted; NaN where the cell is empty."""
    text, unit = cells.get(name, ("", ""))
    if not text:
        return math.nan
    if not re.fullmatch(r"[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?", text):
        msg = f"{name} {text!r}"
        raise ValueError(msg)
    return to_si(float(text), unit) if unit else float(text)


def _time(text: str, zone: tzinfo) -> np.datetime64:
    """Return an ISO time as UTC; NaT where there is none."""
    if not text:
        return np.datetime64("NaT", "s")
    return utc_time(text, zone)


def with_record(notes: list[ClarityNote], record: Series = NOTHING) -> list[ClarityNote]:
    """Return notes with flow and limb looked up in the record where they were not given."""
    found = []
    for note in notes:
        flow, limb = note.flow, note.limb
        if not np.isnat(note.when) and record.times.size:
            before, now = flow_on(record, note.when - np.array([int(LIMB_HOURS), 0]) * HOUR)
            flow = float(now) if math.isnan(flow) else flow
            limb = limb_of(float(before), float(now)) if limb is Limb.UNKNOWN else limb
        found.append(ClarityNote(note.clarity_m, flow, note.turbidity, limb, note.when))
    return found


def limb_of(before: float, now: float) -> Limb:
    """Return whether the river rose or fell between two flows [m3/s], `LIMB_HOURS` apart."""
    if not (math.isfinite(before) and math.isfinite(now) and before > 0):
        return Limb.UNKNOWN
    change = now / before - 1
    if abs(change) < LIMB_SHARE:
        # a steady river has cleared like a falling one
        return Limb.FALLING
    return Limb.RISING if change > 0 else Limb.FALLING
