"""Edits in a program that holds results in memory: the files are those of a build from nothing."""

from __future__ import annotations

from contextvars import Context
from dataclasses import replace

import pytest

from reachmap import angler, water
from reachmap.base.held import holding
from reachmap.markup import read_markup
from reachmap.outputs.gis import rasters
from reachmap.pipeline import solving
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.warm import keep_warm
from tests.markup.folders import make

pytestmark = [pytest.mark.compiled, pytest.mark.slow]

QUICK = Options(quick=True, cell=4.0)
TIMED = ("gis/results.gpkg", "gpx/")
"""Files that hold the time of their writing."""


def renamed(reach):
    """Return a drawing whose first run has another name."""
    one, *others = reach.runs
    return replace(reach, runs=(replace(one, name="Otherwise"), *others))


def shorter(reach):
    """Return a drawing for one who wades less deep and casts less far."""
    kit = reach.plan.kit
    person = replace(kit.angler, wade_limit_m=0.6, cast_limit_m=20.0)
    return replace(reach, plan=replace(reach.plan, kit=replace(kit, angler=person)))


OF_THE_WATER = {"tiles", "depth differences", "speed differences", "relief"}
EVERY_PART = {
    *OF_THE_WATER, "map plan", "features", "grade tiles", "grade differences", "still", "shapes",
    "written",
}  # fmt: skip
"""What the writers hold where no casts are worked out, and what of it a person's change leaves."""


def numbers(built):
    """Return the rows of runs by flow without any name."""
    rows = built.report["runs_by_flow"]
    return [{k: v for k, v in row.items() if k not in ("run", "instead")} for row in rows]


def files(built):
    """Return digests of the files of a build that should be the same each time."""
    listed = built.report["files"].items()
    return {name: digest for name, digest in listed if not name.startswith(TIMED)}


def test_an_edit_gives_the_files_of_a_build_from_nothing_and_makes_only_what_it_changes(
    tmp_path, monkeypatch
):
    calls = []

    def counted(module, name):
        work = getattr(module, name)

        def call(*args, **options):
            calls.append(name)
            return work(*args, **options)

        monkeypatch.setattr(module, name, call)

    counted(angler, "ways_back")
    counted(solving, "solve_nodes")
    counted(water, "follow_runs")
    counted(rasters, "_write_raster")
    told = read_markup(make(tmp_path / "reach"))
    with keep_warm(), holding() as held:
        built = build_reach(told, tmp_path / "warm", QUICK)
        first = files(built)
        assert set(calls) == {"solve_nodes", "follow_runs", "ways_back", "_write_raster"}
        assert set(held.last) >= {"tiles", "grade tiles", "still", "relief", "features", "map plan"}
        for edit, again, anew in (
            (renamed, [], {"features"}),
            (shorter, ["follow_runs", "ways_back"], EVERY_PART - OF_THE_WATER),
        ):
            calls.clear()
            after = build_reach(edit(told), tmp_path / "warm", QUICK)
            warm = files(after)
            assert calls == again
            assert set(held.last) == anew
            if edit is renamed:
                assert held.last == ["features"]  # pieces of water, whose cards name their run
                assert numbers(after) == numbers(built)
            cold = files(Context().run(build_reach, edit(told), tmp_path / edit.__name__, QUICK))
            assert warm == cold
            assert warm != first
