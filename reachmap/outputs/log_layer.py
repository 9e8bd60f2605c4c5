"""The trip log on the map: a layer of places, and columns of the table of runs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import Point

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.schema import layer_frame
from reachmap.logbook.join import Joined
from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.logbook.rates import RatePrior, log_factor, log_prior, shrunken_rate
from reachmap.logbook.stats import Tally, is_near, run_key, tally_all
from reachmap.text.log import drawn_words, factor_words, tally_words, times_words, touches_words

NOTE_LONGEST = 400
"""Longest note on the map [characters] (our choice); the log keeps all of it."""

LATEST = 3
"""Number of trips without a place that are listed in full for each run (our choice)."""

COLUMNS = (
    "times_fished",
    "hours_fished",
    "touches",
    "landed",
    "touches_per_hour",
    "touches_per_hour_low",
    "touches_per_hour_high",
    "drawn_rate",
    "drawn_low",
    "drawn_high",
    "drawn_own_share",
    "log_factor",
    "log_words",
)
"""Columns the log adds to the table of runs by flow; rates [1/h] are None where unknown. The
shrunken rates (`logbook.rates`) come with the weight of the run's own hours in them, 0 to 1;
`log_factor` is their factor in the order of runs, 1 for none."""

DRAWN_RATE = ("mean", "low", "high", "own_share")

NOTHING: dict[str, Any] = {
    "run": "",
    "trips": 0,
    "flow": math.nan,
    "near_label": "",
    "touches": 0,
    "landed": 0,
    "minutes": math.nan,
    "depth_m": math.nan,
    "speed_m_s": math.nan,
}
"""Cells of an empty row."""


def log_layer(
    entries: Sequence[Entry],
    runs: gpd.GeoDataFrame,
    flows: Mapping[str, float],
    crs: str,
    joined: Joined,
) -> gpd.GeoDataFrame:
    """Return the layer `base.schema.LOG`, newest first.

    Parameters
    ----------
    entries
        Of the log, oldest first.
    runs
        The layer of runs: trips without a place are placed at the middle of their run, one row per
        run; those that match no run are left out. A trip to several runs is placed at the first.
    flows
        Mapped flows [m3/s] by label.
    crs
        The project's metric CRS.
    joined
        Which runs the entries belong to.
    """
    placed: list[tuple[float, float, dict[str, Any]]] = []
    homeless: dict[str, list[Entry]] = {}
    for entry in entries:
        about = _about(entry, flows)
        if math.isnan(entry.x) or math.isnan(entry.y):
            for name in joined.runs_of.get(entry.uid, ())[:1]:
                homeless.setdefault(name, []).append(entry)
        elif entry.is_fishing or not entry.seen:
            placed.append((entry.x, entry.y, about | _trip(entry)))
        placed += [(one.x, one.y, about | _seen(one)) for one in entry.seen]
    east, north = transform_points(
        np.array([x for x, _, _ in placed]), np.array([y for _, y, _ in placed]), WGS84, crs
    )
    rows = [
        row | {"geometry": Point(x, y)}
        for (_, _, row), x, y in zip(placed, east, north, strict=True)
        if math.isfinite(x) and math.isfinite(y)  # a place outside the range of this CRS
    ]
    rows += [
        _run(str(run.run), mine) | {"geometry": run.geometry.representative_point()}
        for run in runs.itertuples(index=False)
        if (mine := homeless.get(str(run.run)))
    ]
    rows.sort(key=lambda row: str(row["date"]), reverse=True)
    coded = [{"code": f"L{number}", **row} for number, row in enumerate(rows, start=1)]
    return layer_frame("log", coded, crs)


def log_columns(
    joined: Joined, rows: Sequence[Mapping[str, Any]], weight: float = 0.0
) -> list[dict[str, Any]]:
    """Return rows of the table of runs by flow with the columns `COLUMNS` added.

    Parameters
    ----------
    joined
        Which runs the entries of the log belong to.
    rows
        Each with `run` and `flow` [m3/s].
    weight
        How much the log counts in the order of runs, 0 to 1.
    """
    context = _RateContext(log_prior(joined), weight)
    return [
        {**row, **_columns(joined, run_key(str(row["run"])), float(row["flow"]), context)}
        for row in rows
    ]


def log_factors(joined: Joined, rows: Sequence[Mapping[str, Any]], weight: float) -> list[float]:
    """Return the factor on each row's odds; parameters as for `log_columns`."""
    context = _RateContext(log_prior(joined), weight)
    return [
        context.factor(tally_all(_there(joined, run_key(str(row["run"])), float(row["flow"]))))
        for row in rows
    ]


def unplaced_rows(joined: Joined) -> list[dict[str, Any]]:
    """Return a row of the table of runs by flow for each logged name that matches no run.

    Each has `run`, `why` and the columns `COLUMNS`, over all flows.
    """
    by_name: dict[str, list[Entry]] = {}
    for entry in joined.unplaced:
        by_name.setdefault(entry.run, []).append(entry)
    why = "no run of the map has this name, and none lies at the trip's place"
    context = _RateContext(None, 0.0)
    return [
        {"run": name, "why": why, **_cells(tally_all(mine), "", context)}
        for name, mine in by_name.items()
    ]


