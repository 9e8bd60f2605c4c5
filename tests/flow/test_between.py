"""Flow between solved flows: exact cases, laws, and solved flows left out and found again."""

from __future__ import annotations

import numpy as np
import pytest

from reachmap.base.listed import CellList
from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, solve
from reachmap.flow.between import SolvedFlows, flow_between
from reachmap.flow.carry import carry_level
from reachmap.flow.notes import FlowNote, NoteKind, notes_of, packed_flows, with_notes
from reachmap.flow.place import place_of
from reachmap.flow.section_rasters import Sections
from reachmap.flow.sections import sections_of
from reachmap.flow.split import section_flows
from tests.made import made_flows, made_ground

SOLVED = np.array([10.0, 20.0, 40.0, 80.0, 160.0])


def cubic(flow):
    """A level above the bank tops that is a cubic in ln Q, rising [m]."""
    x = np.log(flow / 10.0)
    return -1.0 + 0.25 * x + 0.05 * x**2 - 0.01 * x**3


@pytest.fixture(scope="module")
def ground():
    return made_ground(length=200.0, cell=4.0)


@pytest.fixture(scope="module")
def flows(ground):
    return made_flows(ground, {float(q): float(cubic(q)) for q in SOLVED}).assign_attrs(
        method="made"
    )


@pytest.mark.parametrize("flow", [12.0, 30.0, 59.0, 100.0])
def test_a_level_that_is_a_cubic_in_ln_q_is_found_exactly(ground, flows, flow):
    made = flow_between(ground, flows, flow).isel(flow=0)
    wet = made["wet"].to_numpy() == Wet.YES
    level = 100 + cubic(flow) - 0.002 * ground["station"].to_numpy()
    # on cells dry at a lower flow its level is that of the nearest wet cell, one row up the slope
    every = flows["wet"].to_numpy()[0] == Wet.YES
    assert every.sum() > 100
    np.testing.assert_allclose(made["level"].to_numpy()[every], level[every], atol=1e-9)
    assert wet[every].all()
    np.testing.assert_allclose(
        made["depth"].to_numpy()[wet], (made["level"] - ground["bed"]).to_numpy()[wet], atol=1e-12
    )


def test_east_and_north_speed_follow_the_same_cubic(ground, flows):
    x = np.log(SOLVED / 10.0)
    told = flows.copy(deep=True)
    wet = flows["wet"].to_numpy() == Wet.YES
    for name, law in (("east_speed", 0.5 + 0.2 * x**3), ("north_speed", 0.1 - 0.03 * x**2)):
        told[name].values = np.where(wet, law[:, None, None], np.nan)
    made = flow_between(ground, told, 30.0).isel(flow=0)
    at = np.log(3.0)
    every = wet[0]
    np.testing.assert_allclose(made["east_speed"].to_numpy()[every], 0.5 + 0.2 * at**3, atol=1e-12)
    np.testing.assert_allclose(
        made["north_speed"].to_numpy()[every], 0.1 - 0.03 * at**2, atol=1e-12
    )


def test_where_the_higher_flow_alone_is_wet_its_speed_falls_with_depth(ground, flows):
    made = flow_between(ground, flows, 30.0).isel(flow=0)
    codes = flows["wet"].to_numpy()
    new = (codes[1] != Wet.YES) & (codes[2] == Wet.YES) & (made["wet"].to_numpy() == Wet.YES)
    assert new.any()
    ratio = made["depth"].to_numpy() / flows["depth"].to_numpy()[2]
    # flows made by Manning's law go with the depth to the power 2/3, and are found to
    wanted = flows["east_speed"].to_numpy()[2] * ratio ** (2 / 3)
    np.testing.assert_allclose(made["east_speed"].to_numpy()[new], wanted[new], rtol=1e-9)
    slower = flows.copy(deep=True)
    east, depth = (flows[name].to_numpy() for name in ("east_speed", "depth"))
    slower["east_speed"].values[3] = east[2] * (depth[3] / depth[2]) ** 0.4
    made = flow_between(ground, slower, 30.0).isel(flow=0)["east_speed"].to_numpy()
    np.testing.assert_allclose(made[new], (east[2] * ratio**0.4)[new], rtol=1e-9)
    # held to 0.3 to 1 where two flows show something else
    slower["east_speed"].values[3] = east[2] * (depth[3] / depth[2]) ** 3
    made = flow_between(ground, slower, 30.0).isel(flow=0)["east_speed"].to_numpy()
    np.testing.assert_allclose(made[new], (east[2] * ratio)[new], rtol=1e-9)


