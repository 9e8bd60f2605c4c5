"""Which day behind a rise is best, and where: a made storm on the sample's record, made runs."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.clarity_data import ClarityNote, Limb
from reachmap.gauge.clarity_notes import read_notes
from reachmap.gauge.model import GaugeNote
from reachmap.gauge.read import read_gauge
from reachmap.gauge.recession import recession_flow
from reachmap.gauge.series import DAY, HOUR, NOTHING, Series
from reachmap.planner.days import Days, Given, make_days
from reachmap.planner.freshness import Phase
from reachmap.planner.holding import HoldingSettings, hold_share
from reachmap.planner.members import MembersBasis
from reachmap.planner.score import ScoreSettings
from reachmap.text.days_odds import odds_sentence, odds_words
from reachmap.text.days_why import course_sentence, hours_sentence, why_sentences
from tests.gauge.test_hindcast import made_storms
from tests.gauge.test_recession import law
from tests.planner.made import START, hourly, made_facts, made_run

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "data_samples" / "madeup_river"
WEST = ZoneInfo("America/Los_Angeles")
PLAIN = ScoreSettings()
NOW = START + 10 * DAY  # four in the afternoon
STANDS = hourly(np.full(241, to_si(1200.0, "cfs")))
WIDE = made_run("Wide Run", (80, 80, 80, 80), depths=(1.0,) * 4)


def stands(cfs: float) -> Series:
    """Return a forecast of a river that stands."""
    return Series(NOW + np.arange(1, 145) * HOUR, np.full(144, to_si(cfs, "cfs")))


def sample_record() -> Series:
    gauge, faults, _ = read_gauge(
        sorted((SAMPLE / "gauge").glob("*.csv")), GaugeNote(), UnitSystem.US
    )
    assert gauge is not None
    assert not faults
    return Series(gauge.times, gauge.flow)


def sample_notes():
    text = (SAMPLE / "clarity.csv").read_text(encoding="utf-8")
    notes, faults = read_notes("clarity.csv", text, UnitSystem.US, WEST)
    assert not faults
    return notes


def storm_days(facts=None, *, count=10, **given) -> Days:
    """Return the days from the morning after the sample's peak on."""
    now = np.datetime64("2030-01-12T17:00", "s")
    what = Given(sample_record(), NOTHING, notes=sample_notes(), **given)
    return make_days(facts or made_facts((WIDE,)), what, WEST, now=now, count=count)


def test_on_the_sample_s_storm_the_first_days_in_shape_are_best_and_the_drop_is_named():
    found = storm_days()
    assert found.best is not None
    best = found.days[found.best]
    assert best.phase is Phase.FRESH
    assert 2 <= best.since_peak <= 6  # it was the ninth day that a flat rule named
    told = " ".join(why_sentences(best, found.facts, UnitSystem.US, PLAIN))
    for words in ("in shape behind the rise", "days after the peak", "dropping and clearing"):
        assert words in told


def test_the_first_day_in_shape_is_worth_more_than_the_days_a_week_on():
    found = storm_days()
    first = next(day for day in found.days if day.phase is Phase.FRESH)
    later = [day for day in found.days if day.since_fishable >= 5]
    assert len(later) >= 3
    assert all(day.score < 0.9 * first.score for day in later)
    before = [day for day in found.days if day.phase is Phase.HIGH]
    assert before
    assert all(day.score < first.score for day in before)


def test_ten_feet_of_clarity_is_worth_less_than_three_and_a_half():
    def worth(feet: float) -> float:
        what = Given(STANDS, stands(1200.0), clarity_m=to_si(feet, "ft"))
        days = make_days(made_facts((WIDE,)), what, WEST, now=NOW, count=1)
        return days.days[0].score

    assert worth(10.0) < 0.7 * worth(3.5)
    assert worth(1.0) < worth(3.5)


def test_high_coloured_water_is_fished_shallow_and_clear_settled_water_deep():
    # by the depth of each run's best water at the flow: no kind is named
    edge = made_run("Edge", (70, 70, 70, 70), depths=(0.6,) * 4, station=100)
    hole = made_run("Hole", (70, 70, 70, 70), depths=(2.2,) * 4, station=500)
    facts = made_facts((edge, hole))
    found = storm_days(facts)
    worth = {
        place: [run.score for run in found.days[place].runs] for place in (1, len(found.days) - 1)
    }
    assert worth[1][0] > 1.2 * worth[1][1]
    later = make_days(
        facts,
        Given(STANDS, stands(700.0), clarity_m=3.0), WEST, now=NOW, count=1,
    )  # fmt: skip
    shallow, deep = (run.score for run in later.days[0].runs)
    assert deep > 1.1 * shallow


