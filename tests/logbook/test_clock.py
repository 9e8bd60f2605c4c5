"""A computer whose clock is wrong is asked about before a trip is kept by it."""

from __future__ import annotations

import os
import urllib.parse
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from reachmap.logbook.clock import AHEAD, KnownTimes, clock_fault, date_question
from reachmap.logbook.folder_times import known_times
from reachmap.logbook.model import Entry
from reachmap.logbook.store import FILE, TripLog, kept_in
from tests.logbook.made import keep_all
from tests.web.editor.serving import running
from tests.web.trip_form.conftest import app_of, desk_of

NOW = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)
WEEK = timedelta(days=7)
LIVED_IN = KnownTimes(NOW - WEEK, NOW - WEEK)
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@pytest.mark.parametrize(
    ("now", "known", "words"),
    [
        (NOW, KnownTimes(), ""),
        (NOW, LIVED_IN, ""),
        (NOW, KnownTimes(NOW + AHEAD / 2, NOW + AHEAD / 2), ""),
        (NOW, KnownTimes(NOW + WEEK), "behind: the newest trip in the log is of 2026-09-08"),
        (NOW, KnownTimes(None, NOW + WEEK), "behind: a file of this folder is of 2026-09-08"),
        (datetime(2021, 9, 1, tzinfo=UTC), KnownTimes(), "behind: this program is of 2026"),
        (datetime(2066, 1, 5, tzinfo=UTC), LIVED_IN, "ahead: the newest trip or file of this"),
        (datetime(2066, 1, 5, tzinfo=UTC), KnownTimes(), "ahead: this program is of 2026"),
        (NOW + timedelta(days=4 * 365), LIVED_IN, ""),
        (NOW + timedelta(days=6 * 365), KnownTimes(None, NOW), "ahead"),
        (NOW + timedelta(days=6 * 365), KnownTimes(NOW, NOW + 5 * 52 * WEEK), ""),
    ],
)
def test_a_clock_is_doubted_by_what_the_folder_holds(now, known, words):
    told = clock_fault(now, known)
    assert words in told
    assert bool(words) == bool(told)


def test_only_what_hangs_on_the_clock_is_asked_about():
    wrong = datetime(2066, 1, 5, tzinfo=UTC)
    assert date_question(wrong, wrong, LIVED_IN).startswith(
        "Your computer says 2066-01-05 00:00: is"
    )
    assert date_question(NOW, wrong, LIVED_IN) == ""  # typed, of long ago
    assert date_question(NOW - 500 * WEEK, NOW, LIVED_IN) == ""
    assert "lies ahead of it: is 2026-09-08 right?" in date_question(NOW + WEEK, NOW, LIVED_IN)
    assert date_question(NOW + AHEAD / 2, NOW, LIVED_IN) == ""


def test_the_folders_times_are_those_of_its_newest_trip_and_file(tmp_path):
    assert known_times(tmp_path) == KnownTimes()
    keep_all(tmp_path / FILE, [Entry(when=NOW), Entry(when=NOW - WEEK)])
    (tmp_path / "gauge").mkdir()
    (tmp_path / "gauge" / "flow.csv").write_text("1")
    (tmp_path / ".lock").write_text("")
    for number, path in enumerate((tmp_path / FILE, tmp_path / "gauge" / "flow.csv")):
        os.utime(path, (NOW.timestamp() + number,) * 2)
    os.utime(tmp_path / ".lock", (NOW.timestamp() + 9e6,) * 2)
    assert known_times(tmp_path) == KnownTimes(NOW, NOW + timedelta(seconds=1))


def form(when, **more):
    told = {"date": f"{when:%Y-%m-%d}", "time": f"{when:%H:%M}", "zone": "UTC", "run": "Ledge"}
    return urllib.parse.urlencode(told | more).encode()


@pytest.mark.parametrize("year", [2021, 2066])
def test_the_form_asks_and_keeps_nothing_until_it_is_answered(tmp_path, year):
    now = datetime(year, 1, 5, 12, 0, tzinfo=UTC)
    desk = replace(desk_of(tmp_path), now=lambda: now)
    with running(app_of(desk, "secret"), "secret") as served:
        asked = form(now, uid="abcdef0123456789")
        status, _, page = served.ask("log", asked, headers=FORM)
        assert status == 422
        assert f"Your computer says {year}-01-05 12:00: is that right?" in page.decode()
        assert b'id="sure-box">' in page  # shown, not hidden
        assert kept_in(tmp_path) == []
        assert served.ask("log", asked + b"&sure=yes", headers=FORM)[0] == 200
        (entry,) = kept_in(tmp_path)
        assert entry.when == now
        # the same moment is not asked about again when something else of the trip is changed
        status, _, _ = served.ask("log", asked + b"&note=more", headers=FORM)
        assert status == 200
        assert kept_in(tmp_path)[0].note == "more"
        served.ask("log", form(NOW, uid="abcdef0123456789"), headers=FORM)
    assert len(kept_in(tmp_path)) == 1


def test_a_trip_before_the_era_of_the_log_by_a_clock_reset_is_asked_about(tmp_path):
    keep_all(tmp_path / FILE, [Entry(when=NOW)])
    late = NOW - 50 * WEEK
    desk = replace(desk_of(tmp_path), now=lambda: late)
    with running(app_of(desk, "secret"), "secret") as served:
        status, _, page = served.ask("log", form(late), headers=FORM)
        assert status == 422
        assert b"the newest trip in the log is of 2026-09-01" in page
    with TripLog(tmp_path / FILE) as log:
        assert len(log.entries()) == 1
