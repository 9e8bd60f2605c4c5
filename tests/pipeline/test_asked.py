"""Flows asked of a build: every fault listed, from Python and the command line alike."""

from __future__ import annotations

import math
from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pytest

import reachmap
from reachmap.base.errors import MarkupError
from reachmap.base.words import UnitSystem
from reachmap.cli.typed import typed_flows
from reachmap.pipeline.flow_checks import check_within, checked_flows, within_faults

NO_FLOWS = {
    "negative": -5,
    "zero": 0,
    "NaN": math.nan,
    "infinite": math.inf,
    "minus infinite": -math.inf,
    "400 digits": 10**400,
    "5,000 digits": 10**5000,
    "text": "68",
    "none": None,
    "true": True,
    "complex": 3 + 4j,
    "decimal": Decimal(68),
    "list": [68.0],
    "array NaN": np.float64("nan"),
    "a trickle": 1e-9,
    "an ocean": 1e9,
}


@pytest.mark.parametrize("name", NO_FLOWS)
def test_what_is_no_flow_is_a_fault_beside_all_others(name):
    with pytest.raises(MarkupError) as told:
        checked_flows([30.0, NO_FLOWS[name], -1.0], UnitSystem.METRIC)
    assert len(told.value.faults) == 2
    assert all(fault.where == "flows" for fault in told.value.faults)
    assert len(str(told.value)) < 700


@pytest.mark.parametrize("flows", [[], (), np.array([]), "68", b"68", 68.0, 7, object(), {}])
def test_what_is_no_list_of_flows_is_a_fault(flows):
    with pytest.raises(MarkupError, match="1 thing"):
        checked_flows(flows, UnitSystem.METRIC)


def test_too_many_flows_and_flows_of_one_name_are_faults():
    with pytest.raises(MarkupError, match="there are 101 flows"):
        checked_flows([20.0 + one for one in range(101)], UnitSystem.METRIC)
    with pytest.raises(MarkupError, match="both be called 30m3s"):
        checked_flows([30.0, 30.0001], UnitSystem.METRIC)


@pytest.mark.parametrize("flow", [math.nan, math.inf, 10**400])
def test_what_is_no_number_is_not_called_a_flow_too_large(flow):
    with pytest.raises(MarkupError, match="is not a flow"):
        checked_flows([flow], UnitSystem.METRIC)


def test_flows_come_back_rising_each_once():
    flows = (one for one in (45, np.float32(30.0), np.int64(20), 30.0))
    assert checked_flows(flows, UnitSystem.METRIC) == (20.0, 30.0, 45.0)
    assert checked_flows(None, UnitSystem.METRIC) is None


@pytest.mark.parametrize("flows", [[-5], [math.nan], [math.inf], [0], [10**400], [], ["68"], "68"])
def test_the_python_door_lists_the_same_faults_and_writes_nothing(tmp_path, flows):
    drawing = SimpleNamespace(plan=SimpleNamespace(units=UnitSystem.METRIC))
    reach = reachmap.Reach(tmp_path, drawing)
    with pytest.raises(MarkupError) as told:
        reach.map(flows)
    with pytest.raises(MarkupError) as same:
        checked_flows(flows, UnitSystem.METRIC)
    assert told.value.faults == same.value.faults
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "option", [{"cell": 0}, {"cell": -2}, {"cell": 0.25}, {"cell": "2"}, {"season": "spring"}]
)
def test_the_python_door_refuses_other_options_too(tmp_path, option):
    drawing = SimpleNamespace(plan=SimpleNamespace(units=UnitSystem.METRIC))
    reach = reachmap.Reach(tmp_path, drawing)
    with pytest.raises(MarkupError, match=next(iter(option))):
        reach.map(**option)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("word", ["-5", "1e400", "9" * 400, "9" * 5000, "inf", "nan", "0.000", "²"])
def test_the_command_line_refuses_them_in_one_short_line(word):
    with pytest.raises(MarkupError, match=r"--flow: .* is not a flow") as told:
        typed_flows([word], UnitSystem.METRIC)
    assert len(str(told.value)) < 300


def test_the_command_line_refuses_what_no_river_carries():
    with pytest.raises(MarkupError, match="no river's flow"):
        typed_flows(["99999999"], UnitSystem.US)
    with pytest.raises(MarkupError, match="both be called"):
        typed_flows(["2400", "2400.0001"], UnitSystem.US)


@pytest.mark.parametrize("flow", [19.0, 46.0])
def test_a_flow_beyond_either_end_is_refused_in_the_same_words(flow):
    mapped = [20.0, 30.0, 45.0]
    [fault] = within_faults([30.0, flow, 45.0, 20.0], mapped, UnitSystem.METRIC, where="--flow")
    assert fault.where == "--flow"
    assert fault.found == f"{flow:g} m3/s is outside the mapped flows, 20 m3/s to 45 m3/s"
    assert "[flows]" in fault.fix
    with pytest.raises(MarkupError, match="outside the mapped flows"):
        check_within([flow], mapped, UnitSystem.METRIC)