def test_what_is_not_known_of_water_takes_nothing_from_it():
    unknown = np.array([math.nan])
    one = np.array([1.0])
    rules = HoldingSettings()
    assert hold_share(unknown, unknown, one, one, rules).tolist() == [1.0]
    assert hold_share(one, one, unknown, unknown, rules).tolist() == [1.0]


def test_cold_fish_want_slow_water():
    quick, slow = np.array([1.5]), np.array([0.6])
    rules, depth, seen = HoldingSettings(), np.array([1.0]), np.array([1.0])
    cold, mild = np.array([3.0]), np.array([10.0])
    assert hold_share(depth, quick, seen, cold, rules) < hold_share(depth, slow, seen, cold, rules)
    assert hold_share(depth, quick, seen, mild, rules) == hold_share(depth, slow, seen, mild, rules)


def first_hour(found: Days, index: int) -> float:
    """Return the hour of the clock at which the day's list begins."""
    begin = found.plans[index].picks[0].begin
    return float((begin - begin.astype("datetime64[D]")) / HOUR) - 8


def test_a_cold_morning_starts_late_a_warm_day_early_and_a_warming_week_earlier_each_day():
    days = np.arange(-4, 1)

    def with_water(last: float, per_day: float) -> Days:
        what = Given(
            STANDS,
            stands(1200.0),
            water_times=NOW + days * DAY,
            water_read=last + per_day * days,
        )
        return make_days(made_facts((WIDE,)), what, WEST, now=NOW, count=4)

    cold, mild, warm = (with_water(last, 0.0) for last in (3.5, 11.0, 17.5))
    assert first_hour(cold, 1) > first_hour(mild, 1) + 1
    window = warm.days[1].runs[0].window
    whole = mild.days[1].runs[0].window
    assert window is not None
    assert whole is not None
    assert window[1] < whole[1] - 2 * HOUR  # off the water by noon
    assert window[0] == whole[0]
    warming = with_water(6.5, 1.0)
    assert first_hour(warming, 3) < first_hour(warming, 1)
    assert "a cold morning" in hours_sentence(cold.days[1], cold.plans[1], WEST, UnitSystem.US)
    assert "it warms to" in hours_sentence(warm.days[1], warm.plans[1], WEST, UnitSystem.US)
    unknown = make_days(made_facts((WIDE,)), Given(STANDS, stands(1200.0)), WEST, now=NOW, count=2)
    assert "temperature is not known" in hours_sentence(
        unknown.days[1], unknown.plans[1], WEST, UnitSystem.US
    )


def test_a_long_run_is_left_when_the_light_goes():
    long = made_run("Long Run", (80, 80, 80, 80), minutes=900.0)
    found = storm_days(made_facts((long,)), count=5)
    for day, plan in zip(found.days, found.plans, strict=True):
        up = day.light.hours
        assert up is not None
        for pick in plan.picks:
            end = pick.begin + np.timedelta64(round(pick.minutes * 60), "s")
            assert end <= np.datetime64(int(up[1].timestamp()), "s")


def test_the_record_s_own_storms_give_the_odds_and_rain_is_among_them():
    flow = made_storms(10, days=6)
    now = START + (flow.size - 24 * 4 - 12) * HOUR
    found = make_days(
        made_facts((made_run("Low Run", (80, 80, 60, 0)),)),
        Given(hourly(flow), NOTHING), WEST, now=now, count=6,
    )  # fmt: skip
    assert found.basis is MembersBasis.HINDCAST
    assert found.storms >= 8
    shares = [day.odds.share for day in found.days[1:]]
    # a storm comes every six or seven days: it is surer to be low tomorrow than in a week
    assert min(shares) < max(shares)
    told = odds_sentence(found.days[2], found)
    assert "rain among it" in told
    assert odds_words(found.days[2].odds) in told.replace("Better", "better").replace(
        "Less", "less"
    )


def test_a_short_record_s_odds_say_that_rain_is_not_in_them():
    found = storm_days(count=3)
    assert found.basis is MembersBasis.BAND
    assert "record is too short" in odds_sentence(found.days[1], found)


def test_members_of_a_forecast_give_its_odds():
    low = made_run("Low Run", (80, 80, 10, 0))
    record = hourly(np.full(241, to_si(1000.0, "cfs")))
    found = make_days(
        made_facts((low,)),
        Given(record, stands(1000.0), ensemble=(stands(1100.0), stands(4000.0))),
        WEST, now=NOW, count=3,
    )  # fmt: skip
    assert found.basis is MembersBasis.FORECASTS
    day = found.days[1]
    assert (day.odds.hits, day.odds.tries) == (2, 3)
    assert "2 in 3 that" in odds_sentence(day, found)
    # the way back is held against the wettest member
    assert day.hours.high.max() >= to_si(4000.0, "cfs")


