"""`reachmap build` and `reachmap days` of a folder that holds several reach folders."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from reachmap.base.errors import MarkupError
from reachmap.cli import say
from reachmap.cli.app import app
from reachmap.pipeline import stamp
from tests.made_waters import make_waters
from tests.markup.folders import TOML, make

QUICK = ["--quick", "--cell", "4", "--no-ensemble"]


def run(*words):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stamp, "program_digest", lambda: "fixed")
        return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture(scope="module")
def waters(tmp_path_factory):
    """Two waters that can be built and one that cannot, built."""
    home = tmp_path_factory.mktemp("home") / "waters"
    for name in ("lower", "upper"):
        make(home / name, toml=TOML.replace("[20, 30, 45]", "[20, 30]"))
    make(home / "broken", toml=TOML.replace('units = "metric"\n', ""))
    listed = '[[water]]\nfolder = "upper"\ndrive = 30\n'
    (home / "waters.toml").write_text(listed, encoding="utf-8")
    return home, run("build", home, *QUICK)


@pytest.mark.compiled
def test_one_that_does_not_read_well_stops_no_other_and_is_told(waters):
    home, told = waters
    assert told.exit_code == say.YOURS_TO_MEND
    assert told.output.index("upper: 2 flows") < told.output.index("lower: 2 flows")
    assert "2 of 3 waters stand" in told.output
    assert "broken: " in told.output
    assert "it does not say its units" in told.output
    for name in ("upper", "lower"):
        assert (home / name / "written" / "maps" / "index.html").is_file()
    assert not (home / "broken" / "written").exists()


@pytest.mark.compiled
def test_what_stands_is_not_built_again(waters):
    home, _ = waters
    before = (home / "upper" / "written" / "report.json").read_bytes()
    told = run("build", home, *QUICK)
    assert "nothing has changed since" in told.output
    assert (home / "upper" / "written" / "report.json").read_bytes() == before


@pytest.mark.compiled
def test_the_week_names_each_water_and_writes_a_page_of_all(waters):
    home, _ = waters
    told = run("days", home, "--now", "2031-01-12T08:00", "--days", "3")
    assert told.exit_code == say.YOURS_TO_MEND  # for the broken one
    page = (home / "written" / "index.html").read_text(encoding="utf-8")
    assert "broken</bdi> could not be read" in page
    assert "30 min drive" in page
    assert "drive not given" in page
    for name in ("upper", "lower"):
        assert (home / name / "written" / "days.html").is_file()
    assert page.count("<article") == 2


@pytest.mark.parametrize(
    "words", [["build", "--flow", "30"], ["build", "--out", "x"], ["days", "--clarity", "1"]]
)
def test_what_is_of_one_river_is_refused(waters, words):
    home, _ = waters
    told = run(words[0], home, *words[1:])
    assert isinstance(told.exception, MarkupError)
    assert words[1] in str(told.exception)


@pytest.mark.slow
@pytest.mark.compiled
def test_a_week_over_four_waters_reads_right(tmp_path):
    home = make_waters(tmp_path / "waters", flows="[900, 1800, 3200]")
    built = run("build", home, *QUICK, "--workers", "2")
    assert built.exit_code == 0, built.output
    reports = [
        json.loads((home / name / "written" / "report.json").read_text(encoding="utf-8"))
        for name in ("home_water", "canyon")
    ]
    assert all(len(one["flows"]) == 3 for one in reports)
    told = run("days", home, "--now", "2030-01-26T16:00")
    assert told.exit_code == 0, told.output
    rows = told.output.split("Home Water")[0]
    assert "Lower Bends" not in rows
    page = (home / "written" / "index.html").read_text(encoding="utf-8")
    lower = page.split("Lower Bends (invented)</bdi></a>")[1].split("</tr>")[0]
    assert lower.count("closed") >= 4  # the rules close it on every day
    canyon = page.split("Canyon (invented)</bdi></a>")[1].split("</tr>")[0]
    assert "<b>go</b>" not in canyon  # only a boat leads there, and nobody has one
    assert "<b>go</b>" in page
