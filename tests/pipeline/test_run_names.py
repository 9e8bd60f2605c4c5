"""Names of runs live in the cache folder from build to build."""

import geopandas as gpd
import pytest
from shapely import Point

from reachmap.pipeline.run_names import FILE, keep_names, names_before
from reachmap.water.settings import WaterSettings
from tests.made import CRS, made_ground

RULES = WaterSettings()
GROUND = made_ground(length=900, half_width=25, deep=2.0)


def runs(**names):
    """Return a layer of runs: their name by number of the stretch, "s4" for 4."""
    numbers = [int(key[1:]) for key in names]
    return gpd.GeoDataFrame(
        {"stretch": numbers, "run": list(names.values())},
        geometry=[Point(0, 0)] * len(numbers),
        crs=CRS,
    )


def before(folder):
    return names_before([folder], GROUND, CRS, RULES)


def test_the_next_build_finds_the_names_of_the_last(tmp_path):
    keep_names(tmp_path / "cache", runs(s1="Alder left", s4="Bench left"), GROUND, CRS, RULES)
    assert before(tmp_path / "cache") == {1: "Alder left", 4: "Bench left"}


def test_a_stretch_that_is_no_run_today_keeps_its_name(tmp_path):
    keep_names(tmp_path, runs(s1="Alder left", s4="Bench left"), GROUND, CRS, RULES)
    keep_names(tmp_path, runs(s4="Bench left", s7="Ford left"), GROUND, CRS, RULES)
    assert before(tmp_path) == {1: "Alder left", 4: "Bench left", 7: "Ford left"}


def test_drawn_runs_have_their_name_from_the_drawing_alone(tmp_path):
    keep_names(tmp_path, runs(s0="The Bench", s4="Straight 1 left"), GROUND, CRS, RULES)
    assert before(tmp_path) == {4: "Straight 1 left"}


def test_the_first_folder_with_names_counts(tmp_path):
    keep_names(tmp_path / "other", runs(s4="Elsewhere"), GROUND, CRS, RULES)
    folders = [tmp_path / "none", tmp_path / "other"]
    assert names_before(folders, GROUND, CRS, RULES) == {4: "Elsewhere"}


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"stretches": [{"name": "a"}]}', '{"stretches": 7}',
             '{"stretches": [{"name": "a", "side": "up", "start": [0, 0], "end": [1, 1]}]}'],
)  # fmt: skip
def test_a_spoiled_file_names_nothing(tmp_path, text):
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    assert before(tmp_path) == {}
