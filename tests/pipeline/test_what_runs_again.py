"""After a change of the drawing or of reach.toml: which stages run again, and which may not."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from shapely.affinity import translate

from reachmap import flow, water
from reachmap.angler import assess_flow
from reachmap.angler.view import ground_view
from reachmap.base.fields import with_labels
from reachmap.base.packed import packed_fields
from reachmap.base.words import Cover, UnitSystem
from reachmap.flow import FlowSettings
from reachmap.markup import read_markup
from reachmap.markup.config.own_numbers import tunables
from reachmap.markup.model import Markup
from reachmap.pipeline.ensemble import ensemble_keys
from reachmap.pipeline.reading import reading_tasks
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.solving import flow_key
from reachmap.pipeline.stage_ground import (
    FIELDS,
    LINE,
    OF_THE_FORM,
    READ_THE_FORM,
    StageGround,
    of_the_person,
)
from reachmap.pipeline.stamp import Options
from reachmap.pipeline.terrain import make_terrain, terrain_key
from reachmap.water import WaterSettings, bends_of
from tests.made import made_ground
from tests.markup.folders import make

CELL = 4.0
STAGES = ("ground", "flow", "doubt", "water", "angler")


@cache
def drawing() -> Markup:
    """Return the invented reach, read once; nothing of it is opened again."""
    with TemporaryDirectory() as folder:
        return replace(read_markup(make(Path(folder))), folder=None, dems=(), digests={})


def keys_of(reach: Markup, options: Options = Options(cell=CELL)) -> dict[str, str]:  # noqa: B008
    """Return the key of every stage of a drawing, the ground made, no water solved."""
    settings = settings_for(reach, options)
    ground = make_terrain(reach, settings.ground, None)
    flow_keys = [flow_key(StageGround.of("flow", ground), settings.flow, 20.0)]
    doubts = ensemble_keys(flow_keys, StageGround.of("doubt", ground), reach, settings, None)
    one = xr.Dataset(coords={"flow": [20.0], "asked": ("flow", ["20 m3s"])}, attrs={"notes": ""})
    [task] = reading_tasks(
        reach,
        ground,
        SimpleNamespace(flow=one, keys=flow_keys),
        settings,
        SimpleNamespace(stored_layers=lambda *_: {}, stored_dataset=lambda *_: one),
        numbers=[0],
        then=None,
        uncertainty=SimpleNamespace(key=lambda _: doubts[0]),
    )
    key = terrain_key(reach, settings.ground, None)
    keys = (key, flow_keys[0], *doubts, task.water_key, task.angler_key)
    return dict(zip(STAGES, keys, strict=True))


def first(part: str, **change):
    """Return a change of the first item of a part of the drawing."""

    def changed(reach: Markup) -> Markup:
        one, *others = getattr(reach, part)
        return replace(reach, **{part: (replace(one, **change), *others)})

    return changed


def moved(name: str, shape: str, by: float):
    """Return a change that moves the first item of a part of the drawing."""

    def changed(reach: Markup) -> Markup:
        one, *others = getattr(reach, name)
        put = translate(getattr(one, shape), by, by)
        return replace(reach, **{name: (replace(one, **{shape: put}), *others)})

    return changed


def planned(**change):
    """Return a change of reach.toml."""
    return lambda reach: replace(reach, plan=replace(reach.plan, **change))


def person(**change):
    """Return a change of the person."""

    def changed(reach: Markup) -> Markup:
        kit = reach.plan.kit
        kit = replace(kit, angler=replace(kit.angler, **change))
        return replace(reach, plan=replace(reach.plan, kit=kit))

    return changed


def longer_rod(reach: Markup) -> Markup:
    kit = reach.plan.kit
    rod = replace(kit.rods[0], length_m=kit.rods[0].length_m + 0.3)
    return replace(reach, plan=replace(reach.plan, kit=replace(kit, rods=(rod, *kit.rods[1:]))))


def tighter_season(reach: Markup) -> Markup:
    season = replace(reach.plan.season, depth_high_m=1.6)
    return replace(reach, plan=replace(reach.plan, season=season))


def bank(**change):
    """Return a change of the bank of trees."""

    def changed(reach: Markup) -> Markup:
        at = next(k for k, one in enumerate(reach.banks) if one.cover is Cover.TREES)
        banks = list(reach.banks)
        banks[at] = replace(banks[at], **change)
        return replace(reach, banks=tuple(banks))

    return changed


def own(name: str, factor: float):
    """Return a change of one of the angler's own numbers."""

    def changed(reach: Markup) -> Markup:
        usual = tunables()[name].default
        plan = reach.plan
        told = {**plan.own.numbers, name: usual * factor}
        return replace(reach, plan=replace(plan, own=replace(plan.own, numbers=told)))

    return changed


def timed_stick(reach: Markup) -> Markup:
    return replace(reach, speeds=(*reach.speeds, replace(reach.speeds[0], speed_m_s=2.0)))


def another_tree(reach: Markup) -> Markup:
    there = moved("trees", "place", 12.0)(reach).trees
    return replace(reach, trees=(*reach.trees, *there))


