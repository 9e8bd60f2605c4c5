"""What a day's list keeps to: the table's shut runs, the trip's hours and banks, light and tide."""

from __future__ import annotations

import math
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reachmap.base.units import to_si
from reachmap.base.words import (
    UnitSystem,
)
from reachmap.base.words_runs import Mind, Shut
from reachmap.gauge.series import DAY, HOUR, Series
from reachmap.gauge.tide import Tide
from reachmap.outputs.calendar import days_calendar
from reachmap.planner.choose import LIST, plan_day
from reachmap.planner.day import NotListed
from reachmap.planner.days import Days, Given, make_days
from reachmap.planner.facts import OWN_BOAT, own_way
from reachmap.planner.freshness import freshness
from reachmap.planner.offer import best_odds_of, best_stretch, offered
from reachmap.text.days import not_listed_words
from reachmap.text.days_list import about_hours, days_lines
from tests.planner.made import START, hourly, made_facts, made_run

WEST = ZoneInfo("America/Los_Angeles")
NOW = START + 10 * DAY
STANDS = hourly(np.full(241, to_si(1200.0, "cfs")))
COMING = Series(NOW + np.arange(1, 145) * HOUR, np.full(144, to_si(1200.0, "cfs")))


def days_of(facts, count: int = 3, **given) -> Days:
    return make_days(facts, Given(STANDS, COMING, **given), WEST, now=NOW, count=count)


def names(found: Days, index: int = 1) -> list[str]:
    return [pick.run.facts.name for pick in found.plans[index].picks]


def even(name: str, score: float = 80, **more):
    return made_run(name, (score,) * 4, **more)


def test_a_run_that_the_table_shuts_at_that_flow_is_not_listed_and_the_reason_is_told():
    shut = even("Roomless", 95, shut=("", str(Shut.ROOM), "", ""))
    found = days_of(made_facts((even("Open Run"), shut)))
    assert names(found) == ["Open Run"]
    run, why = found.plans[1].left_out[0]
    assert why is NotListed.SHUT
    assert not_listed_words(run, why) == Shut.ROOM.meaning
    # what nobody can fish makes no day
    alone = days_of(made_facts((shut,)))
    assert alone.days[1].score == 0
    assert alone.days[1].odds.hits == 0


def test_the_day_begins_with_the_sun_and_ends_with_it():
    day = days_of(made_facts((even("Wide Run"),))).days[1]
    up, window = day.light.hours, day.runs[0].window
    assert up is not None
    assert window is not None
    assert [int(one.timestamp()) for one in up] == [int(one.astype(int)) for one in window]


def test_a_trip_of_two_hours_holds_no_more_than_two_hours():
    runs = tuple(even(f"Run {n}", station=100.0 * n, minutes=50.0) for n in range(4))
    assert len(names(days_of(made_facts(runs)))) == 4
    assert len(names(days_of(made_facts(runs, trip_hours=2.0)))) == 2


def test_who_keeps_to_a_bank_gets_it_and_who_gets_across_gets_both():
    runs = (even("Left Run", 60, side="left"), even("Right Run", 80, side="right", station=300))
    assert names(days_of(made_facts(runs))) == ["Right Run"]
    assert names(days_of(made_facts(runs, own_bank="left"))) == ["Left Run"]
    assert names(days_of(made_facts(runs, both_banks=True))) == ["Left Run", "Right Run"]


def test_a_boat_s_way_is_one_s_own_for_who_has_one():
    assert own_way("boat", boat=True) == OWN_BOAT
    assert own_way("boat", boat=False) == "boat"
    assert own_way("foot", boat=True) == "foot"
    mine = made_facts((even("By Boat", way=OWN_BOAT),))
    assert names(days_of(mine)) == ["By Boat"]


def test_odds_an_hour_count_where_the_table_has_them_else_the_score():
    rows = [{"odds_hour": 0.1}, {"odds_hour": 0.4}, {"odds_hour": None}]
    best = best_odds_of(rows)
    assert best == 0.4
    offers = [offered(row, 70.0, best)[0] for row in rows]
    assert offers[:2] == pytest.approx([25.0, 100.0])
    assert math.isnan(offers[2])  # unknown odds are not those of the score
    assert math.isnan(offered({"odds_hour": 0.4, "depth_m": 1.0}, 70.0, best)[1])
    plain = {"depth_m": 1.2, "speed_m_s": 0.8}
    assert math.isnan(best_odds_of([plain]))
    assert offered(plain, 70.0, math.nan) == (70.0, 1.2, 0.8)


def test_what_the_reading_offers_leads_and_the_score_says_what_is_in_shape():
    likely = even("Likely", 50)
    likely = replace(likely, at=tuple(replace(one, offer=90.0) for one in likely.at))
    found = days_of(made_facts((even("Scored", 80), likely)))
    assert found.days[1].in_shape[0].facts.name == "Likely"


def test_the_flood_tide_takes_its_hours_and_the_turns_are_told():
    # low water at nine in the morning there, high at three in the afternoon
    low = np.datetime64("2031-01-20T17:00", "s")
    times = low + np.arange(-8, 40) * 6 * HOUR
    tide = Tide(times, np.where(np.arange(times.size) % 2 == 0, 0.0, 2.0))
    found = days_of(made_facts((even("Wide Run"),)), tide=tide)
    day = found.days[1]
    before, within = (
        day.runs[0].value[day.hours.times == low + hours * HOUR][0] for hours in (-1, 3)
    )
    assert within < 0.5 * before
    told = " ".join(about_hours(1, found, UnitSystem.US))
    assert "low water 09:00, high water 15:00 and low water 21:00" in told
    assert "the maps know nothing of the tide" in told


