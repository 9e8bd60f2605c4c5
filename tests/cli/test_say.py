"""Names that would steer a terminal reach it as visible escapes, whatever command prints them."""

from __future__ import annotations

import errno
import subprocess
import sys
import unicodedata
from datetime import UTC, datetime
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from rich.console import Console

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.words import UnitSystem
from reachmap.cli import say
from reachmap.logbook.model import Entry
from reachmap.logbook.store import FILE
from reachmap.planner.members import MembersBasis
from reachmap.text import days_table
from reachmap.text.built import built_lines
from tests.cli.test_cli import run
from tests.logbook.made import keep_all
from tests.markup.folders import TOML, make, rows

HOSTILE = "Bar\x1b[2J\x1b]0;own\x07\x9b1A\u202egnp\u2066\u200b\rKept: all"
SHOWN = r"Bar\x1b[2J\x1b]0;own\x07\x9b1A\u202egnp\u2066\u200b\rKept: all"


def plain_only(text):
    """No sign of the text steers a terminal."""
    bad = {c for c in text if c != "\n" and unicodedata.category(c) in {"Cc", "Cf", "Zl", "Zp"}}
    return not bad


def test_check_shows_escapes_in_its_summary_and_its_faults(tmp_path):
    toml = TOML.replace('"Invented reach"', r'"Bar\u001b[2J\u202e\nKept"')
    done = run("check", make(tmp_path / "good", toml=toml))
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(r"Bar\x1b[2J\u202e\nKept: reads well")
    assert plain_only(done.stdout)
    made = rows()
    made["banks"][0]["cover"] = HOSTILE.replace("\r", " ")
    done = run("check", make(tmp_path / "bad", made=made))
    assert done.returncode == 2
    assert r"\x1b[2J" in done.stderr
    assert plain_only(done.stderr)


def test_the_log_lists_escapes(tmp_path):
    folder = make(tmp_path / "reach")
    when = datetime(2026, 1, 5, 8, tzinfo=UTC)
    keep_all(folder / FILE, [Entry(when=when, run=HOSTILE, swung=HOSTILE, note="two\nlines")])
    done = run("log", folder)
    assert SHOWN.replace(r"\r", " ") in done.stdout  # its own blanks are made plain before
    assert plain_only(done.stdout)
    assert len(done.stdout.splitlines()) == 2  # the entry, and that it finds no run


def test_what_a_build_notes_is_shown_as_escapes(tmp_path, capsys):
    report = {
        "warnings": [HOSTILE],
        "cannot_say": [HOSTILE],
        "flows": [{"label": HOSTILE}],
    }
    say.lines(built_lines(report, tmp_path, fresh=True))
    out = capsys.readouterr().out
    assert f"Note: {SHOWN}" in out
    assert plain_only(out)


def test_a_build_of_one_flow_says_what_to_fish_in_which_order(tmp_path):
    one = {"flows": [{"label": "50m3s", "words": "50 m\u00b3/s"}]}
    one["day_lists"] = {"50m3s": ["1 Bench", "2 Ford"]}
    one["list_for"] = "List for: by boat, river left, 4 h (as reach.toml says)."
    told = built_lines(one, tmp_path, fresh=True)
    at = told.index("At 50 m\u00b3/s, in walking order:")
    assert told[at + 1 : at + 4] == ["  1 Bench", "  2 Ford", one["list_for"]]
    none = built_lines({**one, "day_lists": {"50m3s": []}}, tmp_path, fresh=True)
    assert any("no run is to go to" in line for line in none)