RASTERS = ("bed", "cover", "roughness", "confidence", "surface", "station", "offset")
ALL = frozenset(STAGES)
READINGS = frozenset({"water", "angler"})
TABLE = {
    "a run renamed": (first("runs", name="Another name"), ()),
    "a run moved": (moved("runs", "outline", 5.0), ()),
    "the reach renamed": (planned(name="Elsewhere"), ()),
    "one flow more to map": (planned(flows=(20.0, 25.0, 30.0, 45.0)), ()),
    "a stick timed, before a fit": (timed_stick, ()),
    "a longer rod": (longer_rod, {"angler"}),
    "a taller person": (person(height_m=2.0), {"angler"}),
    "a lower wading limit": (person(wade_limit_m=0.6), {"angler"}),
    "a shorter longest cast": (person(cast_limit_m=18.0), {"angler"}),
    "a hazard moved": (moved("hazards", "shape", 3.0), {"angler"}),
    "a hazard gone": (lambda reach: replace(reach, hazards=()), {"angler"}),
    "a way in moved": (moved("access", "place", 3.0), {"angler"}),
    "a tree grown": (first("trees", height_m=25.0), {"ground", "angler"}),
    "cover grown": (bank(cover_height_m=22.0), {"ground", "angler"}),
    "a tree moved": (moved("trees", "place", 40.0), ALL),
    "a tree more": (another_tree, ALL),
    "a rock moved": (moved("rocks", "place", 4.0), ALL),
    "other cover": (bank(cover=Cover.GRASS), ALL),
    "a holding place gone": (lambda reach: replace(reach, structure=()), READINGS),
    "the season's limits": (tighter_season, READINGS | {"doubt"}),
    "a sounding changed": (first("soundings", depth_m=1.9), ALL),
    "the traced flow": (planned(traced_flow=24.0), ALL),
    "the fall of the river": (planned(slope=0.003), ALL),
}  # fmt: skip
"""What is changed, how, and every stage that must run again; no other may."""


@cache
def before() -> dict[str, str]:
    return keys_of(drawing())


@pytest.mark.parametrize("what", TABLE)
def test_a_change_runs_those_stages_again_that_it_can_reach_and_no_other(what):
    change, again = TABLE[what]
    after = keys_of(change(drawing()))
    assert {stage for stage in STAGES if after[stage] != before()[stage]} == set(again)


@pytest.mark.parametrize(
    ("options", "again"),
    [
        (Options(cell=CELL, wind="upstream"), {"angler"}),
        (Options(cell=CELL, clarity_m=0.4), {"doubt", "water", "angler"}),
        (Options(cell=CELL, season="summer"), {"doubt", "water", "angler"}),
        (Options(cell=CELL, quick=True), {"flow", "doubt", "water", "angler"}),
        (Options(cell=2.0), set(STAGES)),
        (Options(cell=CELL, long_names=True, site=True, log=False), set()),
    ],
)
def test_an_option_runs_those_stages_again_that_it_can_reach_and_no_other(options, again):
    after = keys_of(drawing(), options)
    assert {stage for stage in STAGES if after[stage] != before()[stage]} == again


GROUND = made_ground(length=200, half_width=10)
ATTRS = {"low_line_station": np.array([0.0, 9.0]), "low_line_level": np.array([1.0, 0.9])}
FULL = GROUND.assign_attrs(notes="a", evidence="b", bed_doubt=1.0, bed_doubt_sounded=1.0, **ATTRS)


@pytest.mark.parametrize("field", [*RASTERS, *LINE])
@pytest.mark.parametrize("stage", FIELDS)
def test_one_cell_of_what_a_stage_sees_changes_its_key_and_of_nothing_else(stage, field):
    values = FULL[field].to_numpy().copy()
    at = np.flatnonzero(np.isfinite(values.ravel()))[0]
    values.ravel()[at] += 1
    other = FULL.assign({field: (FULL[field].dims, values)})
    seen = field in {*FIELDS[stage], *LINE}
    assert (StageGround.of(stage, other).key != StageGround.of(stage, FULL).key) is seen


@pytest.mark.parametrize("stage", FIELDS)
def test_every_attribute_that_is_no_sentence_changes_the_key(stage):
    usual = StageGround.of(stage, FULL)
    for name in FULL.attrs:
        value = "x" if isinstance(FULL.attrs[name], str) else np.asarray(FULL.attrs[name]) + 0.5
        other = StageGround.of(stage, FULL.assign_attrs({name: value}))
        sentence = name in ("notes", "ground_notes", "evidence")
        apart = sentence or (stage not in READ_THE_FORM and name in OF_THE_FORM)
        assert (other.key == usual.key) is apart, name
        assert (name in usual.ground.attrs) is not apart


def test_the_grades_see_how_the_bed_was_made_up_and_where_the_level_falls():
    full = FULL.assign_attrs(bed_doubt=1.7)
    seen = ground_view(StageGround.of("angler", full).ground)
    assert seen.bed_doubt == 1.7
    np.testing.assert_array_equal(seen.low_line, tuple(ATTRS.values()))


def test_packed_and_dense_grounds_have_one_key():
    packed = FULL.assign(packed_fields([FULL[["bed", "cover"]]]))
    assert StageGround.of("water", packed).key == StageGround.of("water", FULL).key


def test_stages_make_the_same_of_what_they_see_as_of_the_whole_ground():
    whole, rules = made_ground(length=320, slope=0.0006), FlowSettings(method="profile")
    solved = flow.solve(whole, [20.0], rules)
    seen = {stage: StageGround.of(stage, whole).ground for stage in FIELDS}
    xr.testing.assert_identical(flow.solve(seen["flow"], [20.0], rules), solved)
    solved = with_labels(solved, UnitSystem.METRIC)
    read = [
        water.read_water(one, solved, WaterSettings(), bends=bends_of(one, WaterSettings().bends))
        for one in (whole, seen["water"])
    ]
    for name, layer in read[0].layers.items():
        assert layer.equals(read[1].layers[name])
    reach = drawing()
    settings = settings_for(reach, Options(cell=CELL)).angler
    pieces = read[0].layers["water"]
    stood = [
        assess_flow(one, solved, pieces, who, settings).layers
        for one, who in ((whole, reach), (seen["angler"], of_the_person(reach)))
    ]
    for name, layer in stood[0].items():
        assert layer.equals(stood[1][name])
