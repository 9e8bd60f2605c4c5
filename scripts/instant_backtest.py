"""The fall and the clarity law on a public record every 15 minutes, with turbidity.

A turbidity stands for the clarity: in a river one sees a power of it, clarity = k turbidity^-p, and
the skill of a forecast of ln clarity is then that of ln turbidity, whatever k and p.
"""

from __future__ import annotations

import lzma
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray, IntArray
from reachmap.base.units import to_si
from reachmap.gauge.clarity import ClarityModel, clarity_on, fit_clarity
from reachmap.gauge.clarity_data import ClarityNote, Limb
from reachmap.gauge.hindcast import Hindcast, skill
from reachmap.gauge.recession import GRID_HOURS, falling, on_even_grid
from reachmap.gauge.series import HOUR, Series, Times, flow_on, hours_between

RECORD = Path(__file__).resolve().parent.parent / "tests/gauge/data/instant_01191000.csv.xz"
BEGIN = np.datetime64("2016-05-31T21:15", "s")
QUARTER = np.timedelta64(900, "s")
PER_DAY = 24 // GRID_HOURS
FOLDS = 8


def read_record() -> tuple[Series, Series]:
    """Return flow [m3/s] and turbidity, in the sensor's units, every 15 minutes."""
    with lzma.open(RECORD, "rt", encoding="utf-8") as text:
        table = pd.read_csv(text, comment="#")
    times = BEGIN + np.cumsum(table["quarters"].to_numpy()) * QUARTER
    flow = to_si(table["flow_cfs"].to_numpy(dtype=float), "cfs")
    return Series(times, flow), Series(times, table["turbidity"].to_numpy(dtype=float))


def start_times(record: Series, tried: Hindcast) -> Times:
    """Return when each start of a hindcast was, UTC."""
    flow = on_even_grid(record, GRID_HOURS)
    falls = falling(flow, PER_DAY)
    began = np.r_[np.zeros(PER_DAY, dtype=bool), falls[:-PER_DAY]] & np.isfinite(flow)
    grid = hours_between(record.times[0] + HOUR - np.timedelta64(1, "s"), record.times[-1])
    times = grid[::GRID_HOURS][np.flatnonzero(began)]
    if times.size != tried.flow.size:
        msg = "these are not the starts of that record"
        raise ValueError(msg)
    return times


def notes_of(record: Series, turbidity: Series, times: Times) -> list[ClarityNote]:
    """Return a note at each of some instants on falls, how far one sees being 1 / turbidity."""
    flow, seen = flow_on(record, times), 1 / flow_on(turbidity, times)
    return [
        ClarityNote(float(clear), float(now), limb=Limb.FALLING, when=when)
        for when, now, clear in zip(times, flow, seen, strict=True)
    ]


def clarity_told(
    tried: Hindcast, notes: list[ClarityNote], leads: IntArray, fewest: int = 0
) -> FloatArray:
    """Return the clarity told some days after each start from what was known then.

    The law is that of other storms' notes, one a day of each fall, or of `fewest` of them evenly
    chosen; it is moved by the note at the start. The flow is the one that the recession told.

    Returns
    -------
    FloatArray
        As the notes say it, shape (starts, leads); NaN where nothing can be said.
    """
    told = np.full((tried.flow.size, leads.size), np.nan)
    fold = np.searchsorted(np.unique(tried.storm), tried.storm) % FOLDS
    for part in range(FOLDS):
        others = np.flatnonzero((fold != part) & np.isfinite([n.clarity_m for n in notes]))
        others = others[::PER_DAY]
        if fewest:
            others = others[np.linspace(0, others.size - 1, fewest).astype(int)]
        model = fit_clarity([notes[at] for at in others])
        for at in np.flatnonzero(fold == part):
            told[at] = _from_note(model, notes[at], tried.forecast[at], leads)
    return told


def _from_note(
    model: ClarityModel, note: ClarityNote, flow: FloatArray, leads: IntArray
) -> FloatArray:
    """Return the clarity at each lead by a law that is moved by one note."""
    mine = replace(model, notes=(note,) if np.isfinite(note.clarity_m) else ())
    day = np.timedelta64(86_400, "s")
    return np.array(
        [
            clarity_on(
                mine,
                flow=float(flow[lead - 1]),
                limb=Limb.FALLING,
                when=note.when + int(lead) * day,
                since_low=note.when,
            ).metres
            for lead in leads
        ]
    )


def clarity_rows(record: Series, turbidity: Series, tried: Hindcast, fewest: int) -> list[str]:
    """Return one row a day ahead: skill while dry and over all, median error, cases."""
    times = start_times(record, tried)
    notes = notes_of(record, turbidity, times)
    now = np.array([note.clarity_m for note in notes])
    leads = np.arange(1, 6, dtype=np.int32)
    told = clarity_told(tried, notes, leads, fewest)
    rows = []
    for column, lead in enumerate(leads):
        came = 1 / flow_on(turbidity, times + lead * np.timedelta64(86_400, "s"))
        miss, stay = np.log(came / told[:, column]), np.log(came / now)
        dry = tried.dry[:, lead - 1]
        off = [100 * np.expm1(float(np.nanmedian(np.abs(one[dry])))) for one in (miss, stay)]
        both = np.isfinite(miss) & np.isfinite(stay)
        rows.append(
            f"{lead} | {skill(miss[dry], stay[dry]):.2f} | {off[0]:.0f} % | {off[1]:.0f} % | "
            f"{skill(miss, stay):.2f} | {(both & dry).sum()} of {both.sum()}"
        )
    return rows
