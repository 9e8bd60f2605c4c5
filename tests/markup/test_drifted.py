"""Tracks of a boat that drifts: speeds of the surface where it goes steadily down the river."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.words import SpeedHow
from reachmap.markup.file_facts import Use
from reachmap.markup.model import Origin
from reachmap.text.files import use_words
from tests.markup.folders import CRS, X, Y
from tests.markup.test_sounders import fate
from tests.markup.test_walked import gpx, read

SPEED = 1.1
SECONDS = np.arange(300.0)
DRIFT = (100 + SPEED * SECONDS, 4 * np.sin(SECONDS / 60))


def of_drifts(reach):
    return [one for one in reach.speeds if one.origin is Origin.FLOAT]


def test_a_steady_drift_gives_its_speed_each_half_minute(tmp_path):
    reach = read(tmp_path, gpx(*DRIFT), "float.gpx")
    speeds = of_drifts(reach)
    assert len(speeds) == 9  # 299 s
    assert [one.speed_m_s for one in speeds] == pytest.approx([SPEED] * 9, rel=0.01)
    assert {(one.how, one.group) for one in speeds} == {(SpeedHow.SURFACE, "float.gpx")}
    assert speeds[0].flow == pytest.approx(40 + 10 * 7.5 / 60, abs=0.05)
    assert speeds[0].place.x == pytest.approx(X + 100 + 15 * SPEED, abs=0.1)
    assert use_words(fate(reach, "float.gpx")).startswith("9 speeds of a drift, at")


def test_a_table_of_places_and_times_is_a_drift_where_its_name_says_so(tmp_path):
    lon, lat = transform_points(X + DRIFT[0], Y + DRIFT[1], CRS, WGS84)
    lines = ["time,latitude,longitude"]
    lines += [
        f"2031-01-05T09:{35 + k // 60:02d}:{k % 60:02d}Z,{lat[k]:.8f},{lon[k]:.8f}"
        for k in range(300)
    ]
    reach = read(tmp_path, "\n".join(lines), "kayak-drift.csv")
    assert [one.speed_m_s for one in of_drifts(reach)] == pytest.approx([SPEED] * 9, rel=0.01)
    other = read(tmp_path / "other", "\n".join(lines), "kayak.csv")
    assert not of_drifts(other)
    assert fate(other, "kayak.csv").use is Use.NOTHING


def test_spurts_of_the_paddle_are_left_out_and_counted(tmp_path):
    pace = np.where((SECONDS >= 100) & (SECONDS < 110), 2.2, SPEED)
    reach = read(tmp_path, gpx(100 + np.cumsum(pace), DRIFT[1]), "float.gpx")
    assert [one.speed_m_s for one in of_drifts(reach)] == pytest.approx([SPEED] * 8, rel=0.02)
    assert any("1 of 9 stretches were left out" in one for one in reach.assumed)


@pytest.mark.parametrize(
    ("east", "north", "said"),
    [
        (100 + np.cumsum(1.1 + 0.9 * np.sin(SECONDS / 5)), DRIFT[1], "paddled"),
        (DRIFT[0][::-1], DRIFT[1], "not down the river"),
        (DRIFT[0], DRIFT[1] + 45, "not in the drawn water"),
        (100 + 0.05 * SECONDS, DRIFT[1], "stood"),
        (DRIFT[0][:20], DRIFT[1][:20], "shorter than 30 s"),
    ],
)
def test_in_doubt_nothing_of_a_drift_is_used(tmp_path, east, north, said):
    reach = read(tmp_path, gpx(east, north), "float.gpx")
    assert not of_drifts(reach)
    assert said in fate(reach, "float.gpx").detail


def test_a_drift_without_times_or_with_few_places_says_nothing(tmp_path):
    bare = read(tmp_path, gpx(*DRIFT, timed=False), "float-60cms.gpx")
    assert "no times" in fate(bare, "float-60cms.gpx").detail
    sparse = [one[::20] for one in DRIFT]
    seldom = read(tmp_path / "seldom", gpx(*sparse, seconds=20.0), "float.gpx")
    assert "s apart" in fate(seldom, "float.gpx").detail
