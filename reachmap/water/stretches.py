"""Fixed stretches of bank, by which water is named: they depend on the drawn river line alone.

The main line is cut into sections where its bends begin and end; a section has a left bank, a right
one, and perhaps islands. A piece of water belongs to the stretch that it lies in at every flow, so
that a name means the same place whatever the river carries, and evidence elsewhere changes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import BoolArray, FloatArray
from reachmap.base.words import Side
from reachmap.water.bends import Bend
from reachmap.water.settings import WaterSettings

BANKS = (Side.LEFT, Side.RIGHT, Side.ISLAND)
"""The stretches of a section in the order of their numbers."""

PLACES = {2: ("upper", "lower"), 3: ("upper", "middle", "lower")}
"""Words for the parts of a bend or straight, downstream; more than three are numbered."""


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the main line: its ends [m along it] and its name, such as "Bend 2, upper"."""

    start: float
    end: float
    place: str
    part: str = ""

    def name(self, side: Side) -> str:
        """Return the name of one of its stretches: "Bend 2 left, upper"."""
        bank = "island side" if side is Side.ISLAND else side.value
        return f"{self.place} {bank}{f', {self.part}' if self.part else ''}"


@dataclass(frozen=True, slots=True)
class Sections:
    """The sections of a reach, downstream, without gaps.

    Stretches count downstream from 1, left bank, right bank and islands of each section: three
    numbers a section, whether there is an island or not.
    """

    sections: tuple[Section, ...]

    @property
    def inner(self) -> FloatArray:
        """Return where one section passes into the next [m], rising, shape (n - 1,)."""
        return np.array([section.start for section in self.sections[1:]])

    def number(self, section: int, side: Side) -> int:
        """Return the number of a stretch, by its section (from 0) and bank."""
        return len(BANKS) * section + BANKS.index(side) + 1

    def of(self, number: int) -> tuple[Section, Side]:
        """Return section and bank of a stretch."""
        section, bank = divmod(number - 1, len(BANKS))
        return self.sections[section], BANKS[bank]

    def name(self, number: int) -> str:
        """Return the default name of a stretch."""
        section, side = self.of(number)
        return section.name(side)

    def at(self, stations: FloatArray) -> int:
        """Return the section in which most of these stations lie, counted from 0."""
        known = stations[np.isfinite(stations)]
        return int(np.bincount(np.searchsorted(self.inner, known)).argmax()) if known.size else 0


def sections_of(
    head: float, foot: float, bends: Sequence[Bend], settings: WaterSettings
) -> Sections:
    """Return the sections of a main line.

    Parameters
    ----------
    head, foot
        Stations of its ends [m].
    bends
        From `bends_of`, downstream.
    settings
        How far below a bend its inside still counts, the longest and the shortest run.

    Notes
    -----
    A bend reaches from its start to `tail_widths` below its end, or to where the next one begins. A
    straight shorter than the shortest run goes with the bend above it, at the head with the one
    below. What is longer than the longest run is cut into equal parts.
    """
    short = settings.score.run_length_m
    spans: list[tuple[float, float, str]] = []
    at, straights = head, 0
    for k, bend in enumerate(bends):
        below = bends[k + 1].station_m if k + 1 < len(bends) else foot
        start = max(bend.station_m, at)
        end = min(bend.station_end_m + settings.bends.tail_widths * bend.width_m, below)
        straights += 1
        if start - at >= short:
            spans.append((at, start, f"Straight {straights}"))
        elif spans:
            spans[-1] = (spans[-1][0], start, spans[-1][2])
        else:
            start = at
        if end > start:
            spans.append((start, end, f"Bend {bend.number}"))
            at = end
    if foot - at >= short or not spans:
        spans.append((at, foot, f"Straight {straights + 1}"))
    else:
        spans[-1] = (spans[-1][0], foot, spans[-1][2])
    longest = settings.runs.spare * settings.score.length_high_m
    return Sections(tuple(part for span in spans for part in _parts(*span, longest)))


def cuts_of(stations: FloatArray, sections: Sections, spare: float) -> FloatArray:
    """Return where a piece of water is cut along the river, rising [m].

    Parameters
    ----------
    stations
        Of its cells [m].
    sections
        Of the reach.
    spare
        A cut that would leave less than this at an end of the piece is not made [m].
    """
    low, high = np.nanquantile(stations, (0.01, 0.99))
    inner = sections.inner
    return np.asarray(inner[(inner - low >= spare) & (high - inner >= spare)])


def parts_between(station: FloatArray, mask: BoolArray, cuts: FloatArray) -> list[BoolArray]:
    """Return the parts of a mask between cuts along the river, downstream; empty ones are none."""
    which = np.searchsorted(cuts, station)
    parts = (mask & (which == number) for number in range(cuts.size + 1))
    return [part for part in parts if part.any()]


def _parts(start: float, end: float, place: str, longest: float) -> list[Section]:
    """Return a span as one section, or cut into equal parts where it is too long."""
    count = max(math.ceil((end - start) / longest - 1e-9), 1)
    words = PLACES.get(count, tuple(str(k) for k in range(1, count + 1))) if count > 1 else ("",)
    ends = np.linspace(start, end, count + 1)
    return [Section(float(ends[k]), float(ends[k + 1]), place, words[k]) for k in range(count)]
