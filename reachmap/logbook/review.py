"""Season review: what was fished at which flow, what came of it, what was never tried."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from reachmap.angler.pace import cast_seconds
from reachmap.angler.settings import PaceSettings
from reachmap.logbook.join import Joined
from reachmap.logbook.model import Entry
from reachmap.logbook.rates import RatePrior, ShrunkenRate, log_prior, shrunken_rate
from reachmap.logbook.stats import FLOW_BAND, Tally, run_key, tally_all

KNOWN_HOURS = 3.0
"""Hours from which a run counts as known at about a flow [h]; our choice, 1-10: two or three
passes."""

WORTH_KNOWING = 30.0
"""Odds from which a run is worth trying, of 100 for the flow's best run; our choice, 15-50."""

CLARITY_ENDS_M = (0.6, 1.2, 2.0)
"""Ends of the bands of clarity [m]: about 2, 4 and 6.5 ft; our choice."""

WATER_ENDS_C = (4.0, 7.0, 10.0)
"""Ends of the bands of the water's temperature [C]; our choice."""


class Knowledge(StrEnum):
    """How well the angler knows a run in a band of flows."""

    WELL = "well"
    LITTLE = "little"
    UNTRIED = "untried"
    POOR = "poor"
    UNMAPPED = "unmapped"


@dataclass(frozen=True, slots=True)
class OddsAt:
    """The model's odds of a run at one flow [m3/s].

    `odds` of 100 for the flow's best run, with the span over the readings of the fish; NaN unknown.
    `shut`: it cannot be fished at that flow.
    """

    run: str
    flow: float
    odds: float
    low: float
    high: float
    shut: bool


@dataclass(frozen=True, slots=True)
class Cell:
    """A run in a band of flows: what was logged, and the model's odds there; NaN unknown."""

    tally: Tally
    blanks: int
    odds: float
    low: float
    high: float
    knowledge: Knowledge


@dataclass(frozen=True, slots=True)
class Row:
    """Trips of one group: a band of a number, or a limb as `name`; "" where it was not noted.

    `low` and `high` bound the band; infinite for an open end, NaN for no band.
    """

    name: str
    low: float
    high: float
    tally: Tally
    blanks: int
    casts: float


@dataclass(frozen=True, slots=True)
class RunRow:
    """A run over all flows: its log, its shrunken rate, and the model's odds where it was fished.

    `odds` is the mean over the hours fished, NaN where no hour has a mapped flow; `rate` is None
    without any touch in the log.
    """

    run: str
    tally: Tally
    blanks: int
    odds: float
    rate: ShrunkenRate | None


@dataclass(frozen=True, slots=True)
class Review:
    """A season.

    Parameters
    ----------
    ends
        Ends of the bands of flow [m3/s], rising, shape (bands + 1,).
    runs
        Names of the mapped runs, downstream.
    cells
        Of each run, one a band.
    by_flow, by_clarity, by_limb, by_water
        Trips by each.
    by_run
        Runs that were fished, most hours first.
    whole
        All trips; `blanks` and `casts` of them.
    blanks, casts
        See `whole`.
    unplaced
        Trips that found no run.
    """

    ends: tuple[float, ...]
    runs: tuple[str, ...]
    cells: tuple[tuple[Cell, ...], ...]
    by_flow: tuple[Row, ...]
    by_clarity: tuple[Row, ...]
    by_limb: tuple[Row, ...]
    by_water: tuple[Row, ...]
    by_run: tuple[RunRow, ...]
    whole: Tally
    blanks: int
    casts: float
    unplaced: int


def make_review(
    entries: Sequence[Entry],
    joined: Joined,
    model: Sequence[OddsAt],
    limb_of: Callable[[Entry], str],
) -> Review:
    """Return the review of a season.

    Parameters
    ----------
    entries
        Of the log.
    joined
        Which runs they belong to.
    model
        Each run at each flow read.
    limb_of
        Returns rising, falling, steady, or "" where the record has none.
    """
    ends = flow_bands([one.flow for one in model])
    runs = tuple(dict.fromkeys(one.run for one in model))
    prior = log_prior(joined)
    cells = tuple(
        tuple(
            _cell(joined.by_run.get(run_key(run), ()), run, model, band) for band in pairwise(ends)
        )
        for run in runs
    )
    fished = [_run_row(run, joined.by_run.get(run_key(run), ()), model, prior) for run in runs]
    return Review(
        ends=ends,
        runs=runs,
        cells=cells,
        by_flow=_banded(entries, lambda one: one.flow, (-math.inf, *ends, math.inf)),
        by_clarity=_banded(
            entries, lambda one: one.clarity_m, (-math.inf, *CLARITY_ENDS_M, math.inf)
        ),
        by_limb=_named(entries, limb_of),
        by_water=_banded(entries, lambda one: one.water_c, (-math.inf, *WATER_ENDS_C, math.inf)),
        by_run=tuple(
            sorted((one for one in fished if one.tally.trips), key=lambda one: -one.tally.hours)
        ),
        whole=tally_all(entries),
        blanks=blanks_in(entries),
        casts=casts_in(entries),
        unplaced=len(joined.unplaced),
    )


