"""The schema of reach.toml: all faults at once with their lines, and what is made from it."""

from __future__ import annotations

import math
import tomllib

import pytest
import tomlkit

from reachmap.base.words import UnitSystem
from reachmap.markup.config import read_plan
from reachmap.markup.config.kinds import Number
from reachmap.markup.config.render import template, write_units
from reachmap.markup.config.schema import KIT, OWN, PLAIN, TABLES
from tests.markup.folders import TOML

SPOILT = """format = 1
name = "Spoilt"
units = "metric"
colour = "red"

[river]
slope = 9

[flows]
list = [20, -3, "30 ft"]

[[rod]]
length = 99
weight = 3

[[head]]
length = 7
family = "skaget"

[[rod]]
name = "short"
length = "4 m"
line_weight = 7.5

[season]
name = "autumn"
[season.summer]
depth = [3, 1]

[pace]
hangs = 5
"""

WANTED = [
    (4, "colour", "'colour' is not a key here"),
    (6, "[river] traced_flow", "traced_flow is missing"),
    (7, "[river] slope", "9 is out of range. Wants 1e-05 to 0.08"),
    (10, "[flows] list", "-3 is -3 m3/s. Wants 0.01 to 50,000 m3/s"),
    (10, "[flows] list", "'ft' is not a unit of flow (use cfs, m3/s)"),
    (12, "[rod] line_weight", "line_weight is missing"),
    (13, "[rod] length", "99 is 99 m. Wants 2.7 to 6.5 m"),
    (14, "[rod] weight", "'weight' is not a key here. Did you mean 'line_weight'?"),
    (18, "[head] family", "'skaget' is not known. Did you mean 'skagit'?"),
    (23, "[rod] line_weight", "7.5 is no line weight. Give a whole number from 1 to 15"),
    (26, "[season] name", "'autumn' is not known. Use one of: winter, summer"),
    (28, "[season.summer] depth", "the least is not below the most"),
    (31, "[pace] hangs", "Did you mean 'hang'?"),
]


def test_every_fault_of_a_file_is_listed_at_once_with_its_line_in_the_order_of_lines():
    told = [str(fault) for fault in read_plan(SPOILT).faults]
    assert len(told) == len(WANTED)
    for fault, (line, place, words) in zip(told, WANTED, strict=True):
        assert fault.startswith(f"reach.toml, line {line}, {place}: "), fault
        assert words in fault


def test_a_plan_at_fault_is_whole_all_the_same():
    read = read_plan(SPOILT)
    assert read.plan.units is UnitSystem.METRIC
    assert math.isnan(read.plan.traced_flow)
    assert math.isnan(read.plan.slope)
    assert all(math.isfinite(rod.length_m) and rod.line_weight for rod in read.plan.kit.rods)
    assert all(math.isfinite(head.length_m) for head in read.plan.kit.heads)


def test_what_is_no_section_does_not_hide_the_faults_within_others():
    told = [str(fault) for fault in read_plan(SPOILT.replace("[[head]]", "[head]")).faults]
    assert any("[head]: head is not a list. Write [[head]]" in fault for fault in told)
    assert any("[rod] length" in fault for fault in told)
    inner = read_plan(TOML.replace('name = "winter"', 'name = "winter"\nsummer = 5')).faults
    assert "summer is not a section. Write it as [season.summer]" in str(inner[0])


NUMBERS = [
    (section, key)
    for section, keys in (PLAIN | KIT | OWN | TABLES).items()
    for key, (kind, _) in keys.kinds().items()
    if isinstance(kind, Number) and kind.quantity is not None
]


@pytest.mark.parametrize(("section", "key"), NUMBERS)
def test_a_switch_of_units_keeps_every_number_that_the_page_does_not_show(section, key):
    head = f"[[{section}]]" if section in KIT | TABLES else f"[{section}]"
    book = tomlkit.parse(f"{head}\n{key} = 1.5 # mine\n")
    write_units(book, UnitSystem.METRIC)
    [told] = tomllib.loads(book.as_string())[section] if "[[" in head else [book[section]]
    shown = section in ("river", "flows")
    assert isinstance(told[key], str) is not shown
    assert str(told[key]).startswith("1.5")
    assert "# mine" in book.as_string()


def test_pairs_and_sightings_are_said_in_their_units_and_plain_shares_stay():
    book = tomlkit.parse(
        "[season]\ndepth = [1.5, 6]\n[season.summer]\nspeed = [1, 3]\n"
        '[clarity]\nsightings = [[900, 5], [2400, "1.5 ft"]]\n[lane]\neffort = 2\n'
    )
    write_units(book, UnitSystem.US)
    told = book.unwrap()
    assert told["season"]["depth"] == ["1.5 ft", "6 ft"]
    assert told["season"]["summer"]["speed"] == ["1 ft/s", "3 ft/s"]
    assert told["clarity"]["sightings"] == [["900 cfs", "5 ft"], ["2400 cfs", "1.5 ft"]]
    assert told["lane"]["effort"] == 2


@pytest.mark.parametrize("units", list(UnitSystem))
def test_a_new_folders_file_has_every_section_and_reads_in_its_units(units):
    text = template(units)
    for section, keys in (PLAIN | KIT | OWN | TABLES).items():
        assert f"[{section}]" in text
        for key, (kind, _) in keys.kinds().items():
            assert f"{key} = " in text or not kind.example, (section, key)
    read = read_plan(text)
    assert not read.faults
    assert read.plan.units is units


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('name = "Invented reach"', 'name = "  "', "the reach has no name"),
        (
            "format = 1",
            "format = 1\ncolour = 5",
            "'colour' is not a key here. Use one of: crs, format, name, units",
        ),
        (
            "list = [20, 30, 45]",
            f"list = {[20 + 3 * k for k in range(101)]}",
            "it has 101 items. Keep to 100 at most",
        ),
        ("format = 1", "format = 1\ncolours = []", "'colours' is not a key here"),
        ("[flows]", "[pace]\nhang = true\n[flows]", "True is not a number. Give 0 to 120"),
    ],
)
def test_what_else_is_no_value(old, new, words):
    [fault] = read_plan(TOML.replace(old, new)).faults
    assert str(fault).endswith(words) or words in str(fault)


def test_nothing_said_of_another_season_is_nothing_taken_for_it():
    assert read_plan(TOML).plan.other_seasons == ()
    assert len(read_plan(f"{TOML}[season.summer]\nspeed = [0.4, 1]\n").plan.other_seasons) == 1


def test_gauge_files_stay_within_the_folder():
    [fault] = read_plan(f'{TOML}[gauge]\nfiles = ["gauge/*", "../other/*"]\n').faults
    assert "'../other/*' lies outside the reach folder" in str(fault)
