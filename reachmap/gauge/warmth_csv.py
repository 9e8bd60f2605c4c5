"""Reader of water temperatures from a CSV."""

from __future__ import annotations

from datetime import tzinfo

import numpy as np

from reachmap.base.errors import Fault
from reachmap.base.words import UnitSystem
from reachmap.gauge.typed_csv import named_lines, utc_time

FIX = "Name its columns time and water_f (or water_c)"

RANGE_C = (-2.0, 40.0)
"""Limits of the temperature of a river's water [C]; as in the log."""


def read_warmth(
    file: str, text: str, units: UnitSystem, zone: tzinfo
) -> tuple[list[tuple[np.datetime64, float]], list[Fault]]:
    """Return times (UTC) and temperatures [C], and a fault for every row that cannot be read.

    Parameters
    ----------
    file
        Its name, for the faults.
    text
        Its text; lines that begin with # are left out. Columns `time` (ISO 8601) and `water_f`,
        `water_c` or `water` in the folder's units; an empty temperature is left out.
    units
        The folder's units.
    zone
        Of times without an offset.
    """
    heads, rows = named_lines(text)
    name = next((one for one in heads if one in ("water", "water_f", "water_c")), None)
    if name is None or "time" not in heads:
        return [], [Fault(file, "it has no columns of time and water", FIX)]
    fahrenheit = name == "water_f" or (name == "water" and units is UnitSystem.US)
    found: list[tuple[np.datetime64, float]] = []
    faults: list[Fault] = []
    for number, cells, line in rows:
        if not cells.get(name):
            continue
        try:
            when = utc_time(cells.get("time", ""), zone)
            value = float(cells[name])
        except ValueError:
            faults.append(Fault(f"{file}, row {number}", f"{line!r} makes no sense", FIX))
            continue
        celsius = (value - 32) / 1.8 if fahrenheit else value
        if not RANGE_C[0] <= celsius <= RANGE_C[1]:
            faults.append(Fault(f"{file}, row {number}", f"{value:g} is no river's", FIX))
            continue
        found.append((when, celsius))
    return found, faults
