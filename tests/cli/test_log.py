"""`reachmap log`: typed words into kept entries."""

from __future__ import annotations

import json
import math
import os
from datetime import UTC, datetime, timedelta

import geopandas as gpd
import pytest

from reachmap.base.errors import MarkupError
from reachmap.logbook.model import Entry
from reachmap.logbook.store import FILE, TripLog, kept_in
from reachmap.markup import read_markup
from reachmap.pipeline.noted import noted_reach
from reachmap.reach.log import Typed, add_typed
from reachmap.reach.log_import import import_file
from tests.cli.test_cli import run
from tests.markup.folders import CRS, at, make


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
    assert len(listed) == 3
    assert listed[2].startswith("2 trips could not be placed: 'Upper', 'Upper bar'. No run")
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
    run("log", folder, "--add", "--when", "2021-01-05T08:30-08:00", "--flow", "30")
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


def test_what_was_seen_is_typed_too(folder):
    seen = ["edge by the alder @ 46.2,-141.3", "depth 1.5 @ 46.2001 -141.3"]
    seen.append("Speed 6 in 4s @ 46.2,-141.3")
    words = [word for text in seen for word in ("--seen", text)]
    done = run("log", folder, "--add", "--place", "46.2, -141.3", "--flow", "30", *words)
    assert done.returncode == 0, done.stderr
    (entry,) = kept_in(folder)
    assert [(str(one.kind), one.note) for one in entry.seen] == [
        ("edge", "by the alder"),
        ("sounding", ""),
        ("speed", ""),
    ]
    assert [one.value for one in entry.seen[1:]] == [1.5, 1.5]
    assert (entry.x, entry.y) == (-141.3, 46.2)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("depth @ 46.2,-141.3", "say how deep"),
        ("edge", "cannot be read"),
        ("speed 3 @ 1,1", "how far"),
    ],
)
def test_something_seen_that_makes_no_sense_is_told(folder, text, word):
    done = run("log", folder, "--add", "--seen", text)
    assert done.returncode == 2
    assert word in done.stderr
    assert "--seen" in done.stderr


def test_gpx_brought_back_is_kept_once_and_a_copy_is_left(folder, tmp_path):
    point = (
        '<wpt lat="46.2066" lon="-140.9995"><time>2021-01-05T16:30:00Z</time><name>{}</name></wpt>'
    )
    head = '<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1">'
    path = tmp_path / "back.gpx"
    path.write_text(head + point.format("depth 1.2") + "</gpx>")
    assert "1 of them new" in run("log", folder, "--import", path).stdout
    assert "0 of them new" in run("log", folder, "--import", path).stdout
    (entry,) = kept_in(folder)
    assert entry.seen[0].value == 1.2
    assert len(list((folder / "log-backups").glob("*.gpkg"))) == 1


def logged_and_built(folder, touches):
    """A folder whose build knows one run at one flow, and trips to it."""
    (folder / "written").mkdir()
    row = {"run": "Ledge", "flow": 30.0, "flow_label": "30m3s", "depth_m": 1.2, "speed_m_s": 1.1}
    (folder / "written" / "report.json").write_text(json.dumps({"runs_by_flow": [row]}))
    when = datetime(2021, 1, 5, 8, tzinfo=UTC)
    trips = [
        Entry(when=when, run=" ledge", flow=28.0, minutes=120, touches=touches),
        Entry(when=when, run="Ledge", flow=90.0, touches=1),
        Entry(when=when, run="elsewhere", flow=30.0, touches=1),
    ]
    with TripLog(folder / FILE) as log:
        log.add(*trips)


def test_the_seasons_limits_stand_beside_where_fish_touched(folder):
    logged_and_built(folder, touches=6)
    done = run("log", folder, "compare")
    assert done.returncode == 0, done.stderr
    lines = [" ".join(line.split()) for line in done.stdout.splitlines()]
    # the folder's limits: depth 0.5 to 1.8 m, speed 0.3 to 0.9 m/s; the run's water 1.2 m, 1.1 m/s
    fished = "fished once, 6 touches in 2.0 h: "  # 90 % of a Poisson mean at 6: 2.613 to 11.842
    rate = "1.3 to 5.9 an hour; too little time to be more than a hint"
    assert f"depth 0.5 to 1.8 m {fished}{rate}" in lines
    assert f"speed above 0.9 m/s {fished}{rate}" in lines
    assert "speed 0.3 to 0.9 m/s not fished" in lines
    assert any(line.startswith("2 trips left out") for line in lines)
    assert "Nothing is changed by this." in done.stdout


def test_too_few_touches_are_not_compared(folder):
    logged_and_built(folder, touches=4)
    assert "Too little to compare yet: 4 touches on 1 trip" in run("log", folder, "compare").stdout


def test_the_list_names_trips_that_belong_to_no_run_of_the_build(folder):
    (folder / "written").mkdir()
    along = [
        {"run": name, "drawn": "Kettle", "side": side, "station_m": at, "length_m": 100.0}
        for name, side, at in (("Kettle", "left", 0.0), ("Kettle right", "right", 300.0))
    ]
    (folder / "written" / "report.json").write_text(json.dumps({"runs_along": along}))
    when = datetime(2021, 1, 5, 8, tzinfo=UTC)
    names = ("Kettle right, upper", " kettle", "Kettle Bar", "Kettle Bar", "")
    with TripLog(folder / FILE) as log:
        log.add(*(Entry(when=when, run=name) for name in names))
    done = run("log", folder)
    assert done.stdout.splitlines()[-1].startswith(
        "3 trips could not be placed: 'Kettle Bar', no run named. No run"
    )
    with TripLog(folder / FILE) as log:
        log.remove(log.entries()[-1].uid)
        for entry in log.entries()[2:]:
            log.remove(entry.uid)
    assert "could not be placed" not in run("log", folder).stdout


