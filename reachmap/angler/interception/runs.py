"""Odds of each run: what its casts cover, against the time they take, over readings of the fish."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from reachmap.angler.interception.density import Presence, fish_times
from reachmap.angler.interception.settings import InterceptionSettings
from reachmap.angler.interception.swept import Swept
from reachmap.base.arrays import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Places:
    """Places to stand of one run at one flow, arrays of shape (n,).

    `number` is that of each in `Swept`; `side` the bank, any sign for each; `station` along the
    river [m]; `minutes` that its casts take.
    """

    number: IntArray
    side: IntArray
    station: FloatArray
    minutes: FloatArray

    def take(self, index: IntArray) -> Places:
        """Return some of them."""
        return Places(
            self.number[index], self.side[index], self.station[index], self.minutes[index]
        )


@dataclass(frozen=True, slots=True)
class RunOdds:
    """The score of one run at one flow, from its better bank.

    Parameters
    ----------
    odds
        Share of the fish's time met in one pass by each reading, shape (members,).
    hours
        Time for it, walking in and rigging included [h].
    places
        The places fished, downstream, numbers in `Swept`, shape (n,).
    share
        What each adds to `odds` of the middle reading, shape (n,).
    passing
        Share of the middle reading's odds that are met passing, not holding; 0 to 1.
    prime_m
        Upper and lower end of the prime stretch along the river [m].
    prime_minutes
        Time for that stretch once one stands there [min].
    """

    odds: FloatArray
    hours: float
    places: IntArray
    share: FloatArray
    passing: float
    prime_m: tuple[float, float]
    prime_minutes: float

    @property
    def rate(self) -> FloatArray:
        """Return the odds an hour by each reading [1/h], shape (members,)."""
        return self.odds / self.hours


@dataclass(frozen=True, slots=True)
class Fish:
    """Shares of the fish's time by cell: `time` (members, cells), `passing` of the middle one."""

    cells: IntArray
    time: FloatArray
    passing: FloatArray

    @classmethod
    def of(cls, presence: Presence, settings: InterceptionSettings) -> Fish:
        """Return them for every reading."""
        both = fish_times(presence, settings.members, settings)
        return cls(presence.cells, np.stack([p + h for p, h in both]), both[0][0])

    def at(self, cells: IntArray) -> tuple[FloatArray, FloatArray]:
        """Return both at cells; 0 where no fish is."""
        if not self.cells.size:
            return np.zeros((len(self.time), cells.size)), np.zeros(cells.size)
        place = np.minimum(np.searchsorted(self.cells, cells), self.cells.size - 1)
        there = self.cells[place] == cells
        return np.where(there, self.time[:, place], 0.0), np.where(there, self.passing[place], 0.0)


def odds_of_runs(
    runs: Mapping[str, Places],
    swept: Swept,
    fish: Fish,
    settings: InterceptionSettings,
) -> dict[str, RunOdds]:
    """Return the score of every run at one flow; runs without a place have none.

    Parameters
    ----------
    runs
        Places from which each can be fished by this person, by the run's name.
    swept
        What is covered from each place.
    fish
        Where the fish are.
    settings
        How fish and fly meet.

    Notes
    -----
    A fish in a cell that has had t seconds of good view over all casts of the run has met the fly
    with chance 1 - exp(-t / take_s). The sum of that over cells, weighted with the share of the
    fish's time spent there, is the run's odds; over the time it takes, its rate. Of the two banks
    the one of the better rate counts, and of the places along `bin_m` of it the best.
    """
    found = {}
    for name, places in runs.items():
        sides = [np.flatnonzero(places.side == side) for side in np.unique(places.side)]
        banks = [
            _bank_odds(places.take(mine.astype(np.int32)), swept, fish, settings) for mine in sides
        ]
        if banks:
            found[name] = max(banks, key=lambda one: float(one.rate.mean()))
    return found


