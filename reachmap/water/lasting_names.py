"""Names of stretches kept from build to build, also where the river line was drawn anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray
from reachmap.base.centreline import Centreline
from reachmap.base.words import Side
from reachmap.water.gather import overlap, shared_length
from reachmap.water.stretches import Sections

OVERLAP_LOW = 0.5
"""Share of the shorter one that a stretch has in common with one of an earlier build to be the
same; our choice, 0.4-0.7."""
APART_WIDTHS = 1.0
"""An end farther than this from the river line, in river widths, is of another river or another
course of it; our choice, 0.5-2."""


@dataclass(frozen=True, slots=True)
class NamedStretch:
    """A stretch as an earlier build named it: bank, and ends on the river line then (x, y) [m]."""

    name: str
    side: Side
    start: tuple[float, float]
    end: tuple[float, float]


def named_stretches(
    names: Mapping[int, str], line: Centreline, sections: Sections
) -> list[NamedStretch]:
    """Return the stretches that bear a name, to be kept for the next build.

    Parameters
    ----------
    names
        By number of the stretch.
    line, sections
        The main line and its sections.
    """
    found = []
    for number, name in sorted(names.items()):
        section, side = sections.of(number)
        ends = line.from_station_offset(np.array([section.start, section.end]), np.zeros(2))
        start, end = ((float(x), float(y)) for x, y in zip(*ends, strict=True))
        found.append(NamedStretch(name, side, start, end))
    return found


def kept_names(old: Sequence[NamedStretch], line: Centreline, sections: Sections) -> dict[int, str]:
    """Return the names that stretches bore in an earlier build, by their number now.

    Parameters
    ----------
    old
        Of that build, in today's CRS.
    line, sections
        The main line and its sections now.

    Notes
    -----
    A stretch is the same where it lies on the same bank and has most of the shorter one's length in
    common; of several the one that has most in common. Each name and each stretch is taken once.
    """
    if not old:
        return {}
    ends: FloatArray = np.array([[one.start, one.end] for one in old]).reshape(-1, 2)
    station, offset = line.to_station_offset(ends[:, 0], ends[:, 1])
    spans = station.reshape(-1, 2)
    far = np.abs(offset).reshape(-1, 2).max(axis=1)
    near = far <= APART_WIDTHS * line.median_width
    fits: list[tuple[float, int, int]] = []
    for k, one in enumerate(old):
        span = (float(spans[k].min()), float(spans[k].max()))
        for section, there in enumerate(sections.sections):
            now = (there.start, there.end)
            if near[k] and overlap(span, now) >= OVERLAP_LOW:
                fits.append((-shared_length(span, now), k, sections.number(section, one.side)))
    names: dict[int, str] = {}
    used: set[int] = set()
    for _, k, number in sorted(fits):
        if k not in used and number not in names:
            names[number] = old[k].name
            used.add(k)
    return names
