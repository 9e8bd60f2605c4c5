"""The log keeps what was confirmed, through anything."""

from __future__ import annotations

import math
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import geopandas as gpd
import pytest

from reachmap.logbook import schema
from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.logbook.schema import LogError, back_up, backup_folder, open_log
from reachmap.logbook.store import TripLog

ROOT = Path(__file__).resolve().parents[2]
WHEN = datetime(2031, 1, 5, 8, 30, tzinfo=ZoneInfo("America/Los_Angeles"))
FULL = Entry(
    when=WHEN,
    run="Bend 2 left",
    flow=62.0,
    flow_from="typed",
    clarity_m=1.1,
    water_c=5.5,
    minutes=55.0,
    swung="dark, medium; ten feet of tip",
    touches=2,
    landed=1,
    released=1,
    x=-141.3,
    y=46.2,
    station_m=812.5,
    bank="left",
    photo="pictures/1.jpg",
    note="<b>soft</b> edge; \u202e{{7*7}}",
    seen=(
        Seen(SeenKind.EDGE, -141.301, 46.201, note="water's edge"),
        Seen(SeenKind.SOUNDING, -141.302, 46.202, 0.9),
    ),
)


def test_what_was_kept_comes_back_the_same(tmp_path):
    with TripLog(tmp_path / "log.gpkg") as log:
        assert log.add(FULL) == 1
    with TripLog(tmp_path / "log.gpkg") as log:
        (back,) = log.entries()
    assert back.when == FULL.when
    assert str(back.when.tzinfo) == "America/Los_Angeles"
    assert math.isnan(back.seen[0].value)
    edge = replace(back.seen[0], value=0.0)
    assert replace(back, seen=(edge, back.seen[1])) == replace(
        FULL, seen=(replace(FULL.seen[0], value=0.0), FULL.seen[1])
    )


def test_what_was_not_written_down_is_unknown_not_zero(tmp_path):
    with TripLog(tmp_path / "log.gpkg") as log:
        log.add(Entry(when=WHEN))
        (back,) = log.entries()
    assert all(math.isnan(v) for v in (back.flow, back.clarity_m, back.minutes, back.x))


def test_an_offset_without_a_name_is_kept(tmp_path):
    when = datetime(2031, 1, 5, 8, 30, tzinfo=timezone(timedelta(hours=-8)))
    with TripLog(tmp_path / "log.gpkg") as log:
        log.add(Entry(when=when))
        (back,) = log.entries()
    assert back.when.isoformat() == "2031-01-05T08:30:00-08:00"


def test_the_same_entry_twice_is_kept_once(tmp_path):
    with TripLog(tmp_path / "log.gpkg") as log:
        assert log.add(FULL, FULL) == 1
        assert log.add(FULL) == 0
        assert len(log.entries()) == 1


def test_entries_come_by_time_and_by_run(tmp_path):
    late = Entry(when=WHEN + timedelta(days=1), run="Ledge")
    with TripLog(tmp_path / "log.gpkg") as log:
        log.add(late, FULL)
        assert [entry.run for entry in log.entries()] == ["Bend 2 left", "Ledge"]
        assert [entry.run for entry in log.entries(run="Ledge")] == ["Ledge"]


def test_replace_and_remove(tmp_path):
    with TripLog(tmp_path / "log.gpkg") as log:
        log.add(FULL)
        log.replace(replace(FULL, touches=3, seen=()))
        assert [(entry.touches, entry.seen) for entry in log.entries()] == [(3, ())]
        log.remove(FULL.uid)
        assert log.entries() == []
        with pytest.raises(KeyError):
            log.remove(FULL.uid)
        with pytest.raises(KeyError):
            log.replace(FULL)


def test_a_failed_addition_leaves_nothing(tmp_path):
    broken = replace(FULL, uid="other", seen=(FULL.seen[0],))
    object.__setattr__(broken, "note", object())  # what no database can keep
    with TripLog(tmp_path / "log.gpkg") as log:
        with pytest.raises(sqlite3.Error):
            log.add(FULL, broken)
        assert log.entries() == []


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"touches": -1}, "touches"),
        ({"flow": -3.0}, "flow"),
        ({"released": 5}, "more than landed"),
        ({"when": datetime(2031, 1, 5)}, "time zone"),  # noqa: DTZ001 - that is the fault
        ({"x": 999.0}, "x is 999"),
        ({"bank": "north"}, "bank is 'north'"),
        ({"note": "x" * 20_001}, "note is longer"),
    ],
)
def test_nonsense_is_refused(change, word):
    with pytest.raises(ValueError, match=word):
        replace(FULL, **change)


