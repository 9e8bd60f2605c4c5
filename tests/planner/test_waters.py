"""Several waters side by side: which to drive to, by worth, by drive, and in words."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from rich.console import Console

from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.series import DAY
from reachmap.planner.choose import NEAR_TOP
from reachmap.planner.rules import Rule, RuleKind, Rules
from reachmap.planner.waters import best_of, waters_days
from reachmap.text.days import boat_sentence, short_date
from reachmap.text.days_list import days_lines
from reachmap.text.days_why import why_sentences
from reachmap.text.waters import (
    go_line,
    now_words,
    range_sentence,
    unknown_sentences,
    worth_in_full,
    worth_words,
)
from reachmap.text.waters_table import waters_shown
from tests.planner.made import hourly, made_facts, made_run
from tests.planner.test_days import NOW, PLAIN, days_of, steady

US = UnitSystem.US


def standing(cfs):
    """Return a record of ten days at one flow, read until now."""
    return hourly(np.full(24 * 10 + 1, to_si(cfs, "cfs")))


def water(name, scores, **changed):
    runs = (made_run(f"{name} Run", scores, station=100),)
    return days_of(made_facts(runs, name=name, **changed), forecast=steady(2400))


GOOD = water("Good", (20, 60, 90, 20))
POOR = water("Poor", (20, 40, 45, 20))
NONE = water("None", (80, 20, 10, 10))


def first(waters, drives):
    return [one.water for one in waters_days(waters, drives)[1].best]


def test_the_water_that_has_the_better_day_comes_first():
    assert first((POOR, GOOD), (30.0, 30.0)) == [1, 0]


def test_a_water_with_nothing_to_go_for_is_none_to_go_to():
    table = waters_days((GOOD, NONE), (30.0, 0.0))
    assert [one.water for one in table[1].best] == [0]
    assert worth_words(table[1].each[1]) == "no"


def test_a_water_that_only_a_boat_leads_to_says_so_and_is_none_to_go_to():
    runs = (
        made_run("Slot", (20, 60, 90, 20), way="boat", shut=("no way in",) * 4),
        made_run("Glide", (50, 50, 50, 50), way="unknown", shut=("no stand",) * 4),
    )
    there = days_of(made_facts(runs, name="Canyon"), forecast=steady(2400))
    table = waters_days((GOOD, there), (30.0, 0.0))
    assert [one.water for one in table[1].best] == [0]
    assert worth_words(table[1].each[1]) == "boat"
    assert worth_in_full(table[1].each[1]) == "only a boat leads there"
    assert "boat = true in [outing]" in boat_sentence(there.facts)
    assert boat_sentence(there.facts) in days_lines(there, US)
    own = tuple(
        replace(run, at=tuple(replace(one, way="own boat", shut="") for one in run.at))
        for run in runs
    )
    floated = days_of(made_facts(own, name="Canyon"), forecast=steady(2400))
    assert boat_sentence(floated.facts) == boat_sentence(GOOD.facts) == ""
    assert waters_days((floated,), (0.0,))[1].best


def test_of_waters_worth_alike_the_nearest_comes_first():
    twin = water("Twin", (20, 60, 90, 20))
    assert first((GOOD, twin), (50.0, 20.0)) == [1, 0]
    assert first((GOOD, twin), (20.0, 50.0)) == [0, 1]


def test_a_little_less_worth_is_no_reason_to_drive_farther():
    almost = water("Almost", (20, 60, 88.5, 20))
    near, far = (
        one.best[0].worth for one in (waters_days((w,), (0.0,))[1] for w in (almost, GOOD))
    )
    assert 0 < far - near < NEAR_TOP
    assert first((GOOD, almost), (50.0, 20.0)) == [1, 0]


def test_a_drive_that_nobody_told_does_not_win_for_being_unknown():
    twin = water("Twin", (20, 60, 90, 20))
    assert first((twin, GOOD), (math.nan, 40.0)) == [1, 0]


def test_a_drive_that_takes_the_light_takes_the_worth_in_proportion():
    day = waters_days((GOOD,), (0.0,))[1].each[0]
    light = day.light_min
    fished = GOOD.settings.day.fished_hours * 60
    assert light > fished  # a whole day has more light than one fishes
    near = waters_days((GOOD,), (light - fished,))[1].each[0]
    assert near.worth == pytest.approx(day.worth)
    half = waters_days((GOOD,), (light - fished / 2,))[1].each[0]
    assert half.worth == pytest.approx(day.worth / 2)
    far = waters_days((GOOD,), (light + 60,))[1].each[0]
    assert far.worth == 0
    assert not far.fishes


def test_the_day_to_go_is_the_first_of_the_best():
    table = waters_days((POOR, GOOD), (10.0, 10.0))
    best = best_of(table)
    top = max(one.best[0].worth for one in table if one.best)
    assert best is not None
    assert best.best[0].worth >= top - NEAR_TOP
    earlier = table[: table.index(best)]
    assert all(not one.best or one.best[0].worth < top - NEAR_TOP for one in earlier)


def shown(days, note=""):
    """Return what the terminal prints of one water."""
    console = Console(width=400, record=True, file=io.StringIO())
    table = waters_days((days,), (10.0,))
    console.print(waters_shown("home", table, (days,), (10.0,), (US,), (note,)))
    return console.export_text()


def test_the_terminal_has_the_anglers_own_note_on_a_water():
    assert "Your note: the gate is shut at night." in shown(GOOD, "the gate is shut at night.")
    assert "Your note" not in shown(GOOD)


def test_a_question_mark_has_its_reason_with_the_days_it_holds_for():
    low = days_of(forecast=steady(300))
    table = waters_days((low,), (0.0,))
    asked = [short_date(day.day) for day in table if worth_words(day.each[0]) == "?"]
    assert len(asked) > 1
    (told,) = unknown_sentences(low, US)
    assert told.startswith("? on ")
    assert told.endswith("the lowest that is mapped: nothing is known of it.")
    assert all((short_date(day.day) in told) is (short_date(day.day) in asked) for day in table)
    assert told in shown(low)
    unread = days_of(record=standing(300))  # and no forecast
    reasons = unknown_sentences(unread, US)
    assert len(reasons) == 2
    assert "The flow is not known for most of the day." in reasons[1]
    assert unknown_sentences(GOOD, US) == []
    mixed = replace(GOOD, days=(*GOOD.days[:2], low.days[2]))
    (told,) = unknown_sentences(mixed, US)
    assert short_date(low.days[2].light.day) in told
    assert short_date(GOOD.days[0].light.day) not in told


def test_the_terminal_says_that_the_rules_close_a_water_and_that_nobody_looked_them_up():
    told = shown(GOOD)
    assert "Nobody looked up the rules for this reach" in told
    assert "Closed by the rules" not in told
    rule = Rule(RuleKind.CLOSED, date(2031, 1, 1), date(2031, 2, 1), checked=date(2031, 1, 1))
    told = shown(under(rule))
    assert "Closed by the rules on each of these days." in told
    assert "Nobody looked up" not in told


def under(rule):
    """Return the coming days of a water under one rule."""
    return days_of(record=standing(2400), rules=Rules((rule,)))


def test_where_no_water_fishes_no_day_is_named():
    assert best_of(waters_days((NONE,), (0.0,))) is None
    assert best_of(()) is None


def test_a_day_that_one_water_has_no_more_is_the_others_alone():
    short = replace(GOOD, days=GOOD.days[:2], plans=GOOD.plans[:2], sure=GOOD.sure[:2])
    table = waters_days((short, POOR), (0.0, 0.0))
    assert [len(day.each) for day in table] == [2, 2, 1, 1]


def test_it_is_said_where_to_go_and_where_else():
    table = waters_days((POOR, GOOD), (10.0, 10.0))
    line = go_line(table[1], ["Poor", "Good"], (POOR, GOOD))
    assert line.index("Good") < line.index("Good Run") < line.index("Else Poor")
    empty = go_line(waters_days((NONE,), (0.0,))[1], ["None"], (NONE,))
    assert empty.endswith("nowhere to go for, as far as is known.")


def test_the_gauge_is_told_with_its_flow_and_how_old_it_is():
    told = now_words(GOOD, US)
    assert told.startswith("Made gauge: ")
    assert "last read" in told
    old = replace(GOOD, outlook=replace(GOOD.outlook, last=NOW - 3 * DAY))
    assert "3.0 days ago" in now_words(old, US)


def test_a_flow_beyond_the_mapped_ones_is_said_to_be_unknown():
    high = days_of(record=standing(9000))
    assert "above the highest mapped flow, 4,800 cfs: nothing is known" in range_sentence(high, US)
    assert range_sentence(GOOD, US) == ""


def test_a_river_that_has_risen_and_stands_is_not_said_to_rise():
    told = [why_sentences(day, GOOD.facts, US, PLAIN)[0] for day in GOOD.days]
    assert "The river rises" in told[0]
    assert all(line.startswith("Risen, and standing there") for line in told[1:])
