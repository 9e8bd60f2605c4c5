import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from reachmap.base.errors import BuildError
from reachmap.base.words import Wet
from reachmap.flow import FlowSettings, foot_levels, solve
from reachmap.flow.notes import NoteKind, one_flow_of
from tests.flow.noted import the_note
from tests.made import made_ground

PROFILE = FlowSettings(method="profile")
LENGTH = 260.0


def rough_ground(seed, *, turn_deg=30.0, riffle=0.3, bumps=0.3, mirror=False):
    """Return a small bending reach with random smooth bumps on its bed."""
    ground = made_ground(
        length=LENGTH,
        wavelength=130,
        turn_deg=turn_deg,
        half_width=12,
        riffle=riffle,
        mirror=mirror,
    )
    grain = np.random.default_rng(seed).standard_normal(8)
    across, along = ground["offset"] / 12, ground["station"] / 40
    side = -across if mirror else across
    bump = sum(
        grain[i] * np.sin((i + 1) * along + 3 * grain[-i - 1]) * np.cos((i % 3 + 1) * side)
        for i in range(4)
    )
    return ground.assign(bed=ground["bed"] + bumps / 4 * bump)


def test_the_door_gives_the_promised_fields_and_marks():
    ground = made_ground(length=300, half_width=15)
    result = solve(ground, [5.0, 20.0], FlowSettings())
    assert result.attrs["method"] == "profile"
    assert result.attrs["crs"] == ground.attrs["crs"]
    assert result["flow"].to_numpy().tolist() == [5.0, 20.0]
    assert (np.diff(result["foot_level"]) > 0).all()
    known = result["wet"] == Wet.YES
    for name in ("level", "depth", "east_speed", "north_speed"):
        assert bool((np.isfinite(result[name]) == known).all())


@pytest.mark.compiled
def test_a_flow_alone_and_among_others_gives_the_same_bytes():
    ground = rough_ground(3)
    together = solve(ground, [4.0, 10.0, 25.0], PROFILE)
    alone = solve(ground, [10.0], PROFILE)
    xr.testing.assert_identical(one_flow_of(together, 1).drop_attrs(), alone.drop_attrs())


@pytest.mark.compiled
@settings(max_examples=12)
@given(
    seed=st.integers(0, 10_000),
    flow=st.floats(2, 30),
    more=st.floats(1.02, 3),
    riffle=st.floats(0, 0.5),
)
def test_more_flow_is_never_shallower(seed, flow, more, riffle):
    result = solve(rough_ground(seed, riffle=riffle), [flow, flow * more], PROFILE)
    low, high = result.isel(flow=0), result.isel(flow=1)
    assert bool(((high["wet"] == Wet.YES) | (low["wet"] != Wet.YES)).all())
    deeper = (high["depth"] - low["depth"]).to_numpy()
    assert np.nanmin(deeper) > -1e-6


@pytest.mark.compiled
@settings(max_examples=12)
@given(seed=st.integers(0, 10_000), flow=st.floats(2, 60), turn=st.floats(0, 60))
def test_water_in_is_water_out_at_every_section(seed, flow, turn):
    result = solve(rough_ground(seed, turn_deg=turn), [flow], PROFILE)
    assert float(result["imbalance"][0]) < 0.01
    assert float(result["outflow"][0]) == pytest.approx(flow, rel=0.01)


@pytest.mark.compiled
@settings(max_examples=8)
@given(seed=st.integers(0, 10_000), flow=st.floats(2, 40))
def test_a_mirrored_reach_gives_a_mirrored_map(seed, flow):
    right, left = (
        solve(rough_ground(seed, mirror=mirror), [flow], PROFILE).isel(flow=0)
        for mirror in (False, True)
    )
    for name, sign in (("depth", 1), ("wet", 1), ("east_speed", 1), ("north_speed", -1)):
        here = right[name].to_numpy().astype(float)
        there = sign * left[name].to_numpy()[::-1].astype(float)
        np.testing.assert_allclose(here, there, atol=1e-6)


