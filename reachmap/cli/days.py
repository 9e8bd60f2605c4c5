"""What `reachmap days` does: which day, which run; a table here, a page and a calendar file."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from reachmap.base.cache import write_aside
from reachmap.base.errors import Fault, MarkupError
from reachmap.base.words import UnitSystem
from reachmap.cli import say
from reachmap.cli.flows import folder_units, typed_length
from reachmap.gauge.series import NOTHING
from reachmap.outputs.calendar import days_calendar
from reachmap.outputs.days_page import Look, days_page
from reachmap.outputs.days_text import KINDS
from reachmap.outputs.palette import BY_KIND
from reachmap.pipeline.days import (
    clarity_notes,
    facts_of,
    gather,
    logged_temperature,
    read_forecast,
)
from reachmap.pipeline.stamp import asked_before, settled_folder
from reachmap.planner.days import Days, Given, make_days
from reachmap.planner.sun import zone_at
from reachmap.text import cautions
from reachmap.text.wading_terms import terms_from
from reachmap.water.clarity import clarity_law

MOST_DAYS = 14
"""Further ahead nothing is worth telling; our choice, 7-21."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed; plain numbers in the folder's units, None where nothing was."""

    days: int = 5
    forecast: Path | None = None
    notes: Sequence[Path] = ()
    clarity: float | None = None
    turbidity: float | None = None
    water_temp: float | None = None
    zone: str | None = None
    now: str | None = None


def find_days(folder: Path, out: Path | None, typed: Typed) -> Days:
    """Return the coming days of a reach folder; what is not built is built first.

    Raises
    ------
    MarkupError
        If the folder, a file or a typed word does not read well.
    """
    target = settled_folder(folder, out)
    got = gather(folder, target)
    options = asked_before(target)
    with say.progress() as told:
        facts = facts_of(got, options, told=told, workers=os.cpu_count() or 1)
    zone = _zone(typed.zone, facts.longitude, facts.latitude)
    now = _now(typed.now, zone)
    units = got.plan.units
    lines = list(got.told)
    late = int((got.record.times > now).sum())
    if late:
        lines.append(
            f"{late} readings in the gauge's files are later than now and were left out; a "
            "forecast is given by --forecast."
        )
    own = got.plan.own.sightings
    warmth = _celsius(typed.water_temp, units)
    given = Given(
        record=got.record,
        forecast=NOTHING if typed.forecast is None else read_forecast(typed.forecast, got),
        notes=clarity_notes(got, typed.notes, zone),
        own_clarity=clarity_law(*((one.flow, one.clarity_m) for one in own)) if own else None,
        clarity_m=_or_nan(typed_length(typed.clarity, units)),
        turbidity=_or_nan(typed.turbidity),
        water_c=logged_temperature(folder, now) if math.isnan(warmth) else warmth,
        remarks=tuple(lines),
    )
    return make_days(facts, given, zone, now=now, count=typed.days)


def write_days(days: Days, folder: Path, out: Path | None) -> list[Path]:
    """Write days.html and days.ics into the written folder and return their paths."""
    target = settled_folder(folder, out)
    units = folder_units(folder)
    page, calendar = days_page(days, shared_look(days, units)), days_calendar(days, units)
    return [
        write_aside(target / "days.html", lambda aside: aside.write_text(page, encoding="utf-8")),
        write_aside(target / "days.ics", lambda aside: aside.write_bytes(calendar)),
    ]


def shared_look(days: Days, units: UnitSystem) -> Look:
    """Return what the page of days shares with the maps."""
    terms = terms_from(days.facts.wading_terms, units)
    styles = {kind: BY_KIND[kind] for kind in KINDS}
    return Look(
        letters={kind: style.letter for kind, style in styles.items()},
        inks={
            kind: (style.day.fill, style.day.ink, style.night.fill, style.night.ink)
            for kind, style in styles.items()
        },
        short=cautions.SHORT,
        cautions=cautions.CAUTIONS,
        invented=cautions.INVENTED,
        preview=cautions.PREVIEW,
        graded=terms.lines,
        margins_off=terms.margins_off,
        units=units,
    )


def _zone(name: str | None, longitude: float, latitude: float) -> ZoneInfo:
    """Return the clock asked for, or that of the place."""
    if name is None:
        return zone_at(longitude, latitude)
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        fix = "Give one like America/Vancouver; left out, it is that of the place"
        raise MarkupError([Fault("--zone", f"{name!r} is no time zone", fix)]) from None


def _now(text: str | None, zone: ZoneInfo) -> np.datetime64:
    """Return the time to reckon from, UTC; the clock's where none was typed."""
    told = datetime.now(UTC)
    if text is not None:
        try:
            told = datetime.fromisoformat(text)
        except ValueError:
            fix = "Give a time like 2031-01-05T08:30"
            raise MarkupError([Fault("--now", f"{text!r} is not a time", fix)]) from None
        told = told if told.tzinfo is not None else told.replace(tzinfo=zone)
    return np.datetime64(told.astimezone(UTC).replace(tzinfo=None), "s")


def _celsius(value: float | None, units: UnitSystem) -> float:
    """Return a typed temperature [C]; NaN where none was typed."""
    if value is None:
        return math.nan
    celsius = (value - 32) / 1.8 if units is UnitSystem.US else value
    if not -2 <= celsius <= 40:
        unit = "Fahrenheit" if units is UnitSystem.US else "Celsius"
        fix = f"Give it in {unit}, as the folder's units are"
        raise MarkupError([Fault("--water-temp", f"{value:g} is no water's", fix)])
    return celsius


def _or_nan(value: float | None) -> float:
    """Return NaN for None."""
    return math.nan if value is None else value
