"""Every number about one thing is the same in every output: map, sheet, GPX, KML, GIS, table."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import geopandas as gpd
import gpxpy
import numpy as np
import pytest
from lxml import etree
from lxml import html as lxml_html

from reachmap.base.units import DISTANCE, LENGTH, SPEED, flow_words, to_si
from reachmap.markup import read_markup
from reachmap.outputs.handheld import water_name
from reachmap.outputs.palette import FISHING
from reachmap.pipeline.order import build_reach
from reachmap.pipeline.stamp import Options
from tests.markup.folders import make as reach_folder
from tests.outputs.webmap.test_page import book_of

pytestmark = pytest.mark.compiled
SAMPLE = Path(__file__).resolve().parents[2] / "data_samples" / "madeup_river"


class Written:
    """A written folder, read back file by file."""

    def __init__(self, folder: Path, out: Path, cell: float) -> None:
        reach = read_markup(folder)
        build_reach(reach, out, Options(quick=True, ensemble=False, cell=cell))
        self.out, self.units = out, reach.plan.units
        self.report = json.loads((out / "report.json").read_text(encoding="utf-8"))
        self.labels = [flow["label"] for flow in self.report["flows"]]
        self.rows = {(row["run"], row["flow_label"]): row for row in self.report["runs_by_flow"]}
        self.data, self.book = book_of((out / "maps" / "index.html").read_text(encoding="utf-8"))
        self.drawn = [flow["label"] for flow in self.data["flows"]]

    def layer(self, name: str) -> gpd.GeoDataFrame:
        return gpd.read_file(self.out / "gis" / "results.gpkg", layer=name)

    def water(self) -> dict[tuple[str, str], dict]:
        rows = self.layer("water").to_dict("records")
        return {(row["flow_label"], row["code"]): row for row in rows}

    def on_map(self):
        """Yield label, name and state of every run on the map, at the flows asked for."""
        for run in self.book["runs"]:
            for label, state in zip(self.drawn, run["at"], strict=True):
                if label in self.labels:
                    yield label, run["name"], state

    def sheet(self, label: str) -> list[tuple[str, str, str]]:
        """Return head, what to mind and flows of each panel of the sheet, in order."""
        page = lxml_html.fromstring((self.out / "sheets" / f"{label}.html").read_text("utf-8"))
        return [
            (
                " ".join(panel.xpath("./h2")[0].text_content().split()),
                " ".join(panel.xpath(".//div[@class='told']/p")[0].text_content().split()),
                " ".join(panel.xpath(".//p[@class='flows']")[0].text_content().split()),
            )
            for panel in page.xpath("//article")
        ]

    def places(self, label: str) -> list[str]:
        """Return what GPX says of a flow's places; what KML says of them is the same."""
        gpx = gpxpy.parse((self.out / "gpx" / f"{label}.gpx").read_text(encoding="utf-8"))
        kml = etree.parse(str(self.out / "kml" / f"{label}.kml"))
        told = [point.description for point in gpx.waypoints]
        held = [node.text for node in kml.iterfind(".//{*}Placemark/{*}description")]
        assert sorted(told) == sorted(text for text in held if text in set(told))
        return [f"{point.name} {point.description}" for point in gpx.waypoints]

    def apart(self, text: str, value: float, units: dict) -> float:
        """Return how far a number as written lies from a value [units of its last digit]."""
        number, unit = re.match(r"(-?[\d,.]+) (\S+)", text).groups()
        assert unit == units[self.units]
        digit = 10.0 ** -len(number.partition(".")[2])
        return abs(to_si(float(number.replace(",", "")), unit) - value) / to_si(digit, unit)


def minutes_of(text: str) -> int:
    """Return a length of time as written, in minutes."""
    hours, minutes = (re.search(rf"(\d+) {unit}\b", text) for unit in ("h", "min"))
    return 60 * int(hours[1] if hours else 0) + int(minutes[1] if minutes else 0)


SMALL, WHOLE = "small", "sample"


