"""The log's evidence: in the ground and its key, told by piece; the drawing stays as it is."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace

import numpy as np
import pytest

from reachmap.base.crs import WGS84, transform_points
from reachmap.base.words_runs import StructureKind
from reachmap.ground import GroundSettings
from reachmap.ground.fit import Fitted
from reachmap.ground.used import Kind, Why
from reachmap.logbook.digest import evidence_digest
from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.logbook.store import FILE, TripLog
from reachmap.markup import read_markup
from reachmap.markup.model import Origin, Track
from reachmap.pipeline.days import facts_key
from reachmap.pipeline.fitted import StoredFit
from reachmap.pipeline.noted import entries_of, evidence_facts, evidence_report, noted_reach
from reachmap.pipeline.order import begin_job, build_reach
from reachmap.pipeline.stamp import Options, current_report
from reachmap.pipeline.terrain import drawn_digest, make_terrain, terrain_key
from tests.markup.folders import CRS, X, Y, make

GROUND = GroundSettings(cell=4.0)
DAY = datetime(2031, 1, 5, 9, tzinfo=UTC)


def seen(kind, x, y, value=math.nan):
    lon, lat = transform_points(np.array([X + x]), np.array([Y + y]), CRS, WGS84)
    return Seen(kind, float(lon[0]), float(lat[0]), value)


def entry(*things, flow=30.0, when=DAY):
    return Entry(when, flow=flow, seen=things)


@pytest.fixture
def folder(tmp_path):
    return make(tmp_path / "reach")


def keep(folder, *entries):
    with TripLog(folder / FILE) as log:
        log.add(*entries)


def test_what_trips_saw_is_evidence_with_its_day_and_flow(folder):
    keep(folder, entry(seen(SeenKind.SOUNDING, 150, 2, 1.1)))
    reach = read_markup(folder)
    one = noted_reach(reach).soundings[-1]
    assert (one.origin, one.date, one.flow, one.depth_m) == (Origin.LOG, "2031-01-05", 30.0, 1.1)
    assert (one.place.x - X, one.place.y - Y) == pytest.approx((150, 2), abs=0.01)


@pytest.mark.parametrize(
    ("note", "kind"),
    [
        ("bucket here", StructureKind.BUCKET),
        ("the Slot below the bucket", StructureKind.SLOT),
        ("ledge-pool", StructureKind.LEDGE_POOL),
        ("two fish", StructureKind.BUCKET),
    ],
)
def test_where_fish_held_is_a_mark_at_the_trips_flow(folder, note, kind):
    keep(folder, entry(replace(seen(SeenKind.HOLD, 150, 2), note=note)))
    drawn = read_markup(folder)
    reach = noted_reach(drawn)
    mark = reach.structure[-1]
    assert (mark.kind, mark.flow, mark.note, mark.origin) == (kind, 30.0, note, Origin.LOG)
    assert (mark.place.x - X, mark.place.y - Y) == pytest.approx((150, 2), abs=0.01)
    assert len(reach.structure) == len(drawn.structure) + 1
    assert drawn_digest(reach) == drawn_digest(drawn)  # the ground does not hang on it


def test_the_drawing_stays_as_it_is(folder):
    files = {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    reach = read_markup(folder)
    keep(folder, entry(seen(SeenKind.SOUNDING, 150, 2, 1.1), seen(SeenKind.EDGE, 150, 20.5)))
    job = begin_job(reach, folder / "written", Options(cell=4.0))
    assert job.reach is reach
    assert (reach.soundings, reach.edges) == (
        read_markup(folder).soundings,
        read_markup(folder).edges,
    )
    assert len(job.noted.soundings) == len(reach.soundings) + 1
    assert {path: path.read_bytes() for path in files} == files


def test_the_grounds_key_holds_the_logs_evidence_and_nothing_else_of_the_log(folder):
    reach = read_markup(folder)
    bare = terrain_key(noted_reach(reach), GROUND, None)
    keep(folder, Entry(DAY, run="somewhere", flow=30.0, touches=3))
    assert terrain_key(noted_reach(reach), GROUND, None) == bare
    keep(folder, entry(seen(SeenKind.SOUNDING, 150, 2, 1.1)))
    first = terrain_key(noted_reach(reach), GROUND, None)
    assert first != bare
    keep(folder, entry(seen(SeenKind.EDGE, 150, 20.5)))
    assert terrain_key(noted_reach(reach), GROUND, None) != first


def test_a_track_is_in_the_grounds_key(folder):
    reach = read_markup(folder)
    places = np.arange(5.0)
    track = Track("a", X + places, Y + places, 1.0 + places, 30.0)
    deeper = replace(track, depth_m=2.0 + places)
    keys = {
        terrain_key(replace(reach, tracks=tracks), GROUND, None)
        for tracks in ((), (track,), (deeper,))
    }
    assert len(keys) == 3


def test_a_digest_of_the_logs_evidence_changes_with_it_alone(folder):
    assert evidence_digest(folder) == ""
    keep(folder, Entry(DAY, run="somewhere", flow=30.0, touches=3))
    keep(folder, entry(seen(SeenKind.SOUNDING, 150, 2, 1.1), flow=math.nan))
    assert evidence_digest(folder) == ""
    keep(folder, entry(seen(SeenKind.SOUNDING, 150, 2, 1.1)))
    first = evidence_digest(folder)
    keep(folder, entry(seen(SeenKind.SOUNDING, 150, 2, 1.2)))
    assert first != ""
    assert evidence_digest(folder) != first


def test_each_piece_is_told_as_used_or_with_its_reason(folder):
    keep(
        folder,
        entry(seen(SeenKind.SOUNDING, 300, 0, 1.0)),
        entry(seen(SeenKind.SOUNDING, 300, 900, 1.0)),
        entry(seen(SeenKind.SPEED, 300, 0, 1.0)),
        entry(seen(SeenKind.EDGE, 300, 20), flow=math.nan),
    )
    reach = read_markup(folder)
    noted = noted_reach(reach)
    ground = make_terrain(noted, GROUND, None)
    facts = evidence_facts(ground, noted, entries_of(reach), None)
    logged = [(one.kind, one.why) for one in facts if one.origin is Origin.LOG]
    assert logged == [
        (Kind.SOUNDING, Why.USED),
        (Kind.SOUNDING, Why.OUTSIDE),
        (Kind.SPEED, Why.NEEDS_FIT),
        (Kind.TRIP, Why.NO_FLOW),
    ]
    told = evidence_report(facts, reach)
    assert any("1 logged depth" in one for one in told["used"])
    lost = "\n".join(told["not_used"])
    assert "1 logged depth (2031-01-05): it lies outside the drawn reach" in lost
    assert "add the flow of the trip" in lost
    assert "run reachmap fit" in lost


def test_a_fit_to_these_notes_uses_the_speeds_and_one_before_them_does_not(folder):
    reach = read_markup(folder)
    ground = make_terrain(reach, GROUND, None)

    def why(count, drawn):
        found = Fitted(1.0, 1.0, {}, {}, {"speed": count}, 0.1)
        facts = evidence_facts(ground, reach, [], StoredFit(found, drawn))
        (speed,) = [one.why for one in facts if one.kind is Kind.SPEED]
        return speed, Why.DEM_WATER in {one.why for one in facts}

    assert why(1, drawn_digest(reach)) == (Why.USED, False)
    assert why(0, "older") == (Why.NEEDS_FIT, True)


def test_the_days_facts_hang_on_the_logs_evidence_and_not_on_trips(folder):
    got = SimpleNamespace(note=SimpleNamespace(files=("gauge/*",)), folder=folder, rating_key="")
    bare = facts_key(got, Options())
    keep(folder, Entry(DAY, run="somewhere", flow=30.0, touches=3))
    assert facts_key(got, Options()) == bare
    keep(folder, entry(seen(SeenKind.SOUNDING, 150, 2, 1.1)))
    assert facts_key(got, Options()) != bare


@pytest.mark.compiled
def test_a_build_is_new_once_the_log_saw_a_depth_and_its_report_says_so(folder):
    options = Options(quick=True, cell=4.0, flows=(30.0,), ensemble=False)
    bare = replace(options, log=False)
    out, other = folder / "written", folder / "bare"
    plain = build_reach(read_markup(folder), out, options)
    build_reach(read_markup(folder), other, bare)
    keep(folder, Entry(DAY, run="somewhere", flow=30.0))
    assert current_report(folder, other, bare) is not None
    deep = seen(SeenKind.SOUNDING, 300, 0, 2.5)
    keep(folder, entry(deep))
    assert current_report(folder, out, options) is None
    assert current_report(folder, other, bare) is None  # the pages leave trips out, not the bed
    again = build_reach(read_markup(folder), out, options)
    assert "ground" in again.fresh
    before, after = (one.report["flows"][0]["mean_depth_m"] for one in (plain, again))
    assert after > before
    assert any("1 logged depth" in one for one in again.report["evidence"]["used"])
    pages = [path.read_text(encoding="utf-8") for path in (out / "maps").glob("*m3s.html")]
    assert not any("2031-01-05" in page for page in pages)