def test_bright_light_takes_from_the_middle_of_the_day_over_clear_water_only():
    def values(seen_ft: float) -> np.ndarray:
        found = days_of(made_facts((even("Wide Run"),)), clarity_m=to_si(seen_ft, "ft"))
        return found.days[0 if found.days[0].hours.times.size > 4 else 1].runs[0].value

    clear, good = (values(feet) for feet in (9.0, 3.5))
    assert clear[clear.size // 2] < 0.95 * clear[0]
    assert good[good.size // 2] == pytest.approx(good[0])


def test_a_rise_that_goes_on_is_not_in_shape_behind_itself():
    rise = Series(NOW + np.arange(1, 61) * HOUR, np.geomspace(34.0, 120.0, 60))
    found = make_days(made_facts((even("Wide Run"),)), Given(STANDS, rise), WEST, now=NOW, count=2)
    fresh = freshness(found.outlook, STANDS, lambda flow: np.isfinite(flow))
    ahead = (fresh.times > NOW + 12 * HOUR) & (fresh.times <= rise.times[-1])
    assert fresh.rising[ahead].all()
    assert np.isnan(fresh.since_fishable[ahead]).all()
    assert np.isnan(fresh.since_peak[ahead]).all()


def test_a_place_where_the_sun_does_not_rise_makes_days_without_hours():
    found = days_of(made_facts((even("Far North"),), latitude=75.0))
    assert all(not day.hours.times.size for day in found.days)
    assert found.best is None
    assert about_hours(0, found, UnitSystem.US) == []


def test_the_log_counts_in_the_order_of_the_days_where_it_is_weighed():
    rows = [{"odds_hour": 0.4, "log_factor": 0.5}, {"odds_hour": 0.3, "log_factor": 1.0}]
    best = best_odds_of(rows)
    assert best == pytest.approx(0.3)
    assert [offered(row, 70.0, best)[0] for row in rows] == pytest.approx([200 / 3, 100.0])


@pytest.mark.parametrize(
    ("mind", "words"),
    [(str(Mind.WAY_BACK), "more water cuts off the way back"), ("", "your own eyes")],
)
def test_each_run_of_the_list_says_the_one_thing_to_mind(mind, words):
    found = days_of(made_facts((even("Minded Run", mind=mind),)))
    (line,) = (one for one in days_lines(found, UnitSystem.US) if "Minded Run: " in one)
    assert line.endswith(words)
    event = days_calendar(found, UnitSystem.US).decode().replace("\r\n ", "")
    assert words in event


def test_a_run_takes_the_time_of_its_best_stretch_where_it_has_one():
    row = {"prime_minutes": 80.0, "prime_start_m": 300.0, "prime_end_m": 420.0}
    assert best_stretch(row, 200.0) == (80.0, 120.0)
    minutes, stretch = best_stretch({"prime_minutes": None}, 200.0)
    assert minutes == 200.0
    assert math.isnan(stretch)
    run = even("Parted Run")
    run = replace(run, at=tuple(replace(one, minutes=80.0, stretch_m=91.44) for one in run.at))
    found = days_of(made_facts((run,)))
    told = "\n".join(days_lines(found, UnitSystem.US))
    assert "1 h 20 min for its best 100 yd; mind" in told
    assert "for its best" not in "\n".join(days_lines(days_of(made_facts()), UnitSystem.US))


@pytest.mark.filterwarnings("error")
def test_a_run_of_unknown_worth_has_no_hours_and_raises_no_warning():
    run = even("Unknown Worth")
    run = replace(run, at=tuple(replace(one, offer=math.nan) for one in run.at))
    found = days_of(made_facts((run,)))
    assert found.days[1].runs[0].window is None
    assert names(found) == []


def test_as_many_runs_are_listed_as_on_the_map():
    runs = tuple(even(f"Run {k}", 90 - k, minutes=20) for k in range(8))
    assert len(names(days_of(made_facts(runs)))) == LIST.most
    offers = dict.fromkeys(runs, 18.0) | {runs[0]: 90.0}
    poor = tuple(
        replace(run, at=tuple(replace(one, offer=offer) for one in run.at))
        for run, offer in offers.items()
    )
    assert len(names(days_of(made_facts(poor)))) == LIST.least


def test_nobody_waits_for_a_run_beyond_the_hours_of_the_trip():
    late = even("Late Run", 40, minutes=60, station=300.0)
    early = even("Early Run", 80, minutes=60, station=100.0)
    found = days_of(made_facts((early, late)))
    day = found.days[1]
    begin = day.runs[0].window[0]
    hour = np.timedelta64(1, "h")
    shifted = tuple(
        replace(run, window=(begin + 7 * hour, begin + 8 * hour))
        if run.facts.name == "Late Run"
        else run
        for run in day.runs
    )
    day = replace(day, runs=shifted)
    long, short = (plan_day(day, made_facts((early, late), trip_hours=h)) for h in (12.0, 6.0))
    assert [pick.run.facts.name for pick in long.picks] == ["Early Run", "Late Run"]
    assert [pick.run.facts.name for pick in short.picks] == ["Early Run"]
    assert [run.facts.name for run, _ in short.left_out] == ["Late Run"]