def _bank_odds(places: Places, swept: Swept, fish: Fish, settings: InterceptionSettings) -> RunOdds:
    """Return the score from one bank."""
    places = places.take(_best_of_bins(places, swept, fish, settings))
    part = swept.of(places.number)
    cells, where = np.unique(part.cell, return_inverse=True)
    seconds = np.bincount(where, part.seconds, minlength=cells.size)
    time, passing = fish.at(cells.astype(np.int32))
    view = np.array([member.view for member in settings.members])[:, None] ** 2
    met = 1.0 - np.exp(-view * seconds / settings.take_s)
    odds = (time * met).sum(axis=1)
    worth = time[0] * met[0]
    weights = worth[where] * part.seconds / seconds[where]
    each: FloatArray = np.bincount(part.place, weights, len(places.number)).astype(np.float64)
    minutes = places.minutes
    first, last = prime_stretch(places.station, each, minutes, settings)
    half = 0.5 * settings.bin_m
    return RunOdds(
        odds=odds,
        hours=float(minutes.sum() + settings.setup_min) / 60.0,
        places=places.number,
        share=each,
        passing=float((passing * met[0]).sum() / odds[0]) if odds[0] > 0 else 0.0,
        prime_m=(float(places.station[first]) - half, float(places.station[last]) + half),
        prime_minutes=float(minutes[first : last + 1].sum()),
    )


def _best_of_bins(
    places: Places, swept: Swept, fish: Fish, settings: InterceptionSettings
) -> IntArray:
    """Return the best place of each stretch of bank, downstream, by its own rate."""
    part = swept.of(places.number)
    time, _ = fish.at(part.cell)
    met = time[0] * (1.0 - np.exp(-part.seconds / settings.take_s))
    own = np.bincount(part.place, met, minlength=len(places.number)) / places.minutes
    bins = np.floor(places.station / settings.bin_m).astype(np.int64)
    order = np.lexsort((np.arange(own.size), -own, bins))
    first = np.r_[True, np.diff(bins[order]) > 0] if order.size else np.zeros(0, dtype=bool)
    best = order[first]
    return np.asarray(best[np.argsort(places.station[best], kind="stable")], dtype=np.int32)


def prime_stretch(
    station: FloatArray, odds: FloatArray, minutes: FloatArray, settings: InterceptionSettings
) -> tuple[int, int]:
    """Return the first and last place of the stretch of a run that gives most for the minutes.

    Parameters
    ----------
    station
        Of the places, rising [m], shape (n,), n >= 1.
    odds, minutes
        What each adds, and the time its casts take [min].
    settings
        Its least and greatest length, and the minutes charged to every run.

    Notes
    -----
    Of all stretches of places next to each other, `prime_low_m` to `prime_high_m` long, the one of
    the best odds an hour. A gap of more than `gap_m` without a place ends a stretch; between gaps
    what is shorter than `prime_low_m` stands whole. Where none of them takes `prime_most_min` or
    less, they are as long as that allows, `prime_least_m` at least.
    """
    sums, times = np.r_[0.0, np.cumsum(odds)], np.r_[0.0, np.cumsum(minutes)]
    best, found = -1.0, (0, 0)
    ends = np.flatnonzero(np.diff(station) > settings.gap_m)
    for begin, end in zip(np.r_[0, ends + 1], np.r_[ends, len(station) - 1], strict=True):
        part = slice(int(begin), int(end) + 1)
        for first, last in _stretches(station[part], minutes[part], settings):
            a, b = int(begin) + first, int(begin) + last
            rate = (sums[b + 1] - sums[a]) / (times[b + 1] - times[a] + settings.setup_min)
            if rate > best:
                best, found = float(rate), (a, b)
    return found


def _stretches(
    station: FloatArray, minutes: FloatArray, settings: InterceptionSettings
) -> Iterator[tuple[int, int]]:
    """Yield the first and last of the places without a gap that could be the prime stretch."""
    length = station[None, :] - station[:, None] + settings.bin_m
    times = np.r_[0.0, np.cumsum(minutes)]
    takes = times[None, 1:] - times[:-1, None]
    ordered = length >= settings.bin_m
    low = min(settings.prime_low_m, float(length[0, -1]))
    fits = ordered & (length >= low) & (length <= max(settings.prime_high_m, low))
    quick = fits & (takes <= settings.prime_most_min)
    if not quick.any():
        least = min(settings.prime_least_m, low)
        short = ordered & (length >= least) & (length <= low)
        quick = short & (takes <= settings.prime_most_min)
        # of those that begin at a place the longest; where none is quick enough the shortest
        quick = (
            quick & (length == np.where(quick, length, 0.0).max(axis=1, keepdims=True))
            if quick.any()
            else short & (takes == takes[short].min())
        )
    for first, last in zip(*np.nonzero(quick), strict=True):
        yield int(first), int(last)
