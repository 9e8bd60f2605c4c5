"""`reachmap log --import`: what is kept, what is asked about and what is left out."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from reachmap.logbook.rows import RowsError
from reachmap.logbook.store import FILE, kept_in
from reachmap.reach.log_import import import_file
from reachmap.text.log_import import imported_lines
from tests.cli.test_cli import run
from tests.markup.folders import make

HERE = "46.2066,-140.9995"
"""On the made river, as latitude,longitude."""

LATITUDE, LONGITUDE = HERE.split(",")

PAGE_NOTES = (
    "uid,when,flow_m3_s,flow_from,run,touches,minutes,photo,note,longitude,latitude,seen\r\n"
    f"page-1,2001-11-01T12:00:00+00:00,,,,0,0,,,{LONGITUDE},{LATITUDE},"
    f'"[{{""kind"":""edge"",""longitude"":{LONGITUDE},""latitude"":{LATITUDE},""value"":null,'
    '""note"":""""}]"\r\n'
)

TRIPS = (
    "when,run,minutes,longitude,latitude\n"
    "2021-01-04T09:00:00-08:00,Legde,50,,\n"
    "2021-01-04T11:00:00-08:00,,40,-120.0,46.2\n"
    "2021-01-05T09:00:00-08:00,Ledge,45,,\n"
    f"2021-01-06T09:00:00-08:00,Anywhere,45,{LONGITUDE},{LATITUDE}\n"
)
"""A misspelt run, a place far off, and two that are right: by name, and by place."""


@pytest.fixture
def folder(tmp_path):
    made = make(tmp_path / "reach")
    (made / "written").mkdir()
    row = {
        "run": "Ledge",
        "drawn": "",
        "side": "",
        "station_m": 0.0,
        "length_m": 600.0,
    }
    (made / "written" / "report.json").write_text(json.dumps({"runs_along": [row]}))
    return made


@pytest.fixture
def trips(tmp_path):
    path = tmp_path / "trips.csv"
    path.write_text(TRIPS)
    return path


def minutes(folder):
    return {entry.run: entry.minutes for entry in kept_in(folder)}


def test_a_misspelt_run_and_a_place_far_off_are_not_kept_unasked(folder, trips):
    done = run("log", folder, "--import", trips)
    assert done.returncode == 2
    assert minutes(folder) == {"Ledge": 45, "Anywhere": 45}
    told = done.stdout.splitlines()
    assert told[0] == "4 entries in trips.csv, 2 of them new."
    assert "entry 1 (2021-01-04 09:00): no run here is called 'Legde'. Is it 'Ledge'?" in told[1]
    assert "Write 'Ledge' there and import the file again" in told[1]
    assert "entry 2 (2021-01-04 11:00): its place lies 1,6" in told[2]  # 21 degrees of longitude
    assert " km from this river" in told[2]
    assert not done.stderr


def test_the_same_file_mended_adds_what_was_left_out_and_nothing_twice(folder, trips):
    import_file(folder, trips)
    trips.write_text(TRIPS.replace("Legde", "ledge"))
    assert import_file(folder, trips).new == 1
    assert len(kept_in(folder)) == 3


@pytest.mark.parametrize(("yes", "kept"), [(True, 4), (False, 2)])
def test_at_a_terminal_each_is_asked_about_and_a_yes_takes_the_run_that_was_meant(
    folder, trips, yes, kept
):
    asked = []

    def answer(question):
        asked.append(question)
        return yes

    done = import_file(folder, trips, confirm=answer)
    assert len(asked) == 2
    assert (done.new, done.refused, done.unasked) == (kept, 4 - kept, ())
    assert sorted(entry.run for entry in kept_in(folder)) == sorted(
        ["Anywhere", "Ledge", *(["", "Ledge"] if yes else [])]
    )
    assert ("Not kept, as you said: 2." in imported_lines("trips.csv", done)) is not yes


def test_who_is_sure_keeps_every_entry_as_it_stands(folder, trips):
    assert run("log", folder, "--import", trips, "--sure").returncode == 0
    assert sorted(entry.run for entry in kept_in(folder)) == ["", "Anywhere", "Ledge", "Legde"]


def test_one_name_is_asked_about_once_for_all_its_trips(folder, tmp_path):
    path = tmp_path / "two.csv"
    path.write_text("when,run\n2021-01-04T09:00Z,Legde\n2021-01-05T09:00Z,Legde\n")
    asked = []
    done = import_file(folder, path, confirm=lambda question: not asked.append(question))
    assert len(asked) == 1
    assert done.new == 2


