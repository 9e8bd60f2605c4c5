import base64
import hashlib
import json
import re
import zlib
from dataclasses import replace
from html.parser import HTMLParser
from importlib.resources import files

import numpy as np
import pytest

from reachmap.base.units import to_si
from reachmap.gauge.model import Gauge
from reachmap.outputs.palette import BY_KIND, FISHING
from reachmap.outputs.webmap import MapSettings, assets, write_maps
from reachmap.outputs.webmap.budget import plan_maps
from reachmap.outputs.webmap.page import first_flow, gauge_words, page_confidence
from reachmap.outputs.webmap.policy import policy
from reachmap.text import cautions
from reachmap.text.terms import DRAWN
from tests.outputs.made_doubt import with_doubt
from tests.outputs.made_log import with_log
from tests.outputs.made_product import made_product

HOSTILE = (
    '</script><img src=x onerror="window.harmed=1">{{7*7}}{% raw %}@@relief@@@@policy@@'
    "\u202eresrever\u2028" + "long " * 2000
)


class Elements(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.found, self.words, self.inside = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        self.inside.append(tag)

    def handle_endtag(self, tag):
        if tag in self.inside:
            while self.inside.pop() != tag:
                pass

    def handle_data(self, data):
        if "script" not in self.inside and "style" not in self.inside:
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


def book_of(text):
    data = json.loads(re.search(r'id="reach-data">(.*?)</script>', text, re.DOTALL)[1])
    return data, json.loads(zlib.decompress(base64.b64decode(data["book"])))


@pytest.fixture(scope="module")
def pages(maps):
    return {path.name: path.read_text(encoding="utf-8") for path in maps.iterdir()}


@pytest.mark.slow
def test_there_is_a_page_of_all_flows_and_one_of_each(product, pages, tmp_path):
    assert set(pages) == {"index.html", *(f"{label}.html" for label in product.labels)}
    written = write_maps(product, tmp_path)
    assert written[0].name == "index.html"
    for path in written:
        assert path.read_text(encoding="utf-8") == pages[path.name], "a page differs between builds"


def test_no_page_loads_anything(pages):
    for text in pages.values():
        for tag, attributes in Elements(text).found:
            for name in ("src", "href", "srcset", "action", "data", "poster"):
                address = attributes.get(name) or ""
                local = address.startswith(("data:", "#")) or address == "index.html" or not address
                assert local, (tag, address)
        assert "@import" not in text
        assert not re.search(r"url\(\s*['\"]?(?!data:|#)", text)


def test_only_the_pages_own_scripts_may_run(pages):
    for text in pages.values():
        (rule,) = [
            attributes["content"]
            for tag, attributes in Elements(text).found
            if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy"
        ]
        parts = dict(part.strip().split(" ", 1) for part in rule.split(";"))
        assert parts["default-src"] == "'none'"
        assert parts["img-src"] == "data: blob:"
        assert "unsafe" not in parts["script-src"]
        assert "http" not in rule
        bodies = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
        digests = {
            "'sha256-" + base64.b64encode(hashlib.sha256(body.encode()).digest()).decode() + "'"
            for body in bodies
        }
        assert set(parts["script-src"].split()) == digests
        assert text.index("Content-Security-Policy") < text.index("<script>")


def test_every_page_carries_the_cautions_what_it_was_made_from_and_how_sure_it_is(product, pages):
    for text in pages.values():
        words = Elements(text).text
        for line in (*cautions.CAUTIONS, cautions.SHORT, cautions.INVENTED):
            assert line in words
        for line in (*product.report["made_from"], *product.report["warnings"]):
            assert line in words
        assert "fair: likely in kind and place" in words
        assert "Preview" not in words
        assert not re.search(r"\bsafe\b", words, re.IGNORECASE)


@pytest.mark.slow
def test_a_preview_says_so_on_every_page(tmp_path):
    quick = made_product(preview=True)
    for path in write_maps(quick, tmp_path):
        words = Elements(path.read_text(encoding="utf-8")).text
        assert words.count("Preview") == 2
        assert cautions.PREVIEW in words


@pytest.mark.slow
def test_a_low_confidence_is_said_at_the_top(product, tmp_path):
    unsure = replace(product, report=dict(product.report) | {"confidence": "low"})
    words = Elements(write_maps(unsure, tmp_path)[0].read_text(encoding="utf-8")).text
    assert "Little is known of this bed" in words
    assert "low: a guess from little evidence" in words


def test_a_page_is_as_sure_as_its_least_sure_flow():
    assert page_confidence("good", ["a"])[0] == "good"
    assert page_confidence({"a": 0.9, "b": 0.4}, ["a", "b"]) == ("fair", ["a: good", "b: fair"])
    assert page_confidence({"a": 0.9, "b": None}, ["a", "b"])[0] == "low"
    assert page_confidence({"a": 0.9, "b": 0.1}, ["a"]) == ("good", [])
    assert page_confidence(None, ["a"])[0] == "low"


def test_the_key_below_the_table_tells_every_letter_of_it(pages):
    told = re.search(r'ledger-key">(.*?)</p>', pages["index.html"], re.DOTALL)[1]
    for kind in FISHING:
        assert f"{BY_KIND[kind].letter} {DRAWN[kind].lower()}" in told


def test_the_table_of_runs_stands_in_the_page_without_scripts(product, pages):
    words = Elements(pages["index.html"]).text
    for run in product.layers["runs"]["run"]:
        assert run in words
    assert "fishes: inside bend" in words
    assert "leave it: too quick" in words


def test_a_page_of_one_flow_holds_that_flow_only(pages):
    data, book = book_of(pages["2400cfs.html"])
    assert [flow["label"] for flow in data["flows"]] == ["2400cfs"]
    assert data["flows"][0]["words"] == "2,400 cfs"
    assert set(book["features"]["flow"]) == {-1, 0}
    assert all(len(run["at"]) == 1 for run in book["runs"])
    assert len(pages["2400cfs.html"]) < len(pages["index.html"])


@pytest.mark.slow
def test_hostile_text_stays_text_in_every_field(tmp_path):
    bad = with_log(with_doubt(made_product(text=HOSTILE), text=HOSTILE), text=HOSTILE)
    for path in write_maps(bad, tmp_path):
        text = path.read_text(encoding="utf-8")
        page = Elements(text)
        assert not [tag for tag, attributes in page.found if "onerror" in attributes]
        (still,) = [attributes["src"] for tag, attributes in page.found if tag == "img"]
        assert still.startswith("data:image/png;base64,")
        assert page.text.count("{{7*7}}") >= 5
        assert "49" not in re.sub(r"\d\d+", lambda m: "49" if m[0] == "49" else "", page.text)
        assert "@@policy@@" in page.text
        _, book = book_of(text)
        assert book["runs"][0]["name"].startswith(HOSTILE)
        assert max(len(label) for label in book["features"]["label"]) <= 60
        assert len(text) < 1_600_000
    title = re.search(r"<title>(.*?)</title>", text, re.DOTALL)[1]
    assert "\u202e" not in title
    assert len(title) < 300


@pytest.mark.slow
def test_imagery_is_fetched_only_from_the_address_that_was_given(product, tmp_path):
    settings = MapSettings(
        tile_url="https://tiles.example.org/{z}/{x}/{y}.png?k='\"><b>{{1+1}}", tile_credit="<b>me"
    )
    text = write_maps(product, tmp_path, settings=settings)[0].read_text(encoding="utf-8")
    assert "img-src data: blob: https://tiles.example.org;" in text
    assert "{{1+1}}" in text
    assert "&lt;b&gt;me" in text
    assert "<b>me" not in text


def test_an_address_cannot_loosen_the_policy():
    for address in ("https://a.example; script-src *", "javascript:alert(1)", "https://x y/{z}"):
        with pytest.raises(ValueError, match="tile"):
            policy("", address)


def gauge(flows):
    times = np.array(["2024-02-01", "2024-02-02", "2024-02-03"], dtype="datetime64[s]")
    return Gauge("made", (), times, np.array(flows), np.nan)


def test_the_page_opens_with_the_flow_nearest_to_the_last_reading(product):
    read = replace(product, markup=replace(product.markup, gauge=gauge([20.0, 150.0, np.nan])))
    assert first_flow(read) == 3
    assert "2024-02-02" in gauge_words(read)
    assert "Read the gauge" in gauge_words(read)
    silent = replace(product, markup=replace(product.markup, gauge=gauge([np.nan] * 3)))
    assert first_flow(silent) == first_flow(product) == 1
    assert gauge_words(silent) == ""


def test_the_vendored_library_is_what_was_published():
    recorded = assets.recorded_digests()
    bodies = {name: assets.LIBRARY.joinpath(*name.split("/")).read_bytes() for name in recorded}
    assert {name: hashlib.sha256(body).hexdigest() for name, body in bodies.items()} == recorded
    # SHA-256 of dist/leaflet.js in the npm package leaflet 1.9.4, as taken in.
    assert assets.recorded_digests()["leaflet.js"].startswith("db49d009c841f5ca34a888c9")
    assert "BSD 2-Clause" in (assets.LIBRARY / "LICENSE").read_text(encoding="utf-8")


def test_no_script_of_ours_is_too_long_to_read():
    for name in (*assets.SCRIPTS, *assets.STYLES):
        lines = (assets.HERE / "templates" / name).read_text(encoding="utf-8").splitlines()
        assert len(lines) <= 350
        assert "</script" not in "".join(lines)


def test_the_estimate_is_near_what_is_written(product, pages):
    told = plan_maps(product, MapSettings()).estimate
    assert told == pytest.approx(len(pages["index.html"].encode()), rel=0.6)
    assert told > 0.7 * len(pages["index.html"].encode())


@pytest.mark.slow
def test_too_large_a_page_is_drawn_coarser_and_says_so(product, tmp_path):
    settings = MapSettings(budget_bytes=370_000)
    plan = plan_maps(product, settings)
    assert plan.coarser > 1
    written = write_maps(product, tmp_path, settings=settings)[0].read_text(encoding="utf-8")
    assert f"Depth and speed are drawn in squares of {2 * plan.coarser / 0.3048:.1f} ft" in (
        Elements(written).text
    )
    assert len(plan_maps(product, MapSettings(budget_bytes=1000)).notes) >= 3


@pytest.mark.slow
def test_a_product_of_one_flow_has_no_switch_and_no_way_elsewhere(tmp_path):
    one = made_product(fills={to_si(2400.0, "cfs"): -0.75})
    written = write_maps(one, tmp_path)
    assert [path.name for path in written] == ["index.html", "2400cfs.html"]
    for path in written:
        page = Elements(path.read_text(encoding="utf-8"))
        assert not [tag for tag, attributes in page.found if attributes.get("type") == "range"]
        assert not [tag for tag, attributes in page.found if attributes.get("href") == "index.html"]


@pytest.mark.slow
def test_a_product_with_nothing_in_it_still_makes_honest_pages(product, tmp_path):
    flows = product.flows.copy(deep=True)
    flows["wet"].to_numpy()[:] = 2
    for name in ("depth", "level", "east_speed", "north_speed"):
        flows[name].to_numpy()[:] = np.nan
    layers = {name: frame.iloc[:0] for name, frame in product.layers.items()}
    bare = replace(product, flows=flows, layers=layers, report={})
    words = Elements(write_maps(bare, tmp_path)[0].read_text(encoding="utf-8")).text
    assert "low: a guess from little evidence" in words
    assert "The build did not say." in words
    assert "Every run at every flow" not in words


def test_no_kind_of_water_is_taken_for_a_run_by_the_end_of_its_name():
    """Scripts tell kinds apart by whole names: `even_run` is a piece of water, no stretch."""
    scripts = sorted(files("reachmap.outputs.webmap").joinpath("templates").iterdir(), key=str)
    text = "\n".join(one.read_text("utf-8") for one in scripts if one.name.endswith(".js"))
    ends = re.findall(r'kind\.endsWith\("([^"]+)"\)', text)
    assert [kind for end in ends for kind in FISHING if kind.endswith(end)] == []
    assert 'kind === "found_run" || kind === "own_run"' in text
