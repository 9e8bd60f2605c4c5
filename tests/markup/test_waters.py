"""Several home waters: what waters.toml shares, what a reach keeps its own, all faults at once."""

import math

import pytest

from reachmap.base.errors import MarkupError
from reachmap.markup.config import read_plan
from reachmap.markup.read import read_markup
from reachmap.markup.waters import is_waters, read_waters
from reachmap.pipeline.stamp import Options, build_stamp
from tests.markup.folders import TOML, make

SHARED = """units = "metric"

[[water]]
folder = "upper"
drive = 35
note = "gate shut at night"

[angler]
height = 1.7
hand = "left"

[outing]
hours = 4

[[rod]]
name = "fifteen"
length = "15 ft"
line_weight = 10
"""

BARE = """format = 1
name = "Bare"
units = "metric"
[river]
traced_flow = 30
slope = 0.002
[flows]
list = [20, 30]
"""


def test_what_a_reach_does_not_say_is_taken_from_what_is_shared():
    plan = read_plan(BARE, SHARED).plan
    assert plan.kit.angler.height_m == 1.7
    assert plan.outing.hours == 4
    assert [rod.name for rod in plan.kit.rods] == ["fifteen"]


def test_what_a_reach_says_is_its_own_key_by_key():
    plan = read_plan(BARE + "[angler]\nheight = 1.9\n", SHARED).plan
    assert plan.kit.angler.height_m == 1.9
    assert plan.kit.angler.hand == "left"


def test_a_reach_that_lists_rods_has_no_others():
    rods = read_plan(TOML, SHARED).plan.kit.rods
    assert [rod.name for rod in rods] == ["thirteen"]


def test_within_a_season_too_the_reach_comes_first():
    shared = 'units = "metric"\n[season.summer]\ndepth = [0.4, 1.5]\nspeed = [0.4, 1.1]\n'
    plan = read_plan(BARE + "[season.summer]\ndepth = [0.6, 2]\n", shared).plan
    summer = plan.other_seasons[0]
    assert (summer.depth_low_m, summer.depth_high_m) == (0.6, 2)
    assert summer.speed_high_m_s == 1.1


def test_a_fault_of_what_is_shared_names_its_file_and_line():
    wrong = SHARED.replace("height = 1.7", "height = 17")
    assert [f.where for f in read_plan(BARE, wrong).faults] == [
        "waters.toml, line 9, [angler] height"
    ]


def test_a_reach_s_own_fault_names_its_own_file():
    faults = read_plan(BARE + "[angler]\nheight = 17\n", SHARED).faults
    assert [fault.where for fault in faults] == ["reach.toml, line 10, [angler] height"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (SHARED.replace('"metric"', '"us"'), "it is in us units and this reach in metric"),
        (SHARED.replace('units = "metric"\n', ""), "it does not say its units"),
        (SHARED + "[river]\nslope = 0.1\n", "'river' is not shared by several rivers"),
        (SHARED + "[", "it is not valid TOML"),
    ],
)
def test_settings_that_cannot_be_shared_are_faults(text, found):
    faults = read_plan(BARE, text).faults
    assert len(faults) == 1
    assert faults[0].found.startswith(found)


@pytest.fixture
def waters(tmp_path):
    home = tmp_path / "waters"
    home.mkdir()
    for name in ("lower", "upper"):
        make(home / name)
    (home / "waters.toml").write_text(SHARED)
    (home / "pictures").mkdir()
    return home


def test_waters_come_in_the_listed_order_then_the_others(waters):
    found = read_waters(waters)
    assert [one.folder.name for one in found] == ["upper", "lower"]
    assert found[0].drive_min == 35
    assert math.isnan(found[1].drive_min)
    assert found[0].note == "gate shut at night"


def test_a_reach_folder_is_no_folder_of_waters(waters):
    assert is_waters(waters)
    assert not is_waters(waters / "upper")
    assert not is_waters(waters / "pictures")


def test_a_link_out_of_the_folder_is_none_of_its_waters(waters, tmp_path):
    make(tmp_path / "elsewhere")
    (waters / "linked").symlink_to(tmp_path / "elsewhere")
    assert [one.folder.name for one in read_waters(waters)] == ["upper", "lower"]


def test_every_fault_of_the_list_is_told_at_once(waters):
    blocks = '[[water]]\nfolder = "uper"\n[[water]]\nfolder = "lower"\ndrive = -3\n'
    blocks += '[[water]]\nfolder = "lower"\nnote = 4\ncolour = "red"\n[[water]]\ndrive = 2\n'
    (waters / "waters.toml").write_text(blocks)
    with pytest.raises(MarkupError) as told:
        read_waters(waters)
    found = [fault.found for fault in told.value.faults]
    assert found == [
        "there is no reach folder 'uper' here",
        "-3 is no time",
        "'colour' is not a key here",
        "4 is no text",
        "'lower' is listed twice",
        "folder is missing",
    ]


def test_an_empty_folder_is_a_fault(tmp_path):
    with pytest.raises(MarkupError, match="it holds no reach folder"):
        read_waters(tmp_path)


def test_a_change_of_what_is_shared_makes_a_build_stale(waters):
    before = build_stamp(waters / "upper", Options())
    (waters / "waters.toml").write_text(SHARED.replace("hours = 4", "hours = 5"))
    assert build_stamp(waters / "upper", Options()) != before


def test_a_reach_folder_is_read_with_what_lies_above_it(waters):
    drawing = read_markup(waters / "upper")
    assert drawing.plan.outing.hours == 4
    assert "../waters.toml" in drawing.digests