def test_every_fault_of_an_entry_is_named_at_once():
    with pytest.raises(ValueError, match=r"flow is .*; minutes is .*; touches is"):
        replace(FULL, flow=-1.0, minutes=9999.0, touches=-1)


def test_a_general_reader_opens_it_as_a_geopackage(tmp_path):
    path = tmp_path / "log.gpkg"
    with TripLog(path) as log:
        log.add(FULL)
    frame = gpd.read_file(path, layer="entries")
    assert frame.crs == "EPSG:4326"
    assert frame.geometry[0].x == pytest.approx(-141.3)
    assert len(gpd.read_file(path, layer="seen")) == 2


def test_nothing_confirmed_is_lost_when_the_process_is_killed(tmp_path):
    path = tmp_path / "log.gpkg"
    code = (
        "import sys\nfrom datetime import datetime, UTC\nfrom pathlib import Path\n"
        "from reachmap.logbook.model import Entry\nfrom reachmap.logbook.store import TripLog\n"
        f"log = TripLog(Path({str(path)!r}))\nn = 0\n"
        "while True:\n"
        "    n += 1\n    log.add(Entry(when=datetime.now(UTC), run=f'run {n}'))\n"
        "    print(n, flush=True)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as process:
        assert process.stdout is not None
        confirmed = 0
        for line in process.stdout:
            confirmed = int(line)
            if confirmed >= 25:
                process.kill()
                break
        confirmed += sum(1 for line in process.stdout if line.endswith("\n"))
    assert process.returncode in (-signal.SIGKILL, 1)
    with TripLog(path) as log:
        kept = [entry.run for entry in log.entries()]
    assert kept[:confirmed] == [f"run {n}" for n in range(1, confirmed + 1)]
    assert len(kept) - confirmed in (0, 1)  # at most the one that was not confirmed yet


def test_an_older_log_is_copied_before_it_is_changed(tmp_path, monkeypatch):
    path = tmp_path / "log.gpkg"
    with TripLog(path) as log:
        log.add(FULL)

    version = len(schema.MIGRATIONS)

    def step(database):
        database.execute("ALTER TABLE entries ADD COLUMN wind TEXT")

    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, step))
    with TripLog(path) as log:
        assert len(log.entries()) == 1
    (copy,) = backup_folder(path).glob("*.gpkg")
    with closing(sqlite3.connect(copy)) as database:
        assert database.execute("SELECT version FROM log_version").fetchone() == (version,)
        assert database.execute("SELECT count(*) FROM entries").fetchone() == (1,)


def test_a_log_of_the_first_version_opens_with_a_copy_kept_and_takes_new_entries(
    tmp_path, monkeypatch
):
    path = tmp_path / "log.gpkg"
    with monkeypatch.context() as patch:
        patch.setattr(schema, "MIGRATIONS", schema.MIGRATIONS[:1])
        with closing(open_log(path)) as database:
            database.execute(
                "INSERT INTO entries (uid, when_utc, zone, run, flow_from, swung, touches, landed, "
                "released, photo, note) VALUES ('old-entry', '2030-01-05T16:30:00+00:00', 'UTC', "
                "'Ledge', '', '', 2, 1, 0, '', 'kept by an older reachmap')"
            )
    before = path.read_bytes()
    with TripLog(path) as log:
        (old,) = log.entries()
        log.add(FULL)
        assert [one.station_m for one in log.entries()][1] == 812.5
    assert (old.run, old.touches, old.note) == ("Ledge", 2, "kept by an older reachmap")
    assert math.isnan(old.station_m)
    assert old.bank == ""
    (copy,) = backup_folder(path).glob("*.gpkg")
    with closing(sqlite3.connect(copy)) as kept, closing(sqlite3.connect(":memory:")) as was:
        was.deserialize(before)
        assert list(kept.iterdump()) == list(was.iterdump())
    assert len(gpd.read_file(path, layer="entries")) == 2


