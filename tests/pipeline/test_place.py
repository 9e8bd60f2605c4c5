"""Where a build goes: a narrower one never takes the place of a fuller one."""

from __future__ import annotations

import json
import os
import re
from dataclasses import replace

import pytest

from reachmap.base.errors import MarkupError
from reachmap.pipeline.place import Place, last_built, left_out, other_caches, place_for
from reachmap.pipeline.stamp import Options

FLOWS = (17.0, 25.5, 36.8)


CHOSEN_M = 2.0
"""Cells that the width of the river asks for."""


def stands(
    folder, options=None, *, ensemble=True, built="2031-01-01T00:00:00+00:00", chosen=CHOSEN_M
):
    """Write the report of a build of three flows."""
    options = options or Options()
    (folder / "maps").mkdir(parents=True, exist_ok=True)
    (folder / "maps" / "index.html").write_text("maps")
    report = {
        "options": {
            "flows": options.flows,
            "quick": options.quick,
            "cell": options.cell,
            "ensemble": options.ensemble,
        },
        "cell_m": options.cell or chosen,
        "ensemble": {"members": 12} if ensemble else None,
        "flows": [{"label": f"{flow:g}m3s", "flow_m3_s": flow} for flow in options.flows or FLOWS],
        "built_utc": built,
        "files": {},
    }
    (folder / "report.json").write_text(json.dumps(report))


NARROWER = {
    "one flow": (Options(flows=(25.5,)), "3 flows"),
    "another flow": (Options(flows=(*FLOWS[:2], 99.0)), "36.8 m³/s not here"),
    "the preview": (Options(quick=True), "the flow engine"),
    "no ensemble": (Options(ensemble=False), "how sure it is"),
    "larger cells": (Options(cell=4.0), "cells of 2 m"),
    "all of it": (Options((17.0,), 4.0, quick=True, ensemble=False), "flows .* engine .* cells"),
}


@pytest.mark.parametrize("case", NARROWER)
def test_a_narrower_build_goes_beside_the_fuller_one_and_says_why(tmp_path, case):
    options, words = NARROWER[case]
    stands(tmp_path / "written")
    place = place_for(tmp_path, None, options)
    assert place.folder == tmp_path / "written-quick"
    assert re.search(words, place.why)
    assert str(tmp_path / "written-quick") in place.why
    assert "--replace" in place.why
    assert place.why.count(". ") == 0  # one sentence


@pytest.mark.parametrize("case", NARROWER)
def test_a_folder_named_for_it_is_refused_unless_it_may_be_replaced(tmp_path, case):
    options, words = NARROWER[case]
    out = tmp_path / "elsewhere"
    stands(out)
    with pytest.raises(MarkupError, match=words):
        place_for(tmp_path, out, options)
    assert place_for(tmp_path, out, options, replace=True).folder == out
    stands(tmp_path / "written")
    assert place_for(tmp_path, None, options, replace=True).folder == tmp_path / "written"


@pytest.mark.parametrize(
    "options",
    [
        Options(),
        Options(season="summer", wind="upstream", clarity_m=0.5, log=False, long_names=True),
        Options(cell=1.0),
        Options(flows=(*FLOWS, 99.0)),
        Options(flows=(17.0 + 1e-9, *FLOWS[1:])),
    ],
)
def test_a_build_that_leaves_nothing_out_goes_to_written(tmp_path, options):
    stands(tmp_path / "written")
    assert place_for(tmp_path, None, options).folder == tmp_path / "written"
    assert place_for(tmp_path, tmp_path / "written", options).folder == tmp_path / "written"


def test_a_full_build_goes_to_written_over_finer_cells_too_and_says_so(tmp_path):
    stands(tmp_path / "written", Options(cell=1.0))
    for options in (Options(), Options(cell=2.0)):
        place = place_for(tmp_path, None, options, cell_m=2.0)
        assert place.folder == tmp_path / "written"
        assert "--cell 1" in place.why
    assert place_for(tmp_path, None, Options(), cell_m=1.0).why == ""


def test_cells_asked_for_may_not_be_larger_than_those_chosen_for_the_build_that_stands(tmp_path):
    stands(tmp_path / "written", chosen=1.0)
    place = place_for(tmp_path, None, Options(cell=2.0))
    assert place.folder == tmp_path / "written-quick"
    assert "cells of 1 m" in place.why
    for options in (Options(), Options(cell=1.0), Options(cell=0.5)):
        assert place_for(tmp_path, None, options, cell_m=options.cell or 1.0) == Place(
            tmp_path / "written"
        )


def test_a_narrower_build_on_larger_chosen_cells_names_them(tmp_path):
    stands(tmp_path / "written", Options(quick=True, cell=1.0), ensemble=True)
    assert left_out(Options(quick=True), tmp_path / "written", 2.0) == ["cells of 1 m"]
    assert left_out(Options(quick=True), tmp_path / "written", 1.0) == []
    assert left_out(Options(quick=True), tmp_path / "written") == []


@pytest.mark.parametrize("case", NARROWER)
def test_where_nothing_fuller_stands_a_narrower_build_goes_to_written(tmp_path, case):
    options, _ = NARROWER[case]
    assert place_for(tmp_path, None, options).folder == tmp_path / "written"
    stands(tmp_path / "written", options, ensemble=options.ensemble)
    assert left_out(options, tmp_path / "written") == []
    wider = replace(options, flows=None)
    assert place_for(tmp_path, None, wider).folder == tmp_path / "written"


@pytest.mark.parametrize(
    "report",
    ["", "[]", '{"options": 7}', '{"options": {"cell": "x", "quick": 3}, "flows": [7, {}, null]}'],
)
def test_a_broken_report_stops_no_build(tmp_path, report):
    (tmp_path / "written").mkdir()
    (tmp_path / "written" / "report.json").write_text(report)
    options = Options((17.0,), 4.0, quick=True, ensemble=False)
    assert place_for(tmp_path, None, options).folder == tmp_path / "written"


def test_what_was_built_last_is_looked_at(tmp_path):
    full, beside = tmp_path / "written", tmp_path / "written-quick"
    assert last_built(tmp_path, None).folder == full
    stands(full, built="2031-01-01T10:00:00+00:00")
    assert last_built(tmp_path, None).folder == full
    stands(beside, built="2031-01-01T12:00:00+00:00")
    assert last_built(tmp_path, None).folder == beside
    assert str(full) in last_built(tmp_path, None).why
    assert last_built(tmp_path, full).folder == full
    stands(full, built="2031-01-01T14:30:00+02:00")
    assert last_built(tmp_path, None).folder == full
    assert last_built(tmp_path, None).why == ""


def test_without_a_time_in_it_the_reports_own_counts(tmp_path):
    full, beside = tmp_path / "written", tmp_path / "written-quick"
    stands(full, built="long ago")
    stands(beside, built="")
    os.utime(full / "report.json", (2e9, 2e9))
    assert last_built(tmp_path, None).folder == full
    os.utime(beside / "report.json", (2.1e9, 2.1e9))
    assert last_built(tmp_path, None).folder == beside


def test_a_build_reads_the_caches_beside_it_and_not_its_own_twice(tmp_path):
    written, beside = tmp_path / "written", tmp_path / "written-quick"
    assert other_caches(tmp_path, written) == (beside / "cache",)
    assert other_caches(tmp_path, beside) == (written / "cache",)
    assert other_caches(tmp_path, tmp_path / "x") == (written / "cache", beside / "cache")
    assert other_caches(None, written) == ()