@pytest.mark.compiled
@settings(max_examples=8)
@given(seed=st.integers(0, 10_000), share=st.floats(0.01, 0.3))
def test_ground_nobody_knows_is_never_dry_or_shallow(seed, share):
    ground = rough_ground(seed)
    blind = np.random.default_rng(seed).random(ground["bed"].shape) < share
    ground["bed"] = ground["bed"].where(~blind)
    result = solve(ground, [12.0], PROFILE).isel(flow=0)
    assert (result["wet"].to_numpy()[blind] == Wet.UNKNOWN).all()
    assert np.isnan(result["depth"].to_numpy()[blind]).all()
    assert np.isnan(result["east_speed"].to_numpy()[blind]).all()


def test_cells_past_the_ends_of_the_line_are_unknown():
    ground = made_ground(length=300, half_width=15)
    short = ground.isel(vertex=slice(40, 261))
    one = solve(short, [10.0], PROFILE).isel(flow=0)
    past = (ground["station"] < 40) | (ground["station"] > 260)
    assert bool((one["wet"].where(past, Wet.UNKNOWN) == Wet.UNKNOWN).all())
    assert bool((one["wet"].where(~past, Wet.NO) != Wet.UNKNOWN).all())


@pytest.mark.compiled
def test_a_level_the_ground_stage_measured_at_the_foot_rules():
    ground = made_ground(length=300, half_width=15)
    free = foot_levels(ground, [5.0, 10.0], PROFILE)
    seen = ground.assign_attrs(low_flow=5.0, low_foot_level=free[0] + 0.2)
    assert foot_levels(seen, [5.0, 10.0], PROFILE) == pytest.approx(free + 0.2)
    result = solve(seen, [5.0], PROFILE)
    assert float(result["foot_level"][0]) == pytest.approx(free[0] + 0.2)
    unknown = ground.assign_attrs(low_flow=5.0, low_foot_level=np.nan)
    assert foot_levels(unknown, [5.0], PROFILE) == pytest.approx(free[:1])


@pytest.mark.compiled
def test_uniform_flow_lies_parallel_to_the_slope():
    ground = made_ground(length=400, half_width=15)
    one = solve(ground, [15.0], PROFILE).isel(flow=0)
    along = one["level"] + 0.002 * ground["station"]
    assert float(along.max() - along.min()) < 2e-3


def test_riffles_that_run_at_critical_depth_are_noted():
    ground = made_ground(length=400, wavelength=200, half_width=15, riffle=1.2, deep=1.8)
    note = the_note(solve(ground, [4.0], PROFILE), NoteKind.CRITICAL_DEPTH)
    assert note.flow == 4.0
    assert 0 < note.value("critical_sections") < note.value("sections")
    assert 0 <= note.station <= 400


@pytest.mark.parametrize("flows", [[], [0.0], [5.0, 5.0], [5.0, 4.0], [np.nan]])
def test_flows_that_are_no_rising_discharges_are_refused(flows):
    with pytest.raises(ValueError, match="positive and rising"):
        solve(made_ground(length=200), flows, PROFILE)


def test_a_reach_without_slope_or_bed_is_refused_with_a_mend():
    ground = made_ground(length=300, half_width=15)
    flat = ground.assign_attrs(slope=np.nan)
    with pytest.raises(BuildError, match="slope"):
        solve(flat, [5.0], PROFILE)
    bare = ground.assign(bed=ground["bed"].where(abs(ground["station"] - 150) > 20))
    with pytest.raises(BuildError, match="no height is known between the banks"):
        solve(bare, [5.0], PROFILE)
    short = ground.isel(vertex=slice(0, 10))
    with pytest.raises(BuildError, match="long"):
        solve(short, [5.0], PROFILE)


def test_a_flow_the_valley_cannot_hold_is_refused():
    with pytest.raises(BuildError, match=r"cannot carry|higher than the ground"):
        solve(made_ground(length=300, half_width=15), [60_000.0], PROFILE)


@pytest.mark.parametrize(
    "wrong",
    [{"section_step_m": 0}, {"narrowing_loss": 2}, {"slope_rounds": -1}, {"method": "magic"}],
)
def test_settings_no_river_can_be_worked_out_with_are_refused(wrong):
    with pytest.raises(ValueError, match="wants"):
        FlowSettings(**wrong)
