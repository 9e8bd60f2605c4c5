"""The low water's level drawn through noted heights of the water; between them the prior falls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.ground.channels import Channel
from reachmap.ground.edges import SAME_FLOW
from reachmap.ground.profiles import falling
from reachmap.ground.settings import LevelSettings
from reachmap.ground.used import Fact, Kind, Why
from reachmap.markup.model import Level

MOST_NODES = 1500
"""Most places along the river at which the fall is doubted (numerical resolution)."""

OUTSIDE_WIDTHS = 1.5
"""A noted level further outside the drawn water than this many widths is not the river's [widths]
(our choice, 1-3)."""


@dataclass(frozen=True, slots=True)
class Heights:
    """Noted levels along the main line, merged where they lie within a width.

    Parameters
    ----------
    station
        [m], shape (n,), rising.
    level
        [m].
    rise
        How far the water of their flow stands above the traced one by a mean section [m]; 0 where
        they were taken at the traced flow, or at an unknown one.
    flow
        Number of the flow they were taken at; notes of one number share the error of its rise.
    members
        Which notes each was made of, as numbers in the order given.
    """

    station: FloatArray
    level: FloatArray
    rise: FloatArray
    flow: IntArray
    members: tuple[tuple[int, ...], ...]

    @property
    def at_low(self) -> bool:
        """Return whether some were taken at the traced flow: they give the datum."""
        return bool((self.rise == 0).any())

    def without(self, index: int) -> Heights:
        """Return the others."""
        keep = np.arange(self.station.size) != index
        members = tuple(one for number, one in enumerate(self.members) if keep[number])
        return Heights(
            self.station[keep], self.level[keep], self.rise[keep], self.flow[keep], members
        )


@dataclass(frozen=True, slots=True)
class Through:
    """A level drawn through notes.

    Parameters
    ----------
    level
        At the line's vertices [m], never rising downstream.
    notes
        Those it goes through.
    facts
        One for each note given, used or not.
    """

    level: FloatArray
    notes: Heights
    facts: tuple[Fact, ...]


def heights_of(
    main: Channel, levels: Sequence[Level], flow: float, slope: float, roughness: float
) -> tuple[Heights, dict[int, Why]]:
    """Return the noted levels along the main line, and why those left out were.

    Parameters
    ----------
    main
        The main channel.
    levels
        As noted.
    flow
        Of the traced water [m3/s].
    slope
        Mean slope of the water [m/m], > 0.
    roughness
        Manning's n [s/m^(1/3)].
    """
    x, y = (np.array([getattr(one.place, axis) for one in levels]) for axis in ("x", "y"))
    station, offset = main.line.to_station_offset(x, y)
    off = main.excess(station, offset) > OUTSIDE_WIDTHS * main.median_width
    off |= (station < 0) | (station > main.line.length)
    width = main.median_width
    depth = _depth(flow, width, slope, roughness)
    rises: list[float] = []
    for one in levels:
        same = np.isnan(one.flow) or abs(one.flow - flow) <= SAME_FLOW * flow
        rises.append(0.0 if same else _depth(one.flow, width, slope, roughness) - depth)
    groups: list[list[int]] = []
    for rise in sorted(set(rises)):
        mine = [k for k in np.argsort(station, kind="stable") if rises[k] == rise and not off[k]]
        first = np.inf
        for number in (int(k) for k in mine):
            if groups and np.isfinite(first) and station[number] - first <= width:
                groups[-1].append(number)
            else:
                groups.append([number])
                first = float(station[number])
    groups.sort(key=lambda group: float(station[group].mean()))
    height = np.array([one.level_m for one in levels])
    rise_of = np.array(rises)
    merged = Heights(
        np.array([station[group].mean() for group in groups]),
        np.array([height[group].mean() for group in groups]),
        np.array([rise_of[group[0]] for group in groups]),
        np.searchsorted(np.unique(rise_of), rise_of[[group[0] for group in groups]]).astype(
            np.int32
        ),
        tuple(tuple(group) for group in groups),
    )
    return merged, {int(k): Why.OUTSIDE for k in np.flatnonzero(off)}


def _depth(flow: float, width: float, slope: float, roughness: float) -> float:
    """Return the depth of uniform flow in a wide section [m]: (Q n / (W S^(1/2)))^(3/5)."""
    return float((flow * roughness / (width * np.sqrt(slope))) ** 0.6)


def through_levels(
    main: Channel,
    prior: FloatArray,
    levels: Sequence[Level],
    reading: tuple[Heights, dict[int, Why]],
    settings: LevelSettings,
    datum_m: float,
) -> Through:
    """Return the prior level bent through noted ones.

    The local fall is the prior's times 1 + e(s), e of mean 0, standard deviation `fall_doubt` and
    the covariance exp(-d / range), with a part common to the reach. The level is its sum down the
    river and a datum, so a note far from others holds its height while the fall between two is
    shared out as the prior has it; where notes lie close the fall is theirs. Conditioned on the
    notes by simple kriging. A note that the others contradict by more than `stray` of its standard
    errors, and by `stray_m`, is left out.

    Parameters
    ----------
    main
        The main channel.
    prior
        Level at its vertices before any note [m], never rising.
    levels
        As noted.
    reading
        Of `heights_of`.
    settings
        Doubts.
    datum_m
        How far notes and prior may stand apart as a whole [m]: much where the prior's heights are
        local, little where they are a terrain model's.
    """
    notes, why = reading
    drop = dict(why)
    if notes.station.size and datum_m > settings.datum_gap_m:
        # Local heights have no datum: without this a shift of hundreds of metres would bend them.
        prior = prior + np.median(_apart(main, prior, notes))
    for index in reversed(range(notes.station.size)):
        if abs(_apart(main, prior, notes)[index]) > settings.datum_gap_m >= datum_m:
            drop |= dict.fromkeys(notes.members[index], Why.OTHER_DATUM)
            notes = notes.without(index)
    while notes.station.size > 2:
        worst, z, off = _stray(main, prior, notes, settings, datum_m)
        if z <= settings.stray or off <= settings.stray_m:
            break
        drop |= dict.fromkeys(notes.members[worst], Why.OTHER_LEVELS)
        notes = notes.without(worst)
    level = prior
    if notes.station.size:
        known, cross = _covariances(main, prior, notes, settings, datum_m)
        weight = np.linalg.solve(known, _apart(main, prior, notes))
        level = prior + cross @ weight
    level = falling(level, np.ones(level.shape))
    facts = tuple(
        Fact(Kind.LEVEL, one.origin, str(number), why=drop.get(number - 1, Why.USED))
        for number, one in enumerate(levels, start=1)
    )
    return Through(level, notes, facts)


def _apart(main: Channel, prior: FloatArray, notes: Heights) -> FloatArray:
    """Return how far the notes, brought to the traced flow, stand above the prior [m]."""
    return np.asarray(notes.level - notes.rise - np.interp(notes.station, main.line.station, prior))


def _covariances(
    main: Channel, prior: FloatArray, notes: Heights, settings: LevelSettings, datum_m: float
) -> tuple[FloatArray, FloatArray]:
    """Return the covariance [m2] among the notes, errors in it, and of the vertices with them."""
    line, width = main.line, main.median_width
    count = int(np.clip(4 * line.length / width, 8, MOST_NODES))
    ends = np.linspace(0.0, line.length, count + 1)
    fall = -np.diff(np.interp(ends, line.station, prior))
    middle = (ends[1:] + ends[:-1]) / 2
    apart = np.abs(middle[:, None] - middle) / (settings.range_widths * width)
    alike = settings.fall_doubt**2 * np.exp(-apart) + settings.mean_doubt**2
    # Row k: how much of each stretch's fall lies upstream of place k.
    at_notes, at_line = (
        -np.clip((place[:, None] - ends[:-1]) / np.diff(ends), 0.0, 1.0) * fall
        for place in (notes.station, line.station)
    )
    shared = at_notes @ alike
    known = shared @ at_notes.T + datum_m**2
    cross = at_line @ shared.T + datum_m**2
    rough = settings.rise_doubt * np.abs(notes.rise)
    one_flow = (notes.flow[:, None] == notes.flow) & (notes.rise[:, None] != 0)
    known += np.where(one_flow, np.outer(rough, rough), 0.0)
    own = settings.error_m**2 + (settings.rise_local * notes.rise) ** 2
    return known + np.diag(np.broadcast_to(own, notes.station.shape)), cross


def _stray(
    main: Channel, prior: FloatArray, notes: Heights, settings: LevelSettings, datum_m: float
) -> tuple[int, float, float]:
    """Return the note least in keeping with the others: its number, standard errors off, and [m].

    Leave-one-out residual of kriging: e_i = (K^-1 r)_i / (K^-1)_ii, its variance 1 / (K^-1)_ii
    (from memory: Dubrule 1983).
    """
    inverse = np.linalg.inv(_covariances(main, prior, notes, settings, datum_m)[0])
    own = np.diag(inverse)
    off = inverse @ _apart(main, prior, notes) / own
    scores = np.abs(off) * np.sqrt(own)
    worst = int(np.argmax(scores))
    return worst, float(scores[worst]), float(abs(off[worst]))