def test_a_build_of_several_flows_lists_the_runs_of_the_one_nearest_to_the_gauge(tmp_path):
    two = {"flows": [{"label": "a", "words": "1,800 cfs"}, {"label": "b", "words": "2,400 cfs"}]}
    two["day_lists"] = {"a": ["1 Bench"], "b": ["1 Ford"]}
    without = built_lines(two, tmp_path, fresh=True)
    assert "Mapped: 1,800 cfs, 2,400 cfs, and what is between" in without
    assert any("top of the page" in line for line in without)
    assert not any("1 Bench" in line for line in without)
    gauge = {"words": "1,943 cfs", "when_utc": "2030-01-26T23:00:00", "nearest_label": "a"}
    told = built_lines({**two, "gauge": gauge}, tmp_path, fresh=True)
    assert "The gauge last read 1,943 cfs (2030-01-26); the nearest is 1,800 cfs." in told
    at = told.index("At 1,800 cfs, in walking order:")
    assert told[at + 1] == "  1 Bench"
    assert "  1 Ford" not in told


def test_a_build_says_what_its_evidence_cannot_say_and_the_cheapest_mend(tmp_path):
    report = {"flows": [{"label": "a"}], "cannot_say": ["How deep it is."]}
    told = built_lines(report, tmp_path, fresh=True)
    assert told[:2] == ["What the map cannot say:", "  How deep it is."]
    surer = built_lines({**report, "cheapest": ["A drift."]}, tmp_path, fresh=True)
    assert surer[2:4] == ["Cheapest to make it surer:", "  A drift."]


@pytest.mark.parametrize(
    "error", [MarkupError([Fault(HOSTILE, HOSTILE, "Mend it")]), OSError(5, HOSTILE)]
)
def test_errors_are_shown_as_escapes(error, capsys):
    with pytest.raises(SystemExit) as end, say.faults_as_exit_codes():
        raise error
    assert end.value.code == 2
    err = capsys.readouterr().err
    assert r"\x1b[2J" in err
    assert plain_only(err)


def test_the_table_of_days_shows_escapes(monkeypatch):
    day = SimpleNamespace(score=50.0, closed=False, odds=SimpleNamespace(share=0.5))
    named = SimpleNamespace(name=HOSTILE + "[/bold]")
    pick = SimpleNamespace(begin=0, run=SimpleNamespace(facts=named, score=40.0))
    days = SimpleNamespace(
        facts=named,
        zone=ZoneInfo("UTC"),
        days=[day],
        plans=[SimpleNamespace(picks=[pick])],
        sure=[SimpleNamespace(word="fair")],
        best=None,
        basis=MembersBasis.BAND,
    )
    for name in ("clock", "day_name", "flow_short"):
        monkeypatch.setattr(days_table, name, lambda *_, **__: HOSTILE)
    monkeypatch.setattr(days_table, "days_lines", lambda *_: [HOSTILE])
    console = Console(width=250, highlight=False)
    with console.capture() as held:
        console.print(days_table.days_shown(days, UnitSystem.US))
    assert held.get().count(SHOWN) == 6  # title, day, flow, hour, run and the line below
    assert plain_only(held.get())


def test_without_a_terminal_progress_is_a_line_for_each_step_and_quarter(capsys):
    with say.progress() as told:
        told("ground", 0, 0)
        told("ground", 0, 0)
        for done in range(9):
            told("flows", done, 8)
    lines = capsys.readouterr().err.splitlines()
    assert lines == ["ground", "flows", "flows 25 %", "flows 50 %", "flows 75 %", "flows 100 %"]


def test_a_full_disk_is_said_as_such(capsys):
    with pytest.raises(SystemExit) as left, say.faults_as_exit_codes():
        raise OSError(errno.ENOSPC, "No space left on device", "/maps/x.nc")
    assert left.value.code == say.YOURS_TO_MEND
    told = capsys.readouterr().err
    assert "/maps/x.nc: the disk is full" in told
    assert "Make room" in told


def test_a_librarys_warning_is_not_the_first_line():
    code = (
        "import warnings, logging\nfrom reachmap.cli import say\nsay.quiet_libraries()\n"
        "warnings.warn('from a library')\nlogging.getLogger('lib').warning('its log')\n"
        "print('first')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("first\n", "")
    done = subprocess.run(
        [sys.executable, "-W", "default", "-c", code], capture_output=True, text=True, check=True
    )
    assert "from a library" in done.stderr
