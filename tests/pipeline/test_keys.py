"""Keys tell apart what differs and nothing else."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from reachmap.base.digests import fingerprint
from reachmap.base.words import Part, Season
from reachmap.ground import GroundSettings
from reachmap.markup import read_markup
from reachmap.markup.model import LieLimits, River
from reachmap.pipeline.reading import reading_tasks
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.terrain import drawn_digest, terrain_key
from tests.made import made_flows, made_ground
from tests.markup.folders import make

LINE = River("a", Part.MAIN, LineString([(0, 0), (10, 1)]))


def test_equal_values_have_equal_keys():
    assert fingerprint(LINE, (1.0, "x")) == fingerprint(replace(LINE), (1.0, "x"))


@pytest.mark.parametrize(
    "other",
    [
        replace(LINE, name="b"),
        replace(LINE, part=Part.SIDE),
        replace(LINE, line=LineString([(0, 0), (10, 1.0000001)])),
    ],
)
def test_any_part_that_differs_changes_the_key(other):
    assert fingerprint(LINE) != fingerprint(other)


@given(st.lists(st.text(max_size=4), max_size=4), st.lists(st.text(max_size=4), max_size=4))
def test_neighbours_never_run_together(first, second):
    same = first == second
    assert (fingerprint(first) == fingerprint(second)) is same
    assert (fingerprint(tuple(first), 1) == fingerprint(tuple(second), 1)) is same


def test_arrays_count_with_their_shape():
    flat = np.arange(4.0)
    assert fingerprint(flat) != fingerprint(flat.reshape(2, 2))
    assert fingerprint(flat) != fingerprint(flat.astype(np.float32))
    assert fingerprint(np.array([np.nan])) == fingerprint(np.array([np.nan]))


def test_what_has_no_plain_bytes_is_refused():
    with pytest.raises(TypeError, match="no fingerprint"):
        fingerprint(object())


def test_geometry_of_other_kinds_differs():
    assert fingerprint(Point(0, 0)) != fingerprint(LineString([(0, 0), (0, 0.1)]))


def test_what_the_bed_is_made_of_makes_another_ground(tmp_path):
    reach = read_markup(make(tmp_path))
    digests = {
        drawn_digest(replace(reach, plan=replace(reach.plan, bed=bed, stones_m=size)))
        for bed, size in (("", math.nan), ("cobble", math.nan), ("gravel", math.nan), ("", 0.07))
    }
    assert len(digests) == 4


def test_evidence_declared_right_makes_another_ground_of_the_same_drawing(tmp_path):
    reach = read_markup(make(tmp_path))
    trusting = replace(reach, plan=replace(reach.plan, accepted=("decks",)))
    rules = GroundSettings()
    assert terrain_key(reach, rules, None) != terrain_key(trusting, rules, None)
    assert drawn_digest(reach) == drawn_digest(trusting)  # a fit stays that of the drawing


def water_keys(reach):
    """Return the keys of water and angler at one flow of a reach that is stored already."""
    ground = made_ground(length=200, half_width=10)
    flow = made_flows(ground, {20.0: -0.3})
    rungs = SimpleNamespace(flow=flow, keys=["flow"])
    store = SimpleNamespace(stored_layers=lambda *_: {}, stored_dataset=lambda *_: flow)
    settings = settings_for(reach, Options())
    [task] = reading_tasks(
        reach, ground, rungs, settings, store, numbers=[0], then=None, uncertainty=None
    )
    return task.water_key, task.angler_key


def test_a_holding_place_more_is_another_reading_of_the_same_ground(tmp_path):
    reach = read_markup(make(tmp_path))
    assert reach.structure
    other = replace(reach, structure=())
    moved = replace(reach, structure=(replace(reach.structure[0], flow=50.0),))
    assert len({water_keys(one)[0] for one in (reach, other, moved)}) == 3
    assert drawn_digest(reach) == drawn_digest(other)
    # the person's own things count at the angler's stage alone
    assert water_keys(replace(reach, hazards=()))[0] == water_keys(reach)[0]


def test_the_seasons_lies_reach_the_reading(tmp_path):
    reach = read_markup(make(tmp_path))
    own = LieLimits(Season.WINTER, 0.9, 2.0, 0.3)
    plan = replace(reach.plan, lies=(own,))
    assert settings_for(replace(reach, plan=plan), Options()).water.lies.limits == own
    assert water_keys(replace(reach, plan=plan))[0] != water_keys(reach)[0]