def test_more_water_is_never_shallower_though_the_polynomial_overshoots(ground):
    fills = {10.0: -1.0, 20.0: -0.6, 40.0: -0.59, 80.0: -0.58, 160.0: 0.3}
    flows = made_flows(ground, fills).assign_attrs(method="made")
    for flow, k in ((15.0, 0), (30.0, 1), (60.0, 2), (100.0, 3)):
        made = flow_between(ground, flows, flow).isel(flow=0)
        low, high = (np.nan_to_num(flows["depth"].to_numpy()[i]) for i in (k, k + 1))
        depth = np.nan_to_num(made["depth"].to_numpy())
        assert (depth >= low - 0.05).all()  # a cell's slope of level, where the edge moves
        assert (depth <= high + 1e-9).all()


def test_a_hollow_that_no_water_joins_stays_dry(ground, flows):
    hole = ground.copy(deep=True)
    rows = ground["bed"].to_numpy().min(axis=1)
    row = int(np.argmax(rows > 100.2))
    hole["bed"].values[row, 10] = 97.0
    told = flows.copy(deep=True)
    told["wet"].values[:, row, 10] = Wet.NO
    told["wet"].values[-1, row, 10] = Wet.YES
    told["level"].values[-1, row, 10] = 101.0
    told["depth"].values[-1, row, 10] = 4.0
    made = flow_between(hole, told, 100.0).isel(flow=0)
    assert made["wet"].to_numpy()[row, 10] == Wet.NO
    assert np.isnan(made["depth"].to_numpy()[row, 10])


def test_ground_that_the_higher_flow_leaves_dry_is_dry(ground, flows):
    low = ground.copy(deep=True)
    wet = flows["wet"].to_numpy() == Wet.YES
    row = int(np.argmax(wet[3][:, 10]))  # the outermost row wet at the higher flow
    low["bed"].values[row - 1, 10] = 97.0
    made = flow_between(low, flows, 60.0).isel(flow=0)
    assert not wet[3][row - 1, 10]
    assert made["wet"].to_numpy()[row - 1, 10] == Wet.NO


@pytest.mark.parametrize("at", [1, 2])
def test_what_a_neighbour_does_not_know_is_unknown_unless_wet(ground, flows, at):
    told = flows.copy(deep=True)
    dry = flows["wet"].to_numpy()[2] == Wet.NO
    told["wet"].values[at][dry] = Wet.UNKNOWN
    made = flow_between(ground, told, 30.0)["wet"].to_numpy()[0]
    assert (made[dry] == Wet.UNKNOWN).all()
    assert (made[~dry] != Wet.UNKNOWN).any()


def test_outside_the_solved_range_nothing_is_told(ground, flows):
    for flow in (9.9, 161.0, float("nan")):
        with pytest.raises(ValueError, match="10 to 160 m3/s"):
            flow_between(ground, flows, flow)
    with pytest.raises(ValueError, match="is solved"):
        flow_between(ground, flows, 20.0 * (1 + 1e-9))


def test_a_flow_is_placed_by_its_logarithm():
    place = place_of(20.0 * 2**0.5, SOLVED)
    assert (place.low, place.high) == (1, 2)
    assert place.share == pytest.approx(0.5)
    assert not place.solved
    assert place_of(160.0, SOLVED).solved


