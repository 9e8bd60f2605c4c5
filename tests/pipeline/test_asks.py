"""Where one note would help most: in water that matters, unseen, reachable, not noted yet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import Point

from reachmap.base.words import UnitSystem
from reachmap.flow import solve
from reachmap.ground import GroundSettings
from reachmap.ground.scaling import form_of
from reachmap.ground.suggest import Suggestion
from reachmap.markup import read_markup
from reachmap.markup.model import Sounding
from reachmap.pipeline.ensemble import class_sds, weigh
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.suggestions import preview_suggestions, stored_suggestions
from reachmap.pipeline.terrain import make_terrain
from reachmap.text.survey import survey_note
from reachmap.uncertainty.survey import PLACES, STAFF_M, spaced, survey_layer
from tests.markup.folders import make

pytestmark = pytest.mark.compiled

LOOK = Options(quick=True, cell=4.0)
ROUGH = class_sds(None, GroundSettings())


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    reach = read_markup(make(tmp_path_factory.mktemp("reach")))
    return reach, *_run(reach)


def _run(reach):
    settings = settings_for(reach, LOOK)
    ground = make_terrain(reach, settings.ground, None)
    flowing = solve(ground, list(settings.flows), settings.flow)
    return ground, flowing, weigh(reach, ground, flowing, settings, None), settings.ground


def cells_of(asks, ground):
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    return [
        (int(np.argmin(np.abs(y - place.y))), int(np.argmin(np.abs(x - place.x))))
        for place in asks.geometry
    ]


def test_ten_places_best_first_with_names_and_words(scene):
    reach, ground, flowing, doubt, settings = scene
    asks = survey_layer(ground, flowing, doubt, reach, settings, ROUGH)
    assert 1 <= len(asks) <= PLACES
    assert list(asks["code"]) == [f"A{rank}" for rank in range(1, len(asks) + 1)]
    assert sorted(asks["order"]) == list(range(1, len(asks) + 1))
    gains = asks.loc[asks["kind"] != "edge", "gain"].to_numpy()
    assert (np.diff(gains) <= 1e-12).all()
    assert all(0 < gain <= 1 for gain in gains)
    notes = [survey_note(row, UnitSystem.US) for row in asks.to_dict("records")]
    assert any("depth" in note for note in notes)


def test_soundings_are_asked_for_where_the_bed_is_unseen_and_a_staff_reaches_it(scene):
    reach, ground, flowing, doubt, settings = scene
    asks = survey_layer(ground, flowing, doubt, reach, settings, ROUGH)
    form = form_of(ground, settings)[0]
    low = flowing["depth"].isel(flow=0).to_numpy()
    matters = np.nan_to_num(doubt["suits_chance"].to_numpy()).sum(axis=0)
    for cell in cells_of(asks[asks["kind"] == "sounding"], ground):
        assert form[cell]
        assert 0 < low[cell] <= STAFF_M
        # it lies in, or as near as the doubt reaches to, water that may suit
        near = matters[max(cell[0] - 8, 0) : cell[0] + 9, max(cell[1] - 8, 0) : cell[1] + 9]
        assert near.max() > 0


def soundings(asks):
    return asks[asks["kind"] == "sounding"]


def test_a_place_once_sounded_is_asked_for_no_more(scene):
    reach, ground, flowing, doubt, settings = scene
    before = soundings(survey_layer(ground, flowing, doubt, reach, settings, ROUGH))
    first, (row, col) = before.iloc[0], cells_of(before.iloc[:1], ground)[0]
    deep = float(flowing["depth"].isel(flow=0).to_numpy()[row, col])
    taken = Sounding("new", Point(first.geometry), deep, float(flowing["flow"][0]), float("nan"))
    noted = replace(reach, soundings=(*reach.soundings, taken))
    after = survey_layer(*_run(noted)[:3], noted, settings, ROUGH)
    width = float(np.median(ground["line_width"].to_numpy()))
    assert soundings(after).geometry.distance(first.geometry).min() > 0.05 * width


def test_sticks_are_asked_for_while_the_roughness_is_in_doubt(scene):
    reach, ground, flowing, doubt, settings = scene
    rough = {**ROUGH, "channel": 1.0}
    asks = survey_layer(ground, flowing, doubt, reach, settings, rough)
    sticks = asks[asks["kind"] == "stick"]
    assert len(sticks)
    assert set(sticks["way"]) == {"bank"}
    assert set(sticks["flow_m3_s"]) <= set(flowing["flow"].to_numpy())
    assert sticks["cover"].isin(ROUGH).all()
    assert sticks["side"].isin(["left", "right"]).all()
    assert soundings(asks)["flow_m3_s"].isna().all()
    sure = survey_layer(ground, flowing, doubt, reach, settings, dict.fromkeys(ROUGH, 0.0))
    assert set(sure["kind"]) <= {"sounding", "edge"}


def test_without_an_ensemble_nothing_is_asked(scene):
    reach, ground, flowing, _, settings = scene
    assert survey_layer(ground, flowing, None, reach, settings, ROUGH).empty


def test_words_follow_the_folders_units(scene):
    reach, ground, flowing, doubt, settings = scene
    first = (
        soundings(survey_layer(ground, flowing, doubt, reach, settings, ROUGH)).iloc[0].to_dict()
    )
    assert " m either way" in survey_note(first, UnitSystem.METRIC)
    assert " ft either way" in survey_note(first, UnitSystem.US)


def test_a_look_needs_no_build_and_a_build_is_believed_while_it_is_current(tmp_path):
    folder = make(tmp_path / "reach")
    out = folder / "written"
    reach = read_markup(folder)
    assert stored_suggestions(folder, out) is None
    looked = preview_suggestions(reach)
    assert len(looked)
    build_reach(reach, out, replace(LOOK, flows=(20.0, 30.0)))
    built = stored_suggestions(folder, out)
    assert built is not None
    assert len(built)
    toml = folder / "reach.toml"
    toml.write_text(toml.read_text().replace("wade_limit = 0.9", "wade_limit = 0.8"))
    assert stored_suggestions(folder, out) is None


def test_the_better_of_two_places_within_a_cast_is_kept():
    def place(x, name):
        return Suggestion("sounding", x, 0.0, x, 0.0, 0.3, 0.1, side=name)

    asks = [place(0, "a"), place(20, "b"), place(50, "c"), place(99, "d")]
    kept = spaced(asks, [place(120, "edge")], 24.0)
    assert [one.side for one in kept] == ["a", "c"]
    assert [one.side for one in spaced(asks, [], 24.0)] == ["a", "c", "d"]
