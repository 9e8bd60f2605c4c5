"""Keys tell apart what differs and nothing else."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from reachmap.base.words import Part
from reachmap.ground import GroundSettings
from reachmap.markup import read_markup
from reachmap.markup.model import River
from reachmap.pipeline.keys import fingerprint
from reachmap.pipeline.terrain import drawn_digest, terrain_key
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
