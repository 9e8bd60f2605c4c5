"""The angler's log on the map: on the page that stays at home, and in nothing that is sent on."""

from dataclasses import replace

import pytest

from reachmap.outputs.choices import PLAIN
from reachmap.outputs.webmap import write_maps
from reachmap.outputs.webmap.feature import EVERY_FLOW
from reachmap.outputs.webmap.layers import features
from reachmap.outputs.webmap.runs import runs_by_flow
from reachmap.outputs.write import WRITERS
from tests.outputs.made_log import SECRET, with_log
from tests.outputs.made_product import made_product
from tests.outputs.webmap.test_page import book_of


@pytest.fixture(scope="module")
def logged(product):
    return with_log(product)


@pytest.fixture(scope="module")
def written(logged, tmp_path_factory):
    folder = tmp_path_factory.mktemp("logged")
    for name, writer in WRITERS:
        (folder / name).mkdir()
        writer(logged, folder / name, PLAIN)
    return folder


def test_each_row_of_the_log_is_a_mark_that_knows_its_flow(logged):
    drawn = [f for f in features(logged) if f.kind == "trip"]
    assert [f.label for f in drawn] == ["L1", "L2", "L3", "L4", "L5"]
    assert [f.near for f in drawn] == [1, EVERY_FLOW, 1, 1, 1]
    facts = [dict(f.card.rows) for f in drawn]
    assert facts[0]["Touches"] == "2, 1 landed"
    assert facts[0]["Time fished"] == "1.5 h"
    assert facts[3]["Depth"] == "3.9 ft (1.2 m)"
    assert facts[4]["Speed"] == "2.6 ft/s (0.8 m/s)"
    assert drawn[1].card.title == "Trips here, 2031-01-18"


def test_the_table_of_runs_tells_of_the_log(logged):
    first = runs_by_flow(logged)[0]
    assert [state.fished for state in first.at] == [0, 3, 0, 0]
    assert first.at[1].logged == "fished 3 times, 4.5 h, 2 touches"


def test_the_page_of_all_flows_holds_the_log_and_says_so(written):
    text = (written / "maps" / "index.html").read_text(encoding="utf-8")
    assert "Your log is in this page." in text
    assert "\u00d73</small>" in text
    _, book = book_of(text)
    assert book["features"]["kind"].count("trip") == 5
    assert any(SECRET in str(card) for card in book["cards"])
    assert any(state["log"] for run in book["runs"] for state in run["at"])


def test_no_page_that_is_sent_on_and_no_other_file_holds_any_of_it(written, logged):
    for label in logged.labels:
        text = (written / "maps" / f"{label}.html").read_text(encoding="utf-8")
        assert "Your log is in this page." not in text
        assert "times you fished it" not in text
        _, book = book_of(text)
        assert "trip" not in book["features"]["kind"]
        assert not any(SECRET in str(card) for card in book["cards"])
        assert not any(state["log"] for run in book["runs"] for state in run["at"])
    for folder in ("sheets", "gpx", "kml", "gis"):
        for path in (written / folder).iterdir():
            assert SECRET.encode() not in path.read_bytes(), path


def test_a_page_of_one_flow_carries_no_log_even_where_there_is_no_other(tmp_path):
    one = made_product(fills={68.0: -0.75}, tables=True)
    write_maps(with_log_of_one(one), tmp_path)
    pages = {path.name: path.read_text(encoding="utf-8") for path in tmp_path.iterdir()}
    assert "trip" in book_of(pages["index.html"])[1]["features"]["kind"]
    (single,) = [name for name in pages if name != "index.html"]
    assert "trip" not in book_of(pages[single])[1]["features"]["kind"]


def with_log_of_one(product):
    """A log beside a single flow."""
    several = with_log(made_product())
    log = several.log.assign(near_label="")
    return replace(product, log=log)


def test_without_a_log_the_pages_are_as_before(product, tmp_path):
    page = write_maps(product, tmp_path)[0].read_text(encoding="utf-8")
    assert "Your log is in this page." not in page
    assert "times you fished it" not in page
