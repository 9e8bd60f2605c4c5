"""A fit is kept beside the drawing, used, told, and taken back by deleting its file."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

from reachmap.base.crs import transform_points
from reachmap.base.errors import BuildError, Fault, MarkupError
from reachmap.base.words import COVER_CODES, Cover, SpeedHow
from reachmap.ground import GroundSettings
from reachmap.ground.cover_classes import CHANNEL
from reachmap.ground.fit import CoverFit, Fitted, gather
from reachmap.logbook.model import Entry, Seen, SeenKind
from reachmap.markup import read_markup
from reachmap.markup.found import input_files
from reachmap.pipeline.ensemble import (
    class_sds,
    cover_sds,
    ensemble_keys,
    ensemble_of,
    roughness_sd,
)
from reachmap.pipeline.fitted import StoredFit, fitted_path, fitted_words, read_fitted, write_fitted
from reachmap.pipeline.fitting import fit_reach
from reachmap.pipeline.noted import with_log
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options, current_report
from reachmap.pipeline.store import Store
from reachmap.pipeline.terrain import drawn_digest, make_terrain, terrain_key
from reachmap.text.sure import MODEL_ALONE
from tests.made import made_ground
from tests.markup.folders import make

GROWTH = {"brush": CoverFit(1.5, 0.11), "unknown": CoverFit(0.8, 0.2)}
FOUND = Fitted(1.25, 0.9, {"edge": 0.2}, {"edge": 0.1}, {"edge": 40}, 0.06, GROWTH)
OLD = """format = 1
roughness = 1.25
depth = 0.9
roughness_doubt = 0.06
drawn = "abc"
[before]
edge = 0.2
[after]
edge = 0.1
[number]
edge = 40
"""
GROUND = GroundSettings(cell=4.0)


@pytest.fixture
def folder(tmp_path):
    return make(tmp_path / "reach")


def test_what_is_kept_reads_back(folder):
    kept = StoredFit(FOUND, "abc")
    path = write_fitted(folder, kept)
    assert read_fitted(folder) == kept
    assert path in input_files(folder)
    assert not [one for one in folder.iterdir() if one.name.startswith(".")]


def test_no_file_is_no_fit(folder):
    assert read_fitted(folder) is None
    assert read_fitted(None) is None


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("roughness = 1.2500", "roughness = 12.5"),
        ("roughness = 1.2500", "roughness = nan"),
        ("format = 2", "format = 9"),
        ("brush = {", "moss = {"),
        ("roughness = 1.5000", "roughness = 15.0"),
        ("doubt = 0.1100", "doubt = nan"),
        ("doubt = 0.1100", "sure = 0.11"),
        ("[covers]", "[growth]"),
        ("unknown = {", "unknown = 3 #"),
        ("[number]", "[other]"),
        ("depth = 0.9000", "depth = "),
    ],
)
def test_a_spoilt_file_is_told_with_its_mend(folder, old, new):
    path = write_fitted(folder, StoredFit(FOUND, "abc"))
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(MarkupError, match=r"fitted\.toml.*run `reachmap fit` again"):
        read_fitted(folder)


def test_a_fit_moves_roughness_and_says_so_and_the_drawing_stays(folder):
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    reach = read_markup(folder)
    plain = make_terrain(reach, GROUND, None)
    kept = StoredFit(FOUND, drawn_digest(reach))
    write_fitted(folder, kept)
    moved = make_terrain(reach, GROUND, read_fitted(folder))
    ratio = (moved["roughness"] / plain["roughness"]).to_numpy()
    cover = plain["cover"].to_numpy()
    for code, factor in ((CHANNEL, 1.25), (COVER_CODES[Cover.BRUSH], 1.5), (0, 0.8)):
        here = ratio[(cover == code) & np.isfinite(ratio)]
        assert here.size
        assert here == pytest.approx(np.full(here.size, factor))
    others = ratio[np.isin(cover, [CHANNEL, COVER_CODES[Cover.BRUSH], 0], invert=True)]
    assert others[np.isfinite(others)] == pytest.approx(1.0)
    assert "channel was taken 25 % larger, that of brush 50 % larger" in moved.attrs["notes"]
    assert "changed since" not in moved.attrs["notes"]
    assert terrain_key(reach, GROUND, kept) != terrain_key(reach, GROUND, None)
    other = replace(kept, found=replace(FOUND, covers={"brush": CoverFit(1.6, 0.11)}))
    assert terrain_key(reach, GROUND, kept) != terrain_key(reach, GROUND, other)
    after = {name: (folder / name).read_bytes() for name in before}
    assert after == before


def test_a_file_of_one_factor_moves_all_roughness_as_it_did(folder):
    fitted_path(folder).write_text(OLD, encoding="utf-8")
    reach = read_markup(folder)
    kept = read_fitted(folder)
    plain, moved = make_terrain(reach, GROUND, None), make_terrain(reach, GROUND, kept)
    assert moved["roughness"].to_numpy() == pytest.approx(
        1.25 * plain["roughness"].to_numpy(), nan_ok=True
    )
    usual = GROUND.spread.cover_doubt
    assert set(cover_sds(kept, GROUND).values()) == {usual}
    assert roughness_sd(kept, GROUND) == 0.06


def test_the_ensemble_takes_what_a_fit_left_of_each_classs_doubt(folder):
    kept = StoredFit(FOUND, "abc")
    assert cover_sds(kept, GROUND) == {"brush": 0.11, "unknown": 0.2}
    found = class_sds(kept, GROUND)
    assert (found["channel"], found["brush"]) == (0.06, 0.11)
    assert found["grass"] == GROUND.spread.cover_doubt
    settings = settings_for(read_markup(folder), Options(quick=True))
    wider = StoredFit(replace(FOUND, covers={"brush": CoverFit(1.5, 0.2)}), "abc")
    seen = SimpleNamespace(key="ground")
    keys = [ensemble_keys(["a"], seen, read_markup(folder), settings, one) for one in (kept, wider)]
    assert keys[0] != keys[1]


def test_a_drawing_changed_since_is_told():
    words = fitted_words(StoredFit(FOUND, "old"), "new")
    assert any("changed since" in sentence for sentence in words)
    assert not any(
        "changed since" in sentence for sentence in fitted_words(StoredFit(FOUND, "a"), "a")
    )


def logged(*seen, flow=30.0):
    return [Entry(datetime(2031, 1, 5, 9, tzinfo=UTC), flow=flow, seen=seen)]


def somewhere(reach, far=300.0):
    place = reach.main.line.interpolate(far)
    x, y = transform_points(np.array([place.x]), np.array([place.y]), reach.crs, "EPSG:4326")
    return float(x[0]), float(y[0]), place


def test_what_the_log_saw_becomes_notes_and_nothing_else(folder):
    reach = read_markup(folder)
    x, y, place = somewhere(reach)
    entries = logged(
        Seen(SeenKind.EDGE, x, y),
        Seen(SeenKind.SOUNDING, x, y, 0.8),
        Seen(SeenKind.SPEED, x, y, 1.1),
    )
    noted = with_log(reach, entries)
    assert len(noted.edges) == len(reach.edges) + 1
    assert noted.edges[-1].shape.distance(place) < 0.01
    assert (noted.soundings[-1].depth_m, noted.soundings[-1].flow) == (0.8, 30.0)
    assert noted.speeds[-1].how is SpeedHow.SURFACE
    assert noted.banks == reach.banks


def test_a_trip_without_a_flow_tells_nothing(folder):
    reach = read_markup(folder)
    x, y, _ = somewhere(reach)
    entries = logged(Seen(SeenKind.SOUNDING, x, y, 0.8), flow=math.nan)
    assert with_log(reach, entries) is reach


@pytest.mark.compiled
def test_a_logged_edge_and_depth_take_part_in_the_fit(folder):
    reach = read_markup(folder)
    x, y, _ = somewhere(reach)
    bare = fit_reach(reach, [], GROUND).found
    entries = logged(Seen(SeenKind.SOUNDING, x, y, 1.0), Seen(SeenKind.SPEED, x, y, 1.0))
    more = fit_reach(reach, entries, GROUND).found
    assert more.number["depth"] == bare.number.get("depth", 0) + 1
    assert more.number["speed"] == bare.number.get("speed", 0) + 1
    assert gather(
        make_terrain(reach, GROUND, None), with_log(reach, entries), GROUND.fitting
    ).value.size


@pytest.mark.compiled
def test_a_build_uses_the_fit_tells_of_it_and_forgets_it_with_the_file(folder):
    options = Options(quick=True, cell=4.0, flows=(30.0,))
    out = folder / "written"
    plain = build_reach(read_markup(folder), out, options)
    assert plain.report["fitted"] is None
    write_fitted(folder, StoredFit(FOUND, drawn_digest(read_markup(folder))))
    assert current_report(folder, out, options) is None
    moved = build_reach(read_markup(folder), out, options)
    assert moved.report["fitted"]["roughness"] == 1.25
    assert any("fitted.toml" in sentence for sentence in moved.report["warnings"])
    depth = [one.report["flows"][0]["mean_speed_m_s"] for one in (plain, moved)]
    assert depth[1] < depth[0]  # rougher water runs slower
    fitted_path(folder).unlink()
    back = build_reach(read_markup(folder), out, options)
    assert back.report["flows"] == plain.report["flows"]


@pytest.mark.compiled
def test_no_ensemble_says_so_and_leaves_the_doubt_out(folder):
    options = Options(quick=True, cell=4.0, flows=(30.0,), ensemble=False)
    built = build_reach(read_markup(folder), folder / "written", options)
    assert built.report["ensemble"] is None
    (said,) = [one for one in built.report["warnings"] if "--no-ensemble" in one]
    assert MODEL_ALONE in said
    assert not [stage for stage in built.fresh if stage.startswith("doubt")]


def test_an_ensemble_that_cannot_be_run_says_what_the_odds_then_hold(folder, monkeypatch):
    def refused(*_):
        raise BuildError([Fault("the ensemble", "only 3 of 12 grounds could be run", "")])

    monkeypatch.setattr("reachmap.pipeline.ensemble.weigh", refused)
    reach = read_markup(folder)
    flows = xr.Dataset(coords={"flow": [30.0]}), ["a key of its own"]
    settings = settings_for(reach, Options(quick=True, cell=4.0, flows=(30.0,)))
    found = ensemble_of(
        reach, made_ground(length=200), flows, settings, Store(folder / "none"), None
    )
    assert found.uncertainty is None
    assert found.notes == ("the ensemble: only 3 of 12 grounds could be run.", MODEL_ALONE)
