"""Sheets and GPS files written alone, and the options a build takes for what it writes."""

from __future__ import annotations

import json
import sys
from importlib.util import find_spec

import gpxpy
import pytest

from reachmap.base.errors import MarkupError
from reachmap.cli.typed import typed_tiles
from reachmap.markup import read_markup
from reachmap.outputs.choices import Choices
from reachmap.pipeline import stamp
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.parts import write_parts_of
from reachmap.pipeline.stamp import Options, current_report, stored_options
from tests.markup.folders import make as reach_folder

GPS = ("gpx", "kml")
QUICK = Options(quick=True, cell=4.0, flows=(20.0, 30.0))


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """A built folder; the program's own files count as unchanged while the tests run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stamp, "program_digest", lambda: "fixed")
        yield _built(tmp_path_factory)


def _built(tmp_path_factory):
    folder = reach_folder(tmp_path_factory.mktemp("home"))
    build_reach(read_markup(folder), folder / "written", QUICK)
    return folder


@pytest.mark.compiled
def test_the_options_of_a_build_are_known_afterwards(built, tmp_path):
    assert stored_options(built / "written") == QUICK
    assert stored_options(tmp_path) == Options()


@pytest.mark.compiled
def test_sheets_are_written_alone_on_the_paper_asked_for(built):
    target = built / "written"
    maps = (target / "maps" / "index.html").stat().st_mtime_ns
    for paper, size in (
        ("a5", "size:A5"),
        ("letter", "size:letter"),
        ("half-letter", "size:5.5in"),
    ):
        paths = write_parts_of(built, None, None, ["sheets"], Choices(paper=paper))
        assert len(paths) == 2
        assert all(size in path.read_text(encoding="utf-8") for path in paths)
    (one,) = write_parts_of(built, None, [20.0], ["sheets"], Choices())
    assert one.parent == target / "sheets"
    assert (target / "maps" / "index.html").stat().st_mtime_ns == maps
    assert current_report(built, target, QUICK) is not None


@pytest.mark.compiled
def test_gps_files_are_written_alone_with_long_names(built):
    short = gpxpy.parse((built / "written" / "gpx" / "all.gpx").read_text(encoding="utf-8"))
    assert all(len(point.name) <= 6 for point in short.waypoints)
    paths = write_parts_of(built, None, None, GPS, Choices(long_names=True))
    assert {path.suffix for path in paths} == {".gpx", ".kml"}
    path = next(path for path in paths if path.name == "all.gpx")
    long = gpxpy.parse(path.read_text(encoding="utf-8"))
    assert len(long.waypoints) == len(short.waypoints)
    assert any(len(point.name) > 6 for point in long.waypoints)


@pytest.mark.compiled
def test_what_is_not_built_is_built_first(tmp_path):
    folder = reach_folder(tmp_path)
    out = tmp_path / "elsewhere"
    out.mkdir()
    told = {"options": {"quick": True, "cell": 4.0, "flows": [25.0]}}
    (out / "report.json").write_text(json.dumps(told))
    paths = write_parts_of(folder, out, None, GPS, Choices())
    assert {path.parent.parent for path in paths} == {out}
    assert (out / "maps" / "index.html").exists()


@pytest.mark.compiled
def test_a_flow_outside_those_mapped_is_told_with_their_range(built):
    with pytest.raises(MarkupError, match="outside the mapped flows, 20 m3/s to") as raised:
        write_parts_of(built, None, [2.0, 25.0, 77.0], ["sheets"], Choices())
    assert len(raised.value.faults) == 2
    assert not (built / "written" / "sheets" / "25m3s.html").exists()


@pytest.mark.compiled
def test_sheet_and_gps_files_take_any_flow_between_those_built(built):
    before = {path: path.read_bytes() for path in (built / "written").rglob("all.gpx")}
    paths = write_parts_of(built, None, [20.0, 25.0], ["sheets", "gpx"], Choices())
    names = {path.name for path in paths}
    assert {"20m3s.html", "25m3s.html", "20m3s.gpx", "25m3s.gpx"} <= names
    told = (built / "written" / "sheets" / "25m3s.html").read_text(encoding="utf-8")
    assert "25 m³/s" in told
    said = "Worked out between 20 m³/s and 30 m³/s, which were solved."
    assert said in told
    folder = built / "written" / "gpx"
    files = {name: (folder / f"{name}.gpx").read_text("utf-8") for name in ("20m3s", "25m3s")}
    assert said in files["25m3s"]
    assert said not in files["20m3s"]
    assert "Worked out between" not in (built / "written" / "sheets" / "20m3s.html").read_text()
    assert before
    assert {path: path.read_bytes() for path in before} == before
    assert (built / "written" / "sheets" / "30m3s.html").exists()


@pytest.mark.compiled
@pytest.mark.skipif(find_spec("weasyprint") is not None, reason="the library is installed here")
def test_without_the_library_a_pdf_is_refused_in_words(built, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(MarkupError, match=r"reachmap\[pdf\]"):
        write_parts_of(built, None, None, ["sheets"], Choices(pdf=True))


def test_addresses_of_tiles_are_taken_and_others_refused():
    for good in ("", "https://tiles.example.org/{z}/{x}/{y}.png", "http://127.0.0.1:9/{z}/{x}/{y}"):
        assert typed_tiles(good) == good
    for bad in (
        "tiles",
        "https://tiles.example.org/",
        "file:///{z}/{x}/{y}",
        "https://a b/{z}/{x}/{y}",
        "https://x;script-src *;/{z}/{x}/{y}",
        "javascript://x/{z}/{x}/{y}",
    ):
        with pytest.raises(MarkupError, match="--tiles"):
            typed_tiles(bad)
