"""Which flow is drawn for a reading, the rating in the page, and the flows between."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reachmap.gauge.model import Gauge, RatingSegment, RatingShift
from reachmap.outputs.product import Ladder, of_flows
from reachmap.outputs.webmap import MapSettings, write_maps
from reachmap.outputs.webmap.gauge_scale import (
    STAGE_STEP_M,
    drawn_for,
    gauge_values,
    rise_and_edge,
    stage_table,
)
from tests.outputs.made_product import FILLS, made_product
from tests.outputs.webmap.test_page import book_of

FLOWS = [34.0, 68.0, 113.0, 184.0]


@pytest.mark.parametrize(
    ("reading", "position"),
    [
        (68.0, 1),
        (70.0, 1),  # 2.9 % more: no farther off than a gauge can tell
        (71.0, 2),  # 4.4 % more: the higher, where the water is deeper and quicker
        (66.1, 1),
        (35.5, 1),
        (100.0, 2),
        (20.0, 0),
        (300.0, 3),
    ],
)
def test_a_reading_between_takes_the_higher_flow(reading, position):
    assert drawn_for(reading, FLOWS) == position


def rated(shift=None):
    stage, flow = np.array([1.0, 2.0, 3.0]), np.array([10.0, 40.0, 90.0])
    none = np.array([], dtype="datetime64[s]")
    return Gauge("made", (RatingSegment(stage, flow, 0.0),), none, np.array([]), np.nan, shift)


def at(table, stage_m):
    """Return the flow at a height, straight in its logarithm between two rows."""
    heights = table["first"] + STAGE_STEP_M * np.arange(len(table["flows"]))
    return float(np.exp(np.interp(stage_m, heights, np.log(table["flows"]))))


def test_the_table_is_the_rating():
    """Q = 10 h^2 goes through the three points, exactly."""
    table = stage_table(rated())
    for stage in (1.01, 1.5, 2.0, 2.345, 2.97):
        assert at(table, stage) == pytest.approx(10 * stage**2, rel=1e-3)
    ends = table["first"], table["first"] + STAGE_STEP_M * (len(table["flows"]) - 1)
    assert 1.0 <= ends[0] < 1.0 + STAGE_STEP_M
    assert 3.0 - STAGE_STEP_M < ends[1] <= 3.0 + 1e-9
    assert stage_table(None) is None


def test_the_shift_in_force_is_in_the_table():
    shift = RatingShift(np.array([0.0, 5.0]), np.array([0.2, 0.2]))
    table = stage_table(rated(shift))
    assert at(table, 1.5) == pytest.approx(10 * 1.7**2, rel=1e-3)
    assert table["first"] == pytest.approx(0.8, abs=STAGE_STEP_M)


def test_heights_are_offered_with_a_rating_only():
    product = made_product()
    assert [unit["name"] for unit in gauge_values(product)["units"]] == ["cfs", "m³/s"]
    with_gauge = replace(product, markup=replace(product.markup, gauge=rated()))
    assert [unit["name"] for unit in gauge_values(with_gauge)["units"]] == [
        *("cfs", "m³/s", "ft", "m")
    ]


def test_rise_and_edge_are_those_of_the_made_water():
    product = made_product()
    rise, edge = rise_and_edge(product.flows, product.ground)
    assert rise == pytest.approx(np.array(list(FILLS.values())) - min(FILLS.values()), abs=0.02)
    assert (np.diff(edge) > 0).all()


def with_steps() -> tuple:
    """Return a product of three flows whose ladder has one more between, and the whole ladder."""
    whole = made_product()
    own = [0, 2, 3]
    labels = [whole.labels[k] for k in own]
    flows = tuple(float(one) for one in whole.flows["flow"].to_numpy())
    ladder = Ladder(whole.labels, flows, whole.layers, lambda: (whole.flows, None))
    layers = of_flows(whole.layers, labels)
    return replace(whole, flows=whole.flows.isel(flow=own), layers=layers, ladder=ladder), whole


@pytest.mark.slow
def test_the_page_of_all_flows_holds_every_flow_that_was_read(tmp_path):
    product, whole = with_steps()
    written = write_maps(product, tmp_path)
    assert {path.stem for path in written} == {"index", *product.labels}
    data, book = book_of(written[0].read_text(encoding="utf-8"))
    assert [flow["label"] for flow in data["flows"]] == list(whole.labels)
    assert [flow["label"] for flow in data["flows"] if flow["own"]] == list(product.labels)
    assert data["flows"][1]["words"] == "2,400 cfs"
    assert all(len(run["at"]) == len(whole.labels) for run in book["runs"])
    text = written[0].read_text(encoding="utf-8")
    assert text.count('<th scope="col" data-flow="') == len(product.labels)


@pytest.mark.slow
def test_a_page_that_would_be_too_large_holds_the_flows_asked_for(tmp_path):
    product, _ = with_steps()
    tight = MapSettings(budget_bytes=len(write_maps(product, tmp_path)[0].read_bytes()) // 2)
    data, _ = book_of(write_maps(product, tmp_path, settings=tight)[0].read_text("utf-8"))
    assert [flow["label"] for flow in data["flows"]] == list(product.labels)
