"""Cells chosen by the river's width: in the build, in its report, and when nothing has changed."""

from __future__ import annotations

import json
from contextlib import contextmanager

import pytest

from reachmap.ground.cell_size import CellReason, drawn_cell
from reachmap.markup import read_markup
from reachmap.pipeline.folder import build_folder
from reachmap.pipeline.place import known_cell
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options, stored_options
from tests.markup.folders import make

LEFT_OUT = Options(flows=(30.0,), quick=True, ensemble=False)


def built(folder, options, *, may_work=True):
    """Build the folder; `may_work`: whether there may be anything to do."""

    @contextmanager
    def progress():
        assert may_work
        yield lambda *_: None

    return build_folder(folder, None, options, replace=False, progress=progress)


def test_the_choice_is_made_from_the_drawing_and_only_where_none_is_asked_for(tmp_path):
    reach = read_markup(make(tmp_path))
    choice = drawn_cell(reach)
    told = settings_for(reach, Options())
    assert told.cell_choice == choice
    assert told.ground.cell == choice.cell_m
    told = settings_for(reach, Options(cell=0.5))
    assert told.cell_choice is None
    assert told.ground.cell == 0.5


@pytest.mark.slow
def test_a_build_says_what_was_chosen_and_is_known_again(tmp_path):
    folder = make(tmp_path)
    choice = drawn_cell(read_markup(folder))
    assert known_cell(LEFT_OUT, folder, None) is None  # nothing stands: the drawing must be read
    first = built(folder, LEFT_OUT)
    report = json.loads((first.place.folder / "report.json").read_text())
    assert report["cell_m"] == report["cell"]["side_m"] == choice.cell_m
    assert report["cell"]["reason"] == str(choice.reason)
    assert report["cell"]["river_width_m"] == pytest.approx(choice.width_m, abs=1e-3)
    assert report["cell"]["words"] in report["made_from"]
    assert stored_options(first.place.folder) == LEFT_OUT  # what was asked, not what was chosen
    assert known_cell(LEFT_OUT, folder, None) == choice.cell_m
    assert not built(folder, LEFT_OUT, may_work=False).fresh
    named = Options(flows=(30.0,), quick=True, ensemble=False, cell=choice.cell_m)
    again = built(folder, named)
    assert again.fresh
    assert again.report["cell"]["reason"] == CellReason.ASKED
