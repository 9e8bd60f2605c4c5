"""One set of numbers for rivers of different shape: it holds on each."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, foot_levels
from reachmap.flow.engine import EngineSettings, solve_engine
from reachmap.flow.notes import NoteKind, notes_of
from tests.flow.engine.made_rivers import RIVERS
from tests.flow.noted import kinds

pytestmark = [pytest.mark.slow, pytest.mark.compiled]


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("name", list(RIVERS))
def test_it_comes_to_rest(name, seed):
    ground = RIVERS[name](seed=seed)
    flows = list(ground.attrs["flows"])
    feet = foot_levels(ground, flows, FlowSettings())
    answer = solve_engine(ground, flows, feet, EngineSettings())
    assert NoteKind.NOT_AT_REST not in kinds(answer)
    assert all(note.name != "explicit" for note in notes_of(answer))
    assert float(answer["imbalance"].max()) <= 0.002
    np.testing.assert_allclose(answer["outflow"], flows, rtol=0.003)
    # more water never leaves ground dry that less water covered, but for a few cells at the edge
    wet = answer["wet"].to_numpy() == Wet.YES
    for less, more in pairwise(wet):
        assert more.sum() > less.sum()
        assert (less & ~more).sum() < 0.005 * less.sum()
