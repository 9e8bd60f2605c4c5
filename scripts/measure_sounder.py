"""Measure one drift with an echo sounder, from its log to the map, and what many points cost.

    python -m scripts.measure_sounder [--engine] [--cost]

A drive down the deepest water of the sample's true river is written as a log of NMEA 0183 with its
errors (set, depth, receiver), read as a reach folder reads it, and judged by the true bed and by
the same flow stage on it. `--cost`: CPU seconds and peak memory of the ground with 1,400 and 5,000
depths, each in a process of its own.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pynmea2

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from reachmap.base.crs import WGS84, transform_points  # noqa: E402
from reachmap.base.words import UnitSystem  # noqa: E402
from reachmap.flow import FlowSettings  # noqa: E402
from reachmap.ground import build_ground  # noqa: E402
from reachmap.markup.model import Track  # noqa: E402
from reachmap.markup.plan_parts import SounderNote  # noqa: E402
from reachmap.markup.sounder_nmea import read_nmea  # noqa: E402
from reachmap.markup.tracks import Frame, _sets  # noqa: E402
from scripts.ground_cases import SETTINGS, Case, sample_case  # noqa: E402
from scripts.measure_given import Given, Surveyor, _places, row_of  # noqa: E402
from scripts.measure_ground import Truth  # noqa: E402

PLACE_ERROR_M, PLACE_MEMORY = 1.5, 0.98
"""A receiver's error and how alike it is from one second to the next (from memory: metres, over a
minute)."""
TRANSDUCER_M = 0.2


def log_of(track: Track, crs: str) -> str:
    """Return a drive as a log: a fix and a depth a second, the receiver some metres off."""
    rng = np.random.default_rng(3)
    off = np.zeros((track.x.size, 2))
    for k in range(1, track.x.size):
        fresh = rng.normal(0, PLACE_ERROR_M * np.sqrt(1 - PLACE_MEMORY**2), 2)
        off[k] = PLACE_MEMORY * off[k - 1] + fresh
    lon, lat = transform_points(track.x + off[:, 0], track.y + off[:, 1], crs, WGS84)
    begin, lines = datetime(2031, 1, 5, 10, tzinfo=UTC), []
    for k, depth in enumerate(track.depth_m - TRANSDUCER_M):
        when = begin + timedelta(seconds=k)
        place = (*_minutes(lat[k], "NS", 2), *_minutes(lon[k], "EW", 3))
        told = (when.strftime("%H%M%S"), "A", *place, "", "", when.strftime("%d%m%y"), "", "")
        lines.append(str(pynmea2.RMC("GP", "RMC", told)))
        lines.append(str(pynmea2.DPT("SD", "DPT", (f"{depth:.2f}", "0.0"))))
    return "\n".join(lines)


def _minutes(value: float, sides: str, digits: int) -> tuple[str, str]:
    """Return degrees as the standard writes them: degrees and minutes in one number, and a side."""
    whole = int(abs(value))
    return f"{whole:0{digits}d}{(abs(value) - whole) * 60:08.5f}", sides[int(value < 0)]


def read_back(text: str, case: Case, flow: float) -> tuple[Track, ...]:
    """Return the tracks that a log holds."""
    rows = read_nmea(text)
    if isinstance(rows, str):
        raise SystemExit(rows)
    note = SounderNote(TRANSDUCER_M, flow)
    frame = Frame(case.markup.crs, "", UnitSystem.METRIC, "", None, note)
    return tuple(_sets("boat.log", rows, frame)[0])


def worth(settings: FlowSettings) -> None:
    """Print what a drift is worth beside none and beside single soundings."""
    case = sample_case()
    truth = Truth.of(case, case.flows, settings)
    by = Surveyor(case, truth)
    bare = replace(case.markup, soundings=(), levels=())
    (drive,) = by.tracks(1)
    read = read_back(log_of(drive, case.markup.crs), case, by.flow)
    for one in read:
        print(f"{one.name}: {one.depth_m.size} used, {one.lost} lost, {one.turning} turning")
    on = np.column_stack([drive.x, drive.y])
    sixty = by.soundings(60)
    for row in (
        Given("DEM", bare, True, on),
        Given("DEM, 60 single soundings", replace(bare, soundings=sixty), True, _places(sixty)),
        Given("DEM, one drift, its log read", replace(bare, tracks=read), True, on),
        Given("DEM, one drift, places exact", replace(bare, tracks=(drive,)), True, on),
    ):
        print(row_of(case, truth, row, settings), flush=True)


def cost(count: int) -> None:
    """Print what the sample's ground costs with so many depths."""
    case = sample_case()
    by = Surveyor(case, Truth.of(case, case.flows, FlowSettings(method="profile")))
    drives = by.tracks(3)
    x, y, depth = (
        np.concatenate([getattr(one, n) for one in drives]) for n in ("x", "y", "depth_m")
    )
    rng = np.random.default_rng(1)
    pick = rng.integers(0, x.size, count)
    east, north = (values[pick] + rng.normal(0, 4.0, count) for values in (x, y))
    track = Track("many", east, north, depth[pick], by.flow)
    tracks = () if count == 0 else (track,)
    given = replace(case.markup, soundings=(), levels=(), tracks=tracks)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begin = time.process_time()
    build_ground(given, case.dem, SETTINGS)
    spent = time.process_time() - begin
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(
        f"{count} depths: {spent:.1f} CPU s, peak {peak / 1024:.0f} MB ({before / 1024:.0f} before)"
    )


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--engine", action="store_true")
    words.add_argument("--cost", action="store_true")
    words.add_argument("--count", type=int, default=-1)
    asked = words.parse_args()
    if asked.count >= 0:
        cost(asked.count)
    elif asked.cost:
        for count in (0, 1400, 5000):
            command = [sys.executable, "-m", "scripts.measure_sounder", "--count", str(count)]
            subprocess.run(command, check=True, cwd=ROOT)
    else:
        worth(FlowSettings(method="engine" if asked.engine else "profile"))


if __name__ == "__main__":
    main()
