"""The ensemble's spread and chances on rivers whose uncertainty is known."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
import xarray as xr
from scipy.ndimage import map_coordinates
from scipy.stats import norm
from shapely import box

from reachmap.base.errors import BuildError
from reachmap.base.fields import with_labels
from reachmap.base.packed import PackedRaster
from reachmap.base.schema import BY_NAME, layer_frame
from reachmap.base.words import UnitSystem, Wet
from reachmap.flow import FlowSettings, solve
from reachmap.text.sure import left_out_words
from reachmap.uncertainty.coarse import Coarse, Corners, block_mean, coarse_factor
from reachmap.uncertainty.confidence import chance_of_half, owners_of, spread_at, with_confidence
from reachmap.uncertainty.estimate import NAMES, estimate_uncertainty
from reachmap.uncertainty.model_error import ModelError
from reachmap.uncertainty.settings import UncertaintySettings
from reachmap.water.settings import WINTER
from tests.made import CRS, made_ground

GROUND = made_ground(length=500.0, half_width=24.0, deep=2.0)
FLOWS = [20.0, 45.0]
RUN = partial(solve, settings=FlowSettings())
MAPPED = with_labels(RUN(GROUND, FLOWS), UnitSystem.METRIC)
BED, ROUGH = GROUND["bed"].to_numpy(), GROUND["roughness"].to_numpy()
SETTINGS = UncertaintySettings(model=ModelError(0.0, 0.0, 0.0), gauge_sd=0.0)
"""The ensemble alone, so that what it says can be told exactly."""


def weighed(members, *, run=RUN, settings=SETTINGS, mapped=MAPPED, ground=GROUND):
    limits = [WINTER] * mapped.sizes["flow"]
    drawn = [(PackedRaster.of(bed), PackedRaster.of(rough)) for bed, rough in members]
    return estimate_uncertainty(ground, mapped, drawn, run, limits, settings)


def dense(raster):
    return raster.window(slice(None), slice(None))


def wet(index=1):
    return np.isfinite(MAPPED["depth"].to_numpy()[index])


def test_members_like_the_map_leave_no_doubt():
    doubt = weighed([(BED, ROUGH)] * 4)
    for index in range(2):
        one = doubt.isel(flow=index)
        assert np.nanmax(one["depth_spread"]) < 0.01
        assert np.nanmax(one["speed_spread"]) < 0.01
        assert (one["agreement"].to_numpy()[wet(index)] == 1).all()
        assert (one["wet_chance"].to_numpy()[wet(index)] == 1).all()
        # nothing that the map has dry is wet in a river that is the map's own
        assert np.nansum(one["wet_chance"].to_numpy()[~wet(index)]) == 0


def test_a_bed_known_to_a_decimetre_gives_depths_known_to_a_decimetre():
    """Beds shifted as a whole: the level follows the bed, and so does nothing of the depth.

    Holes shifted one by one, small against the section, leave the level and move the depth by as
    much: the exact answer, up to what the section's mean takes of it.
    """
    rng = np.random.default_rng(4)
    whole = [(BED + shift, ROUGH) for shift in (-0.1, 0.1, -0.05, 0.05)]
    assert np.nanmedian(weighed(whole)["depth_spread"]) < 0.02
    errors = 0.1 * rng.standard_normal((16, *BED.shape))
    doubt = weighed([(BED + one, ROUGH) for one in errors])
    deep = MAPPED["depth"].to_numpy() > 0.5
    assert float(np.median(doubt["depth_spread"].to_numpy()[deep])) == pytest.approx(0.1, rel=0.1)


def test_doubt_of_roughness_moves_a_wide_rivers_depth_as_mannings_formula_says():
    """Wide river: depth ~ n^0.6 and speed ~ n^-0.6 at the same flow (Manning's formula)."""
    factors = np.exp(0.1 * norm.ppf((np.arange(9) + 0.5) / 9))
    doubt = weighed([(BED, ROUGH * factor) for factor in factors])
    spread = np.log(factors).std(ddof=1)
    one, water = doubt.isel(flow=1), MAPPED.isel(flow=1)
    middle = np.abs(GROUND["offset"].to_numpy()) < 4
    middle &= (GROUND["station"].to_numpy() > 100) & (GROUND["station"].to_numpy() < 400)
    depth, speed = water["depth"].to_numpy()[middle], water["east_speed"].to_numpy()[middle]
    got = np.median(one["depth_spread"].to_numpy()[middle] / depth)
    # a parabola: conveyance goes with a higher power of depth than a rectangle's 5/3
    assert 0.6 * spread * 0.6 < got < 0.6 * spread * 1.1
    quick = np.median(one["speed_spread"].to_numpy()[middle] / speed)
    assert 0.6 * spread * 0.7 < quick < 0.6 * spread * 1.4


def test_the_edge_lies_in_a_band_as_wide_as_the_level_is_doubtful():
    rough = [(BED, ROUGH * factor) for factor in (0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4)]
    doubt = weighed(rough).isel(flow=1)
    chance = doubt["wet_chance"].to_numpy()
    band = (chance > 0.1) & (chance < 0.9)
    assert band.any()
    # the band hugs the mapped edge: it never reaches the deep middle, nor the far bank
    depth = np.nan_to_num(MAPPED["depth"].to_numpy()[1])
    assert depth[band].max() < 0.6
    assert np.nanmax(BED[band] - np.nanmax(MAPPED["level"].to_numpy()[1])) < 0.6
    assert 0 < spread_at(weighed(rough), 1)["edge_m"] < 8


def test_unknown_ground_stays_unknown():
    ground = GROUND.copy(deep=True)
    hole = (slice(4, 9), slice(60, 90))
    ground["bed"].to_numpy()[hole] = np.nan
    mapped = RUN(ground, FLOWS)
    bed = ground["bed"].to_numpy()
    doubt = weighed([(bed, ROUGH)] * 3, mapped=mapped, ground=ground)
    unknown = (mapped["wet"].to_numpy() == Wet.UNKNOWN) | np.isnan(bed)
    for name in NAMES:
        assert np.isnan(doubt[name].to_numpy()[unknown]).all()


def test_low_ground_that_nothing_joins_to_the_river_stays_dry():
    bed = BED.copy()
    pit = (GROUND["offset"].to_numpy() > 34) & (GROUND["offset"].to_numpy() < 40)
    bed[pit] = np.nanmin(BED)
    ground = GROUND.assign(bed=(("y", "x"), bed, GROUND["bed"].attrs))
    mapped = RUN(ground, FLOWS)
    assert not np.isfinite(mapped["depth"].to_numpy()[1][pit]).any()
    doubt = weighed([(bed, ROUGH * 1.1)] * 3, mapped=mapped, ground=ground)
    assert np.nanmax(doubt["wet_chance"].to_numpy()[1][pit]) == 0


def test_members_that_cannot_run_are_left_out_and_told():
    def sometimes(ground, flows, *, near=None):
        if float(ground["roughness"].mean()) > 1.5 * np.nanmean(ROUGH):
            raise BuildError([])
        return RUN(ground, flows, near=near)

    doubt = weighed([(BED, ROUGH)] * 3 + [(BED, 2 * ROUGH)], run=sometimes)
    assert doubt.attrs["members"] == 3
    assert doubt.attrs["drawn"] == 4
    assert left_out_words(3, 4)[0].startswith("1 of 4 grounds")
    assert left_out_words(4, 4) == []
    with pytest.raises(BuildError, match="no-ensemble"):
        weighed([(BED, ROUGH)] + [(BED, 2 * ROUGH)] * 3, run=sometimes)


def test_each_flow_is_the_same_alone_or_in_company():
    members = [(BED + 0.05, ROUGH * 1.2), (BED, ROUGH * 0.8), (BED - 0.05, ROUGH)]
    both = weighed(members)
    alone = weighed(members, mapped=MAPPED.isel(flow=[1]))
    for name in NAMES:
        assert both[name].to_numpy()[1] == pytest.approx(alone[name].to_numpy()[0], nan_ok=True)


def test_means_over_blocks_leave_out_what_nobody_knows():
    array = np.array([[1.0, 3.0, np.nan], [np.nan, 2.0, np.nan]])
    for over in (array, array[:, ::-1]):  # packed over a number, and over NaN
        found = dense(block_mean(PackedRaster.of(np.pad(over, ((0, 0), (0, 1)))), 2))
        whole = np.pad(over, ((0, 0), (0, 1)))
        blocks = [whole[:, :2], whole[:, 2:]]
        assert found == pytest.approx(np.array([[np.nanmean(one) for one in blocks]]), nan_ok=True)


def test_a_plane_read_back_from_the_coarse_raster_is_the_plane():
    coarse = Coarse.of(GROUND, 3)
    x, y = np.meshgrid(coarse.template["x"], coarse.template["y"])
    rows, cols = np.nonzero(np.isfinite(BED))
    inner = (rows > 3) & (cols > 3) & (rows < BED.shape[0] - 6) & (cols < BED.shape[1] - 6)
    rows, cols = rows[inner], cols[inner]
    corners = Corners.of(coarse.places(rows, cols), x.shape)
    got = corners.read((0.3 * x - 0.7 * y).ravel()[corners.cells])
    true = 0.3 * GROUND["x"].to_numpy()[cols] - 0.7 * GROUND["y"].to_numpy()[rows]
    assert got == pytest.approx(true, abs=1e-6)


def test_the_coarse_cell_follows_the_width_and_is_never_the_maps_own():
    assert coarse_factor(GROUND) >= 2
    narrow = made_ground(half_width=6.0, deep=1.0)
    assert coarse_factor(narrow) == 2
    assert coarse_factor(made_ground(half_width=24.0, deep=2.0, cell=1.0)) == 6


def test_filling_takes_the_nearest():
    corners = Corners.of(np.array([[0.0, 0.0], [0.5, 2.5]]), (1, 4))
    assert corners.cells.tolist() == [0, 1, 2, 3]
    assert corners.filled(np.array([0, 3]), np.array([1.0, 4.0])).tolist() == [1.0, 1.0, 4.0, 4.0]
    assert corners.filled(np.array([], int), np.array([])).tolist() == [0.0] * 4


def test_what_is_read_between_coarse_cells_is_what_an_interpolator_reads():
    rng = np.random.default_rng(8)
    values, places = rng.random((5, 7)), rng.uniform(-1.5, 8.5, (2, 300))
    corners = Corners.of(places, values.shape)
    got = corners.read(values.ravel()[corners.cells])
    true = map_coordinates(values, places, order=1, mode="nearest")
    assert got == pytest.approx(true, abs=1e-12)


WIDTH = 40.0


def pieces(count, *, score=60.0):
    """Pieces of water at the higher flow, 20 m by 12 m each."""
    x, y = float(GROUND["x"][30]), float(GROUND["y"][GROUND.sizes["y"] // 2])
    label = str(MAPPED["asked"].to_numpy()[1])
    numbers = [c.name for c in BY_NAME["water"].columns if c.dtype == "float" and not c.spare]
    rows = [
        dict.fromkeys(numbers, 0.0)
        | {
            "kind": "seam",
            "side": "left",
            "run": "",
            "flow_label": label,
            "code": f"B{k}",
            "confidence": "low",
            "score": score,
        }
        | {"geometry": box(x + 40 * k, y - 6, x + 40 * k + 20, y + 6)}
        for k in range(count)
    ]
    return layer_frame("water", rows, CRS)


def said(chance):
    """An ensemble that says the same of every field."""
    stack = (("flow", "y", "x"), chance.astype(np.float32))
    return xr.Dataset({"suits_chance": stack, "agreement": stack})


def test_what_the_ensemble_holds_is_surer_and_the_drawn_layer_stays_as_it_was():
    water = pieces(3)
    chance = np.zeros(MAPPED["depth"].shape)
    owner = owners_of(water, MAPPED)
    for number, share in enumerate((0.97, 0.6, 0.1), start=1):
        chance[1][owner == number] = share
    told = with_confidence(water, MAPPED.isel(flow=[1]), said(chance[1:]), WIDTH, SETTINGS)
    assert (np.diff(told["chance"]) < 0).all()
    assert list(told["confidence"])[-1] == "low"
    assert list(water["confidence"]) == ["low"] * 3


def test_the_chance_is_the_logistic_law_of_its_settings():
    flat = replace(SETTINGS, holding=(0.3, 1.0, 0.0, 0.0, 0.0))
    got = chance_of_half(
        [np.array([0.5]), np.array([0.9])], np.array([50.0]), np.array([1.0]), flat
    )
    assert got == pytest.approx(1 / (1 + np.exp(-0.3)))
    half = replace(SETTINGS, holding=(0.0, 1.0, 0.0, 0.0, 0.0))
    means = np.array([0.3, 0.5, 0.8])
    got = chance_of_half([means, means], np.zeros(3), np.ones(3), half)
    assert got == pytest.approx(means)  # log odds there and back


def test_larger_and_likelier_pieces_are_surer():
    def chance(odds, size):
        means = [np.array([odds]), np.array([0.8])]
        return float(chance_of_half(means, np.array([60.0]), np.array([size]), SETTINGS)[0])

    assert chance(0.8, 0.3) > chance(0.4, 0.3)
    assert chance(0.8, 1.0) > chance(0.8, 0.1)


def test_grades_follow_the_chance():
    mapped = MAPPED.isel(flow=[1])
    chance = np.full(mapped["depth"].shape, 0.95)
    told = with_confidence(pieces(1, score=95.0), mapped, said(chance), WIDTH, SETTINGS)
    bounds = {SETTINGS.good_from: "good", SETTINGS.fair_from: "fair", 0.0: "low"}
    number = float(told["chance"].iloc[0])
    assert told["confidence"].iloc[0] == next(word for low, word in bounds.items() if number >= low)
    certain = replace(SETTINGS, holding=(9.0, 0.0, 0.0, 0.0, 0.0))
    assert (
        with_confidence(pieces(1), mapped, said(chance), WIDTH, certain)["confidence"][0] == "good"
    )
    doubtful = replace(SETTINGS, holding=(-9.0, 0.0, 0.0, 0.0, 0.0))
    assert (
        with_confidence(pieces(1), mapped, said(chance), WIDTH, doubtful)["confidence"][0] == "low"
    )


def test_beside_unknown_water_confidence_is_a_step_lower():
    water = pieces(1)
    known = MAPPED.isel(flow=[1])
    mapped = known.copy(deep=True)
    row, col = (int(found[0]) for found in np.nonzero(owners_of(water, MAPPED)))
    mapped["wet"].to_numpy()[0, row, col] = Wet.UNKNOWN
    doubt = said(np.ones(known["depth"].shape))
    certain = replace(SETTINGS, holding=(9.0, 0.0, 0.0, 0.0, 0.0))
    assert list(with_confidence(water, known, doubt, WIDTH, certain)["confidence"]) == ["good"]
    assert list(with_confidence(water, mapped, doubt, WIDTH, certain)["confidence"]) == ["fair"]


def test_wider_tolerance_means_more_agreement():
    members = [(BED, ROUGH * factor) for factor in (0.6, 0.8, 1.2, 1.5)]
    strict = weighed(members, settings=replace(SETTINGS, depth_same_m=0.02, same_share=0.02))
    loose = weighed(members, settings=replace(SETTINGS, depth_same_m=2.0, speed_same_m_s=5.0))
    assert np.nanmean(strict["agreement"]) < np.nanmean(loose["agreement"])
    deep = MAPPED["depth"].to_numpy() > 0.8
    assert np.nanmin(loose["agreement"].to_numpy()[deep]) == 1