def test_the_flows_next_to_it_are_stated_and_no_balance_is_claimed(ground, flows):
    made = flow_between(ground, flows, 30.0)
    (note,) = notes_of(made)
    assert (note.kind, note.flow) == (NoteKind.INTERPOLATED, 30.0)
    assert note.values == (20.0, 40.0)
    assert np.isnan(made["imbalance"].to_numpy()).all()
    assert np.isnan(made["outflow"].to_numpy()).all()
    assert float(made["inflow"][0]) == 30.0


@pytest.mark.compiled
def test_a_solved_flow_left_out_is_found_again():
    """Limits: what was measured on the sample with four solved flows, 7 mm and 2 cm/s rms."""
    ground = made_ground(
        length=300.0, wavelength=300.0, turn_deg=30.0, half_width=20.0, deep=2.0, slope=0.001
    )
    asked = [10.0, 13.0, 17.0, 22.0, 28.0]
    solved = solve(ground, asked, FlowSettings(method="engine"))
    for left_out in (1, 2, 3):
        others = solved.isel(flow=[k for k in range(len(asked)) if k != left_out])
        made = flow_between(ground, others, asked[left_out]).isel(flow=0)
        truth = solved.isel(flow=left_out)
        here, there = (one["wet"].to_numpy() == Wet.YES for one in (made, truth))
        assert (here != there).sum() < 0.01 * there.sum()
        depth = (made["depth"] - truth["depth"]).to_numpy()[here & there]
        fast, true = (
            np.hypot(one["east_speed"], one["north_speed"]).to_numpy()[here & there]
            for one in (made, truth)
        )
        assert np.sqrt((depth**2).mean()) < 0.007
        assert np.sqrt(((fast - true) ** 2).mean()) < 0.021


def test_the_level_goes_from_one_solved_flow_to_the_next_without_turning(ground):
    """Levels with a step in them, where Lagrange's cubic alone would swing up and down."""
    fills = {10.0: -1.2, 20.0: -0.6, 40.0: -0.58, 80.0: 0.1, 160.0: 0.12}
    flows = made_flows(ground, fills).assign_attrs(method="made")
    solved = SolvedFlows.of(ground, flows)
    seen = [solved.level[0]]
    for flow in np.exp(np.linspace(np.log(10.0), np.log(160.0), 61))[1:-1]:
        if place_of(flow, SOLVED).solved:
            continue
        water = solved.water_at(float(flow))
        seen.append(water.depth + solved.bed)
    seen.append(solved.level[-1])
    assert (np.diff(seen, axis=0) >= -1e-9).all()


def test_fields_read_one_by_one_are_those_of_the_door(ground, flows):
    solved = SolvedFlows.of(ground, packed_flows(flows.isel(flow=[k]) for k in range(5)))
    for flow in (12.0, 30.0, 100.0):
        assert solved.at(flow).identical(flow_between(ground, flows, flow))
    fewer = solved.without(2)
    assert list(fewer.flows) == [10.0, 20.0, 80.0, 160.0]
    left = flow_between(ground, flows.isel(flow=[0, 1, 3, 4]), 40.0)
    np.testing.assert_allclose(fewer.at(40.0)["depth"], left["depth"], atol=1e-12)


def test_notes_that_hold_at_every_flow_hold_between(ground, flows):
    told = with_notes(
        flows, [FlowNote(NoteKind.TRIBUTARY_NOT_MODELLED), FlowNote(NoteKind.NARROW, 20.0)]
    )
    kinds = [note.kind for note in notes_of(flow_between(ground, told, 30.0))]
    assert kinds == [NoteKind.TRIBUTARY_NOT_MODELLED, NoteKind.INTERPOLATED]


def test_water_is_conserved_between_solved_flows(ground):
    """Uniform flow by Manning: what runs through every section is the flow asked for.

    Levels solve Manning's law for each discharge, by numpy's root of the section's conveyance; the
    sections' discharge between solved flows is within 1 % of the flow.
    """
    level = {q: manning_fill(ground, q) for q in (20.0, 30.0, 45.0, 70.0)}
    flows = made_flows(ground, level).assign_attrs(method="made")
    for q in (24.0, 37.0, 55.0):
        made = flow_between(ground, flows, q).isel(flow=0)
        carried = np.nansum((made["depth"] * made["east_speed"]).to_numpy(), axis=0) * 4.0
        np.testing.assert_allclose(carried, q, rtol=0.01)