@dataclass(frozen=True, slots=True)
class _RateContext:
    """Parameters of the rates: the prior common to all runs, the weight of the log."""

    prior: RatePrior | None
    weight: float

    def factor(self, tally: Tally) -> float:
        """Return the factor on the odds, rounded."""
        counted = log_factor(tally.timed_touches, tally.hours, self.prior, self.weight)
        return round(counted, 3)


def _there(joined: Joined, run: str, flow: float) -> list[Entry]:
    """Return the entries of a run near a flow."""
    return [entry for entry in joined.by_run.get(run, ()) if is_near(entry.flow, flow)]


def _columns(joined: Joined, run: str, flow: float, context: _RateContext) -> dict[str, Any]:
    """Return the columns of one run at one flow."""
    mine = _there(joined, run, flow)
    shared = [entry for entry in mine if len(joined.runs_of[entry.uid]) > 1]
    more = ""
    if shared:
        number = len(joined.runs_of[shared[-1].uid])
        trips = "1 trip names" if len(shared) == 1 else f"{len(shared)} trips name"
        more = f"; {trips} all of {shared[-1].run}, which is {number} runs here"
    return _cells(tally_all(mine), more, context)


def _cells(tally: Tally, more: str, context: _RateContext) -> dict[str, Any]:
    """Return the columns of a tally, with `more` appended to its words."""
    drawn = None
    factor = context.factor(tally)
    if context.prior is not None and tally.hours > 0:
        drawn = shrunken_rate(tally.timed_touches, tally.hours, context.prior)
        moved = factor_words(factor) if context.weight > 0 else ""
        more = f"{drawn_words(drawn)}{moved}{more}"
    values = (
        tally.trips,
        round(tally.hours, 2),
        tally.touches,
        tally.landed,
        _known(tally.rate),
        _known(tally.low),
        _known(tally.high),
        *((_known(getattr(drawn, name)) if drawn else None) for name in DRAWN_RATE),
        factor,
        f"{tally_words(tally)}{more}",
    )
    return dict(zip(COLUMNS, values, strict=True))


def _known(value: float) -> float | None:
    """Return a rate rounded, None where unknown."""
    return None if math.isnan(value) else round(value, 3)


def _about(entry: Entry, flows: Mapping[str, float]) -> dict[str, Any]:
    """Return the columns common to all rows of an entry."""
    near = [label for label, flow in flows.items() if is_near(entry.flow, flow)]
    nearest = min(near, key=lambda label: abs(math.log(entry.flow / flows[label])), default="")
    tally = {"run": entry.run, "flow": entry.flow, "near_label": nearest}
    return NOTHING | tally | {"date": f"{entry.when:%Y-%m-%d}"}


def _trip(entry: Entry) -> dict[str, Any]:
    """Return the columns of a trip."""
    return {
        "kind": "trip",
        "trips": 1,
        "touches": entry.touches,
        "landed": entry.landed,
        "minutes": entry.minutes,
        "note": _line(_outcome(entry), entry.swung, entry.note),
    }


def _seen(one: Seen) -> dict[str, Any]:
    """Return the columns of an observation or measurement."""
    return {
        "kind": str(one.kind),
        "depth_m": one.value if one.kind is SeenKind.SOUNDING else math.nan,
        "speed_m_s": one.value if one.kind is SeenKind.SPEED else math.nan,
        "note": _line(one.note),
    }


def _run(name: str, mine: Sequence[Entry]) -> dict[str, Any]:
    """Return the row of a run's trips without a place of their own."""
    tally = tally_all(mine)
    latest = [
        f"{entry.when:%Y-%m-%d}: {_line(_outcome(entry), entry.note)}"
        for entry in reversed(mine[-LATEST:])
    ]
    fished = f"Fished {times_words(tally.trips)} without a place, {touches_words(tally.touches)}"
    return NOTHING | {
        "kind": "run",
        "date": f"{mine[-1].when:%Y-%m-%d}",
        "run": name,
        "trips": tally.trips,
        "touches": tally.touches,
        "landed": tally.landed,
        "minutes": tally.hours * 60 if tally.timed else math.nan,
        "note": _line(fished, *latest),
    }


def _outcome(entry: Entry) -> str:
    """Return the outcome of a trip, in words."""
    if entry.touches == 0 and entry.landed == 0:
        return "no touch"
    landed = f", {entry.landed} landed" if entry.landed else ""
    return f"{touches_words(entry.touches)}{landed}"


def _line(*parts: str) -> str:
    """Return texts joined into one line, cut to `NOTE_LONGEST`."""
    whole = "; ".join(" ".join(part.split()) for part in parts if part.strip())
    return whole if len(whole) <= NOTE_LONGEST else whole[: NOTE_LONGEST - 1] + "\u2026"