def test_a_name_like_none_is_asked_about_without_a_guess(folder, tmp_path):
    path = tmp_path / "one.csv"
    path.write_text("when,run\n2021-01-04T09:00:00-08:00,Qwx\n")
    (fault,) = import_file(folder, path).unasked
    assert "Keep it under that name?" in fault.found
    assert not (folder / FILE).exists()


@pytest.mark.parametrize(("name", "asked"), [("Bend 2 left", 0), ("Alder rnu", 1)])
def test_before_a_build_only_a_name_much_like_a_drawn_one_is_doubted(tmp_path, name, asked):
    path = tmp_path / "one.csv"
    path.write_text(f"when,run\n2021-01-04T09:00Z,{name}\n")
    assert len(import_file(make(tmp_path / "bare"), path).unasked) == asked


def test_what_was_seen_far_off_is_asked_about_too(folder, tmp_path):
    path = tmp_path / "notes.csv"
    path.write_text(PAGE_NOTES.replace(f'""longitude"":{LONGITUDE}', '""longitude"":-141.3'))
    (fault,) = import_file(folder, path).unasked
    assert "23 km from this river" in fault.found
    assert not (folder / FILE).exists()


def test_one_bad_waypoint_does_not_reject_the_file(folder, tmp_path):
    point = f'<wpt lat="{LATITUDE}" lon="{LONGITUDE}">{{}}<name>{{}}</name></wpt>'
    time = "<time>2021-01-05T16:30:00Z</time>"
    head = '<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1">'
    path = tmp_path / "back.gpx"
    body = point.format("", "car") + point.format(time, "depth 1.2") + point.format(time, "depth x")
    path.write_text(f"{head}{body}</gpx>")
    done = run("log", folder, "--import", path)
    assert done.returncode == 0, done.stderr
    assert "3 entries in back.gpx, 1 of them new." in done.stdout
    assert "Left out: waypoint 1 'car': it has no time." in done.stdout
    assert "Left out: waypoint 3 'depth x': depth without a number." in done.stdout
    (entry,) = kept_in(folder)
    assert entry.seen[0].value == 1.2


def test_a_file_of_bad_waypoints_alone_keeps_nothing_and_lists_them(folder, tmp_path):
    path = tmp_path / "back.gpx"
    path.write_text(f'<gpx version="1.1"><wpt lat="{LATITUDE}" lon="{LONGITUDE}"/></gpx>')
    with pytest.raises(RowsError, match="it has no time"):
        import_file(folder, path)
    assert not (folder / FILE).exists()


def test_a_spreadsheets_time_without_a_zone_is_this_computers(folder, tmp_path):
    path = tmp_path / "one.csv"
    path.write_text("when,run\n2021-01-04T09:00,Ledge\n")
    assert import_file(folder, path).new == 1
    (entry,) = kept_in(folder)
    assert entry.when == datetime(2021, 1, 4, 9).astimezone()


def test_notes_of_a_map_page_come_in_once_with_the_flow_of_their_hour(folder, tmp_path):
    source = tmp_path / "notes-20011101T1200.csv"
    source.write_text(PAGE_NOTES)
    assert import_file(folder, source).new == 1
    (entry,) = kept_in(folder)
    # the record reads 31.5 at 12:00
    assert (entry.flow, entry.flow_from) == (31.5, "gauge")
    assert [str(one.kind) for one in entry.seen] == ["edge"]
    assert import_file(folder, source).new == 0
    broken = PAGE_NOTES.replace("0,0,,,-140", "x,0,,,-140").replace("edge", "shark")
    source.write_text(broken)
    with pytest.raises(RowsError) as told:
        import_file(folder, source)
    assert "2 things" in str(told.value)
    assert len(kept_in(folder)) == 1


def test_notes_of_a_clock_that_runs_ahead_wait_for_a_yes(folder, tmp_path):
    source = tmp_path / "notes.csv"
    ahead = datetime.now(UTC) + timedelta(days=3)
    source.write_text(PAGE_NOTES.replace("2001-11-01T12:00:00", f"{ahead:%Y-%m-%dT%H:%M:%S}"))
    (fault,) = import_file(folder, source).unasked
    assert "ahead of this computer's clock" in fault.found
    assert not (folder / FILE).exists()
    assert import_file(folder, source, sure=True).new == 1
