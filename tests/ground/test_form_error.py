"""The factor of the form's error from the soundings' misfit, and its part in the members."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reachmap.base.words import COVER_CODES, Cover
from reachmap.ground.build_ground import build_ground
from reachmap.ground.ensemble import members
from reachmap.ground.form_error import form_error_factor, misfit_of, thinned
from reachmap.ground.settings import GroundSettings, SpreadSettings
from reachmap.ground.soundings import Doubt, Noise, Places
from reachmap.ground.sources import SOUNDED, TRUST, Source
from tests.ground.test_ensemble import DRAWN, GROUND, SETTINGS, under_water

SPREAD = SpreadSettings()


def test_without_soundings_the_settings_stand():
    assert form_error_factor(0.0, 0, SPREAD, how="surface") == pytest.approx(SPREAD.surface_doubt)
    assert form_error_factor(0.0, 0, SPREAD, how="drawing") == pytest.approx(SPREAD.drawn_doubt)


def test_the_factor_is_the_mean_of_prior_and_misfit_by_their_numbers():
    rules = replace(SPREAD, prior_soundings=8.0, surface_doubt=1.5, drawn_doubt=2.0)
    got = form_error_factor(90.0, 12, rules, how="surface")
    assert got == pytest.approx(np.sqrt((8.0 * 2.25 + 90.0) / 20.0))
    got = form_error_factor(90.0, 12, rules, how="drawing")
    assert got == pytest.approx(np.sqrt((8.0 * 4.0 + 90.0) / 20.0))


@pytest.mark.parametrize("factor", [1.0, 1.5, 2.0])
def test_many_soundings_find_the_factor_their_residuals_were_drawn_with(factor):
    rng = np.random.default_rng(5)
    count = 300
    depth = rng.uniform(0.5, 2.0, count)
    known = Places(
        rng.uniform(0, 3000, count), rng.uniform(-20, 20, count), depth, 0.2 * depth, 0.1 * depth
    )
    doubt = Doubt.of(GroundSettings(), 40.0)
    covariance = doubt.between(known, known) + np.eye(count) * doubt.error**2
    residual = factor * np.linalg.cholesky(covariance) @ rng.standard_normal(count)
    misfit = misfit_of(known, residual, doubt, Noise.alike(count, doubt.error))
    got = form_error_factor(misfit, count, SPREAD, how="surface")
    assert got == pytest.approx(factor, rel=0.12)


def test_soundings_near_the_form_do_not_make_it_surer_than_the_settings():
    assert form_error_factor(1.0, 40, SPREAD, how="surface") == 1.0
    assert form_error_factor(1.0, 400, SPREAD, how="drawing") == 1.0


def drawn(ground, settings=SETTINGS):
    both = (slice(None), slice(None))
    made = members(ground, DRAWN, settings, 3)
    return [(bed.window(*both), rough.window(*both)) for bed, rough in made]


def test_members_lie_apart_by_the_factor_beneath_the_water_and_nowhere_else():
    # what the closing explains follows roughness and flow, not the factor: both are held here
    still = replace(SPREAD, roughness_doubt=1e-6, flow_doubt=1e-6)
    rules = replace(SETTINGS, spread=still)
    once, twice = (
        np.stack([bed for bed, _ in drawn(GROUND.assign_attrs(bed_doubt=factor), rules)]).std(
            axis=0
        )
        for factor in (1.0, 2.0)
    )
    wet = under_water(GROUND) & (once > 0.02)
    assert np.median(twice[wet] / once[wet]) == pytest.approx(2.0, rel=0.1)
    dry = GROUND["confidence"].to_numpy() >= 0.9
    assert twice[dry] == pytest.approx(once[dry])


def test_each_kind_of_growth_is_rougher_or_smoother_by_itself_and_gravel_never():
    cover = GROUND["cover"].to_numpy().copy()
    cover[:, : cover.shape[1] // 2][cover[:, : cover.shape[1] // 2] > 0] = COVER_CODES[Cover.BRUSH]
    cover[:, cover.shape[1] // 2 :][cover[:, cover.shape[1] // 2 :] > 0] = COVER_CODES[Cover.GRAVEL]
    ground = GROUND.assign(cover=(("y", "x"), cover, GROUND["cover"].attrs))
    rough = GROUND["roughness"].to_numpy()
    ratio = [np.log(one / rough) for _, one in drawn(ground)]
    brush, gravel = cover == COVER_CODES[Cover.BRUSH], cover == COVER_CODES[Cover.GRAVEL]
    assert all(np.nanstd(one[gravel]) < 1e-9 for one in ratio)
    apart = np.array([np.nanmean(one[brush]) - np.nanmean(one[gravel]) for one in ratio])
    assert apart.std(ddof=1) == pytest.approx(SPREAD.cover_doubt, rel=0.6)
    none = replace(SETTINGS, spread=replace(SPREAD, cover_doubt=0.0))
    same = [np.log(one / rough) for _, one in drawn(ground, none)]
    # without a doubt of its own growth stays as it is, whatever the channel's roughness does
    assert all(np.nanmax(np.abs(one[brush])) < 1e-9 for one in same)
    assert np.std([np.nanmean(one[gravel]) for one in same]) > 0.05


def test_few_soundings_all_count_and_of_many_an_even_pick():
    assert thinned(5, 600).tolist() == [0, 1, 2, 3, 4]
    assert thinned(0, 600).size == 0
    picked = thinned(60_000, 600)
    assert picked.size == 600
    assert (picked[0], picked[-1]) == (0, 59_999)
    assert np.ptp(np.diff(picked)) <= 1


def test_near_soundings_a_drawn_form_is_as_sure_as_under_a_measured_surface():
    still = replace(SPREAD, roughness_doubt=1e-6, flow_doubt=1e-6)
    rules = replace(SETTINGS, spread=still)
    floor, near = TRUST[Source.FORM_SURFACE], (TRUST[Source.FORM_SURFACE] + SOUNDED) / 2
    wet = under_water(GROUND)
    spreads = {}
    for told, sure in (("alone", floor), ("half told", near)):
        ground = GROUND.copy()
        known = np.where(wet, sure, GROUND["confidence"].to_numpy())
        ground["confidence"] = GROUND["confidence"].dims, known
        for sounded in (1.0, 2.0):
            here = ground.assign_attrs(bed_doubt=2.0, bed_doubt_sounded=sounded)
            spreads[told, sounded] = np.stack([bed for bed, _ in drawn(here, rules)]).std(axis=0)
    deep = wet & (spreads["alone", 2.0] > 0.02)
    for told, share in (("alone", 1.0), ("half told", 0.75)):
        ratio = np.median((spreads[told, 1.0] / spreads[told, 2.0])[deep])
        assert ratio == pytest.approx(share, rel=0.05)


def test_the_ground_says_both_factors_and_they_differ_only_where_no_surface_was_measured():
    assert GROUND.attrs["low_how"] == "surface"
    assert GROUND.attrs["bed_doubt_sounded"] == GROUND.attrs["bed_doubt"]
    bare = build_ground(replace(DRAWN, plan=replace(DRAWN.plan, slope=0.002)), None, SETTINGS)
    assert bare.attrs["bed_doubt"] == pytest.approx(SPREAD.drawn_doubt)
    assert bare.attrs["bed_doubt_sounded"] == pytest.approx(SPREAD.surface_doubt)
