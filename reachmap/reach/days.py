"""The coming days of a reach folder, from its gauge, log, forecast and built maps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.progress import Progress
from reachmap.gauge.flow_clarity import sighted
from reachmap.gauge.series import NOTHING
from reachmap.markup.config.own_numbers import with_own
from reachmap.markup.own import Own
from reachmap.pipeline.days import (
    Gathered,
    build_on_demand,
    clarity_notes,
    facts_of,
    gather,
    read_forecast,
    rules_of,
    tide_of,
    water_readings,
)
from reachmap.pipeline.stamp import settled_folder, stored_options
from reachmap.planner.days import Days, DaysSettings, Given, make_days
from reachmap.planner.hours import instant
from reachmap.planner.sun import zone_at

MOST_DAYS = 14
"""Longest outlook [days]; our choice, 7-21."""


@dataclass(frozen=True, slots=True)
class DaysAsked:
    """Options of the coming days, SI.

    Parameters
    ----------
    days
        How many, 1 to `MOST_DAYS`.
    forecast
        File of forecast flows, in any gauge format.
    ensemble
        Files of the forecast's further members; the flow shown is then the median of all.
    notes
        CSV files of clarity notes in addition to the folder's own.
    clarity_m, turbidity
        Clarity now [m], and turbidity now in the unit of the notes; NaN unknown.
    water_c
        Temperature of the water now [C]; NaN to take it from the log and the folder's file.
    zone
        Time zone shown; None for that of the place.
    now
        Start time, in `zone` where it has no zone of its own; None for the computer's clock.
    """

    days: int = 5
    forecast: Path | None = None
    ensemble: Sequence[Path] = ()
    notes: Sequence[Path] = ()
    clarity_m: float = math.nan
    turbidity: float = math.nan
    water_c: float = math.nan
    zone: ZoneInfo | None = None
    now: datetime | None = None

    def __post_init__(self) -> None:
        """Refuse a number of days out of range."""
        if not 1 <= self.days <= MOST_DAYS:
            msg = f"days is {self.days}, wants 1 to {MOST_DAYS}"
            raise ValueError(msg)


def coming_days(
    folder: Path,
    out: Path | None,
    asked: DaysAsked,
    *,
    progress: Progress = lambda *_: None,
    workers: int = 1,
) -> Days:
    """Return the coming days of a reach folder; what is not built is built first.

    Parameters
    ----------
    folder, out
        Reach folder, and the written folder if it is another than `written` in it.
    asked
        Options.
    progress
        Progress callback (step, done, total).
    workers
        Processes that may read flows side by side.

    Raises
    ------
    MarkupError
        If the folder or a file cannot be read.
    """
    target = settled_folder(folder, out)
    got = gather(folder, target)
    build = build_on_demand(got, stored_options(target), progress=progress, workers=workers)
    facts = facts_of(got, build)
    zone = asked.zone or zone_at(facts.longitude, facts.latitude)
    lines = list(got.notes)
    ended = _end_of_invented(got) if asked.now is None else None
    now = instant(start_time(asked.now, zone)) if ended is None else ended
    if ended is not None:
        lines.append(
            f"This river and its record are invented: the record's last day, {str(ended)[:10]}, "
            "counts as today."
        )
    late = int((got.record.times > now).sum())
    if late:
        lines.append(
            f"{late} readings in the gauge's files are later than now and were left out; a "
            "forecast is given by --forecast."
        )
    water_times, water_read = water_readings(got, zone)
    given = Given(
        record=got.record,
        forecast=NOTHING if asked.forecast is None else read_forecast(asked.forecast, got),
        ensemble=tuple(read_forecast(path, got) for path in asked.ensemble),
        notes=clarity_notes(got, asked.notes, zone),
        own_clarity=_own_law(got.plan.own),
        clarity_m=asked.clarity_m,
        turbidity=asked.turbidity,
        water_c=asked.water_c,
        water_times=water_times,
        water_read=water_read,
        rules=rules_of(got, [run.name for run in facts.runs]),
        tide=tide_of(got, zone),
        remarks=tuple(lines),
    )
    settings = with_own(DaysSettings(), got.plan.own.numbers)
    return make_days(facts, given, zone, now=now, count=asked.days, settings=settings)


def _end_of_invented(got: Gathered) -> np.datetime64 | None:
    """Return the last reading of an invented river's record (UTC); None for any other river.

    The record of a sample is fixed; without this its coming days would soon be unknown.
    """
    known = got.record.times[np.isfinite(got.record.flow)]
    invented = "invented" in got.plan.name.lower()
    return known.max() if invented and known.size else None


def _own_law(own: Own) -> tuple[float, float] | None:
    """Return scale and power of the clarity law of reach.toml's sightings; None without."""
    if not own.sightings:
        return None
    law = sighted(*((one.flow, one.clarity_m) for one in own.sightings)).law
    return law.scale, law.power


def start_time(now: datetime | None, zone: ZoneInfo) -> datetime:
    """Return the time to begin from, in the clock of the place; the computer's for None."""
    given = datetime.now(UTC) if now is None else now
    return (given if given.tzinfo is not None else given.replace(tzinfo=zone)).astimezone(zone)
