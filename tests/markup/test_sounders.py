"""An echo sounder's files: GPX with depths, logs of NMEA 0183, tables in any order and unit."""

from __future__ import annotations

import re
import time
from datetime import UTC, datetime, timedelta
from xml.etree import ElementTree as ET

import gpxpy.gpx
import numpy as np
import pynmea2
import pytest

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.errors import MarkupError
from reachmap.markup import read_markup
from reachmap.markup.file_facts import Unused, Use
from reachmap.markup.sounder_gpx import read_gpx_depths
from reachmap.markup.sounder_nmea import read_nmea
from reachmap.markup.turns import turning
from tests.markup.folders import CRS, X, Y, make

AT = np.arange(100.0, 400.0, 2.0)
LON, LAT = transform_points(X + AT, np.full(AT.size, Y + 3.0), CRS, WGS84)
START = datetime(2031, 1, 5, 10, tzinfo=UTC)
EXTENSION = "http://www.example.org/xmlschemas/TrackPoint/v1"


def gauged(tmp_path, toml="", record="2031-01-05 09:30Z,40\n2031-01-05 10:30Z,50\n"):
    folder = make(tmp_path / "reach")
    for path in (folder / "gauge").glob("*"):
        path.unlink()
    (folder / "gauge" / "record.csv").write_text("time,flow_m3s\n" + record, encoding="utf-8")
    if toml:
        path = folder / "reach.toml"
        path.write_text(path.read_text(encoding="utf-8") + toml, encoding="utf-8")
    return folder


def fate(reach, name):
    return next(one for one in reach.files if one.name == name)


def gpx(depth=1.5, seconds=10, named="", tag="depth"):
    document = gpxpy.gpx.GPX()
    document.nsmap["tpx"] = EXTENSION
    track = gpxpy.gpx.GPXTrack(name=named or None)
    segment = gpxpy.gpx.GPXTrackSegment()
    for k, (lon, lat) in enumerate(zip(LON, LAT, strict=True)):
        point = gpxpy.gpx.GPXTrackPoint(lat, lon, time=START + timedelta(seconds=seconds * k))
        outer = ET.Element(f"{{{EXTENSION}}}TrackPointExtension")
        ET.SubElement(outer, f"{{{EXTENSION}}}{tag}").text = f"{depth:.2f}"
        point.extensions.append(outer)
        segment.points.append(point)
    track.segments.append(segment)
    document.tracks.append(track)
    return document


def test_a_gpx_track_with_depths_in_its_extensions_is_read(tmp_path):
    folder = gauged(tmp_path, '\n[sounder]\ntransducer = "20 cm"\n')
    (folder / "drift.gpx").write_text(gpx().to_xml(), encoding="utf-8")
    reach = read_markup(folder)
    (track,) = reach.tracks
    assert track.depth_m == pytest.approx(1.7)  # 1.5 below a transducer 0.2 m deep
    assert track.x == pytest.approx(X + AT, abs=0.05)
    assert fate(reach, "drift.gpx").use is Use.SOUNDER
    assert fate(reach, "drift.gpx").number == 150
    # half past nine 40, half past ten 50: at ten 45, a sixth of a unit more each minute
    assert track.flows[[0, 60]] == pytest.approx([45.0, 45 + 10 / 6], abs=0.01)
    assert track.date == "2031-01-05"


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone cannot be set here")
def test_a_gpx_time_without_an_offset_is_utc_wherever_the_computer_stands(monkeypatch):
    monkeypatch.setenv("TZ", "America/Anchorage")
    time.tzset()
    try:
        text = gpx().to_xml()
        zoned = read_gpx_depths(text.encode()).times
        bare = re.sub(r"(<time>[^<]*?)(Z|[+-]\d\d:\d\d)</time>", r"\1</time>", text)
        assert bare != text
        assert (read_gpx_depths(bare.encode()).times == zoned).all()
        east = re.sub(r"(<time>[^<]*?)(Z|[+-]\d\d:\d\d)</time>", r"\1+02:00</time>", text)
        assert (zoned - read_gpx_depths(east.encode()).times == np.timedelta64(2, "h")).all()
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_gpx_track_without_depths_is_said_to_be_of_no_use(tmp_path):
    folder = gauged(tmp_path)
    (folder / "walk.gpx").write_text(gpx(tag="hr").to_xml(), encoding="utf-8")
    reach = read_markup(folder)
    assert not reach.tracks
    assert fate(reach, "walk.gpx").why is Unused.NO_LAYER


def test_a_gpx_file_with_entities_is_refused(tmp_path):
    folder = gauged(tmp_path)
    text = gpx().to_xml().replace("<gpx", '<!DOCTYPE gpx [<!ENTITY a "b">]><gpx', 1)
    (folder / "drift.gpx").write_text(text, encoding="utf-8")
    reach = read_markup(folder)
    assert not reach.tracks
    assert "declares entities" in fate(reach, "drift.gpx").detail


