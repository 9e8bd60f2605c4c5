"""Try the recession, its odds and the clarity law on records: python -m scripts.days_backtest.

Prints the tables of docs/days.md: skill over persistence 1 to 5 days ahead on the public records of
tests/gauge/data, two of daily means and one of 15 minutes, how often what was given odds came, and
the clarity law on that gauge's turbidity and on the sample's notes.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd

from reachmap.base.arrays import FloatArray
from reachmap.base.words import UnitSystem
from reachmap.gauge.clarity_notes import read_notes
from reachmap.gauge.hindcast import Hindcast, hindcast, members_of, skill
from reachmap.gauge.hindcast_clarity import hindcast_clarity
from reachmap.gauge.series import Series
from scripts.instant_backtest import clarity_rows, read_record

ROOT = Path(__file__).resolve().parent.parent
RECORDS = (
    ("01013500", ROOT / "tests/gauge/data/daily_01013500.csv"),
    ("09447000", ROOT / "tests/gauge/data/daily_09447000.csv"),
    ("02177000", ROOT / "shared/tables/daily_flow_chattooga_2012.csv"),
)
LEADS = range(5)
DROPS = 0.8
"""The event odds are tried on: the river has dropped to this share of today's flow, or lower."""

BINS = ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.01))


def record_of(path: Path) -> Series:
    """Return a daily record, each mean at noon."""
    table = pd.read_csv(path, comment="#")
    times = table["date"].to_numpy(dtype="datetime64[s]") + np.timedelta64(12, "h")
    return Series(times, table[table.columns[1]].to_numpy(dtype=float))


def course_misses(tried: Hindcast) -> FloatArray:
    """Return ln(came / told), told by the mean course of other storms, shape (starts, LEADS)."""
    misses = np.full(tried.errors.shape, np.nan)
    for at in range(tried.flow.size):
        members = _members(tried, at)
        if members is not None:
            misses[at] = tried.errors[at] - members[:, 1:].mean(axis=0)
    return misses


def _members(tried: Hindcast, at: int) -> FloatArray | None:
    """Return the errors that count at a start, none of its own storm."""
    return members_of(
        tried,
        float(tried.flow[at]),
        float(tried.fell[at]),
        int(tried.year_day[at]),
        without=int(tried.storm[at]),
    )


def told_skill(tried: Hindcast) -> list[str]:
    """Return one row of the table of skill a lead."""
    rows = []
    courses = course_misses(tried)
    for lead in LEADS:
        miss, stay, dry = tried.errors[:, lead], tried.persistence[:, lead], tried.dry[:, lead]
        off = [100 * np.expm1(float(np.nanmedian(np.abs(one[dry])))) for one in (miss, stay)]
        rows.append(
            f"{lead + 1} | {skill(miss[dry], stay[dry]):.2f} | {off[0]:.0f} % | {off[1]:.0f} % | "
            f"{skill(miss, stay):.2f} | {skill(courses[:, lead], stay):.2f} | "
            f"{dry.sum()} of {np.isfinite(miss).sum()}"
        )
    return rows


def odds_came(tried: Hindcast) -> tuple[np.ndarray, np.ndarray]:
    """Return the odds given to the event at each start and lead, and whether it came.

    The storm a start belongs to gives none of its own odds.
    """
    said, came = [], []
    for at in range(tried.flow.size):
        members = _members(tried, at)
        if members is None or not np.isfinite(tried.errors[at, list(LEADS)]).all():
            continue
        for lead in LEADS:
            told = np.log(tried.forecast[at, lead] / tried.flow[at])
            said.append(float((told + members[:, lead + 1] <= np.log(DROPS)).mean()))
            came.append(float(tried.persistence[at, lead] <= np.log(DROPS)))
    return np.array(said), np.array(came)


def told_odds(said: np.ndarray, came: np.ndarray) -> list[str]:
    """Return the table of odds said and how often the event came, and the Brier skill."""
    rows = []
    for low, high in BINS:
        mine = (said >= low) & (said < high)
        if mine.any():
            rows.append(
                f"{low:.1f} to {min(high, 1):.1f} | {said[mine].mean():.2f} | "
                f"{came[mine].mean():.2f} | {mine.sum()}"
            )
    usual = ((came.mean() - came) ** 2).mean()
    brier = 1 - ((said - came) ** 2).mean() / usual
    rows.append(f"Brier skill over the record's own frequency: {brier:.2f}")
    return rows


def main() -> int:
    """Print the tables."""
    instant, turbidity = read_record()
    records = [(name, record_of(path)) for name, path in RECORDS]
    for name, record in [*records, ("01191000, every 15 minutes", instant)]:
        tried = hindcast(record)
        if tried is None:
            print(f"\n{name}: {record.times.size} values, too few storms")
            continue
        print(
            f"\n{name}: {record.times.size} values, {tried.storms} storms, {tried.flow.size} starts"
        )
        print("days | skill dry | off | persistence off | over all | mean course | dry of all")
        print("\n".join(told_skill(tried)))
        said, came = odds_came(tried)
        if said.size:
            print(f"odds that it has dropped to {DROPS:.0%} in 1 to 5 days")
            print("said | mean | came | cases")
            print("\n".join(told_odds(said, came)))
        if record is instant:
            for fewest in (0, 12):
                print(f"clarity by its turbidity, laws of {fewest or 'all other'} notes")
                print("days | skill dry | off | persistence off | over all | dry of all")
                print("\n".join(clarity_rows(record, turbidity, tried, fewest)))
    sample = ROOT / "data_samples/madeup_river/clarity.csv"
    notes, _ = read_notes(sample.name, sample.read_text(encoding="utf-8"), UnitSystem.US, None)  # type: ignore[arg-type]
    seen = hindcast_clarity(notes)
    print(f"\nclarity, the sample's invented notes: {seen.days.size} later notes of its storms")
    for days, miss, stay in zip(seen.days, seen.errors, seen.persistence, strict=True):
        off, first = (np.expm1(abs(one)) for one in (miss, stay))
        print(f"{days:.0f} d | off {off:.0%} | first note off {first:.0%}")
    print(f"skill over the first note: {skill(seen.errors, seen.persistence):.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
