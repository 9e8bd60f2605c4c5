"""The command: what it prints, its exit codes, and how it takes bad input."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from reachmap.base.errors import Fault, MarkupError
from reachmap.base.words import UnitSystem
from reachmap.cli.typed import typed_flows
from reachmap.markup.files import folder_units
from tests.markup.folders import at, line, rows
from tests.markup.folders import make as reach_folder

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "data_samples" / "madeup_river"


def run(*words, cwd=ROOT):
    return subprocess.run(
        [sys.executable, "-m", "reachmap", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "COLUMNS": "200", "HOME": "/tmp"},
    )


def test_a_new_folder_is_begun_and_never_overwritten(tmp_path):
    done = run("new", tmp_path / "home")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "home" / "reach.toml").exists()
    again = run("new", tmp_path / "home")
    assert again.returncode == 2
    assert "reach.toml" in again.stderr
    assert "Traceback" not in again.stderr


def test_a_good_folder_reads_well(tmp_path):
    done = run("check", reach_folder(tmp_path))
    assert done.returncode == 0, done.stderr
    assert "reads well" in done.stdout


def test_a_new_folder_may_be_metric(tmp_path):
    done = run("new", tmp_path / "home", "--units", "metric")
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "home" / "reach.toml").read_text()
    assert 'units = "metric"' in text
    assert 'length = "7.3 m"' in text
    assert run("new", tmp_path / "other", "--units", "furlongs").returncode == 2


def wider(rows, *, flow):
    rows["edges"] = [
        {"geometry": row["geometry"], "flow": flow, "date": ""} for row in rows["edges"]
    ]
    rows["edges"].append({"geometry": line((0, 32), (600, 32)), "flow": 35.0, "date": ""})
    return rows


@pytest.mark.compiled
def test_evidence_that_disagrees_stands_first_in_check_build_and_report(tmp_path):
    folder = reach_folder(tmp_path, made=wider(rows(), flow=45.0))
    done = run("check", folder)
    assert done.returncode == 0, done.stderr
    first = done.stdout.splitlines()[0]
    assert first.startswith("Warning: Evidence disagrees: edges: the edge drawn at 35 m3/s")
    made = run("build", folder, "--quick", "--flow", "30", "--no-ensemble")
    assert made.returncode == 0, made.stderr
    assert made.stdout.startswith("Warning: Evidence disagrees:")
    report = json.loads((folder / "written" / "report.json").read_text())
    assert report["warnings"][0].startswith("Evidence disagrees: edges:")
    toml = folder / "reach.toml"
    toml.write_text(toml.read_text() + '\n[evidence]\naccept = ["edges"]\n')
    again = run("check", folder)
    assert "Warning" not in again.stdout
    assert "Note: Taken as right, as [evidence] accept says (edges)" in again.stdout


@pytest.mark.compiled
def test_soundings_in_another_unit_stop_check_and_build_until_declared_right(tmp_path):
    made = rows()
    made["soundings"] = [
        {"geometry": at(x, 0), "name": f"S{x}", "depth": 0.25, "flow": 30.0}
        for x in range(60, 560, 50)
    ]
    folder = reach_folder(tmp_path, made=made)
    for command in (("check", folder), ("build", folder, "--quick")):
        done = run(*command)
        assert done.returncode == 2
        assert "metres were written where feet are read" in done.stderr
        assert "Traceback" not in done.stderr
    assert not list((folder / "written").glob("maps/*"))
    toml = folder / "reach.toml"
    toml.write_text(toml.read_text() + '\n[evidence]\naccept = ["soundings"]\n')
    done = run("check", folder)
    assert done.returncode == 0, done.stderr
    assert "Taken as right" in done.stdout


def test_a_bad_folder_is_told_whole_with_exit_code_2(tmp_path):
    folder = reach_folder(tmp_path)
    toml = folder / "reach.toml"
    text = (
        toml.read_text()
        .replace("height = 1.8", "height = 18")
        .replace("slope = 0.002", 'slope = "steep"')
    )
    toml.write_text(text)
    for command in ("check", "build"):
        done = run(command, folder)
        assert done.returncode == 2
        assert "2 things to put right" in done.stderr
        assert "slope" in done.stderr
        assert "height" in done.stderr
        assert "Traceback" not in done.stderr
    assert not (folder / "written").exists()


def test_a_folder_that_is_not_there_is_told(tmp_path):
    done = run("check", tmp_path / "nowhere")
    assert done.returncode == 2
    assert "nowhere" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_word_that_is_no_option_is_told():
    done = run("build", "--sideways", "x")
    assert done.returncode == 2


@pytest.mark.parametrize("word", ["-5", "1e400", "9" * 400])
def test_a_flow_out_of_all_measure_is_told_in_a_line(tmp_path, word):
    folder = reach_folder(tmp_path)
    done = run("build", folder, f"--flow={word}", "--quick")
    assert done.returncode == 2
    assert "is not a flow" in done.stderr
    assert len(done.stderr) < 400
    assert sorted(path.name for path in folder.iterdir() if path.name.startswith(".")) == []


def test_a_flow_that_is_no_flow_is_told(tmp_path):
    done = run("build", reach_folder(tmp_path), "--flow", "lots", "--flow", "-3", "--quick")
    assert done.returncode == 2
    assert "2 things" in done.stderr
    assert "'lots' is not a flow" in done.stderr


@pytest.mark.compiled
def test_a_build_says_which_page_to_open_and_the_second_is_at_once(tmp_path):
    folder = reach_folder(tmp_path)
    done = run("build", folder, "--quick", "--flow", "30")
    assert done.returncode == 0, done.stderr
    page = (folder / "written" / "maps" / "index.html").as_uri()
    assert page in done.stdout
    assert "People drown" in done.stdout
    fewer = run("build", folder, "--quick", "--flow", "20")
    assert fewer.returncode == 0, fewer.stderr
    assert fewer.stdout.startswith(f"Written to {folder / 'written-quick'}, because")
    refused = run("build", folder, "--quick", "--flow", "20", "--out", folder / "written")
    assert refused.returncode == 2
    assert "--replace" in refused.stderr
    again = run("build", folder, "--quick", "--flow", "30")
    assert again.returncode == 0
    assert again.stdout.startswith("Nothing has changed")
    assert page in again.stdout
    assert "Since the last build" not in done.stdout + again.stdout
    settings = folder / "reach.toml"
    settings.write_text(settings.read_text().replace("depth = [0.5, 1.8]", "depth = [0.5, 1.2]"))
    third = run("build", folder, "--quick", "--flow", "30")
    assert "Since the last build, at 30 m" in third.stdout
    assert "no depth moved by 0.1 m or more" in third.stdout  # a limit of the season moves no bed


def test_a_fault_of_ours_has_exit_code_1_and_is_kept_in_a_file(tmp_path):
    folder = reach_folder(tmp_path)
    code = (
        "import reachmap.markup.read as r\n"
        "def broken(*_): raise ZeroDivisionError('ours')\n"
        "r.read_markup = broken\n"
        "import sys; sys.argv = ['reachmap', 'check', sys.argv[1]]\n"
        "from reachmap.cli import main; main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(folder)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == 1
    assert "fault in reachmap" in done.stderr
    assert "Traceback" not in done.stderr
    kept = next(word for word in done.stderr.split() if "reachmap-fault-" in word)
    text = Path(kept).read_text()
    Path(kept).unlink()
    assert "ZeroDivisionError: ours" in text


@pytest.mark.parametrize(
    ("words", "units", "flows"),
    [
        (["2400"], UnitSystem.METRIC, (2400.0,)),
        (["68m3/s", "70 cms"], UnitSystem.US, (68.0, 70.0)),
        (["1,000cfs"], UnitSystem.METRIC, (28.316846592,)),
        (["30", "20", "30"], UnitSystem.METRIC, (20.0, 30.0)),
        ([], UnitSystem.US, None),
    ],
)
def test_flows_are_typed_in_the_folders_units_or_with_their_own(words, units, flows):
    assert typed_flows(words, units) == (None if flows is None else pytest.approx(flows))


def test_a_gauge_height_is_the_flow_of_the_rating_at_it():
    """The height of 1.5 m of a rating of 30 m3/s per metre, and what it does not know."""

    def rated(stage):
        if stage > 2:
            raise MarkupError([Fault("--flow", "beyond the rating", "Ask for a flow")])
        return 30.0 * stage

    assert typed_flows(["1.5m"], UnitSystem.US, rated) == (45.0,)
    assert typed_flows(["5 ft", "60"], UnitSystem.METRIC, rated) == pytest.approx((45.72, 60.0))
    with pytest.raises(MarkupError) as raised:
        typed_flows(["3 m", "many", "1 m"], UnitSystem.METRIC, rated)
    assert [fault.found for fault in raised.value.faults] == [
        "beyond the rating",
        "'many' is not a flow",
    ]
    with pytest.raises(MarkupError, match="not a flow"):
        typed_flows(["4.2ft"], UnitSystem.US)


def test_all_that_is_wrong_with_typed_flows_is_told_together():
    """A word, a height beyond the rating, a flow beyond the map, one beyond any river's."""

    def rated(stage):
        raise MarkupError([Fault("--flow", f"{stage:g} m is beyond the rating", "Ask for a flow")])

    def beyond(flows):
        return [Fault("--flow", f"{one:g} is beyond", "Ask") for one in flows if one > 100]

    words = ["200", "12 m", "many", "50", "12 m", "1e9", "9999999"]
    with pytest.raises(MarkupError) as raised:
        typed_flows(words, UnitSystem.METRIC, rated, beyond)
    found = [fault.found for fault in raised.value.faults]
    assert found[:3] == ["12 m is beyond the rating", "'many' is not a flow", "'1e9' is not a flow"]
    assert "no river's flow" in found[3]
    assert found[4:] == ["200 is beyond"]
    assert typed_flows(["50", "20"], UnitSystem.METRIC, rated, beyond) == (20.0, 50.0)
    with pytest.raises(MarkupError, match="1 thing"):
        typed_flows(["50", "101"], UnitSystem.METRIC, None, beyond)


