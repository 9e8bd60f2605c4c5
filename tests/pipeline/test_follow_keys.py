"""What runs are followed by: every input changes the key, and no name of a run does."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest

from reachmap.base.digests import fingerprint
from reachmap.base.words import Side
from reachmap.pipeline.following import follow_inputs
from reachmap.pipeline.neutral_names import DRAWN, FOUND, RunNames, stand_ins, without_names
from reachmap.pipeline.product_keys import product_keys
from reachmap.pipeline.settings import settings_for
from reachmap.pipeline.stamp import Options
from reachmap.water.stretches import Section, Sections
from tests.pipeline.test_what_runs_again import drawing, first, longer_rod, moved, planned

SOLVED = SimpleNamespace(
    ground_key="g",
    rungs=SimpleNamespace(keys=("f1", "f2"), labels=("10 m3s", "20 m3s")),
    ensemble=SimpleNamespace(keys=("d1",)),
)
READ = SimpleNamespace(
    labels=("10 m3s", "20 m3s"),
    keys={"10 m3s": ("w1", "a1"), "20 m3s": ("w2", "a2")},
    suggestions_key="s",
)


def changed(one, **change):
    return SimpleNamespace(**{**vars(one), **change})


def begun():
    return drawing(), settings_for(drawing(), Options(cell=4.0)), SOLVED, READ


def reach_by(change):
    return lambda reach, settings, solved, read: (change(reach), settings, solved, read)


def settings_by(**change):
    def found(reach, settings, solved, read):
        return reach, replace(settings, **{k: v(settings) for k, v in change.items()}), solved, read

    return found


def solved_by(**change):
    return lambda reach, settings, solved, read: (reach, settings, changed(solved, **change), read)


def read_by(**change):
    return lambda reach, settings, solved, read: (reach, settings, solved, changed(read, **change))


def outing(**change):
    return lambda reach: planned(outing=replace(reach.plan.outing, **change))(reach)


def labelled(labels):
    return changed(SOLVED.rungs, labels=labels)


CHANGES = {
    "another ground": (solved_by(ground_key="h"), {"ground"}),
    "another water": (solved_by(rungs=changed(SOLVED.rungs, keys=("f1", "f3"))), {"flows"}),
    "other names of flows": (solved_by(rungs=labelled(("10 m3s", "21 m3s"))), {"flows"}),
    "another ensemble": (solved_by(ensemble=SimpleNamespace(keys=("d2",))), {"confidence"}),
    "no ensemble": (settings_by(uncertainty=lambda _: None), {"confidence"}),
    "water read anew": (read_by(keys={**READ.keys, "20 m3s": ("w3", "a2")}), {"read"}),
    "wading read anew": (read_by(keys={**READ.keys, "10 m3s": ("w1", "a3")}), {"read"}),
    "a rule of the water": (
        settings_by(water=lambda s: replace(s.water, clear_m=s.water.clear_m + 1)), {"water"}),
    "a rule of the angler": (
        settings_by(angler=lambda s: replace(s.angler, clarity_m=9.0)), {"angler"}),
    "flows shown": (settings_by(flows=lambda s: s.flows[:-1]), {"shown"}),
    "how the list is cut": (
        settings_by(short_list=lambda s: replace(s.short_list, most=2)), {"list"}),
    "a longer rod": (reach_by(longer_rod), {"person"}),
    "a hazard moved": (reach_by(moved("hazards", "shape", 3.0)), {"person"}),
    "a way in moved": (reach_by(moved("access", "place", 3.0)), {"person"}),
    "a run moved": (reach_by(moved("runs", "outline", 5.0)), {"drawn"}),
    "a run gone": (reach_by(lambda reach: replace(reach, runs=reach.runs[1:])), {"drawn"}),
    "by boat": (reach_by(outing(boat=True)), {"outing"}),
    "another bank": (reach_by(outing(bank=Side.LEFT)), {"outing"}),
    "more hours": (reach_by(outing(hours=9.5)), {"outing"}),
    "a run renamed": (reach_by(first("runs", name="Elsewhere")), set()),
    "the weight of the log": (reach_by(outing(log_weight=0.7)), set()),
}  # fmt: skip
"""What is changed, how, and the inputs that tell it; each input stands here at least once."""


@pytest.mark.parametrize("what", CHANGES)
def test_a_change_is_told_by_its_input_alone(what):
    change, told = CHANGES[what]
    before, after = follow_inputs(*begun()), follow_inputs(*change(*begun()))
    apart = {name for name in before if fingerprint(before[name]) != fingerprint(after[name])}
    assert apart == told


def test_every_input_is_told_by_some_change():
    assert set(follow_inputs(*begun())) == set().union(*(told for _, told in CHANGES.values()))


ALL = {"ground", "flows", "doubt", "waters", "layers"}
OF_PRODUCT = {
    "another ground": {"ground", "waters", "layers"},
    "another water": {"flows", "doubt", "layers"},
    "other names of flows": {"flows", "waters", "layers"},
    "another ensemble": {"doubt", "layers"},
    "no ensemble": {"doubt", "layers"},
    "water read anew": {"waters", "layers"},
    "wading read anew": {"layers"},
    "a rule of the water": {"waters", "layers"},
    "a rule of the angler": {"layers"},
    "a longer rod": {"layers"},
    "a hazard moved": {"layers", "drawing"},
    "a way in moved": {"layers", "drawing"},
    "a run moved": {"layers"},
    "a run renamed": {"names"},
}


def parts_of(reach, *others):
    """Return the keys of a product whose one piece of water lies in the first run."""
    rows = pd.DataFrame({"run": [reach.runs[0].name]})
    return product_keys(reach, *others, {"water": rows, "runs": rows})


@pytest.mark.parametrize("what", OF_PRODUCT)
def test_a_change_is_told_by_the_parts_of_a_product_it_can_reach(what):
    change, _ = CHANGES[what]
    before, after = parts_of(*begun()), parts_of(*change(*begun()))
    assert {name for name in before if before[name] != after[name]} == OF_PRODUCT[what]


@pytest.mark.parametrize(
    ("change", "part"),
    [
        (reach_by(planned(locale="de_CH")), "words"),
        (reach_by(first("soundings", depth_m=1.9)), "drawing"),
        (read_by(suggestions_key="t"), "asks"),
    ],
)
def test_words_drawing_and_places_worth_a_note_are_parts_of_their_own(change, part):
    before, after = parts_of(*begun()), parts_of(*change(*begun()))
    assert {name for name in before if before[name] != after[name]} == {part}


SECTIONS = Sections((Section(0.0, 50.0, "Bend 1"), Section(50.0, 90.0, "Straight 1")))


def test_every_stretch_has_a_stand_in_that_sorts_by_its_number():
    found = stand_ins(SECTIONS)
    assert list(found) == list(range(1, 7))
    assert sorted(found.values()) == list(found.values())


def test_stand_ins_take_their_names_back():
    runs = without_names(drawing().runs)
    used = [run.name for run in runs] + [f"{FOUND}000001", f"{FOUND}000005", ""]
    names = RunNames.of(used, drawing().runs, SECTIONS, {5: "Ford right"})
    assert [names.of_run(run.name) for run in runs] == [run.name for run in drawing().runs]
    assert names.of_run(f"{FOUND}000001") == "Bend 1 left"
    assert names.of_run(f"{FOUND}000005") == "Ford right"
    assert names.of_run("") == ""
    assert names.stand_in("Ford right") == f"{FOUND}000005"
    assert all(run.name.startswith(DRAWN) for run in runs)


def test_no_name_stands_twice():
    [one, *_] = drawing().runs
    used = [f"{DRAWN}000000", f"{FOUND}000001", f"{FOUND}000002"]
    kept = {1: one.name, 2: f"{one.name} (second of the name)"}
    found = RunNames.of(used, (one,), SECTIONS, kept).names
    assert len(set(found.values())) == 3
    assert found[f"{DRAWN}000000"] == one.name
