"""Days, runs and their order, from made flows with known answers."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from reachmap.base.units import to_si
from reachmap.base.words import Confidence, UnitSystem
from reachmap.gauge.clarity_data import ClarityNote, Limb
from reachmap.gauge.recession import recession_flow
from reachmap.gauge.series import DAY, HOUR, NOTHING, Series
from reachmap.outputs.calendar import days_calendar
from reachmap.planner.choose import NEAR_TOP, LimitKind
from reachmap.planner.day import NotListed
from reachmap.planner.days import Days, Given, make_days
from reachmap.planner.facts_json import facts_from, facts_text
from reachmap.planner.score import ScoreSettings, clear_share, score_at, score_span, warmth_share
from reachmap.text.days import rising_sentence
from reachmap.text.days_why import why_sentences
from tests.gauge.test_recession import law
from tests.planner.made import FLOWS, RUNS, START, hourly, made_facts, made_run

WEST = ZoneInfo("America/Los_Angeles")
NOW = START + 10 * DAY
FELL = recession_flow(law(0.15, 0.6, 30.0), to_si(5000.0, "cfs"), np.arange(24 * 10 + 1) / 24)
PLAIN = ScoreSettings()


def steady(cfs: float) -> Series:
    """Return a forecast that stands, after a reading of the same flow."""
    return Series(NOW + np.arange(0, 24 * 8, 3) * HOUR, np.full(64, to_si(cfs, "cfs")))


def days_of(facts=None, *, forecast=NOTHING, record=None, count=4, **given) -> Days:
    seen = hourly(FELL) if record is None else record
    return make_days(
        facts or made_facts(), Given(seen, forecast, **given), WEST, now=NOW, count=count
    )


def test_scores_are_those_of_the_mapped_flows_and_straight_between():
    run = RUNS[1]
    assert score_at(run, np.array(FLOWS), PLAIN).tolist() == [20, 60, 90, 20]
    middle = math.sqrt(FLOWS[1] * FLOWS[2])
    assert score_at(run, np.array([middle]), PLAIN)[0] == pytest.approx(75.0)
    beyond = np.array([FLOWS[0] / 2, FLOWS[-1] * 2, math.nan])
    assert np.isnan(score_at(run, beyond, PLAIN)).all()


def test_a_run_nobody_knows_at_a_flow_is_not_known_up_to_its_neighbours():
    run = made_run("Half Known", (80, math.nan, 80, 80))
    found = score_at(run, np.array([FLOWS[0], FLOWS[1], FLOWS[1] * 1.3, FLOWS[2]]), PLAIN)
    assert np.isnan(found).tolist() == [False, True, True, False]


@given(low=st.floats(FLOWS[0], FLOWS[-1]), ratio=st.floats(1.0, 3.0))
def test_the_span_over_a_band_holds_every_score_within_it(low, ratio):
    high = min(low * ratio, FLOWS[-1])
    flows = np.geomspace(low, high, 25)
    inside = score_at(RUNS[1], flows, PLAIN)
    one = (np.array([math.sqrt(low * high)]), np.array([low]), np.array([high]))
    least, most = score_span(RUNS[1], one, PLAIN)
    assert least[0] <= inside.min() + 1e-6
    assert most[0] >= inside.max() - 1e-6


def test_coloured_water_takes_from_the_score_and_unknown_clarity_does_not():
    share = clear_share(to_si(np.array([0.0, 1.0, 3.5, 10.0, 20.0]), "ft"), PLAIN)
    assert share[0] == 0
    assert share[1] < share[2] == 1.0
    assert share[2] > share[3] > share[4] > 0  # ten feet are too clear in winter
    assert clear_share(np.array([math.nan]), PLAIN).tolist() == [1.0]


def test_the_band_of_clarity_is_the_season_s_and_the_angler_s():
    ten = to_si(np.array([10.0]), "ft")
    assert clear_share(ten, PLAIN, "summer") > clear_share(ten, PLAIN, "winter")
    own = replace(PLAIN, winter_clear_m=to_si(10.0, "ft"))
    assert clear_share(ten, own, "winter").tolist() == [1.0]


def test_cold_and_warm_water_take_from_every_score_and_an_unknown_one_does_not():
    shares = warmth_share(np.array([2.0, 4.5, 10.0, 17.0, 20.0, 25.0]), PLAIN).tolist()
    assert shares == sorted(shares[:3]) + sorted(shares[3:], reverse=True)
    assert shares[2] == 1.0
    assert shares[-2:] == [0.0, 0.0]  # too warm to play a fish that is to live
    assert warmth_share(np.array([math.nan]), PLAIN).tolist() == [1.0]
    mild, warm, unknown = (days_of(water_c=celsius).days[1].score for celsius in (10, 23, math.nan))
    assert mild == unknown > 0
    assert warm == 0


def test_the_right_run_is_first_at_each_flow():
    for cfs, name in ((650, "Low Run"), (2300, "Middle Run")):
        found = days_of(forecast=steady(cfs))
        assert found.plans[1].picks[0].run.facts.name == name
    high = days_of(forecast=steady(4500))
    assert [pick.run.facts.name for pick in high.plans[1].picks] == ["High Run"]
    assert high.plans[1].bank == "right"
    assert high.plans[1].total_min == high.plans[1].picks[0].minutes  # nothing to walk between


def test_nobody_is_sent_across_the_river():
    found = days_of(forecast=steady(2400))
    for plan in found.plans:
        sides = {pick.run.at.side for pick in plan.picks}
        assert len(sides) <= 1
    told = {run.facts.name: why for run, why in found.plans[1].left_out}
    assert told["High Run"] is NotListed.OTHER_BANK


def test_the_list_follows_access_and_fits_into_the_light():
    runs = tuple(
        made_run(f"Run {n}", (70 + n, 70 + n, 70 + n, 70 + n), station=1000.0 - 100 * n,
                 access=2 - n // 2, minutes=150.0)
        for n in range(5)
    )  # fmt: skip
    found = days_of(made_facts(runs), forecast=steady(1200))
    plan = found.plans[1]
    places = [(pick.run.facts.access, pick.run.facts.station_m) for pick in plan.picks]
    assert places == sorted(places)
    assert plan.total_min <= plan.light_min
    begins = [pick.begin for pick in plan.picks]
    assert begins == sorted(begins)
    gaps = np.diff(np.array(begins)) / np.timedelta64(60, "s")
    assert (gaps >= 165.0 - 1e-6).all()


def test_a_way_back_that_may_close_takes_a_run_off_the_list_and_is_told():
    shut = made_run("Bar", (90, 90, 90, 90), open_until=FLOWS[1])
    rising = Series(NOW + np.arange(0, 97, 6) * HOUR, np.linspace(FLOWS[0], FLOWS[2], 17))
    found = days_of(made_facts((*RUNS, shut)), forecast=rising)
    late = [day for day in found.days if any(not np.isnat(r.cut_off) for r in day.runs)]
    assert late
    for day, plan in zip(found.days, found.plans, strict=True):
        bar = day.runs[3]
        listed = [pick.run.facts.name for pick in plan.picks]
        assert np.isnat(bar.cut_off) or "Bar" not in listed
        if not np.isnat(bar.cut_off) and bar.window is not None:
            assert "way back may close" in rising_sentence(day, WEST)
            index = int(np.searchsorted(day.hours.times, bar.cut_off))
            assert day.hours.high[index] > FLOWS[1]
    assert {why for plan in found.plans for run, why in plan.left_out if run.facts.name == "Bar"}


def test_an_unknown_flow_closes_the_way_back():
    shut = made_run("Bar", (90, 90, 90, 90), open_until=FLOWS[1])
    # it rises to 18:00 UTC, within the light of the second day, and then nobody knows
    short = Series(NOW + np.arange(0, 19, 3) * HOUR, np.geomspace(FLOWS[0], FLOWS[1] * 0.7, 7))
    found = days_of(made_facts((shut,)), forecast=short, count=2)
    day = found.days[1]
    assert not np.isfinite(day.hours.flow).all()
    assert day.runs[0].cut_off == NOW + 19 * HOUR


def test_between_two_mapped_flows_the_way_back_is_that_which_closes_first():
    sooner, later = (made_run("Bar", (90, 90, 90, 90), open_until=q) for q in FLOWS[1:3])
    mixed = replace(later, at=(later.at[0], sooner.at[1], *later.at[2:]))
    rising = Series(
        NOW + np.arange(0, 49, 3) * HOUR, np.linspace(FLOWS[0] * 1.1, FLOWS[1] * 1.25, 17)
    )
    for run, shut in ((later, False), (mixed, True)):
        day = days_of(made_facts((run,)), forecast=rising, count=2).days[1]
        crosses = day.hours.times[int(np.argmax(day.hours.high > FLOWS[1]))]
        assert bool(day.runs[0].cut_off == crosses) is shut


def test_runs_without_a_way_on_foot_or_a_known_time_are_not_listed():
    runs = (
        made_run("By Boat", (90, 90, 90, 90), way="boat"),
        made_run("Timeless", (90, 90, 90, 90), minutes=math.nan),
        made_run("Island Run", (90, 90, 90, 90), side="island"),
    )
    found = days_of(made_facts(runs), forecast=steady(1200))
    assert not any(plan.picks for plan in found.plans)
    assert {why for _, why in found.plans[1].left_out} == {
        NotListed.BOAT, NotListed.TIME_UNKNOWN, NotListed.ISLAND,
    }  # fmt: skip
    assert found.best is None or found.days[found.best].score == 0


def test_a_falling_river_is_judged_day_by_day_and_the_best_is_named():
    found = days_of()
    flows = [float(np.median(day.hours.flow)) for day in found.days]
    assert flows == sorted(flows, reverse=True)
    assert found.best is not None
    best = found.days[found.best]
    top = max(day.score for day in found.days)
    assert best.score >= top - NEAR_TOP
    assert all(day.score < top - NEAR_TOP for day in found.days[: found.best])


def test_a_rising_river_counts_less_than_a_steady_one_and_a_dropping_one_more():
    up, down = (
        Series(NOW + np.arange(0, 97, 6) * HOUR, np.geomspace(first, last, 17))
        for first, last in ((FLOWS[0], FLOWS[2]), (FLOWS[2], FLOWS[1]))
    )
    wide = made_facts((made_run("Wide Run", (80, 80, 80, 80)),))
    rises, stands, drops = (days_of(wide, forecast=one).days[1] for one in (up, steady(1500), down))
    assert rises.score < 0.75 * stands.score
    assert stands.score < 0.9 * drops.score
    assert "The river rises" in why_sentences(rises, wide, UnitSystem.US, PLAIN)[0]


def test_coloured_water_lowers_a_day_and_clearing_moves_the_best_one():
    notes = [
        ClarityNote(0.5 * (q / FLOWS[0]) ** -1.5, q, limb=Limb.FALLING)
        for q in (FLOWS[0], FLOWS[1], FLOWS[2], FLOWS[3])
    ]
    record = hourly(recession_flow(law(0.15, 0.6, 30.0), to_si(9000.0, "cfs"), np.arange(241) / 24))
    wide = made_run("Wide Run", (80, 80, 80, 80))
    clear = days_of(made_facts((wide,)), record=record)
    coloured = days_of(made_facts((wide,)), record=record, notes=notes)
    assert clear.best is not None
    assert coloured.best is not None
    assert coloured.best >= clear.best
    left = [c.score / n.score for c, n in zip(coloured.days[1:], clear.days[1:], strict=True)]
    assert left[0] < 0.8
    assert left == sorted(left)  # as it clears
    assert "One sees about" in " ".join(
        why_sentences(coloured.days[0], coloured.facts, UnitSystem.US, PLAIN)
    )


def test_flows_beyond_the_mapped_ones_are_not_known():
    high = days_of(forecast=steady(9000))
    assert all(math.isnan(day.score) for day in high.days[1:])
    assert high.best in (None, 0)  # the first day still holds an hour as read
    assert (
        "highest that is mapped" in why_sentences(high.days[1], high.facts, UnitSystem.US, PLAIN)[0]
    )


def test_how_sure_goes_down_with_time_and_with_what_is_not_known():
    found = days_of()
    assert found.sure[-1].word is Confidence.LOW
    assert any(doubt.kind is LimitKind.CLARITY_UNKNOWN for doubt in found.sure[0].because)
    preview = days_of(made_facts(preview=True))
    assert {one.word for one in preview.sure} == {Confidence.LOW}


def test_what_is_seen_now_counts_for_the_coming_hours():
    far, near = (days_of(forecast=steady(1200), clarity_m=seen) for seen in (2.0, 0.2))
    assert near.days[0].score < far.days[0].score


def test_facts_come_back_from_their_text():
    facts = made_facts((*RUNS, made_run("Odd", (math.nan, 1, 2, 3), minutes=math.nan)))
    back = facts_from(facts_text(facts))
    assert back is not None
    assert repr(back) == repr(facts)  # NaN is not equal to itself, but reads the same
    assert facts_from(facts_text(facts).replace('"version": 6', '"version": 2')) is None


@given(offset=st.integers(0, 364 * 3), hour=st.integers(0, 23))
def test_days_follow_each_other_across_every_change_of_the_clock(offset, hour):
    now = np.datetime64("2030-01-01T00:00:00", "s") + offset * DAY + hour * HOUR
    record = Series(now - np.arange(240, -1, -1) * HOUR, np.asarray(FELL))
    found = make_days(made_facts(), Given(record, NOTHING), WEST, now=now, count=5)
    dates = [day.light.day for day in found.days]
    assert [(b - a).days for a, b in pairwise(dates)] == [1] * 4
    apart = np.diff(found.outlook.times) / HOUR
    assert (apart == 1).all()
    for day in found.days:
        begin, end = (np.datetime64(one.astimezone(ZoneInfo("UTC")).replace(tzinfo=None), "s")
                      for one in day.light.hours or ())  # fmt: skip
        assert (day.hours.times >= max(begin, now)).all()
        assert (day.hours.times <= end).all()


def test_the_calendar_holds_the_days_with_runs_as_utc_events():
    found = days_of(forecast=steady(1200))
    raw = days_calendar(found, UnitSystem.US)
    lines = raw.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)  # RFC 5545, 3.1
    assert lines[0] == b"BEGIN:VCALENDAR"
    events = Calendar.from_ical(raw).walk("VEVENT")
    assert len(events) == sum(bool(plan.picks) for plan in found.plans)
    for event, plan in zip(events, found.plans, strict=True):
        begin = event.decoded("dtstart")
        assert begin.utcoffset().total_seconds() == 0
        assert np.datetime64(begin.replace(tzinfo=None), "s") == plan.picks[0].begin
        assert event.decoded("dtend") > begin
        assert "People drown" in str(event["description"])
        assert event["location"] == found.facts.name
        # RFC 5545, 3.8.1.6: latitude first
        assert event["geo"].latitude == pytest.approx(found.facts.latitude, abs=1e-6)
        assert event["geo"].longitude == pytest.approx(found.facts.longitude, abs=1e-6)
    assert days_calendar(found, UnitSystem.US) == raw  # taken in twice, it changes in place
    assert len({str(event["uid"]) for event in events}) == len(events)


def test_a_calendar_text_cannot_break_out_of_its_line():
    evil = replace(RUNS[0], name="Run\r\nBEGIN:VEVENT\r\nSUMMARY:x; y, z")
    found = days_of(made_facts((evil,)), forecast=steady(650), count=1)
    assert len(Calendar.from_ical(days_calendar(found, UnitSystem.US)).walk("VEVENT")) == 1


def test_a_slow_rise_is_told_but_costs_little():
    slow = Series(NOW + np.arange(0, 97, 6) * HOUR, np.geomspace(FLOWS[1], FLOWS[1] * 1.4, 17))
    found = days_of(forecast=slow)
    day = found.days[1]
    assert (day.worth.rise > 0.7).all()
    assert "The water rises" in rising_sentence(day, WEST)


def test_a_forecast_s_doubt_goes_by_how_far_ahead_it_is():
    old = hourly(FELL, start=NOW - 200 * DAY)
    found = days_of(record=old, forecast=steady(1200))
    assert not any(
        doubt.kind is LimitKind.RECESSION for sure in found.sure for doubt in sure.because
    )
    assert found.sure[0].word is not Confidence.LOW
    assert found.sure[-1].word is Confidence.LOW


def test_turbidity_now_tells_the_clarity_of_the_coming_hours_by_the_river_s_own_law():
    notes = [ClarityNote(2.0 / n**0.5, turbidity=n) for n in (1.0, 4.0, 9.0, 16.0)]
    standing = hourly(np.full(241, to_si(1200.0, "cfs")))
    found = days_of(record=standing, forecast=steady(1200), notes=notes, turbidity=9.0, count=2)
    assert found.days[0].hours.clarity[0].metres == pytest.approx(2.0 / 3.0)
    none = days_of(record=standing, forecast=steady(1200), turbidity=9.0, count=2)
    assert math.isnan(none.days[0].hours.clarity[0].metres)


def test_fourteen_days_are_told_too():
    found = days_of(forecast=steady(1200), count=14)
    assert len(found.days) == 14
    low = days_of(count=14)
    assert math.isnan(low.days[-1].score)  # so far ahead no fall is told
