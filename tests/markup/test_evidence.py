"""The drawing's evidence against itself, what the angler declares right, and a metric kit."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from reachmap.base.errors import DISAGREES, Fault, MarkupError
from reachmap.base.words import UnitSystem
from reachmap.markup import read_markup
from reachmap.markup.config import read_plan
from reachmap.markup.config.render import template
from reachmap.markup.evidence import (
    ACCEPTED,
    TOPICS,
    UNLIKELY,
    Finding,
    Weight,
    of_evidence,
    settle,
    warnings_first,
)
from reachmap.markup.evidence_settings import EvidenceSettings
from reachmap.markup.starter import write_new
from reachmap.web.editor.reach_facts import facts_in, invented_in, with_facts
from tests.markup.folders import TOML, at, make, rows, with_line, write_dem

FOOT = 0.3048
SAMPLE = Path(__file__).parents[2] / "data_samples" / "madeup_river"


def assumed(folder: Path) -> list[str]:
    return of_evidence(read_markup(folder).assumed)


def faults_of(folder: Path) -> list[Fault]:
    with pytest.raises(MarkupError) as caught:
        read_markup(folder)
    return list(caught.value.faults)


def kit_faults(toml: str) -> list[Fault]:
    return list(read_plan(toml).faults)


# what a finding does


def finding(weight: Weight) -> Finding:
    return Finding("edges", weight, Fault("here", f"{weight} found", "mend it"))


def test_findings_stop_warn_or_stand_as_notes_warnings_first():
    settled = settle([finding(one) for one in (Weight.NOTE, Weight.STOP, Weight.WARNING)], ())
    assert [one.found for one in settled.faults] == ["stop found"]
    assert settled.faults[0].fix.endswith('say so in reach.toml: [evidence] accept = ["edges"]')
    warning, note = settled.sentences
    assert warning.startswith(f"{DISAGREES}here: warning found. mend it")
    assert note == f"{UNLIKELY}here: note found. mend it."


def test_accepted_evidence_neither_stops_nor_warns_but_is_not_silent():
    settled = settle([finding(Weight.STOP), finding(Weight.WARNING)], ("edges",))
    assert not settled.faults
    assert all(one.startswith(f"{ACCEPTED} (edges): here:") for one in settled.sentences)
    assert settle([finding(Weight.STOP)], ("soundings",)).faults


def test_warnings_come_before_all_else_and_the_rest_keeps_its_order():
    assert warnings_first(["b", f"{DISAGREES}x", "a"]) == [f"{DISAGREES}x", "b", "a"]


def test_what_is_declared_right_is_read_and_a_slip_in_it_is_a_fault():
    assert read_plan(f'{TOML}\n[evidence]\naccept = ["soundings", "DEM"]\n').plan.accepted == (
        "soundings",
        "dem",
    )
    (fault,) = kit_faults(f'{TOML}\n[evidence]\naccept = "sounding"\n')
    assert "'sounding' is not a kind of evidence" in fault.found
    assert "'soundings'" in fault.fix
    assert set(TOPICS) >= {"soundings", "edges", "traced_flow", "dem", "decks", "side_channels"}


@pytest.mark.parametrize(
    ("ratio", "unit"),
    [(3.28, "feet"), (2.4, "feet"), (4.6, "feet"), (0.305, "metres"), (0.22, "metres"),
     (2.0, ""), (5.0, ""), (1.0, ""), (0.5, ""), (float("nan"), ""), (0.0, ""), (-3.0, "")],
)  # fmt: skip
def test_a_foots_ratio_is_known(ratio, unit):
    assert EvidenceSettings().unit_slip(ratio) == unit


# slope, fall, unit of the DEM


def test_an_honest_folder_and_the_sample_give_no_message(tmp_path):
    assert assumed(make(tmp_path / "reach")) == []
    assert assumed(SAMPLE) == []


@pytest.mark.parametrize(
    ("slope", "words"),
    [("0.00001", "deeper than rivers one wades"), ("0.045", "Froude number 1.")],
)
def test_a_slope_that_fits_no_such_river_is_reported(slope, words, tmp_path):
    toml = with_line(TOML, "slope = 0.002", f"slope = {slope}")
    toml = with_line(toml, "traced_flow = 30", "traced_flow = 60")
    folder = make(tmp_path, toml=toml, dem=False, made={**rows(), "levels": []})
    (text,) = assumed(folder)
    assert text.startswith(f"{DISAGREES}reach.toml, [river]: slope or fall give {float(slope):.2g}")
    assert words in text
    assert "60 m3/s in a river 60 m wide" in text


def test_a_dem_that_falls_like_a_cascade_is_reported(tmp_path):
    toml = with_line(TOML, "slope = 0.002", "")
    bare = {**rows(), "levels": [], "soundings": []}
    folder = make(tmp_path, toml=toml, dem=False, made=bare)
    write_dem(folder / "dem.tif", slope=0.2)
    text = next(one for one in assumed(folder) if "cascades" in one)
    assert "DEM: its fall along the river is 0.2: 30 m3/s in a river 60 m wide" in text


def levelled(fall: float) -> dict:
    """Return rows with three levels at one flow, falling `fall` m along the river."""
    made = rows()
    made["levels"] = [
        {"geometry": at(x, 0), "level": 98 - fall * x / 600, "flow": 25.0} for x in (20, 300, 580)
    ]
    return made


def test_a_dem_that_falls_in_feet_against_levels_stops(tmp_path):
    toml = with_line(TOML, "slope = 0.002", "")
    folder = make(tmp_path, toml=toml, dem=False, made=levelled(1.0))
    write_dem(folder / "dem.tif", slope=3.2 / 600)
    fault = next(one for one in faults_of(folder) if "levels noted" in one.found)
    assert "it falls 3.2 m, the levels noted at one flow fall 1.0 m: 3.2 times" in fault.found
    assert "heights are in feet" in fault.fix


def test_a_dem_declared_right_does_not_stop_against_levels(tmp_path):
    toml = with_line(TOML, "slope = 0.002", "") + '\n[evidence]\naccept = ["dem"]\n'
    folder = make(tmp_path, toml=toml, dem=False, made=levelled(1.0))
    write_dem(folder / "dem.tif", slope=3.2 / 600)
    assert any(one.startswith(f"{ACCEPTED} (dem)") for one in assumed(folder))


def test_a_fall_declared_right_is_no_fault(tmp_path):
    toml = f'{TOML}\n[evidence]\naccept = ["dem"]\n'
    bare = {**rows(), "levels": [], "soundings": []}
    for name, text in (("said", toml), ("unsaid", TOML)):
        folder = make(tmp_path / name, toml=text, dem=False, made=bare)
        write_dem(folder / "dem.tif", slope=0.0066)
        if name == "said":
            read_markup(folder)
        else:
            assert any("it falls 4.0 m" in one.found for one in faults_of(folder))


def test_banks_that_rise_about_a_foots_ratio_are_reported(tmp_path):
    for rise, told in ((2.0, []), (1.2, ["1.2 m as drawn: 2.5 times"])):
        made = rows()
        for bank in made["banks"]:
            bank["rise"] = rise
        found = [one for one in assumed(make(tmp_path / str(rise), made=made)) if "rise" in one]
        assert len(found) == len(told)
        assert all(words in one for words, one in zip(told, found, strict=True))


def test_a_gauges_zero_at_the_rivers_height_in_the_other_unit_is_reported(tmp_path):
    toml = with_line(TOML, "slope = 0.002", "") + "\n[gauge]\nzero = 3\n"
    for height, count in ((9.8, 1), (6.0, 0)):
        bare = {**rows(), "levels": [], "soundings": []}
        folder = make(tmp_path / str(height), toml=toml, dem=False, made=bare)
        write_dem(folder / "dem.tif", factor=1.0, base=height)
        found = [one for one in assumed(folder) if "gauge's zero" in one]
        assert len(found) == count
        assert all("at 3.0 m: 3." in one and "heights are in feet" in one for one in found)


# the kit of a metric folder


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("length = 7.3", "length = 24", "24 is 24 m here, longer than any skagit head"),
        ("length = 7.3", "length = 18", "18 is 18 m here, longer than any skagit head"),
        ("length = 3", "length = 10", "10 is 10 m here, longer than any tip"),
        ("length = 3", "length = 7.5", "7.5 is 7.5 m here, longer than any tip"),
        ('length = "13 ft"', "length = 6.2", "6.2 is 6.2 m here, longer than any rod"),
        ('length = "13 ft"', "length = 13", "13"),
    ],
)
def test_plain_numbers_of_a_metric_kit_that_were_feet_are_questioned(old, new, found):
    faults = kit_faults(with_line(TOML, old, new))
    assert len(faults) == 1
    assert found in faults[0].found
    plain = new.split("= ")[1]
    assert f'"{plain} ft"' in faults[0].fix


@pytest.mark.parametrize("new", ['length = "24 ft"', 'length = "20.5 m"', "length = 11.5"])
def test_a_head_with_its_unit_or_of_a_fair_length_is_taken(new):
    assert kit_faults(with_line(TOML, "length = 7.3", new)) == []


def test_a_us_folder_is_not_questioned():
    toml = TOML.replace('"metric"', '"us"').replace("height = 1.8", "height = 5.9")
    toml = toml.replace("length = 7.3", "length = 68").replace("cast_limit = 24", "cast_limit = 80")
    toml = toml.replace("wade_limit = 0.9", "wade_limit = 3").replace(
        'family = "skagit"', 'family = "long belly"'
    )
    assert not [one for one in kit_faults(toml) if "longer than" in one.found]


def lengths(text: str) -> list[float]:
    kit = read_plan(text).plan.kit
    return [
        *(one.length_m for one in (*kit.rods, *kit.heads, *kit.tips)),
        *(one.sink_m_s for one in kit.tips),
        kit.angler.leader_m,
        kit.angler.cast_limit_m,
        kit.angler.wade_limit_m,
    ]


def test_a_new_metric_folder_has_a_metric_kit(tmp_path):
    write_new(tmp_path / "new", UnitSystem.METRIC)
    text = (tmp_path / "new" / "reach.toml").read_text()
    read = read_plan(text)
    assert not read.faults
    assert read.plan.units is UnitSystem.METRIC
    assert lengths(text) == pytest.approx(lengths(template()), rel=0.05)
    assert read.plan.flows == pytest.approx(read_plan(template()).plan.flows, rel=0.05)
    assert " ft" not in text.split("# Everything below")[0]
    assert invented_in(text) == invented_in(template())


def test_switching_units_keeps_what_every_number_off_the_page_means():
    plain = SAMPLE.joinpath("reach.toml").read_text()
    plain += '\n[clarity]\nsightings = [[900, 5], [2400, "1.5 ft"]]\n[lane]\nleast_depth = 0.6\n'
    plain = plain.replace('name = "winter"', 'name = "winter"\ndepth = [1.5, 6]')
    switched = with_facts(plain, {"units": "metric"})
    before, after = read_plan(plain).plan, read_plan(switched).plan
    assert after.units is UnitSystem.METRIC
    assert lengths(switched) == pytest.approx(lengths(plain))
    assert after.dem.flow == pytest.approx(before.dem.flow)
    assert after.season.depth_high_m == pytest.approx(before.season.depth_high_m)
    assert after.own.numbers["lane.least_depth"] == pytest.approx(0.6 * FOOT)
    assert [one.flow for one in after.own.sightings] == pytest.approx(
        [one.flow for one in before.own.sightings]
    )
    assert "# the river's flow on the day it was flown" in switched
    assert with_facts(plain, {"units": "us"}) == plain
    assert facts_in(switched)["traced_flow"] == "900 cfs"


def test_a_template_switched_by_hand_or_on_the_page_stays_whole():
    by_hand = template().replace('units = "us"', 'units = "metric"')
    on_page = with_facts(template(), {"units": "metric"})
    for text in (by_hand, on_page):
        assert not read_plan(text).faults
        assert lengths(text) == pytest.approx(lengths(template()))
    assert np.isfinite(lengths(by_hand)).all()
    assert tomllib.loads(on_page)["head"][0]["length"] == "24 ft"
