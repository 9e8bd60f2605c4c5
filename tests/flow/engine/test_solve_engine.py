"""`solve_engine`: its result, its notes and its refusals."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.errors import BuildError
from reachmap.base.words import Wet
from reachmap.flow.engine import EngineSettings, Inflow, solve_engine
from reachmap.flow.notes import NoteKind
from tests.flow.noted import the_note
from tests.made import made_ground

SHORT = {"length": 120, "half_width": 8, "deep": 1.2, "cell": 4.0, "margin": 16}


def straight(**more):
    return made_ground(**{"length": 160, "half_width": 10, "deep": 1.3, "margin": 16} | more)


def carried(answer, column):
    """Return the discharge through a column of a reach that runs east [m3/s]."""
    part = (answer["depth"] * answer["east_speed"]).isel(x=column)
    return float(np.nansum(part.to_numpy()) * answer.attrs["cell"])


def test_a_tiny_reach_is_solved_and_keeps_the_register():
    # small enough to run with the kernels as plain Python
    answer = solve_engine(made_ground(**SHORT), [6.0], [99.5], EngineSettings(grids=2), workers=1)
    assert answer.attrs["method"] == "engine"
    assert float(answer["imbalance"][0]) <= 0.002
    assert float(answer["outflow"][0]) == pytest.approx(6.0, rel=0.01)
    assert carried(answer.isel(flow=0), 15) == pytest.approx(6.0, rel=0.02)
    note = the_note(answer, NoteKind.SOLVED)
    assert (note.flow, note.name) == (6.0, "implicit")
    assert note.value("section_error") == pytest.approx(float(answer["imbalance"][0]))
    wet = answer["wet"][0].to_numpy() == Wet.YES
    assert np.isfinite(answer["depth"][0].to_numpy()[wet]).all()
    assert np.isnan(answer["depth"][0].to_numpy()[~wet]).all()


@pytest.mark.compiled
def test_uniform_channel_has_mannings_depth_far_from_its_ends():
    ground = straight(length=400, roughness=0.035)
    # level in the middle of a parabolic channel where its conveyance at the slope is the flow
    middle = ground["bed"].isel(x=100).to_numpy()
    flow = 14.0

    def carry(level):
        depth = np.clip(level - middle, 0, None)
        return (depth ** (5 / 3)).sum() * 2.0 / 0.035 * np.sqrt(0.002)

    levels = np.linspace(middle.min(), middle.min() + 2, 4001)
    level = np.interp(flow, [carry(value) for value in levels], levels)
    foot = level - 0.002 * (400 - 201)
    still = EngineSettings(eddy_share=0.0)
    answer = solve_engine(ground, [flow], [foot], still, workers=1).isel(flow=0)
    assert float(answer["level"].isel(x=100).mean()) == pytest.approx(level, abs=0.01)


@pytest.mark.compiled
def test_a_flow_has_the_same_bytes_alone_and_in_company():
    ground, settings = straight(turn_deg=30, wavelength=160), EngineSettings()
    both = solve_engine(ground, [6.0, 14.0], [99.3, 99.6], settings, workers=2)
    for k, (flow, foot) in enumerate([(6.0, 99.3), (14.0, 99.6)]):
        alone = solve_engine(ground, [flow], [foot], settings, workers=1)
        for name in ("depth", "east_speed", "north_speed", "wet", "level"):
            assert both[name][k].to_numpy().tobytes() == alone[name][0].to_numpy().tobytes()


@pytest.mark.compiled
def test_a_tributary_adds_its_share_below_its_mouth():
    ground = straight()
    x, y = ground["x"].to_numpy(), ground["y"].to_numpy()
    mouth = Inflow(share=0.3, x=float(x[40]), y=float(y[y.size // 2]))
    settings = EngineSettings(inflows=(mouth,))
    answer = solve_engine(ground, [10.0], [99.4], settings, workers=1).isel(flow=0)
    assert carried(answer, 20) == pytest.approx(7.0, rel=0.01)
    assert carried(answer, 60) == pytest.approx(10.0, rel=0.01)
    assert float(answer["imbalance"]) <= settings.section_error


def test_a_tributary_with_nowhere_to_enter_is_refused():
    settings = EngineSettings(inflows=(Inflow(share=0.3, x=0.0, y=0.0),))
    with pytest.raises(BuildError, match="tributary enters"):
        solve_engine(made_ground(**SHORT), [6.0], [99.5], settings, workers=1)


@pytest.mark.compiled
def test_what_does_not_come_to_rest_is_refused_by_name():
    never = EngineSettings(cycles_most=1, section_error=1e-30, section_error_most=1e-29)
    with pytest.raises(BuildError, match=r"6 m3/s: after .* cycles \(explicit\)") as told:
        solve_engine(made_ground(**SHORT), [6.0, 8.0], [99.4, 99.5], never, workers=1)
    assert [fault.flow for fault in told.value.faults] == [6.0, 8.0]


@pytest.mark.compiled
def test_what_comes_nearly_to_rest_is_given_and_said():
    nearly = EngineSettings(cycles_most=25, section_error=1e-30, section_error_most=0.02)
    answer = solve_engine(made_ground(**SHORT), [6.0], [99.4], nearly, workers=1)
    assert the_note(answer, NoteKind.NOT_AT_REST).value("section_error") == 1e-30
    assert float(answer["imbalance"][0]) <= 0.02


@pytest.mark.compiled
def test_cells_are_widened_where_water_reaches_their_edge():
    ground = straight()
    answers = [
        solve_engine(ground, [14.0], [99.6], EngineSettings(margin_m=m), workers=1)
        for m in (0.02, 1.0)
    ]
    few, many = (int((a["wet"] == Wet.YES).sum()) for a in answers)
    assert few == pytest.approx(many, rel=0.01)


@pytest.mark.compiled
def test_water_beside_unknown_ground_makes_low_ground_behind_it_unknown():
    ground = straight(margin=40)
    bed = ground["bed"].to_numpy().copy()
    rows = bed.shape[0]
    bed[4, 30:50] = 97.0  # a hollow far up the bank ...
    bed[5 : rows // 2 - 2, 38:42] = np.nan  # ... and nothing known between it and the water
    ground["bed"] = (("y", "x"), bed)
    answer = solve_engine(ground, [10.0], [99.4], EngineSettings(), workers=1)
    wet = answer["wet"][0].to_numpy()
    assert (wet[4, 30:50] == Wet.UNKNOWN).all()
    assert (wet[5 : rows // 2 - 2, 38:42] == Wet.UNKNOWN).all()
    assert the_note(answer, NoteKind.UNKNOWN_GROUND).value("area_m2") > 0


@pytest.mark.parametrize("flows", [[], [5.0, 3.0], [-1.0], [np.nan]])
def test_senseless_flows_are_the_callers_fault(flows):
    with pytest.raises(ValueError, match="flows are"):
        solve_engine(made_ground(**SHORT), flows, [99.0] * len(flows), EngineSettings())


def test_a_level_for_each_flow_is_wanted():
    with pytest.raises(ValueError, match="foot_levels are"):
        solve_engine(made_ground(**SHORT), [5.0], [], EngineSettings())


@pytest.mark.parametrize(
    "wrong", [{"courant": 0}, {"correction": 2}, {"eddy_share": -1}, {"cycles_most": 0}]
)
def test_senseless_settings_are_refused(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong))):
        EngineSettings(**wrong)


def test_inflows_that_leave_nothing_are_refused():
    with pytest.raises(ValueError, match="share"):
        Inflow(share=1.0, x=0, y=0)
    half = Inflow(share=0.5, x=0, y=0)
    with pytest.raises(ValueError, match="nothing is left"):
        EngineSettings(inflows=(half, half))