def flow_bands(flows: Sequence[float]) -> tuple[float, ...]:
    """Return the ends of bands of flow over a span [m3/s], rising, shape (bands + 1,).

    Each spans a ratio of about `FLOW_BAND` squared: flows within `FLOW_BAND` of its middle.
    """
    known = [one for one in flows if math.isfinite(one) and one > 0]
    if not known:
        return (0.0, math.inf)
    low, high = math.log(min(known)), math.log(max(known))
    count = max(round((high - low) / (2 * math.log(FLOW_BAND))), 1)
    ends = np.exp(np.linspace(low, high, count + 1))
    # the bands are half open: the last end is moved up so that the highest flow is within
    return (*(float(one) for one in ends[:-1]), float(ends[-1]) * (1 + 1e-9))


def blanks_in(entries: Sequence[Entry]) -> int:
    """Return how many trips ended without a touch."""
    return sum(entry.touches == 0 for entry in entries)


def casts_in(entries: Sequence[Entry]) -> float:
    """Return about how many casts the time fished allows, at the usual pace."""
    seconds = cast_seconds(math.nan, 0.0, PaceSettings())
    minutes = [entry.minutes for entry in entries if math.isfinite(entry.minutes)]
    return 60.0 * sum(minutes) / seconds


def untried(review: Review) -> list[tuple[str, float, float, float]]:
    """Return what was never tried though it fishes: run, lowest and highest flow, best odds.

    Adjacent bands are joined. A stretch from the lowest band on begins at minus infinity, one up to
    the highest ends at infinity. The best odds first.
    """
    found = []
    for run, cells in zip(review.runs, review.cells, strict=True):
        begin: int | None = None
        for band in range(len(cells) + 1):
            open_ = band < len(cells) and cells[band].knowledge is Knowledge.UNTRIED
            if open_ and begin is None:
                begin = band
            elif not open_ and begin is not None:
                low = -math.inf if begin == 0 else review.ends[begin]
                high = math.inf if band == len(cells) else review.ends[band]
                best = max(cell.odds for cell in cells[begin:band])
                found.append((run, low, high, best))
                begin = None
    return sorted(found, key=lambda one: -one[3])


def _cell(
    entries: Sequence[Entry], run: str, model: Sequence[OddsAt], band: tuple[float, float]
) -> Cell:
    """Return a run in a band."""
    mine = [one for one in entries if band[0] <= one.flow < band[1]]
    modelled = [one for one in model if one.run == run and band[0] <= one.flow < band[1]]
    best = max(
        (one for one in modelled if not one.shut and math.isfinite(one.odds)),
        key=lambda one: one.odds,
        default=None,
    )
    tally = tally_all(mine)
    odds, low, high = (math.nan,) * 3 if best is None else (best.odds, best.low, best.high)
    return Cell(tally, blanks_in(mine), odds, low, high, _knowledge(tally, odds, bool(modelled)))


def _knowledge(tally: Tally, odds: float, mapped: bool) -> Knowledge:
    """Return how well a run is known in a band; `mapped`: the model has it there."""
    if tally.trips:
        return Knowledge.WELL if tally.hours >= KNOWN_HOURS else Knowledge.LITTLE
    if not mapped:
        return Knowledge.UNMAPPED
    return Knowledge.UNTRIED if odds >= WORTH_KNOWING else Knowledge.POOR


def _run_row(
    run: str, entries: Sequence[Entry], model: Sequence[OddsAt], prior: RatePrior | None
) -> RunRow:
    """Return a run over all flows."""
    tally = tally_all(entries)
    modelled = [one for one in model if one.run == run and one.flow > 0]
    hours, total = 0.0, 0.0
    for entry in entries:
        if entry.minutes > 0 and entry.flow > 0 and modelled:
            near = min(modelled, key=lambda one: abs(math.log(one.flow / entry.flow)))
            close = abs(math.log(near.flow / entry.flow)) <= math.log(FLOW_BAND)
            if close and math.isfinite(near.odds):
                hours += entry.minutes
                total += entry.minutes * near.odds
    rate = None if prior is None else shrunken_rate(tally.timed_touches, tally.hours, prior)
    return RunRow(run, tally, blanks_in(entries), total / hours if hours else math.nan, rate)


def _banded(
    entries: Sequence[Entry], value: Callable[[Entry], float], ends: Sequence[float]
) -> tuple[Row, ...]:
    """Return trips by bands of a number, those without it last; bands without a trip left out."""
    rows = [
        (low, high, [one for one in entries if low <= value(one) < high])
        for low, high in pairwise(ends)
    ]
    rows.append((math.nan, math.nan, [one for one in entries if math.isnan(value(one))]))
    return tuple(_row("", low, high, mine) for low, high, mine in rows if mine)


def _named(entries: Sequence[Entry], name: Callable[[Entry], str]) -> tuple[Row, ...]:
    """Return trips by a name, those without one last."""
    groups: dict[str, list[Entry]] = {}
    for entry in entries:
        groups.setdefault(name(entry), []).append(entry)
    order = sorted(groups, key=lambda one: (not one, one))
    return tuple(_row(one, math.nan, math.nan, groups[one]) for one in order)


def _row(name: str, low: float, high: float, entries: Sequence[Entry]) -> Row:
    """Return trips of one kind."""
    return Row(name, low, high, tally_all(entries), blanks_in(entries), casts_in(entries))


def odds_rows(rows: Sequence[Mapping[str, object]]) -> list[OddsAt]:
    """Return the model's odds from the report's table of runs by flow."""

    def number(value: object) -> float:
        return float(value) if isinstance(value, (int, float)) else math.nan

    return [
        OddsAt(
            str(row["run"]), number(row["flow"]), number(row.get("odds")),
            number(row.get("odds_low")), number(row.get("odds_high")), bool(row.get("shut")),
        )
        for row in rows
    ]  # fmt: skip
