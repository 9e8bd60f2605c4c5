"""`reachmap log`: typed words into kept entries."""

from __future__ import annotations

import pytest

from reachmap.triplog.store import FILE, TripLog
from tests.cli.test_cli import run
from tests.markup.folders import make


@pytest.fixture
def folder(tmp_path):
    return make(tmp_path / "reach")


def test_an_entry_is_kept_with_the_flow_of_the_gauge_record(folder):
    words = ["--run", "Upper", "--minutes", "50", "--touches", "1", "--clarity", "1.2"]
    done = run("log", folder, "--add", "--when", "2001-11-01T06:00+00:00", *words)
    assert done.returncode == 0, done.stderr
    with TripLog(folder / FILE) as log:
        (entry,) = log.entries()
    # the record reads 28 at 00:00, "Ice" at 06:00 and 31.5 at 12:00: nobody knows across such a gap
    assert entry.flow_from == ""
    done = run("log", folder, "--add", "--when", "2001-11-01T12:00+00:00", "--run", "Upper bar")
    with TripLog(folder / FILE) as log:
        assert [(e.flow, e.flow_from) for e in log.entries()][1] == (31.5, "gauge")
    listed = run("log", folder).stdout.splitlines()
    assert len(listed) == 2
    assert "Upper" in listed[0]


def test_what_is_wrong_with_an_entry_is_told_whole(folder):
    done = run("log", folder, "--add", "--touches", "-1", "--minutes", "99999")
    assert done.returncode == 2
    assert "2 things" in done.stderr
    assert not (folder / FILE).exists()


def test_a_time_that_is_none_is_told(folder):
    done = run("log", folder, "--add", "--when", "last Tuesday")
    assert done.returncode == 2
    assert "is not a time" in done.stderr


def test_out_and_in_again_keeps_each_entry_once(folder, tmp_path):
    run("log", folder, "--add", "--when", "2031-01-05T08:30-08:00", "--run", "a", "--flow", "30")
    target = tmp_path / "out.csv"
    assert run("log", folder, "--export", target).returncode == 0
    assert "longitude" not in target.read_text()
    again = run("log", folder, "--export", target)
    assert again.returncode == 2
    assert "is there already" in again.stderr
    other = make(tmp_path / "other")
    assert "1 of them new" in run("log", other, "--import", target).stdout
    assert "0 of them new" in run("log", other, "--import", target).stdout


def test_an_empty_log_says_so(folder):
    assert run("log", folder).stdout.strip() == "Nothing is in the log yet."