def test_a_build_tells_of_all_flows_outside_the_rating_at_once():
    done = run("build", SAMPLE, "--flow", "9000", "--flow", "12ft", "--flow", "much")
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "3 things" in done.stderr
    assert "9,000 cfs outside the gauge's rating" in done.stderr
    assert "12 ft is outside the rating" in done.stderr
    assert "'much' is not a flow" in done.stderr


@pytest.mark.parametrize("command", ["sheet", "gpx"])
def test_parts_tell_of_all_flows_outside_the_map_at_once(command):
    done = run(
        command, SAMPLE, "--flow", "6000", "--flow", "40ft", "--flow", "100", "--flow", "900"
    )
    assert done.returncode == 2
    assert "3 things" in done.stderr
    assert "6,000 cfs is outside the mapped flows, 600 cfs to 5,400 cfs" in done.stderr
    assert "100 cfs is outside the mapped flows" in done.stderr
    assert "40 ft is outside the rating" in done.stderr


@pytest.mark.parametrize("word", ["", "0", "-5", "abc", "12 furlongs", "1e5", "nan"])
def test_what_is_no_flow_is_refused(word):
    with pytest.raises(MarkupError, match="not a flow"):
        typed_flows([word], UnitSystem.METRIC)


def test_units_of_a_folder_that_cannot_be_read_are_left_to_the_check(tmp_path):
    assert folder_units(tmp_path) is UnitSystem.US
    (tmp_path / "reach.toml").write_text("units = 'metric'")
    assert folder_units(tmp_path) is UnitSystem.METRIC
    (tmp_path / "reach.toml").write_text("units = ")
    assert folder_units(tmp_path) is UnitSystem.US
