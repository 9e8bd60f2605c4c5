"""Rules first: a closed day or run is never proposed, an old look-up is told."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reachmap.base.units import to_si
from reachmap.gauge.series import DAY, HOUR, Series
from reachmap.planner.days import Days, Given, make_days
from reachmap.planner.rules import Rule, RuleKind, Rules
from reachmap.planner.rules_csv import read_rules
from reachmap.text.days_rules import day_rules_sentences, rules_sentences
from tests.planner.made import RUNS, START, hourly, made_facts

WEST = ZoneInfo("America/Los_Angeles")
NOW = START + 10 * DAY + 15 * HOUR  # seven in the morning of the 20th
NAMES = [run.name for run in RUNS]
HEAD = "from,to,hours,where,rule,gear,source,checked\n"


def read(rows: str) -> Rules:
    found, faults = read_rules("rules.csv", HEAD + rows, NAMES)
    assert not faults, faults
    return Rules(found)


def days_with(rules: Rules, count: int = 5) -> Days:
    record = hourly(np.full(256, to_si(1200.0, "cfs")))
    stands = Series(NOW + np.arange(0, 145) * HOUR, np.full(145, to_si(1200.0, "cfs")))
    what = Given(record, stands, rules=rules)
    return make_days(made_facts(), what, WEST, now=NOW, count=count)


def test_a_closed_day_is_never_proposed():
    open_days = days_with(Rules())
    assert open_days.best == 0
    found = days_with(read("2031-01-20,2031-01-21,,reach,closed,,notice board,2031-01-19\n"))
    for day, plan in zip(found.days[:2], found.plans[:2], strict=True):
        assert day.closed
        assert not plan.picks
        assert day.score == 0
    assert found.best is not None
    assert found.best >= 2
    assert "Closed: nothing is proposed." in day_rules_sentences(found.days[0], found.rules)
    for day in found.days[2:]:
        assert not day.closed


def test_when_every_day_is_closed_none_is_named():
    found = days_with(read("01-01,12-31,,,closed,,,2031-01-19\n"))
    assert found.best is None
    assert not any(plan.picks for plan in found.plans)


def test_a_closed_run_is_never_listed_and_the_others_are():
    found = days_with(read("2031-01-01,2031-03-31,,Low Run; High Run,closed,,,2031-01-19\n"))
    names = {pick.run.facts.name for plan in found.plans for pick in plan.picks}
    assert names == {"Middle Run"}
    assert "Closed that day: Low Run and High Run." in day_rules_sentences(
        found.days[1], found.rules
    )
    free = days_with(Rules())
    assert "Low Run" in {pick.run.facts.name for plan in free.plans for pick in plan.picks}


def test_closed_hours_are_cut_out_of_the_day():
    found = days_with(read("01-01,12-31,10:00-14:00,,open,,,2031-01-19\n"))
    for plan in found.plans[1:]:
        for pick in plan.picks:
            hour = float((pick.begin - pick.begin.astype("datetime64[D]")) / HOUR) - 8
            assert hour >= 10
            assert hour + pick.minutes / 60 <= 14
    day = found.days[1]
    assert (day.runs[0].value[day.hours.times < day.hours.times[0] + HOUR] == 0).all()


def test_a_season_ends_with_its_last_day():
    rules = read("12-01,01-21,,,open,,booklet,2031-01-19\n")  # over the turn of the year
    found = days_with(rules)
    assert [day.closed for day in found.days] == [False, False, True, True, True]


@pytest.mark.parametrize(
    ("days", "yearly", "day", "holds"),
    [
        ("2000-12-01 2000-03-31", True, "2031-01-05", True),
        ("2000-12-01 2000-03-31", True, "2031-04-01", False),
        ("2000-06-01 2000-06-30", True, "2031-06-30", True),
        ("2031-06-01 2031-06-30", False, "2032-06-15", False),
    ],
)
def test_days_of_every_year_run_over_its_turn(days, yearly, day, holds):
    begin, end = (date.fromisoformat(one) for one in days.split())
    rule = Rule(RuleKind.OPEN, begin, end, yearly=yearly)
    assert rule.holds_on(date.fromisoformat(day)) is holds


def test_hours_over_midnight_close_the_night_and_not_the_day():
    rule = read("01-01,12-31,20:00-06:00,,closed,,,2031-01-19\n")
    times = np.array(["2031-01-20T12:00", "2031-01-20T20:00"], dtype="datetime64[s]")
    assert rule.open_hours("Low Run", times, WEST).tolist() == [False, True]  # 4 and 12 there


def test_nobody_looked_an_old_look_and_one_without_a_date_are_told():
    today = date(2031, 1, 20)
    assert "Nobody looked up" in rules_sentences(Rules(), today)[0]
    old = read("01-01,12-31,,,open,,booklet,2030-11-01\n")
    assert "80 days ago" in rules_sentences(old, today)[0]
    fresh = read("01-01,12-31,,,open,,booklet,2031-01-19\n")
    assert rules_sentences(fresh, today) == ["Rules looked up yesterday."]
    mixed = read(
        "01-01,12-31,,,open,,booklet,2031-01-19\n01-01,12-31,,,gear,floating line,,2030-11-01\n"
    )
    assert "80 days ago" in rules_sentences(mixed, today)[0]  # the oldest look-up counts
    undated = read("01-01,12-31,,,open,,booklet,\n")
    assert "do not say when" in rules_sentences(undated, today)[0]
    gear = read("01-01,12-31,,Low Run,gear,single barbless hook,booklet,2031-01-19\n")
    told = day_rules_sentences(days_with(gear).days[1], gear)
    assert "Rule for Low Run: single barbless hook (booklet)." in told
    assert "do not say of every run" in told[0]


def test_every_row_that_makes_no_sense_is_told_at_once():
    rows = (
        "2031-01-01,2031-02-30,,,closed,,,\n"
        "2031-01-01,2031-02-01,late,Nowhere Run,shut,,,soon\n"
        "2031-05-01,2031-02-01,,,closed,,,\n"
        "01-01,2031-02-01,,,closed,,,\n"
    )
    found, faults = read_rules("rules.csv", HEAD + rows, NAMES)
    assert not found
    told = "; ".join(str(fault) for fault in faults)
    for words in (
        "2031-02-30", "hours are 'late'", "no run 'Nowhere Run'", "rule is 'shut'",
        "checked is 'soon'", "ends before it begins", "not both of every year",
    ):  # fmt: skip
        assert words in told
    assert read_rules("rules.csv", "", NAMES) == ((), [])
    assert "no column" in str(read_rules("rules.csv", "from,to\n", NAMES)[1][0])
