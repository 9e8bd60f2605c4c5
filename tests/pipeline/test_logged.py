"""The log joined to a build: on the map and in the table, and out of all that is handed on."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from datetime import UTC, datetime

import geopandas as gpd
import pytest

from reachmap import angler
from reachmap.base.crs import WGS84
from reachmap.logbook.model import Entry
from reachmap.logbook.store import FILE, TripLog
from reachmap.markup import read_markup
from reachmap.outputs.log_layer import COLUMNS
from reachmap.pipeline.order import build_reach, make_product
from reachmap.pipeline.stamp import Options, current_report
from reachmap.web.trip_form.serve import trip_form_context
from tests.markup.folders import CRS, at
from tests.markup.folders import make as reach_folder

pytestmark = pytest.mark.compiled

OPTIONS = Options(quick=True, cell=4.0, ensemble=False)
PLACE = gpd.GeoSeries([at(150, 5)], crs=CRS).to_crs(WGS84)[0]
SECRET = "the alder below the ledge"


def _typed(run):
    """A trip as the form sends it."""
    place = f"{PLACE.y:.7f}, {PLACE.x:.7f}"
    fields = {
        "date": "2021-01-05", "time": "08:30", "zone": "UTC", "run": run, "flow": "31",
        "minutes": "120", "touches": "3", "landed": "1", "place": place, "note": SECRET,
        "seen_kind": "sounding", "seen_value": "0.9", "seen_seconds": "", "seen_place": place,
        "seen_note": "",
    }  # fmt: skip
    return {name: [text] for name, text in fields.items()}


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """A folder with a log and its build."""
    folder = reach_folder(tmp_path_factory.mktemp("logged"))
    out = folder / "written"
    run = build_reach(read_markup(folder), out, OPTIONS).report["runs_by_flow"][0]["run"]
    trip_form_context(folder).keep(_typed(run))
    there = Entry(when=datetime(2021, 2, 5, 8, 30, tzinfo=UTC), run=run, flow=19.0, touches=1)
    with TripLog(folder / FILE) as log:
        log.add(there)
    return folder, out, run, build_reach(read_markup(folder), out, OPTIONS)


def test_a_trip_typed_into_the_form_is_on_the_map_where_it_was(built):
    folder, out, run, _ = built
    product = make_product(read_markup(folder), out, OPTIONS)
    layer = product.log
    assert sorted(layer["kind"]) == ["run", "sounding", "trip"]
    trip = layer[layer["kind"] == "trip"].iloc[0]
    assert trip.geometry.distance(at(150, 5)) < 0.01
    assert (trip["run"], trip["near_label"], trip["touches"]) == (run, "30m3s", 3)
    assert "log" not in product.layers


def test_the_table_of_runs_tells_trips_and_rates(built):
    _, out, run, made = built
    rows = {row["flow_label"]: row for row in made.report["runs_by_flow"] if row["run"] == run}
    assert rows["30m3s"]["times_fished"] == 1
    assert rows["30m3s"]["touches_per_hour"] == 1.5
    assert rows["20m3s"]["log_words"] == "fished once, 1 touch; no time written down, so no rate"
    assert rows["45m3s"]["times_fished"] == 0
    with (out / "table" / "runs_by_flow.csv").open(encoding="utf-8", newline="") as file:
        assert set(COLUMNS) <= set(next(csv.reader(file)))


def test_nothing_that_is_handed_on_tells_where_one_fished(built):
    _, out, _, _ = built
    index = out / "maps" / "index.html"
    for path in out.rglob("*"):
        if path.is_file() and "cache" not in path.parts and path != index:
            assert SECRET.encode() not in path.read_bytes(), path
    assert "log" not in set(gpd.list_layers(out / "gis" / "results.gpkg")["name"])


def test_a_new_trip_asks_for_a_new_build_and_no_log_leaves_it_out(built):
    folder, out, run, _ = built
    assert current_report(folder, out, OPTIONS) is not None
    bare = replace(OPTIONS, log=False)
    other = folder / "bare"
    made = build_reach(read_markup(folder), other, bare)
    assert not set(COLUMNS) & set(made.report["runs_by_flow"][0])
    assert make_product(read_markup(folder), other, bare).log is None
    with TripLog(folder / FILE) as log:
        log.add(Entry(when=datetime(2021, 3, 5, tzinfo=UTC), run=run))
    assert current_report(folder, out, OPTIONS) is None
    assert current_report(folder, other, bare) is not None
    with TripLog(folder / FILE) as log:
        log.add(Entry(when=datetime(2021, 4, 5, tzinfo=UTC), run="Nowhere <b>bar</b>", touches=2))
    again = build_reach(read_markup(folder), out, OPTIONS)
    assert again.report["log"]["trips"] == 4
    assert again.report["log"]["placed"] == 3
    (lost,) = again.report["log"]["unplaced"]
    assert (lost["run"], lost["times_fished"], lost["touches"]) == ("Nowhere <b>bar</b>", 1, 2)
    assert {row["run"] for row in again.report["runs_along"]} >= {run}
    with (out / "table" / "runs_by_flow.csv").open(encoding="utf-8", newline="") as file:
        last = list(csv.DictReader(file))[-1]
    assert (last["run"], last["flow"], last["times_fished"]) == ("Nowhere <b>bar</b>", "", "1")
    index = (out / "maps" / "index.html").read_text(encoding="utf-8")
    assert "1 trip could not be placed: &#39;Nowhere &lt;b&gt;bar&lt;/b&gt;&#39;. No run" in index
    for page in (out / "maps").glob("*m3s.html"):
        assert "Nowhere" not in page.read_text(encoding="utf-8")
    assert again.fresh == ()  # nothing is worked out anew: only the pages are written
    assert json.loads((out / "report.json").read_text(encoding="utf-8"))["options"]["log"] is True


def test_a_log_that_is_to_count_says_so_on_the_page_and_moves_what_it_knows(tmp_path):
    folder = reach_folder(tmp_path)
    settings = folder / "reach.toml"
    settings.write_text(f"{settings.read_text()}\n[outing]\nlog_weight = 0.5\n")
    out = folder / "written"
    bare = build_reach(read_markup(folder), out, OPTIONS)
    assert "log" not in bare.report
    runs = list(dict.fromkeys(row["run"] for row in bare.report["runs_by_flow"]))
    when = datetime(2021, 2, 5, 8, 30, tzinfo=UTC)
    with TripLog(folder / FILE) as log:
        for run, touches in zip(runs[:2], (9, 0), strict=True):
            log.add(Entry(when=when, run=run, flow=30.0, minutes=180, touches=touches))
    made = build_reach(read_markup(folder), out, OPTIONS)
    by_run = {r["run"]: r for r in made.report["runs_by_flow"] if r["flow_label"] == "30m3s"}
    good, blank = (by_run[run]["log_factor"] for run in runs[:2])
    assert good > 1 > blank
    assert f"count {good:.1f} times for that" in by_run[runs[0]]["log_words"]
    index = (out / "maps" / "index.html").read_text(encoding="utf-8")
    assert "Your log counts in the order of the runs, 50 in 100" in index
    for page in (out / "maps").glob("*m3s.html"):
        assert "Your log counts" not in page.read_text(encoding="utf-8")


def test_the_list_is_made_with_what_the_log_says_only_where_it_is_to_count(tmp_path, monkeypatch):
    folder = reach_folder(tmp_path)
    settings, plain = folder / "reach.toml", (folder / "reach.toml").read_text()
    given = []
    real = angler.list_choices

    def noted(*args):
        given.append(args[-1])
        return real(*args)

    monkeypatch.setattr(angler, "list_choices", noted)
    out = folder / "written"
    runs = make_product(read_markup(folder), out, OPTIONS).runs["run"].unique()
    when = datetime(2021, 2, 5, 8, 30, tzinfo=UTC)
    with TripLog(folder / FILE) as log:
        for run, touches in zip(runs[:2], (9, 0), strict=True):
            log.add(Entry(when=when, run=run, flow=30.0, minutes=180, touches=touches))
    make_product(read_markup(folder), out, OPTIONS)
    settings.write_text(f"{plain}\n[outing]\nlog_weight = 1\n")
    table = make_product(read_markup(folder), out, OPTIONS).runs
    make_product(read_markup(folder), out, replace(OPTIONS, log=False))
    assert [one is None for one in given] == [True, True, False, True]
    factors = given[2]
    near = ((table["flow"] - 30.0).abs() < 1).to_numpy()
    good, blank = ((table["run"] == run).to_numpy() & near for run in runs[:2])
    assert (factors[good] > 1).all()
    assert (factors[blank] < 1).all()
    assert (factors[(table["flow"] > 40).to_numpy()] == 1).all()
