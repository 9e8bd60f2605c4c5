"""Waypoints brought back from a GPS."""

from __future__ import annotations

import math

import pytest

from reachmap.base.units import to_si
from reachmap.logbook.exchange import RowsError
from reachmap.logbook.model import SeenKind
from reachmap.logbook.waypoints import from_gpx

HEAD = '<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1">'


def gpx(*points: tuple[str, str]) -> str:
    body = "".join(
        f'<wpt lat="46.2" lon="-141.3">{time}<name>{name}</name></wpt>' for name, time in points
    )
    return f"{HEAD}{body}</gpx>"


TIME = "<time>2031-01-05T16:30:00Z</time>"


def feet(value: float) -> float:
    return to_si(value, "ft")


@pytest.mark.parametrize(
    ("name", "kind", "value"),
    [
        ("edge at dusk", SeenKind.EDGE, math.nan),
        ("Depth 2.5 by the boulder", SeenKind.SOUNDING, 0.762),
        ("speed: 3", SeenKind.SPEED, 0.9144),
        ("DEPTH=1,5", SeenKind.SOUNDING, 0.4572),
        ("Bucket here at 1,200", SeenKind.HOLD, math.nan),
        ("ledge pool, its tail", SeenKind.HOLD, math.nan),
        ("hold", SeenKind.HOLD, math.nan),
    ],
)
def test_what_was_seen_is_read_in_the_folders_units(name, kind, value):
    (entry,), _ = from_gpx(gpx((name, TIME)), length=feet)
    (seen,) = entry.seen
    assert seen.kind is kind
    assert seen.value == pytest.approx(value, nan_ok=True)


def test_any_other_waypoint_is_fishing_there_and_then():
    (entry,), _ = from_gpx(gpx(("two touches", TIME)), length=feet)
    assert (entry.x, entry.y, entry.seen) == (-141.3, 46.2, ())
    assert entry.when.isoformat() == "2031-01-05T16:30:00+00:00"
    assert entry.note == "two touches"


def test_the_same_file_twice_gives_the_same_ids():
    text = gpx(("a", TIME))
    assert from_gpx(text, length=feet)[0][0].uid == from_gpx(text, length=feet)[0][0].uid


def test_every_waypoint_that_cannot_be_kept_is_named_and_the_others_are_kept():
    points = gpx(("a", ""), ("depth", TIME), ("b", TIME), ("depth 99999", TIME))
    entries, faults = from_gpx(points, length=feet)
    assert [one.note for one in entries] == ["b"]
    message = "\n".join(f"{one.where}: {one.found}" for one in faults)
    assert len(faults) == 3
    assert "waypoint 1 'a': it has no time" in message
    assert "waypoint 2 'depth': depth without a number" in message
    assert "waypoint 4" in message


@pytest.mark.parametrize("text", ["", "not xml", "<gpx"])
def test_what_is_no_gpx_is_told(text):
    with pytest.raises(RowsError, match="no GPX"):
        from_gpx(text, length=feet)


def test_a_file_that_declares_entities_is_refused(tmp_path):
    (tmp_path / "secret").write_text("a secret", encoding="utf-8")
    address = (tmp_path / "secret").as_uri()
    text = (
        f'<!DOCTYPE gpx [<!ENTITY s SYSTEM "{address}">]><gpx version="1.1" creator="x">'
        '<wpt lat="1" lon="2"><time>2001-02-03T04:05:06Z</time><name>&s;</name></wpt></gpx>'
    )
    with pytest.raises(RowsError, match="declares entities"):
        from_gpx(text, length=float)
