"""Tracks of an echo sounder: read with their units, place, flow and set, or told what is wrong."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.errors import MarkupError
from reachmap.markup import read_markup
from reachmap.markup.found import input_files
from reachmap.markup.tracks import spikes
from tests.markup.folders import CRS, X, Y, make

DEGREES = transform_points(X + np.arange(100.0, 400.0, 2.0), np.full(150, Y + 3.0), CRS, WGS84)
HEAD = "lon,lat,depth_m,flow_m3s"


def rows(depth=1.2, tail="30"):
    return [f"{lon:.8f},{lat:.8f},{depth},{tail}" for lon, lat in zip(*DEGREES, strict=True)]


def folder_with(tmp_path, lines, name="track.csv"):
    folder = make(tmp_path / "reach")
    (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def read(tmp_path, lines, name="track.csv"):
    return read_markup(folder_with(tmp_path, lines, name)).tracks


def fault(tmp_path, lines):
    with pytest.raises(MarkupError) as caught:
        read(tmp_path, lines)
    return str(caught.value)


def test_a_track_is_read_with_place_depth_and_flow(tmp_path):
    (track,) = read(tmp_path, ["# made", HEAD, *rows()])
    assert (track.name, track.flow, track.lost) == ("track.csv", 30.0, 0)
    assert track.x == pytest.approx(X + np.arange(100.0, 400.0, 2.0), abs=0.01)
    assert track.y == pytest.approx(Y + 3.0, abs=0.01)
    assert track.depth_m == pytest.approx(1.2)


@pytest.mark.parametrize(
    ("head", "depth", "tail", "flow"),
    [
        ("Longitude,Latitude,Depth (ft),Discharge (cfs)", 4.0, "1000", 28.316846592),
        ("lon;lat;depth_ft;flow_cfs", 4.0, "1000", 28.316846592),
        ("lng\tlat\tdepth [cm]\tflow", 121.92, "30", 30.0),
    ],
)
def test_units_stand_in_the_heads_and_columns_may_be_parted_otherwise(
    tmp_path, head, depth, tail, flow
):
    mark = next(one for one in ("\t", ";", ",") if one in head)
    lines = [one.replace(",", mark) for one in rows(depth, tail)]
    (track,) = read(tmp_path, [head, *lines])
    assert track.depth_m == pytest.approx(1.2192)  # 4 international feet
    assert track.flow == pytest.approx(flow)


def test_plain_depths_are_in_the_folders_units_and_sets_are_told_apart(tmp_path):
    lines = [f"{one},{'up' if k < 60 else 'down'}" for k, one in enumerate(rows())]
    first, second = read(tmp_path, ["lon,lat,depth,flow,set", *lines])
    assert (first.name, second.name) == ("track.csv, set 'up'", "track.csv, set 'down'")
    assert (first.depth_m.size, second.depth_m.size) == (60, 90)


def test_x_and_y_want_a_crs(tmp_path):
    lines = ["x,y,depth,flow", *(f"{X + at:.2f},{Y + 3:.2f},1.2,30" for at in range(100, 300, 2))]
    assert "nothing says in which CRS" in fault(tmp_path, lines)
    folder = folder_with(tmp_path / "told", lines)
    toml = folder / "reach.toml"
    toml.write_text(toml.read_text().replace("format = 1", f'format = 1\ncrs = "{CRS}"'))
    (track,) = read_markup(folder).tracks
    assert track.x[0] == pytest.approx(X + 100)


def test_the_flow_of_the_day_is_the_gauges(tmp_path):
    times = [f"2031-01-05 {10 + k // 60:02d}:{k % 60:02d}" for k in range(150)]
    plain = [one.rpartition(",")[0] for one in rows()]
    lines = ["lon,lat,depth,time", *(f"{a},{b}" for a, b in zip(plain, times, strict=True))]
    assert "nobody says the river's flow" in fault(tmp_path, lines)
    folder = folder_with(tmp_path / "gauged", lines)
    for path in (folder / "gauge").glob("*"):
        path.unlink()
    (folder / "gauge" / "record.csv").write_text(
        "time,flow_m3s\n2031-01-05 09:00,40\n2031-01-05 14:00,40\n", encoding="utf-8"
    )
    (track,) = read_markup(folder).tracks
    assert (track.flow, track.date) == (40.0, "2031-01-05")


def test_lost_bottoms_and_spikes_are_left_out_and_counted(tmp_path):
    lines = rows()
    lines[10] = lines[10].replace(",1.2,", ",0,")
    lines[20] = lines[20].replace(",1.2,", ",7.5,")
    lines[30] = lines[30].replace(",1.2,", ",,")
    folder = folder_with(tmp_path, [HEAD, *lines])
    reach = read_markup(folder)
    assert (reach.tracks[0].lost, reach.tracks[0].depth_m.size) == (3, 147)
    assert any("3 of 150 depths were left out" in one for one in reach.assumed)


def test_a_step_of_the_bed_is_no_spike():
    depth = np.r_[np.full(20, 0.8), np.full(20, 2.4)]
    assert not spikes(depth).any()
    assert spikes(np.r_[depth[:10], 3.0, depth[10:]]).nonzero()[0].tolist() == [10]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([HEAD], "it has no rows"),
        (["lon,lat,deep", "1,2,3"], "its columns are lon, lat, deep"),
        ([HEAD, "a,b,c,d"], "no row has a place and a depth"),
        (["lon,lat,depth_kg,flow", *rows()], "'kg' is not a unit of depth"),
        (["lon,lat,depth,flow", *rows(20)], "half of its depths are beyond 15 m"),
        (["lat,lon,depth,flow", *rows()], "not longitude and latitude"),
        (["lon,lat,depth,flow", "10,10,1,30", "10,10,1,30"], "or more from the river"),
    ],
)
def test_what_is_wrong_is_told_with_its_file(tmp_path, lines, words):
    told = fault(tmp_path, lines)
    assert words in told
    assert "track.csv" in told


def test_track_files_are_read_by_a_build(tmp_path):
    folder = folder_with(tmp_path, [HEAD, *rows()], "track-2031.csv")
    assert folder / "track-2031.csv" in input_files(folder)


def test_a_track_that_leads_out_of_the_folder_is_not_opened(tmp_path):
    folder = make(tmp_path / "reach")
    (tmp_path / "other.csv").write_text("\n".join([HEAD, *rows()]), encoding="utf-8")
    (folder / "track.csv").symlink_to(tmp_path / "other.csv")
    with pytest.raises(MarkupError, match="leads out of the folder"):
        read_markup(folder)