def degrees(value, hemispheres, digits):
    whole = int(abs(value))
    return f"{whole:0{digits}d}{(abs(value) - whole) * 60:08.5f}", hemispheres[int(value < 0)]


def rmc(k, status="A"):
    when = START + timedelta(seconds=k)
    place = (*degrees(LAT[k], "NS", 2), *degrees(LON[k], "EW", 3))
    told = (when.strftime("%H%M%S"), status, *place, "2.1", "90.0", when.strftime("%d%m%y"), "", "")
    return str(pynmea2.RMC("GP", "RMC", told))


def depth_of(kind, metres, offset="0.0"):
    if kind == "DPT":
        return str(pynmea2.DPT("SD", "DPT", (f"{metres:.2f}", offset)))
    fields = (f"{metres / 0.3048:.3f}", "f", f"{metres:.2f}", "M", f"{metres / 1.8288:.3f}", "F")
    return str(getattr(pynmea2, kind)("SD", kind, fields))


def log(*kinds, metres=1.2, offset="0.0", before=""):
    lines = []
    for k in range(AT.size):
        lines.append(before + rmc(k))
        lines += [before + depth_of(kind, metres, offset) for kind in kinds]
        lines.append(before + "$GPGSV,1,1,00*79")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("kinds", "offset", "depth"),
    [
        (("DBT",), "", 1.5),  # below the transducer, which hangs 0.3 m deep
        (("DPT",), "0.0", 1.5),
        (("DPT",), "-0.4", 1.5),  # a negative offset is that of the keel
        (("DPT",), "0.5", 1.7),  # a positive one is the way up to the surface
        (("DBS",), "", 1.2),
        (("DBT", "DPT"), "0.5", 1.7),
        (("DBT", "DBS"), "", 1.2),
    ],
)
def test_a_log_of_sentences_counts_from_the_surface(tmp_path, kinds, offset, depth):
    folder = gauged(tmp_path, '\n[sounder]\ntransducer = "0.3 m"\n')
    (folder / "boat.log").write_text(log(*kinds, offset=offset), encoding="ascii")
    reach = read_markup(folder)
    (track,) = reach.tracks
    assert track.depth_m == pytest.approx(depth, abs=0.006)
    assert track.depth_m.size == AT.size - 1  # what comes after the last fix has no place
    assert np.hypot(track.x - X - AT[:-1], track.y - Y - 3).max() < 2.0
    assert track.flow == pytest.approx(45.2, abs=0.05)
    assert fate(reach, "boat.log").use is Use.SOUNDER


def test_a_wrong_checksum_a_lost_fix_and_a_time_before_the_sentence():
    lines = log("DBT", before="2031-01-05T10:00:00 ").splitlines()
    spoilt = lines[31].index("*")
    lines[31] = lines[31][: spoilt - 2] + "9" + lines[31][spoilt - 1 :]
    lines[60] = rmc(20, status="V")
    rows = read_nmea("\n".join(lines))
    assert rows.lost == 1
    assert rows.depth_m.size == AT.size - 1
    assert np.isfinite(rows.x).sum() == AT.size - 2  # between fixes on either side of the lost one


def test_depths_in_a_long_gap_between_fixes_have_no_place():
    parts = [rmc(0), depth_of("DBT", 1.0), rmc(60), depth_of("DBT", 1.1), rmc(62)]
    rows = read_nmea("\n".join(parts))
    assert np.isfinite(rows.x).tolist() == [False, True]


def test_sentences_of_a_standard_that_say_no_depth_are_told(tmp_path):
    folder = gauged(tmp_path)
    (folder / "boat.nmea").write_text("\n".join(rmc(k) for k in range(50)), encoding="ascii")
    reach = read_markup(folder)
    assert "no sentence of depth" in fate(reach, "boat.nmea").detail


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("Water Depth (ft),Latitude (deg),Longitude (deg),Time (UTC)", "{ft},{lat},{lon},{iso}"),
        ("Date;Time;Depth [cm];lat;lon", "{day};{clock};{cm};{lat};{lon}"),
        ("depth_m\tlon_dd\tlat_dd\ttimestamp\ttemperature", "{m}\t{lon}\t{lat}\t{iso}\t8"),
        ("id,depth (m),depth below surface (ft),lat,lon,datetime", "1,9,{ft},{lat},{lon},{iso}"),
        ("lat,lon,depth,time", "{lat},{lon},-{m},{iso}"),
    ],
)
def test_tables_in_any_order_and_unit_are_the_same_track(tmp_path, head, row):
    folder = gauged(tmp_path)
    lines = [head]
    for k, (lon, lat) in enumerate(zip(LON, LAT, strict=True)):
        when = START + timedelta(seconds=10 * k)
        lines.append(
            row.format(
                ft=1.3 / 0.3048, cm=130, m=1.3, lat=f"{lat:.8f}", lon=f"{lon:.8f}",
                iso=when.strftime("%Y-%m-%d %H:%M:%S"),
                day=when.strftime("%Y-%m-%d"), clock=when.strftime("%H:%M:%S"),
            )
        )  # fmt: skip
    (folder / "export 7.csv").write_text("\n".join(lines), encoding="utf-8")
    (track,) = read_markup(folder).tracks
    assert track.depth_m == pytest.approx(1.3)
    assert track.x == pytest.approx(X + AT, abs=0.01)
    assert track.flow == pytest.approx(47.07, abs=0.05)


