"""Tracks walked along the water's edge, as a phone saves them: GPX 1.1, written by gpxpy."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import gpxpy.gpx
import numpy as np
import pytest
import shapely

from reachmap.base.crs import WGS84, transform_points
from reachmap.markup import read_markup
from reachmap.markup.file_facts import Unused, Use
from reachmap.markup.model import Origin
from reachmap.pipeline.terrain import drawn_digest
from reachmap.text.files import file_lines, use_words
from tests.markup.folders import CRS, X, Y, make
from tests.markup.test_sounders import fate, gauged

START = datetime(2031, 1, 5, 9, 35, tzinfo=UTC)


def gpx(east, north, seconds=1.0, *, timed=True):
    """Return a track through places of the straight river, one each so many seconds."""
    lon, lat = transform_points(X + np.asarray(east), Y + np.asarray(north), CRS, WGS84)
    document = gpxpy.gpx.GPX()
    segment = gpxpy.gpx.GPXTrackSegment()
    for k in range(len(lon)):
        when = START + timedelta(seconds=seconds * k) if timed else None
        segment.points.append(gpxpy.gpx.GPXTrackPoint(lat[k], lon[k], time=when))
    track = gpxpy.gpx.GPXTrack()
    track.segments.append(segment)
    document.tracks.append(track)
    return document.to_xml()


def path_through(*corners, step=1.0):
    """Return places each metre along a way of corners."""
    line = shapely.LineString(corners)
    at = np.arange(0, line.length, step)
    places = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
    return places[:, 0], places[:, 1]


WALK = path_through((100, 24), (400, 24))


def read(tmp_path, text, name="edge-walk.gpx", folder=None):
    folder = gauged(tmp_path) if folder is None else folder
    (folder / name).write_text(text, encoding="utf-8")
    return read_markup(folder)


def of_walks(reach):
    return [one for one in reach.edges if one.origin is Origin.WALK]


def test_a_walk_called_an_edge_is_one_at_the_records_flow_of_its_time(tmp_path):
    reach = read(tmp_path, gpx(*WALK))
    (edge,) = of_walks(reach)
    assert edge.flow == pytest.approx(40 + 10 * (5 + 150 / 60) / 60, abs=0.05)  # linear, 9:37:30
    assert edge.date == "2031-01-05"
    assert edge.shape.length == pytest.approx(297, abs=4)
    assert shapely.get_coordinates(edge.shape)[:, 1] == pytest.approx(Y + 24, abs=0.05)
    assert fate(reach, "edge-walk.gpx").use is Use.WALKED
    assert use_words(fate(reach, "edge-walk.gpx")).startswith("1 stretch walked along the water's")


def test_the_way_in_and_a_crossing_and_the_drive_are_left_out(tmp_path):
    walk = path_through((100, 130), (100, 24), (250, 24), (250, -30), (400, -30))
    drive = path_through((400, -30), (560, -30), step=8.0)
    east, north = (np.concatenate(pair) for pair in zip(walk, drive, strict=True))
    reach = read(tmp_path, gpx(east, north))
    left, right = of_walks(reach)
    assert left.shape.bounds == pytest.approx((X + 100, Y + 24, X + 250, Y + 24), abs=9)
    assert right.shape.bounds == pytest.approx((X + 250, Y - 30, X + 400, Y - 30), abs=9)
    assert any("walked are taken as the water's edge" in one for one in reach.assumed)


def test_standing_still_moves_nothing_and_places_are_thinned(tmp_path):
    rng = np.random.default_rng(1)
    east, north = (
        np.concatenate([one[:150], np.full(200, one[150]) + rng.normal(0, 1, 200), one[150:]])
        for one in WALK
    )
    (edge,) = of_walks(read(tmp_path, gpx(east, north)))
    assert edge.shape.length == pytest.approx(297, abs=12)
    assert len(edge.shape.coords) < 70


@pytest.mark.parametrize(
    ("name", "flow"),
    [
        ("edge-1000cfs.gpx", 28.316846592),
        ("waterline 68cms.gpx", 68.0),
        ("edges_1.2kcfs.gpx", 33.98),
    ],
)
def test_the_name_says_the_flow_where_no_record_does(tmp_path, name, flow):
    reach = read(tmp_path, gpx(*WALK, timed=False), name)
    (edge,) = of_walks(reach)
    assert edge.flow == pytest.approx(flow, abs=0.005)  # 1 cubic foot is 0.3048^3 m3
    assert edge.date == ""


def test_a_track_that_nobody_calls_an_edge_is_not_used_and_told_how_to_name_it(tmp_path):
    reach = read(tmp_path, gpx(*WALK), "sunday.gpx")
    assert not of_walks(reach)
    one = fate(reach, "sunday.gpx")
    assert (one.use, one.why) == (Use.NOTHING, Unused.NO_LAYER)
    assert any("where its name says edge" in line for line in file_lines(reach.files))


@pytest.mark.parametrize(
    ("text", "name", "said"),
    [
        (gpx(*WALK, timed=False), "edge.gpx", "its name says no flow"),
        (gpx(*WALK, seconds=60.0), "edge.gpx", "the river changed from"),
        (gpx(*path_through((100, 75), (400, 75))), "edge.gpx", "run along the drawn river"),
        (gpx(*path_through((100, 24), (400, 24), step=9.0)), "edge.gpx", "at a walk"),
        (gpx(*WALK), "edge-drift.gpx", "both an edge and a drift"),
        (gpx(*WALK), "edge 9000000cfs.gpx", "is none of a river"),
        (gpx(*WALK)[:-400], "edge.gpx", ""),
        (gpx([100.0], [24.0]), "edge.gpx", "no track of two places"),
    ],
)
def test_what_cannot_be_an_edge_is_not_used_and_says_why(tmp_path, text, name, said):
    reach = read(tmp_path, text, name)
    assert not of_walks(reach)
    one = fate(reach, name)
    assert one.use is Use.NOTHING
    assert said in one.detail
    assert one.detail
    assert one.fix


def test_a_record_of_another_time_gives_no_flow(tmp_path):
    reach = read(tmp_path, gpx(*WALK), folder=make(tmp_path / "reach"))
    assert "record has no flow of its time" in fate(reach, "edge-walk.gpx").detail


def test_the_ground_is_made_anew_with_a_walk(tmp_path):
    folder = gauged(tmp_path)
    before = drawn_digest(read_markup(folder))
    assert drawn_digest(read(tmp_path, gpx(*WALK), folder=folder)) != before
