"""The water's temperature: the folder's record of it, and the one a map is read for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.safe_files import FileKind, RefusedError, read_text
from reachmap.base.words import UnitSystem
from reachmap.gauge.series import Times
from reachmap.gauge.warmth_csv import read_warmth
from reachmap.markup.files import WATER_FILES
from reachmap.markup.middle import place_of
from reachmap.markup.model import Markup
from reachmap.planner.sun import zone_at
from reachmap.water.lie_warmth import Warmth, WarmthFrom, newest_warmth


def warmth_for(reach: Markup, asked_c: float | None) -> Warmth | None:
    """Return the temperature that a map is read for; None where none is known.

    What was asked for counts first, then `water_temp` of reach.toml, then the folder's record. The
    log's readings are of days gone by, and count for the coming days alone (`pipeline.days`).

    Raises
    ------
    MarkupError
        Listing every reading that makes no sense.
    """
    if asked_c is not None:
        return Warmth(asked_c, WarmthFrom.ASKED)
    if math.isfinite(reach.plan.water_c):
        return Warmth(reach.plan.water_c, WarmthFrom.FOLDER)
    if reach.folder is None or reach.gauge is None or not reach.gauge.times.size:
        return None
    zone = zone_at(*place_of(reach))
    times, celsius = recorded_warmth(reach.folder, reach.plan.units, zone)
    return newest_warmth(times, celsius, reach.gauge.times[-1])


def recorded_warmth(folder: Path, units: UnitSystem, zone: ZoneInfo) -> tuple[Times, FloatArray]:
    """Return every reading of the water's temperature in files of the folder (UTC) [C].

    Raises
    ------
    MarkupError
        Listing every row that makes no sense.
    """
    times: list[np.datetime64] = []
    read: list[float] = []
    faults: list[Fault] = []
    for path in sorted(folder.glob(WATER_FILES)):
        found, wrong = _rows(path, folder, units, zone)
        times += [when for when, _ in found]
        read += [celsius for _, celsius in found]
        faults += wrong
    if faults:
        raise MarkupError(faults)
    return np.array(times, dtype="datetime64[s]"), np.array(read, dtype=np.float64)


def _rows(
    path: Path, folder: Path, units: UnitSystem, zone: ZoneInfo
) -> tuple[Sequence[tuple[np.datetime64, float]], Sequence[Fault]]:
    """Return the readings of one file, and its faults."""
    try:
        text = read_text(path, FileKind.TEXT, folder)
    except RefusedError as error:
        return [], [Fault(path.name, error.found, error.fix)]
    return read_warmth(path.name, text, units, zone)
