"""Plain CSV of the gauge, and files that cannot be used."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from reachmap.base.units import from_si
from reachmap.gauge.rdb import is_rdb
from tests.gauge.gauges import DATA, at, good, read

CSV = {
    "stage_ft,flow_cfs\n1,100\n2,300\n": (0.3048, 100 * 0.3048**3),
    "stage_m,flow_m3s\n1,100\n2,300\n": (1, 100),
    "stage (m),discharge (m3/s)\n1,100\n2,300\n": (1, 100),
    "Stage [cm],Flow [m³/s]\n100,100\n200,300\n": (1, 100),
    "gauge_height,flow\n1,100\n2,300\n": (0.3048, 100 * 0.3048**3),
    "# a remark\nflow_cfs;stage_ft\n100,0;1,0\n300;2\n": (0.3048, 100 * 0.3048**3),
    "\ufeffstage_ft\tflow_cfs\textra\n1\t100\tx\n2\t300\ty\n": (0.3048, 100 * 0.3048**3),
}


@pytest.mark.parametrize("text", CSV)
def test_a_plain_rating_in_any_unit_and_with_any_mark(text, tmp_path):
    (tmp_path / "r.csv").write_text(text, encoding="utf-8")
    [piece] = good(tmp_path / "r.csv").segments
    assert (piece.stage_m[0], piece.flow[0]) == pytest.approx(CSV[text])


def test_a_plain_rating_with_offsets_is_cut_where_they_change(tmp_path):
    text = "stage_m,flow_m3s,offset_m\n1,1,0\n2,8,0\n3,20,0.5\n"
    (tmp_path / "r.csv").write_text(text, encoding="utf-8")
    low, high = good(tmp_path / "r.csv").segments
    assert (low.stage_m.tolist(), high.stage_m.tolist()) == ([1, 2], [2, 3])
    assert (low.offset_m, high.offset_m) == (0, 0.5)


def test_local_times_of_a_plain_record_through_the_end_of_summer_time(tmp_path):
    hours = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    rows = "".join(f"2021-11-07 {hour},{100 + i}\n" for i, hour in enumerate(hours))
    (tmp_path / "f.csv").write_text("time,flow_cfs\n" + rows, encoding="utf-8")
    gauge = good(tmp_path / "f.csv", zone="America/Vancouver")
    begin = at("2021-11-07T07:30")
    assert gauge.times.tolist() == [(begin + np.timedelta64(30 * i, "m")).item() for i in range(6)]


def test_an_hour_that_summer_time_leaves_in_doubt_is_left_out(tmp_path):
    text = "time,flow_cfs\n2021-11-07 01:30,100\n2021-11-07 04:00,101\n2021-03-14 02:30,99\n"
    (tmp_path / "f.csv").write_text(text, encoding="utf-8")
    gauge, _, notes = read(tmp_path / "f.csv", zone="America/Vancouver")
    assert gauge.times.tolist() == [at("2021-11-07T12:00").item()]
    assert any("2 times make no sense" in note for note in notes)


def test_times_without_a_zone_are_utc_and_told(tmp_path):
    (tmp_path / "f.csv").write_text("time,flow_cfs\n2001-01-01 00:00,100\n", encoding="utf-8")
    gauge, _, notes = read(tmp_path / "f.csv")
    assert gauge.times[0] == at("2001-01-01")
    assert any("name no zone and are taken as UTC" in note for note in notes)


BROKEN = {
    "page.xml": ("<html><body>moved</body></html>", "a page or XML of another kind"),
    "cut.xml": ((DATA / "waterml2.xml").read_text(encoding="utf-8")[:2000], "not whole XML"),
    "bomb.xml": (
        '<!DOCTYPE a [<!ENTITY b "c">]><wml2:Collection xmlns:wml2='
        '"http://www.opengis.net/waterml/2.0"/>',
        "declares entities",
    ),
    "rain.xml": (
        (DATA / "waterml2.xml")
        .read_text(encoding="utf-8")
        .replace("00060", "00045")
        .replace("Discharge", "Rain"),
        "neither flow nor stage",
    ),
    "unit.xml": (
        (DATA / "waterml2.xml").read_text(encoding="utf-8").replace("ft3/s", "acre-ft/d"),
        "'acre-ft/d', is not known",
    ),
    "cut.json": ('{"features": [', "not whole JSON"),
    "other.json": ('{"values": []}', "not a collection of readings"),
    "no_series.json": ('{"value": {"timeSeries": []}}', "neither flow nor stage ('nothing')"),
    "temperature.json": (
        (DATA / "daily.json").read_text(encoding="utf-8").replace("00060", "00010"),
        "neither flow nor stage ('00010')",
    ),
    "offsets.rdb": (
        (DATA / "rating_pieces.rdb").read_text(encoding="utf-8").replace(" OFFSET2=", " OTHER="),
        "it has 1 breakpoints and 1 offsets",
    ),
    "peaks.rdb": ("a\tpeak_va\n5s\t8n\n1\t2\n", "its columns are not known (a, peak_va)"),
    "temperature.rdb": (
        (DATA / "daily.rdb").read_text(encoding="utf-8").replace("00060", "00010"),
        "neither flow nor stage",
    ),
    "sites.rdb": (
        (DATA / "daily.rdb").read_text(encoding="utf-8") + "USGS\t02177001\t2012-10-02\t3\tA\n",
        "it holds 2 gauges (02177000, 02177001)",
    ),
    "times.csv": ("time,flow_cfs\nyesterday,5\n", "its times make no sense ('yesterday')"),
    "unit.csv": ("stage_ft,flow_gpm\n1,2\n3,4\n", "'gpm' is not a unit of flow (such as cfs)"),
    "twice.csv": ("stage_ft,flow_cfs\n1,2\n1,4\n", "a stage twice"),
    "minus.csv": ("stage_ft,flow_cfs\n1,-2\n3,4\n", "a flow below zero"),
    "one.csv": ("stage_ft,flow_cfs\n1,2\n", "fewer than two points"),
    "head.csv": ("stage_ft,flow_cfs\n", "it has no rows"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_file_that_cannot_be_used_gives_its_message(name, tmp_path):
    text, words = BROKEN[name]
    (tmp_path / name).write_text(text, encoding="utf-8")
    _, faults, _ = read(tmp_path / name)
    assert len(faults) == 1, faults
    assert faults[0].startswith(f"gauge file {name}: ")
    assert words in faults[0]


def test_files_of_other_kinds_are_told_not_read(tmp_path):
    shutil.copy(DATA / "README.md", tmp_path / "photo.jpg")
    gauge, faults, notes = read(tmp_path / "photo.jpg")
    assert (gauge, faults) == (None, [])
    assert notes == ["gauge file photo.jpg is not of a kind that is read."]


def test_what_is_rdb_and_what_is_not():
    assert is_rdb((DATA / "daily.rdb").read_text(encoding="utf-8"))
    assert not is_rdb("a\tb\nc\td\n")
    assert not is_rdb("")


def test_days_without_a_time_stand_at_noon(tmp_path):
    (tmp_path / "d.csv").write_text(
        "date,flow_cfs\n2001-01-01,100\n2001-01-02,\n", encoding="utf-8"
    )
    gauge = good(tmp_path / "d.csv", zone="America/Vancouver")
    assert gauge.times[0] == at("2001-01-01T20:00")


def test_measurements_of_ones_own(tmp_path):
    text = (
        "time,stage_ft,flow_cfs,quality\n2001-03-02 10:00Z,2.5,300,fair\n2001-02-01 10:00Z,3,500,\n"
    )
    (tmp_path / "measured_2001.csv").write_text(text + "2001-04-01 10:00Z,,80,\n", encoding="utf-8")
    gauge = good(tmp_path / "measured_2001.csv")
    assert gauge.times.size == 0
    assert gauge.measured.times[0] == at("2001-02-01T10:00")
    assert from_si(gauge.measured.flow, "cfs").tolist() == pytest.approx([500, 300])
    assert (gauge.measured.quality, gauge.measured.number) == (("unspecified", "fair"), ("2", "1"))


def test_measurements_without_a_stage_are_a_fault(tmp_path):
    (tmp_path / "measured.csv").write_text("time,flow_cfs\n2001-03-02,300\n", encoding="utf-8")
    _, faults, _ = read(tmp_path / "measured.csv")
    assert "measurements need a time, a stage and a flow" in faults[0]


def test_rows_with_cells_too_few_or_too_many_and_quotes_are_read(tmp_path):
    text = (
        'time,flow_cfs,remark\n2001-01-01T00:00Z,100\n2001-01-01T01:00Z,"101","a, b",more,,\n'
        ' 2001-01-01T02:00Z ,102,\n2001-01-01T03:00Z\n2001-01-01T04:00Z,104,"left open\n'
    )
    (tmp_path / "f.csv").write_text(text, encoding="utf-8")
    gauge = good(tmp_path / "f.csv")
    np.testing.assert_allclose(from_si(gauge.flow, "cfs"), [100, 101, 102, np.nan, 104])
    assert gauge.times[2] == at("2001-01-01T02:00")


@pytest.mark.slow
def test_a_long_plain_record_is_the_same_by_the_quick_way_and_the_other(tmp_path):
    rows = [
        f"2001-01-{day:02d} {hour:02d}:00Z,{day * hour}"
        for day in range(1, 32)
        for hour in range(24)
    ]
    for name, mark in (("a", ""), ("b", ",,,")):
        (tmp_path / f"{name}.csv").write_text(
            "\n".join(["time,flow_cfs", *(row + mark for row in rows)]), encoding="utf-8"
        )
    quick, other = good(tmp_path / "a.csv"), good(tmp_path / "b.csv")
    np.testing.assert_array_equal(quick.flow, other.flow)
    np.testing.assert_array_equal(quick.times, other.times)