def test_few_depths_far_apart_are_single_soundings(tmp_path):
    folder = gauged(tmp_path)
    lines = ["name,lat,lon,depth,flow"]
    lines += [f"p{k},{LAT[k]:.8f},{LON[k]:.8f},{1 + k / 100},30" for k in range(0, 150, 10)]
    (folder / "soundings.csv").write_text("\n".join(lines), encoding="utf-8")
    reach = read_markup(folder)
    assert not reach.tracks
    plain = len(read_markup(gauged(tmp_path / "plain")).soundings)
    added = reach.soundings[plain:]
    assert [one.name for one in added] == [f"p{k}" for k in range(0, 150, 10)]
    assert [one.depth_m for one in added] == pytest.approx([1 + k / 100 for k in range(0, 150, 10)])
    assert {one.flow for one in added} == {30.0}
    assert fate(reach, "soundings.csv").number == 15


def test_single_soundings_without_a_flow_are_faults_as_drawn_ones_are(tmp_path):
    folder = gauged(tmp_path)
    lines = ["lat,lon,depth", *(f"{LAT[k]:.8f},{LON[k]:.8f},1" for k in range(0, 150, 10))]
    (folder / "soundings.csv").write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(MarkupError, match=r"row 2 of soundings.csv\): it has a depth but no flow"):
        read_markup(folder)


def test_the_flow_of_the_sounder_stands_in_where_no_record_knows(tmp_path):
    folder = gauged(tmp_path, "\n[sounder]\nflow = 33\n", record="2001-01-01 09:00Z,40\n")
    (folder / "drift.gpx").write_text(gpx().to_xml(), encoding="utf-8")
    assert read_markup(folder).tracks[0].flow == 33.0
    bare = gauged(tmp_path / "bare", record="2001-01-01 09:00Z,40\n")
    (bare / "drift.gpx").write_text(gpx().to_xml(), encoding="utf-8")
    told = fate(read_markup(bare), "drift.gpx")
    assert "nobody says the river's flow" in told.detail
    assert "[sounder]" in told.fix


def test_a_pause_of_half_a_day_begins_another_set(tmp_path):
    folder = gauged(tmp_path, "\n[sounder]\nflow = 33\n", record="2001-01-01 09:00Z,40\n")
    document = gpx()
    for point in document.tracks[0].segments[0].points[75:]:
        point.time += timedelta(hours=12)
    (folder / "drift.gpx").write_text(document.to_xml(), encoding="utf-8")
    first, second = read_markup(folder).tracks
    assert (first.depth_m.size, second.depth_m.size) == (75, 75)
    assert first.name != second.name


def test_turns_of_the_boat_are_left_out_and_said(tmp_path):
    folder = gauged(tmp_path)
    there, back = np.arange(100.0, 200.0, 1.0), np.arange(199.0, 100.0, -1.0)
    x = X + np.r_[there, back]
    y = Y + np.r_[np.full(there.size, 3.0), np.full(back.size, -3.0)]
    lon, lat = transform_points(x, y, CRS, WGS84)
    lines = ["lon,lat,depth_m,flow_m3s"]
    lines += [f"{a:.8f},{b:.8f},1.2,30" for a, b in zip(lon, lat, strict=True)]
    (folder / "track.csv").write_text("\n".join(lines), encoding="utf-8")
    reach = read_markup(folder)
    (track,) = reach.tracks
    assert 3 <= track.turning <= 14
    assert track.x.max() < X + 198
    assert any(f"{track.turning} of them where the boat turned" in one for one in reach.assumed)


def test_a_bend_of_the_river_and_noise_of_the_receiver_are_no_turn():
    angle = np.linspace(0, np.pi, 200)  # a bend of 30 m radius
    rng = np.random.default_rng(5)
    x, y = 30 * np.cos(angle), 30 * np.sin(angle)
    assert not turning(x, y).any()
    straight = np.arange(0.0, 300.0, 2.0)
    assert not turning(straight + rng.normal(0, 0.5, 150), rng.normal(0, 0.5, 150)).any()


def test_points_too_few_or_too_far_apart_tell_no_turn():
    assert not turning(np.arange(3.0), np.zeros(3)).any()
    zigzag = np.arange(0.0, 400.0, 20.0)
    assert not turning(zigzag, np.where(np.arange(20) % 2, 0.0, 30.0)).any()
