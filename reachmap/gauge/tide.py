"""Tide table from a CSV: heights at times, and whether the tide rises or falls at a time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import tzinfo

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.errors import Fault
from reachmap.base.units import LENGTH, to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.series import HOUR, Times
from reachmap.gauge.typed_csv import named_lines, utc_time

FIX = "Name its columns time and height_ft (or height_m)"

LONGEST_HOURS = 14.0
"""Longest gap between entries that is interpolated [h]: two tides a day leave some six
hours between high and low water, one a day some twelve."""


@dataclass(frozen=True, slots=True)
class Tide:
    """Heights of the tide [m] at ascending instants (UTC): high and low waters, or hourly."""

    times: Times
    height: FloatArray

    def height_at(self, times: Times) -> FloatArray:
        """Return the height at instants [m]; NaN outside the table and in its gaps.

        Notes
        -----
        Half a cosine between two entries, as the tide runs between high and low water (the rule of
        twelfths approximates it; common practice). Between hourly entries it is nearly linear.
        """
        after, share = self._between(times)
        low, high = self.height[after - 1], self.height[after]
        return np.asarray(low + (high - low) * (1 - np.cos(np.pi * share)) / 2)

    def rising(self, times: Times) -> FloatArray:
        """Return 1 where the tide rises, 0 where it falls or stands, NaN where unknown."""
        after, share = self._between(times)
        up = (self.height[after] > self.height[after - 1]).astype(np.float64)
        return np.asarray(np.where(np.isnan(share), np.nan, up))

    def turns(self, begin: np.datetime64, end: np.datetime64) -> list[tuple[np.datetime64, bool]]:
        """Return the times of high (True) and low water (False) within a span, in order."""
        found = []
        for at in range(1, self.times.size - 1):
            before, here, after = self.height[at - 1 : at + 2]
            if begin <= self.times[at] <= end and (here - before) * (here - after) > 0:
                found.append((self.times[at], bool(here > before)))
        return found

    def _between(self, times: Times) -> tuple[np.ndarray, FloatArray]:
        """Return the index of the entry after each instant and the share of the interval passed.

        The share is NaN outside the table and in its gaps.
        """
        after = np.clip(np.searchsorted(self.times, times, side="left"), 1, self.times.size - 1)
        begin, end = self.times[after - 1], self.times[after]
        span = (end - begin) / HOUR
        share = (times - begin) / HOUR / span
        out = (share < 0) | (share > 1) | (span > LONGEST_HOURS)
        return after, np.asarray(np.where(out, np.nan, share))


def read_tide(
    file: str, text: str, units: UnitSystem, zone: tzinfo
) -> tuple[Tide | None, list[Fault]]:
    """Return the tide table of a CSV, and a fault for every row that cannot be read.

    Parameters
    ----------
    file
        Its name, for the faults.
    text
        Its text; lines that begin with # are left out. Columns `time` (ISO 8601) and `height_ft`,
        `height_m` or `height` in the folder's units.
    units
        The folder's units.
    zone
        Of times without an offset.
    """
    heads, rows = named_lines(text)
    height = next((one for one in heads if one in ("height", "height_ft", "height_m")), None)
    if height is None or "time" not in heads:
        return None, [Fault(file, "it has no columns of time and height", FIX)]
    unit = height.partition("_")[2] or LENGTH[units]
    found: dict[np.datetime64, float] = {}
    faults: list[Fault] = []
    for number, cells, line in rows:
        try:
            when = utc_time(cells.get("time", ""), zone)
            value = to_si(float(cells.get(height, "")), unit)
        except ValueError:
            faults.append(Fault(f"{file}, row {number}", f"{line!r} makes no sense", FIX))
            continue
        if not math.isfinite(value) or abs(value) > 30:
            faults.append(Fault(f"{file}, row {number}", "the height is no tide's", FIX))
        else:
            found[when] = value
    if not faults and len(found) < 2:
        faults.append(Fault(file, "it has fewer than two times", "Give high and low waters"))
    if faults:
        return None, faults
    times = np.array(sorted(found), dtype="datetime64[s]")
    return Tide(times, np.array([found[when] for when in times])), []
