"""Photos with place and time in their EXIF, written by Pillow's own tag register."""

from __future__ import annotations

import json

import numpy as np
import pytest
from PIL import ExifTags, Image

from reachmap.base.crs import WGS84, transform_points
from reachmap.markup import read_markup
from reachmap.markup.file_facts import Use
from reachmap.markup.found import input_files
from reachmap.markup.model import Origin
from reachmap.text.files import file_lines, file_rows
from tests.markup.folders import CRS, X, Y
from tests.markup.test_sounders import fate, gauged

GPS, BASE = ExifTags.GPS, ExifTags.Base


def sexagesimal(angle):
    """Return an angle as EXIF has it: degrees, minutes and seconds."""
    angle = abs(angle)
    minutes = angle % 1 * 60
    return (float(int(angle)), float(int(minutes)), round(minutes % 1 * 60, 5))


def shoot(folder, name, at=(200.0, 22.0), *, receiver=True, placed=True, error=None, clock=""):
    """Write a photo taken at a place of the straight river, at 10:00 UTC of the record's day."""
    lon, lat = (
        float(one[0])
        for one in transform_points(np.array([X + at[0]]), np.array([Y + at[1]]), CRS, WGS84)
    )
    exif = Image.Exif()
    exif[BASE.Make] = "made"  # Pillow writes none into a PNG that has sub-directories alone
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    if placed:
        gps[GPS.GPSLatitudeRef] = "N" if lat > 0 else "S"
        gps[GPS.GPSLatitude] = sexagesimal(lat)
        gps[GPS.GPSLongitudeRef] = "E" if lon > 0 else "W"
        gps[GPS.GPSLongitude] = sexagesimal(lon)
    if receiver:
        gps[GPS.GPSDateStamp] = "2031:01:05"
        gps[GPS.GPSTimeStamp] = (10.0, 0.0, 0.0)
    if error is not None:
        gps[GPS.GPSHPositioningError] = float(error)
    own = exif.get_ifd(ExifTags.IFD.Exif)
    own[BASE.DateTimeOriginal] = "2031:01:05 02:00:00"
    if clock:
        own[BASE.OffsetTimeOriginal] = clock
    Image.new("RGB", (8, 6), "gray").save(folder / name, exif=exif)


def read(tmp_path, name, **given):
    folder = gauged(tmp_path)
    shoot(folder, name, **given)
    return read_markup(folder)


def shown(reach):
    return [one for one in reach.edges if one.origin is Origin.PHOTO]


@pytest.mark.parametrize("name", ["edge-1.jpg", "Waterline above.png"])
def test_a_photo_called_an_edge_is_one_at_the_flow_of_its_time(tmp_path, name):
    reach = read(tmp_path, name)
    (edge,) = shown(reach)
    assert (edge.shape.x, edge.shape.y) == pytest.approx((X + 200, Y + 22), abs=0.01)
    assert edge.flow == pytest.approx(45.0)  # half way between 40 and 50
    assert edge.date == "2031-01-05"
    assert fate(reach, name).use is Use.PHOTO_EDGE


@pytest.mark.parametrize(("clock", "flow"), [("-08:00", 45.0), ("-07:30", 40.0)])
def test_a_cameras_clock_counts_where_its_receiver_gave_no_time(tmp_path, clock, flow):
    (edge,) = shown(read(tmp_path, "edge.jpg", receiver=False, clock=clock))
    assert edge.flow == pytest.approx(flow)


def test_a_clock_without_an_offset_is_of_the_folders_zone(tmp_path):
    folder = gauged(tmp_path, '\n[gauge]\ntime_zone = "Etc/GMT+8"\n')
    shoot(folder, "edge.jpg", receiver=False)
    (edge,) = shown(read_markup(folder))
    assert edge.flow == pytest.approx(45.0)


def test_a_photos_name_may_say_the_waters_height_and_flow(tmp_path):
    reach = read(tmp_path, "level 99.6m 1000cfs.jpg")
    level = reach.levels[-1]
    assert (level.level_m, level.flow) == pytest.approx((99.6, 28.316846592))
    assert fate(reach, "level 99.6m 1000cfs.jpg").use is Use.PHOTO_LEVEL


def test_any_other_photo_is_a_note_with_time_and_flow_and_never_its_place(tmp_path):
    reach = read(tmp_path, "IMG_0042.jpg")
    assert not shown(reach)
    (line,) = [one for one in file_lines(reach.files) if "IMG_0042" in one]
    assert line.endswith("a photo, kept as a note: taken 2031-01-05 10:00 UTC at 45 m3/s")
    told = json.dumps(file_rows(reach.files)) + " ".join(reach.assumed)
    lon, lat = transform_points(np.array([X + 200.0]), np.array([Y + 22.0]), CRS, WGS84)
    assert f"{lat[0]:.2f}" not in told
    assert f"{lon[0]:.2f}" not in told


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("edge.jpg", {"placed": False}, "does not say where"),
        ("edge.jpg", {"at": (200.0, 400.0)}, "not taken beside the drawn river"),
        ("edge.jpg", {"error": 40.0}, "known to 40 m only"),
        ("edge.jpg", {"receiver": False}, "no flow of its time"),
        ("level 30000m.jpg", {}, "30000"),
    ],
)
def test_a_photo_that_shows_nothing_sure_is_not_used_and_says_why(tmp_path, name, given, said):
    reach = read(tmp_path, name, **given)
    assert not shown(reach)
    one = fate(reach, name)
    assert one.use is Use.NOTHING
    assert said in one.detail
    assert one.fix


@pytest.mark.parametrize(
    "body", [b"\xff\xd8\xff", b"\xff\xd8\xff\xe1\x00\x10Exif\0\0II*\0", b"\0\0\0\x18ftypheic"]
)
def test_a_spoilt_photo_and_one_of_another_kind_are_told(tmp_path, body):
    folder = gauged(tmp_path)
    (folder / "edge.jpg").write_bytes(body + b"\0" * 40)
    one = fate(read_markup(folder), "edge.jpg")
    assert one.use is Use.NOTHING
    assert one.fix.startswith(("Save it as JPEG", "Switch on the camera's location"))


def test_a_map_is_of_the_photos_that_are_evidence_and_no_others(tmp_path):
    folder = gauged(tmp_path)
    for name in ("edge.jpg", "level 99.6m.jpg", "IMG_0042.jpg"):
        shoot(folder, name)
    read = {path.name for path in input_files(folder)}
    assert {"edge.jpg", "level 99.6m.jpg"} <= read
    assert "IMG_0042.jpg" not in read
