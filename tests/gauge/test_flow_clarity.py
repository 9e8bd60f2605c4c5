"""Clarity by flow alone: through two sightings, or by the notes of a river that falls."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from reachmap.gauge.clarity import OWN_DOUBT, SURE, fit_clarity
from reachmap.gauge.clarity_data import BasisKind, ClarityNote, Limb
from reachmap.gauge.flow_clarity import river_clarity, sighted

FLOWS = np.array([15.0, 22.0, 34.0, 50.0, 71.0, 90.0])


def notes(seen, limb):
    return [
        ClarityNote(float(one), float(flow), limb=limb)
        for one, flow in zip(seen, FLOWS, strict=True)
    ]


def test_the_falling_rivers_notes_come_first():
    both = [*notes(30 / FLOWS, Limb.FALLING), *notes(10 / FLOWS, Limb.RISING)]
    found = river_clarity(fit_clarity(both))
    assert found.basis.kind is BasisKind.LIMB_NOTES
    assert found.basis.limb is Limb.FALLING
    assert found.basis.notes == len(FLOWS)
    assert found.at(40.0).metres == pytest.approx(30 / 40)


def test_notes_without_a_limb_count_together_and_too_few_say_nothing():
    found = river_clarity(fit_clarity(notes(30 / FLOWS, Limb.UNKNOWN)))
    assert found.basis.kind is BasisKind.ALL_NOTES
    assert river_clarity(fit_clarity(notes(30 / FLOWS, Limb.FALLING)[:3])) is None
    assert river_clarity(fit_clarity([])) is None


def test_the_band_is_the_prediction_interval_of_a_straight_line():
    """By scipy's linregress and Student's t, Draper and Smith's formula (from memory)."""
    scatter = np.array([0.1, -0.15, 0.05, 0.12, -0.2, 0.08])
    seen = 30 / FLOWS * np.exp(scatter)
    found = river_clarity(fit_clarity(notes(seen, Limb.FALLING)))
    x, y, at = np.log(FLOWS), np.log(seen), math.log(120.0)
    line = stats.linregress(x, y)
    rest = y - line.intercept - line.slope * x
    error = math.sqrt((rest**2).sum() / (x.size - 2))
    error *= math.sqrt(1 + 1 / x.size + (at - x.mean()) ** 2 / ((x - x.mean()) ** 2).sum())
    half = stats.t.ppf(0.5 + SURE / 2, x.size - 2) * error
    got, middle = found.at(120.0), line.intercept + line.slope * at
    wanted = np.exp([middle - half, middle, middle + half])
    assert (got.low, got.metres, got.high) == pytest.approx(tuple(wanted))


def test_two_sightings_know_no_doubt_of_their_own():
    got = sighted((20.0, 1.6), (80.0, 0.4)).at(40.0)
    assert got.metres == pytest.approx(0.8)
    assert (got.low, got.high) == pytest.approx((0.8 * (1 - OWN_DOUBT), 0.8 * (1 + OWN_DOUBT)))
    assert got.basis.kind is BasisKind.OWN_LAW


def test_a_flow_that_nobody_noted_is_known_as_such():
    found = river_clarity(fit_clarity(notes(30 / FLOWS, Limb.FALLING)))
    assert found.noted(15.0)
    assert found.noted(90.0)
    assert not found.noted(14.0)
    assert not found.noted(120.0)