def test_an_entry_keeps_its_station_and_bank_by_its_place_or_its_run(folder):
    (folder / "written").mkdir()
    row = {"run": "Ledge", "drawn": "", "side": "right", "station_m": 300.0, "length_m": 50.0}
    (folder / "written" / "report.json").write_text(json.dumps({"runs_along": [row]}))
    place = gpd.GeoSeries([at(150, 5), at(150, -5), at(150, 900)], crs=CRS).to_crs("EPSG:4326")
    for point in place:
        told = f"{point.y:.7f}, {point.x:.7f}"
        assert run("log", folder, "--add", "--place", told, "--run", "Ledge").returncode == 0
    run("log", folder, "--add", "--run", "Ledge")
    run("log", folder, "--add", "--run", "elsewhere")
    with TripLog(folder / FILE) as log:
        left, right, far, named, lost = log.entries()
    assert (left.bank, right.bank, named.bank) == ("left", "right", "right")
    assert left.station_m == pytest.approx(150, abs=0.1)  # the drawn line is straight, from 0
    assert named.station_m == 325.0
    for entry in (far, lost):
        assert math.isnan(entry.station_m)
        assert entry.bank == ""


def test_a_clock_behind_the_folders_own_files_keeps_nothing_unless_the_time_is_typed(folder):
    late = (datetime.now(UTC) + timedelta(days=10)).timestamp()
    os.utime(folder / "reach.toml", (late, late))
    done = run("log", folder, "--add", "--run", "Ledge")
    assert done.returncode == 2
    assert "1. --when: Your computer says 20" in done.stderr
    assert "It is behind: a file of this folder is of" in done.stderr
    assert "name the time with --when" in done.stderr
    assert kept_in(folder) == []
    assert run("log", folder, "--add", "--when", "2026-01-05T08:30", "--run", "a").returncode == 0
    ahead = f"{datetime.now(UTC) + timedelta(days=9):%Y-%m-%dT%H:%M}"
    assert run("log", folder, "--add", "--when", ahead, "--run", "b").returncode == 0
    assert run("log", folder, "--add", "--sure", "--run", "c").returncode == 0
    assert {entry.run for entry in kept_in(folder)} == {"a", "b", "c"}


def test_a_day_ahead_of_a_clock_that_is_right_is_asked_about(folder):
    done = run("log", folder, "--add", "--when", "2062-01-05T08:30", "--run", "Ledge")
    assert done.returncode == 2
    assert "lies ahead of it: is 2062-01-05 right?" in done.stderr
    assert kept_in(folder) == []


@pytest.mark.parametrize("answer", [True, False])
def test_at_a_terminal_the_question_is_put_and_holds(folder, answer):
    asked = []

    def ask(question):
        asked.append(question)
        return answer

    blank = {"swung": "", "touches": 0, "landed": 0, "released": 0, "photo": "", "note": ""}
    none = dict.fromkeys(("flow", "clarity", "water_temp", "minutes"))
    typed = Typed(when="2062-01-05T08:30", run="Ledge", **none, **blank)
    if answer:
        add_typed(folder, typed, ask)
    else:
        with pytest.raises(MarkupError, match="lies ahead"):
            add_typed(folder, typed, ask)
    assert len(asked) == 1
    assert len(kept_in(folder)) == int(answer)


@pytest.mark.parametrize("words", [[], ["--add"], ["compare"], ["form", "--no-browser"]])
def test_no_log_is_begun_where_a_name_was_mistyped(tmp_path, words):
    done = run("log", tmp_path / "nowhere", *words)
    assert done.returncode == 2
    assert "no such folder" in done.stderr
    assert not (tmp_path / "nowhere").exists()


def test_what_a_page_noted_is_evidence_for_the_next_build(folder, tmp_path):
    seen = [
        {"kind": "edge", "longitude": -141.0, "latitude": 46.2, "value": None, "note": ""},
        {
            "kind": "sounding",
            "longitude": -141.0,
            "latitude": 46.2,
            "value": 0.762,
            "note": "",
        },
        {
            "kind": "hold",
            "longitude": -141.0,
            "latitude": 46.2,
            "value": None,
            "note": "slot: x",
        },
    ]
    told = [
        {"uid": f"page-{n}", "when": "2001-11-01T12:00:00+00:00", "minutes": 0, "seen": [one]}
        for n, one in enumerate(seen)
    ]
    rows = [{"type": "Feature", "geometry": None, "properties": one} for one in told]
    source = tmp_path / "notes.geojson"
    source.write_text(json.dumps({"type": "FeatureCollection", "features": rows}))
    assert import_file(folder, source).new == 3
    drawn = read_markup(folder)
    noted = noted_reach(drawn)
    new = [
        len(getattr(noted, name)) - len(getattr(drawn, name))
        for name in ("edges", "soundings", "structure")
    ]
    assert new == [1, 1, 1]
    assert noted.soundings[-1].depth_m == pytest.approx(0.762)
    assert noted.structure[-1].kind == "slot"
    assert {noted.edges[-1].flow, noted.soundings[-1].flow, noted.structure[-1].flow} == {31.5}
