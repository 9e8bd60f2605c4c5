"""build and days of a folder at an address: fsspec's memory stands for a store."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from reachmap.base.errors import Fault, MarkupError
from reachmap.cli import say
from reachmap.cli.app import app
from reachmap.cli.on_store import folder_here, folder_or_address, on_store
from reachmap.pipeline import stamp
from tests.markup.folders import TOML, make

fsspec = pytest.importorskip("fsspec")
QUICK = ["--quick", "--cell", "4", "--no-ensemble"]


@pytest.fixture
def store():
    """Yield fsspec's memory with what the test puts under /at."""
    memory = fsspec.filesystem("memory")
    yield memory
    memory.rm("/at", recursive=True)


def run(*words):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stamp, "program_digest", lambda: "fixed")
        return CliRunner().invoke(app, [str(word) for word in words])


@pytest.mark.slow
@pytest.mark.compiled
def test_a_reach_and_a_broken_one_at_an_address(store, tmp_path):
    make(tmp_path / "waters" / "upper", toml=TOML.replace("[20, 30, 45]", "[20]"))
    make(tmp_path / "waters" / "broken", toml=TOML.replace('units = "metric"\n', ""))
    store.put(str(tmp_path / "waters"), "/at/waters", recursive=True)
    told = run("build", "memory://at/waters", *QUICK)
    assert told.exit_code == say.YOURS_TO_MEND  # for the broken one
    assert "memory://at/waters/upper/written/maps/index.html" in told.output
    assert "1 of 2 waters stand" in told.output
    assert "Put back" in told.output
    assert store.isfile("/at/waters/upper/written/maps/index.html")
    assert not store.isdir("/at/waters/broken/written")
    before = store.cat_file("/at/waters/upper/written/report.json")
    told = run("build", "memory://at/waters/upper/", *QUICK)
    assert told.exit_code == 0, told.output
    assert store.cat_file("/at/waters/upper/written/report.json") == before  # built already
    assert "Put back: nothing had changed" in told.output


def test_faults_name_the_address_and_nothing_is_put_back(store, tmp_path):
    make(tmp_path / "upper", toml=TOML.replace('units = "metric"\n', ""))
    store.put(str(tmp_path / "upper"), "/at/upper", recursive=True)
    before = {one: store.cat_file(one) for one in store.find("/at")}
    told = run("build", "memory://at/upper")
    assert isinstance(told.exception, MarkupError)
    assert "units" in str(told.exception)
    assert {one: store.cat_file(one) for one in store.find("/at")} == before


def test_the_address_is_said_for_the_copy(store):
    store.pipe_file("/at/river/reach.toml", b"")

    def command(folder: Path) -> None:
        say.line(f"Wrote {folder / 'written'}")
        raise MarkupError([Fault(str(folder / "reach.toml"), "invented", "none")])

    program = typer.Typer()

    @program.command()
    def only(where: str) -> None:
        on_store(command)(where)

    told = CliRunner().invoke(program, ["memory://at/river"])
    assert "Wrote memory://at/river/written" in told.output
    assert "memory://at/river/reach.toml: invented" in str(told.exception)


def test_a_local_out_takes_what_is_written_and_the_store_nothing(store, tmp_path):
    store.pipe_file("/at/river/reach.toml", b"")

    def command(folder: Path, out: Path) -> None:
        assert (folder / "reach.toml").is_file()
        out.write_text("written", encoding="utf-8")
        (folder / "written").mkdir()
        (folder / "written" / "x").write_text("x", encoding="utf-8")

    on_store(command)("memory://at/river", out=tmp_path / "out")
    assert (tmp_path / "out").is_file()
    assert store.find("/at") == ["/at/river/reach.toml"]


def test_other_commands_say_that_they_work_here_only():
    for word in ("check", "view", "sheet", "gpx"):
        told = run(word, "memory://at/river")
        assert isinstance(told.exception, MarkupError)
        assert "a folder of this computer" in str(told.exception)


def test_a_file_address_is_a_path():
    assert folder_here("file:///rivers/upper%20one") == Path("/rivers/upper one")
    assert folder_or_address("rivers/upper") == Path("rivers/upper")
    assert folder_or_address("C:\\rivers") == Path("C:\\rivers")
    assert folder_or_address("s3://bucket/river") == "s3://bucket/river"