def manning_fill(ground, flow):
    """Return the level above the bank tops [m] at which Manning's law carries a flow [m3/s]."""
    low, high = -1.45, 0.5
    for _ in range(60):
        middle = 0.5 * (low + high)
        one = made_flows(ground, {flow: middle}).isel(flow=0, x=20)
        carried = float(np.nansum((one["depth"] * one["east_speed"]).to_numpy()) * 4.0)
        low, high = (middle, high) if carried < flow else (low, middle)
    return middle


@pytest.mark.compiled
def test_a_solve_started_from_water_near_the_answer_comes_to_it_sooner():
    """The same answer within ten times the tolerances of the solve, in fewer cycles."""
    ground = made_ground(
        length=600.0, turn_deg=60.0, half_width=20.0, deep=2.0, slope=0.002, riffle=0.5
    )
    settings = FlowSettings(method="engine")
    solved = solve(ground, [13.0, 17.0, 22.0, 28.0], settings)
    plain = solve(ground, [20.0], settings)
    begun = solve(ground, [20.0], settings, near=flow_between(ground, solved, 20.0))
    cycles = [notes_of(one)[0].value("cycles") for one in (plain, begun)]
    assert cycles[1] <= 0.8 * cycles[0]
    apart = np.abs(begun["depth"] - plain["depth"]).to_numpy()
    assert np.sqrt(np.nanmean(apart**2)) < 0.002
    assert ((begun["wet"] == Wet.YES) != (plain["wet"] == Wet.YES)).sum() <= 2


def test_dry_cells_take_the_level_of_the_wet_ones_next_to_them():
    """By pencil: one wet cell gives its own; two at 1 and 2 cells weigh 4 to 1."""
    places = np.array([[0, 0], [0, 1], [0, 3]])
    level = np.array([10.0, np.nan, 15.0])
    carry_level(level, np.array([True, False, True]), places)
    assert level[1] == pytest.approx((4 * 10 + 15) / 5)
    alone = np.array([np.nan, 7.0, np.nan])
    carry_level(alone, np.array([False, True, False]), places)
    assert list(alone) == [7.0, 7.0, 7.0]


def test_pairs_are_cells_that_share_a_side_and_rows_do_not_run_on():
    mask = np.array([[1, 1, 0, 1], [1, 0, 0, 1], [1, 1, 1, 0]], dtype=bool)
    cells = np.flatnonzero(mask)
    listed = CellList.of_cells(cells, mask.shape)
    found = {tuple(pair) for pair in cells[listed.adjacent].T.tolist()}
    flat = {
        (r * 4 + c, (r + dr) * 4 + c + dc)
        for r in range(3)
        for c in range(4)
        for dr, dc in ((0, 1), (1, 0))
        if r + dr < 3 and c + dc < 4 and mask[r, c] and mask[r + dr, c + dc]
    }
    assert found == flat


@pytest.mark.compiled
def test_an_interpolated_flow_carries_its_water_through_every_section():
    """Discharge through the sections, by the measure that solved flows are held to."""
    ground = made_ground(length=600.0, turn_deg=60.0, half_width=20.0, deep=2.0, riffle=0.5)
    settings = FlowSettings(method="engine")
    solved = SolvedFlows.of(ground, solve(ground, [13.0, 17.0, 22.0, 28.0], settings))
    sections = Sections.of(ground, sections_of(ground, settings))

    def errors(one):
        names = ("depth", "east_speed", "north_speed")
        carried = section_flows(sections, *(one[name].to_numpy()[0] for name in names))
        return carried / float(one["flow"][0]) - 1

    between, beside = errors(solved.at(19.0)), errors(solved.fields.isel(flow=[1]))
    assert np.sqrt((between**2).mean()) < np.sqrt((beside**2).mean()) + 0.002
    assert np.abs(between - beside).max() < 0.01