@pytest.fixture(scope="module", params=[SMALL, pytest.param(WHOLE, marks=pytest.mark.slow)])
def written(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp(request.param)
    if request.param == SMALL:
        return Written(reach_folder(folder), folder / "written", 2.0)
    return Written(SAMPLE, folder / "written", 4.0)


def test_the_time_to_fish_a_run_is_one_number_at_the_flow_shown(written):
    seen = 0
    for label, run, state in written.on_map():
        minutes = written.rows[run, label]["minutes"]
        line = written.report["cards"][run][label][-1]
        if minutes is None:
            assert state["minutes"] == ""
            assert "once through" not in line
            continue
        shown = minutes_of(state["minutes"])
        assert abs(shown - minutes) <= 2.5 or shown == 5
        assert minutes_of(line.partition(" a cast: ")[2]) == shown
        seen += 1
    assert seen
    for run in written.layer("runs").to_dict("records"):
        best = [
            row
            for row in written.rows.values()
            if row["run"] == run["run"] and np.isclose(row["flow"], run["best_flow_m3_s"])
        ]
        for row in best:
            assert (row["minutes"] or np.nan) == pytest.approx(
                run["minutes"], nan_ok=True, abs=1e-3
            )
            assert row["length_m"] == pytest.approx(run["length_m"], abs=1e-3)


def test_the_sheet_tells_the_day_s_list_in_its_order_and_its_numbers(written):
    seen = 0
    for label in written.labels:
        stops = written.report["day_lists"][label]
        panels = written.sheet(label)
        assert len(panels) == len(stops)
        for number, (stop, (head, mind, flows)) in enumerate(
            zip(stops, panels, strict=True), start=1
        ):
            name, part, time, rank, minded = stop.split(" · ")
            assert flows.endswith(rank)
            assert name.startswith(f"{number} ")
            assert name.removeprefix(f"{number} ")[:20] in head
            assert f"{part}, {time}" in head
            assert minded.removeprefix("mind: ") in mind
            seen += 1
    assert seen


def test_the_length_of_a_run_is_one_number_at_the_flow_shown(written):
    seen = 0
    for label, run, state in written.on_map():
        row = written.rows[run, label]
        line = written.report["cards"][run][label][0]
        if not row["code"]:
            assert state["length"] == ""
            assert "no swing water" in line
            continue
        assert written.apart(state["length"], row["length_m"], DISTANCE) <= 0.5 + 1e-6
        short = re.search(r"[\d,]+ (?:yd|m)(?=[;,] (?:score|prime))", line)[0]
        assert short == state["length"].partition(" (")[0]
        assert f"score {state['score']} of 100" in line
        assert f"at {flow_words(row['flow'], written.units)}: " in line
        seen += 1
    assert seen


def test_score_code_depth_and_side_are_those_of_the_runs_best_water(written):
    water = written.water()
    with (written.out / "table" / "runs_by_flow.csv").open(encoding="utf-8", newline="") as file:
        table = {(row["run"], row["flow_label"]): row for row in csv.DictReader(file)}
    assert table.keys() == written.rows.keys()
    for label, run, state in written.on_map():
        row, cells = written.rows[run, label], table[run, label]
        assert (state["code"], state["why"]) == (row["code"], cells["why"])
        for name in ("score", "minutes", "length_m", "depth_m"):
            told = float(cells[name]) if cells[name] else np.nan
            assert told == pytest.approx(np.nan if row[name] is None else row[name], nan_ok=True)
        if row["code"]:
            best = water[label, row["code"]]
            assert best["run"] == run
            assert best["side"] == row["side"] == cells["side"]
            assert best["score"] == pytest.approx(row["score"], abs=1e-3)
            assert state["score"] == round(best["score"])
            assert written.apart(state["depth"], best["depth_m"], LENGTH) <= 0.5 + 1e-3
            assert written.apart(state["speed"], best["speed_m_s"], SPEED) <= 0.5 + 1e-3


def test_a_piece_of_water_has_one_code_and_one_set_of_numbers(written):
    water, cards = written.water(), written.book["cards"]
    columns = written.book["features"]
    drawn = {
        (written.drawn[flow], label.removesuffix(" prime")): dict(cards[card][2])
        for flow, label, card, kind in zip(
            *(columns[name] for name in ("flow", "label", "card", "kind")), strict=True
        )
        if kind in FISHING and written.drawn[flow] in written.labels
    }
    assert drawn.keys() == water.keys()
    seen = 0
    for label in written.labels:
        places = written.places(label)
        for (at, code), piece in water.items():
            if at != label:
                continue
            card, name = drawn[label, code], water_name(code)
            depth = card["Depth"].partition(" (")[0]
            assert written.apart(depth, piece["depth_m"], LENGTH) <= 0.5 + 1e-6
            said = [text for text in places if re.match(rf"{name}[TF]\w ", text)]
            assert len(said) == 2
            stand = card["Place to stand"].partition(" (")[0]
            assert all(f"{depth} deep, " in text for text in said)
            assert all(f"Place to stand: {stand};" in text for text in said)
            length = re.split(r" \(| long", card["Size"])[0]
            assert all(f", {length} long" in text for text in said)
            seen += 1
    assert seen


def test_a_place_to_stand_is_named_for_its_water(written):
    water = written.water()
    stations = written.layer("stations")
    assert len(stations)
    for row in stations.to_dict("records"):
        assert (row["flow_label"], row["water"]) in water
        assert row["code"].startswith(f"{row['water']}-")
    drawn = {
        (written.drawn[flow], label)
        for flow, label, kind in zip(
            *(written.book["features"][name] for name in ("flow", "label", "kind")), strict=True
        )
        if kind == "station" and written.drawn[flow] in written.labels
    }
    assert drawn <= set(zip(stations["flow_label"], stations["code"], strict=True))


def test_the_notes_of_the_map_are_those_of_the_gis_file(written):
    told = {line for card in written.book["cards"] for line in card[3]}
    for name in ("stations", "bars", "wading"):
        notes = set(written.layer(name)["note"])
        assert notes & told or not notes
    assert {run["note"] for run in written.book["runs"]} == set(written.layer("runs")["note"])


def test_a_code_names_one_stretch_of_bank_whatever_the_flow(written):
    water = written.layer("water")
    assert not water.duplicated(["flow_label", "code"]).any()
    for code, mine in water.groupby("code"):
        assert mine["kind"].nunique() == mine["stretch"].nunique() == 1
        assert int(re.sub(r"[a-z]", "", code[1:])) == mine["stretch"].iloc[0]