def test_a_river_that_melts_every_day_falls_and_waves_on():
    hours = np.arange(24 * 10 + 1)
    wave = np.exp(0.12 * np.cos(2 * np.pi * (hours - 2) / 24))
    fall = recession_flow(law(0.06, 0.5, 30.0), 40.0, hours / 24)
    found = make_days(
        made_facts((WIDE,)), Given(hourly(fall * wave), NOTHING), WEST, now=NOW, count=3
    )
    assert found.course is not None
    ahead = (found.outlook.times > NOW) & (found.outlook.times < NOW + 2 * DAY)
    true = recession_flow(law(0.06, 0.5, 30.0), 40.0, (found.outlook.times[ahead] - START) / DAY)
    true = true * np.exp(
        0.12 * np.cos(2 * np.pi * ((found.outlook.times[ahead] - START) / HOUR - 2) / 24)
    )
    assert np.abs(np.log(found.outlook.flow[ahead] / true)).max() < 0.02
    told = course_sentence(found.course, found.days[1], WEST)
    assert "melting snow" in told
    assert "highest about 18:00" in told  # two o'clock UTC
    assert found.days[1].phase is not Phase.RISING  # a wave within the day is no limb


def test_releases_are_told_with_the_hour_they_come_and_a_caution():
    hours = np.arange(24 * 10 + 1)
    flow = np.where(np.isin(hours % 24, np.arange(20, 24)), 45.0, 30.0) * np.exp(-hours / 2400)
    found = make_days(
        made_facts((WIDE,)), Given(hourly(flow), stands(1200.0)), WEST, now=NOW, count=2
    )
    assert found.course is not None
    told = course_sentence(found.course, found.days[1], WEST)
    assert "stepping up about 12:00" in told  # eight in the evening UTC
    assert "be where the way back stays open" in told


def test_notes_that_scatter_make_the_odds_of_a_coloured_day_less_sure():
    tight = [ClarityNote(12.0 / q, q, limb=Limb.FALLING) for q in (15.0, 25.0, 40.0, 60.0)]
    loose = [
        ClarityNote(12.0 / q * off, q, limb=Limb.FALLING)
        for q, off in zip((15.0, 25.0, 40.0, 60.0), (1.6, 0.6, 0.7, 1.5), strict=True)
    ]
    run = made_facts((made_run("Wide Run", (75,) * 4),))
    sure, unsure = (
        make_days(run, Given(STANDS, stands(1200.0), notes=notes), WEST, now=NOW, count=2).days[1]
        for notes in (tight, loose)
    )
    assert sure.odds.share >= 0.8  # the forecast's own doubt is left
    assert 0.3 < unsure.odds.share < sure.odds.share - 0.1
    assert unsure.hours.clarity[0].metres == pytest.approx(sure.hours.clarity[0].metres, rel=0.15)


@pytest.mark.parametrize(
    ("hits", "tries", "words"),
    [(2, 3, "2 in 3"), (26, 40, "2 in 3"), (20, 40, "1 in 2"), (36, 40, "9 in 10"),
     (40, 40, "better than 19 in 20"), (0, 40, "less than 1 in 20"), (0, 0, "")],
)  # fmt: skip
def test_odds_are_told_as_people_tell_them(hits, tries, words):
    from reachmap.planner.day import Odds

    assert odds_words(Odds(hits, tries)) == words


def test_a_cold_morning_waits_even_where_the_water_drops_out_of_its_best():
    falls = Series(
        NOW + np.arange(0, 73) * HOUR, to_si(2600.0, "cfs") * np.exp(-0.35 * np.arange(73) / 24)
    )
    high = made_run("High Run", (0, 30, 90, 90))
    begins = []
    for celsius in (10.0, 4.2):
        what = Given(STANDS, falls, water_c=celsius)
        found = make_days(made_facts((high,)), what, WEST, now=NOW, count=2)
        begins.append(first_hour(found, 1))
    mild, cold = begins
    assert mild < 8.5
    assert cold > mild + 1


def test_what_is_said_of_clarity_goes_by_the_angler_s_own_band():
    found = make_days(
        made_facts((WIDE,)),
        Given(STANDS, stands(1200.0), clarity_m=to_si(6.0, "ft")), WEST, now=NOW, count=1,
    )  # fmt: skip
    day = found.days[0]
    told = " ".join(why_sentences(day, found.facts, UnitSystem.US, PLAIN))
    assert "too clear" in told
    own = replace(PLAIN, winter_clear_m=to_si(8.0, "ft"))
    assert "the colour one wants" in " ".join(why_sentences(day, found.facts, UnitSystem.US, own))
