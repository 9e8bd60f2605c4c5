"""Fifteen years of 15-minute flows: opened, and the coming days answered."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import numpy as np

from reachmap.base.words import UnitSystem
from reachmap.gauge.model import GaugeNote
from reachmap.gauge.read import read_gauge
from reachmap.gauge.series import NOTHING, Series
from reachmap.planner.days import Given, make_days
from tests.planner.made import made_facts, made_run

BEGIN = np.datetime64("2016-01-01T00:00:00", "s")
STEPS_A_DAY = 96
ZONE = ZoneInfo("America/Los_Angeles")


def long_record(years: int) -> Series:
    """Return a made record: thirty storms a year over a base flow [cfs]."""
    count = years * 365 * STEPS_A_DAY
    day = np.arange(count) / STEPS_A_DAY
    flow = np.full(count, 300.0)
    draw = np.random.default_rng(3)
    for storm in draw.uniform(0, years * 365, years * 30):
        since = day - storm
        on = (since > 0) & (since < 40)
        rise = np.minimum(since[on] / 0.5, 1)
        flow[on] += draw.uniform(300, 5000) * rise * np.exp(-np.clip(since[on] - 0.5, 0, None) / 4)
    return Series(BEGIN + np.arange(count) * np.timedelta64(900, "s"), np.round(flow))


def many_runs(count: int):
    return made_facts(
        tuple(
            made_run(f"Run {n}", (40 + n % 40, 70, 60, 20), station=50.0 * n) for n in range(count)
        )
    )


class LongRecord:
    params = [1, 15]
    param_names = ["years"]

    def setup(self, years):
        self.folder = TemporaryDirectory()
        record = long_record(years)
        stamps = np.datetime_as_string(record.times, unit="m")
        self.path = Path(self.folder.name) / "flow.csv"
        rows = "\n".join(f"{when}Z,{q:.0f}" for when, q in zip(stamps, record.flow, strict=True))
        self.path.write_text(f"time,flow_cfs\n{rows}\n", encoding="utf-8")
        self.facts = many_runs(60)
        self.record = self.open()
        self.answer()

    def teardown(self, years):
        self.folder.cleanup()

    def open(self):
        gauge, _, _ = read_gauge([self.path], GaugeNote(), UnitSystem.US)
        return Series(gauge.times, gauge.flow)

    def answer(self):
        now = self.record.times[-1]
        return make_days(self.facts, Given(self.record, NOTHING), ZONE, now=now, count=5)

    def time_open(self, years):
        self.open()

    def time_answer(self, years):
        self.answer()

    def time_open_and_answer(self, years):
        self.record = self.open()
        self.answer()


class TwelveWaters:
    """Twelve waters, each with fifteen years of a record that is kept already."""

    def setup(self):
        record = long_record(15)
        self.records = [Series(record.times, record.flow + water) for water in range(12)]
        self.facts = many_runs(9)
        self.answer()

    def answer(self):
        for record in self.records:
            fresh = Series(record.times, record.flow)  # nothing found before
            make_days(self.facts, Given(fresh, NOTHING), ZONE, now=fresh.times[-1], count=5)

    def time_answer(self):
        self.answer()