def test_a_step_that_fails_leaves_the_log_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "log.gpkg"
    with TripLog(path) as log:
        log.add(FULL)

    def step(database):
        database.execute("DROP TABLE seen")
        raise RuntimeError

    with monkeypatch.context() as patch:
        patch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, step))
        with pytest.raises(RuntimeError):
            open_log(path)
    with TripLog(path) as log:
        assert len(log.entries()[0].seen) == 2


def test_only_the_newest_copies_are_kept(tmp_path):
    path = tmp_path / "log.gpkg"
    with TripLog(path) as log:
        log.add(FULL)
    copies = [back_up(path) for _ in range(schema.BACKUPS_KEPT + 2)]
    assert sorted(backup_folder(path).iterdir()) == sorted(copies)[2:]


@pytest.mark.parametrize("content", [b"not a database, only words" * 100, b"\x00" * 5000])
def test_a_damaged_file_is_told_and_left_alone(tmp_path, content):
    path = tmp_path / "log.gpkg"
    path.write_bytes(content)
    with pytest.raises(LogError, match="cannot be read"):
        open_log(path)
    assert path.read_bytes() == content


def test_another_database_is_told_and_left_alone(tmp_path):
    path = tmp_path / "log.gpkg"
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("CREATE TABLE mine (a)")
    with pytest.raises(LogError, match="no log of reachmap"):
        open_log(path)


def test_a_newer_log_is_told_and_left_alone(tmp_path):
    path = tmp_path / "log.gpkg"
    TripLog(path).close()
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("UPDATE log_version SET version = 99")
    with pytest.raises(LogError, match="newer"):
        open_log(path)


def test_times_are_kept_in_utc_so_that_summer_time_cannot_swap_them(tmp_path):
    # the hour that comes twice on 2 November 2031: end of summer time, first Sunday in November
    first = datetime(2031, 11, 2, 1, 30, tzinfo=ZoneInfo("America/Los_Angeles"), fold=0)
    second = first.replace(fold=1)
    with TripLog(tmp_path / "log.gpkg") as log:
        log.add(Entry(when=second, run="second"), Entry(when=first, run="first"))
        back = log.entries()
    assert [entry.run for entry in back] == ["first", "second"]
    assert back[1].when.astimezone(UTC) - back[0].when.astimezone(UTC) == timedelta(hours=1)


def test_a_log_that_another_program_holds_is_told_and_kept_whole(tmp_path):
    path = tmp_path / "log.gpkg"
    with TripLog(path) as log, closing(sqlite3.connect(path, isolation_level=None)) as other:
        log.add(FULL)
        log._database.execute("PRAGMA busy_timeout = 50")
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(LogError, match=r"cannot be used just now .*locked"):
            log.add(replace(FULL, uid="second"))
        other.execute("ROLLBACK")
        assert log.add(replace(FULL, uid="second")) == 1


def test_a_change_and_a_removal_leave_a_copy_of_what_was_there(tmp_path):
    path = tmp_path / "log.gpkg"
    with TripLog(path) as log:
        assert log.keep(FULL)
        assert not backup_folder(path).exists()
        assert not log.keep(FULL)  # the same again changes nothing, and needs no copy
        assert not backup_folder(path).exists()
        assert log.keep(replace(FULL, touches=7))
        log.remove(FULL.uid)
    copies = sorted(backup_folder(path).glob("*.gpkg"))
    kept = []
    for copy in copies:
        with TripLog(copy) as log:
            kept += [entry.touches for entry in log.entries()]
    assert kept == [2, 7]


def test_the_newest_are_shown_without_reading_all(tmp_path):
    with TripLog(tmp_path / "log.gpkg") as log:
        for day in range(1, 5):
            log.add(replace(FULL, uid=str(day), when=WHEN + timedelta(days=day), run=f"run {day}"))
        assert [entry.run for entry in log.latest(2)] == ["run 4", "run 3"]
        assert log.runs() == ["run 4", "run 3", "run 2", "run 1"]
        assert log.entry("2").run == "run 2"
        assert len(log.entry("2").seen) == 2
        assert log.entry("none") is None
