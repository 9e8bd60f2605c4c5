"""Reading gauge files in tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from reachmap.base.words import UnitSystem
from reachmap.gauge.model import Gauge, GaugeNote
from reachmap.gauge.read import read_gauge

DATA = Path(__file__).parent / "data"


def read(
    *paths: Path, units: UnitSystem = UnitSystem.US, zone: str = ""
) -> tuple[Gauge | None, list[str], list[str]]:
    gauge, faults, notes = read_gauge(paths, GaugeNote(time_zone=zone), units)
    return gauge, [str(fault) for fault in faults], notes


def good(*paths: Path, **options) -> Gauge:
    gauge, faults, _ = read(*paths, **options)
    assert not faults
    assert gauge is not None
    return gauge


def at(text: str) -> np.datetime64:
    return np.datetime64(text, "s")
