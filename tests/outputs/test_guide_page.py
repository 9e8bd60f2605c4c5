"""The guide's day on the page, the GPS and in the calendar: the same runs, times and cautions."""

from __future__ import annotations

import html
from datetime import UTC, datetime
from io import StringIO

import gpxpy
import numpy as np
import pytest
from icalendar import Calendar
from rich.console import Console

from reachmap.base.words import UnitSystem
from reachmap.outputs.guide_page.files import guide_calendar, guide_gpx, write_guide
from reachmap.outputs.guide_page.page import guide_page
from reachmap.planner.guide.facts import DrawnAccess
from reachmap.planner.guide.plan import GuideDay, make_guide_plan
from reachmap.planner.guide.ways import IDLE
from reachmap.text.guide import COURTESY, person_sentence, swap_sentences, turn_words
from reachmap.text.guide_table import guide_shown
from reachmap.text.guide_why import backup_sentence, boat_sentences, left_words
from tests.planner.guide.made import SMALL, TALL, ZONE, made_inputs, made_party, made_water
from tests.planner.made import made_facts

RUNS = (
    made_water("Upper", 200, 60),
    made_water("Middle <b>", 600, 90),
    made_water("Lower", 1000, 40, side="right", way="boat"),
)
MADE = datetime(2031, 1, 13, 18, tzinfo=UTC)
US = UnitSystem.US


def made_guide(runs=RUNS, party=None, **changed):
    plan = make_guide_plan(made_inputs(runs, party or made_party(TALL, SMALL), **changed))
    return GuideDay(plan, made_facts(), ZONE, MADE.astimezone(ZONE))


@pytest.fixture(scope="module")
def day():
    return made_guide()


def test_the_page_stands_alone_with_cautions_courtesy_and_every_run_told(day):
    page = guide_page(day, US)
    assert "People drown" in page
    assert COURTESY.split(",")[0] in page
    assert "Nobody looked up the rules" in page
    assert "invented" in page
    assert "Middle &lt;b&gt;" in page
    assert "<b>" not in page
    for address in ("http://", "https://", "src="):
        assert address not in page
    assert "by boat only" in page  # Lower, which has no part in it


def test_route_and_calendar_have_the_plan_s_runs_at_its_times(day):
    routes = gpxpy.parse(guide_gpx(day, US)).routes
    events = list(Calendar.from_ical(guide_calendar(day, US)).walk("VEVENT"))
    assert [route.name for route in routes] == ["Tall", "Small"]
    turns = [(rod, one) for rod, way in enumerate(day.plan.rods) for one in way if one.spot != IDLE]
    assert len(events) == len(turns)
    for event, (_, one) in zip(events, turns, strict=True):
        begin = np.datetime64(event["dtstart"].dt.replace(tzinfo=None), "s")
        end = np.datetime64(event["dtend"].dt.replace(tzinfo=None), "s")
        assert (begin, end) == (one.begin, one.end)
        assert "People drown" in event["description"]
    for rod, route in enumerate(routes):
        first = [one for one in day.plan.rods[rod] if one.spot != IDLE and not one.stays]
        times = [np.datetime64(point.time.replace(tzinfo=None), "s") for point in route.points]
        assert times == [one.fish for one in first]
        stands = day.plan.layout.offers[rod][first[0].spot].stands
        assert route.points[0].latitude == pytest.approx(stands[0].lat)
    assert "never that one can stand there" in guide_gpx(day, US)


def test_the_same_plan_gives_the_same_calendar(day):
    assert guide_calendar(day, US) == guide_calendar(day, US)


def test_terminal_and_page_say_the_same(day):
    out = StringIO()
    Console(file=out, width=400).print(guide_shown(day, US))
    page = guide_page(day, US)
    for way in day.plan.rods:
        for one in way:
            assert turn_words(day, one, US) in page
            assert turn_words(day, one, US) in out.getvalue()
    for backup in day.plan.backups:
        assert backup_sentence(day, backup) in out.getvalue()


def test_swaps_are_said_with_names_and_time():
    runs = (made_water("A", 200, 90, length=50.0), made_water("B", 500, 30, length=50.0))
    told = swap_sentences(made_guide(runs, made_party(TALL, SMALL, hours=2.6)))
    assert len(told) == 1
    assert "Tall and Small swap" in told[0]


def test_lower_limits_are_said_and_what_they_leave(day):
    assert "as the map was graded for" in person_sentence(day, 0, US)
    told = person_sentence(day, 1, US)
    assert "1.6 ft" in told
    assert "what is not known is not offered" in told


def test_two_rods_in_one_run_are_told_who_goes_in_first_and_the_room_between():
    one = made_guide((made_water("Only", 200, 90, length=150.0),), made_party(TALL, TALL))
    first, second = (way[0] for way in one.plan.rods)
    assert "goes in first" in turn_words(one, first, US)
    assert "goes in above, once the one before is 50 yd down" in turn_words(one, second, US)


def test_the_boat_s_stops_have_their_minutes_and_no_promise():
    gates = (
        DrawnAccess("landing", "bridge", 0.0, 0, 0),
        DrawnAccess("landing", "bar", 1500.0, 0, 0),
    )
    told = boat_sentences(made_guide(party=made_party(TALL, boat=True), gates=gates))
    assert told[0] == "Put in: bridge"
    assert any(line.startswith("Take out: bar") for line in told)
    assert "Nothing here says that it can be floated" in told[-1]
    assert boat_sentences(made_guide()) == []


def test_a_way_back_that_may_close_is_said_with_flow_and_hour():
    cut = made_water("Bar", 600, 90, open_until=47.0)
    one = made_guide((RUNS[0], cut))
    left = next(left for left in one.plan.left_out if left.run.name == "Bar")
    assert "1,660 cfs" in left_words(one, left, US)
    assert "may close from 0" in left_words(one, left, US)


def test_no_plan_is_said_and_writes_a_page_all_the_same(tmp_path):
    none = made_guide((made_water("Bar", 600, 90, way="boat"),))
    paths = write_guide(none, US, tmp_path)
    assert [path.name for path in paths] == ["guide.html", "guide.gpx", "guide.ics"]
    assert "There is no plan" in paths[0].read_text(encoding="utf-8")


def test_a_rod_that_rests_is_told_why_once_and_with_a_boat_that_it_waits_at_the_stop():
    one = (made_water("Upper", 100.0, 60.0, length=40.0),)
    gates = (DrawnAccess("landing", "", 0.0, -124.4, 47.95),)
    for boat, words in ((True, "at the boat's stop there is no room"), (False, "no room left")):
        party = made_party(TALL, TALL, TALL, boat=boat)
        page = html.unescape(guide_page(made_guide(one, party, gates=gates), US))
        assert f"rests: {words}" in page
        assert "<em>rests</em>" not in page
