"""Clarity from notes: the law found again, limbs apart, and silence where notes are too few."""

from __future__ import annotations

import math
from datetime import UTC

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.gauge.clarity import FARTHEST_M, by_law, clarity_on, fit_clarity, fit_law
from reachmap.gauge.clarity_data import BasisKind, ClarityNote, Limb
from reachmap.gauge.clarity_notes import limb_of, read_notes, with_record
from reachmap.text.days import basis_words
from tests.planner.made import START, hourly

NAT = np.datetime64("NaT", "s")
DAY = np.timedelta64(86_400, "s")


def notes(limb: Limb, scale: float, power: float, flows=(10.0, 20.0, 40.0, 60.0)):
    return [ClarityNote(scale * q**-power, q, limb=limb) for q in flows]


def ask(model, flow: float, limb: Limb = Limb.FALLING, when=START, since=NAT):
    return clarity_on(model, flow=flow, limb=limb, when=when, since_low=since)


@pytest.mark.table
def test_the_law_through_two_sightings_worked_by_hand_is_found():
    # 3.0 m at 20 m3/s and 1.0 m at 60: beta = ln 3 / ln 3 = 1, alpha = 60, by the form of
    # Davies-Colley (1990), N.Z. Journal of Marine and Freshwater Research 24:453
    law = fit_law(np.array([20.0, 60.0, 30.0, 40.0]), np.array([3.0, 1.0, 2.0, 1.5]))
    assert law is not None
    assert law.power == pytest.approx(1.0)
    assert law.scale == pytest.approx(60.0)


@given(scale=st.floats(5, 200), power=st.floats(0.12, 1.38), flow=st.floats(9, 70))
def test_a_law_within_the_published_range_is_found_again(scale, power, flow):
    model = fit_clarity(notes(Limb.FALLING, scale, power))
    told = ask(model, flow)
    assert told.metres == pytest.approx(min(scale * flow**-power, FARTHEST_M), rel=1e-6)
    assert told.low <= told.metres * (1 + 1e-9)
    assert told.metres <= told.high * (1 + 1e-9)


def test_the_limbs_are_kept_apart():
    model = fit_clarity([*notes(Limb.RISING, 20, 1.0), *notes(Limb.FALLING, 60, 1.0)])
    assert ask(model, 30.0, Limb.RISING).metres == pytest.approx(20 / 30)
    assert ask(model, 30.0, Limb.FALLING).metres == pytest.approx(2.0)
    basis = ask(model, 30.0).basis
    assert (basis.kind, basis.limb) == (BasisKind.LIMB_NOTES, Limb.FALLING)
    assert "on the falling limb" in basis_words(basis)


@pytest.mark.parametrize(
    "few",
    [
        [],
        notes(Limb.FALLING, 60, 1.0)[:3],
        notes(Limb.FALLING, 60, 1.0, flows=(20.0, 21.0, 22.0, 23.0)),  # all at one flow
        notes(Limb.FALLING, 0.1, -1.0),  # clearer the higher it is: not believed
    ],
)
def test_with_too_few_notes_it_is_not_known(few):
    told = ask(fit_clarity(few), 20.0)
    assert math.isnan(told.metres)
    assert told.basis.kind is BasisKind.NONE


def test_beyond_the_notes_it_is_not_known():
    model = fit_clarity(notes(Limb.FALLING, 60, 1.0))
    assert math.isnan(ask(model, 100.0).metres)
    assert math.isnan(ask(model, math.nan).metres)
    assert not math.isnan(ask(model, 70.0).metres)


def test_scattered_notes_widen_the_band():
    flows = np.array([10.0, 15.0, 20.0, 30.0, 40.0, 60.0])
    off = np.array([1.3, 0.8, 1.2, 0.75, 1.25, 0.85])
    exact, loose = (fit_law(flows, 60 / flows * k) for k in (np.ones(6), off))
    assert exact is not None
    assert loose is not None
    told = by_law(loose, 25.0, "")
    assert told.high / told.low > 1.5
    assert by_law(exact, 25.0, "").high == pytest.approx(by_law(exact, 25.0, "").low)


def test_a_note_of_this_storm_moves_the_law_halfway():
    model = fit_clarity(
        [*notes(Limb.FALLING, 60, 1.0), ClarityNote(1.0, 30.0, limb=Limb.FALLING, when=START)]
    )
    later = ask(model, 30.0, when=START + DAY, since=START - DAY)
    law = model.falling
    assert law is not None
    here = by_law(law, 30.0, "").metres
    assert later.metres == pytest.approx(math.sqrt(here * 1.0))
    # the same note is of another storm once the river has risen since
    fresh = ask(model, 30.0, when=START + DAY, since=START + DAY / 2)
    assert fresh.metres == pytest.approx(here)


def test_the_river_s_own_clearing_carries_a_note_on():
    fall = [
        ClarityNote(0.5 * 1.5**k, 40.0 - k, limb=Limb.FALLING, when=START + k * DAY)
        for k in range(4)
    ]
    model = fit_clarity(fall)
    assert math.expm1(model.clears) == pytest.approx(0.5)
    told = ask(model, 36.0, when=START + 3 * DAY + DAY / 2, since=START - DAY)
    assert told.metres == pytest.approx(max(note.clarity_m for note in fall))  # no farther
    assert told.low <= told.metres


def test_a_single_note_holds_for_a_while_only():
    model = fit_clarity([ClarityNote(1.0, 30.0, limb=Limb.FALLING, when=START)])
    assert ask(model, 30.0, when=START + DAY, since=START - DAY).metres == 1.0
    assert math.isnan(ask(model, 30.0, when=START + 3 * DAY, since=START - DAY).metres)
    assert math.isnan(ask(model, 45.0, when=START + DAY, since=START - DAY).metres)


def test_two_own_sightings_stand_in_with_a_wide_band():
    told = ask(fit_clarity([], own=(60.0, 1.0)), 30.0)
    assert told.metres == pytest.approx(2.0)
    assert told.high / told.low > 2


def test_turbidity_has_a_law_of_its_own():
    rows = [ClarityNote(4.0 / n**0.8, turbidity=n) for n in (2.0, 5.0, 10.0, 30.0)]
    law = fit_clarity(rows).turbidity
    assert law is not None
    assert by_law(law, 8.0, "").metres == pytest.approx(4.0 / 8.0**0.8)


CSV = """# notes
time,clarity_ft,flow_cfs,limb,turbidity
2031-01-10T08:00Z,3,900,falling,4
2031-01-10T12:00,2.5,,,
,1,2400,rising,
"""


def test_notes_are_read_from_a_csv_and_looked_up_in_the_record():
    found, faults = read_notes("clarity.csv", CSV, UnitSystem.US, UTC)
    assert not faults
    assert found[0].clarity_m == pytest.approx(to_si(3.0, "ft"))
    assert found[0].turbidity == 4.0
    assert math.isnan(found[1].flow)
    looked = with_record(found, hourly(np.linspace(40.0, 20.0, 25)))
    assert looked[0].flow == pytest.approx(to_si(900.0, "cfs"))  # its own figure stays
    assert looked[1].flow == pytest.approx(30.0)
    assert looked[1].limb is Limb.FALLING
    assert looked[2].limb is Limb.RISING
    assert np.isnat(looked[2].when)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("time,flow\n2031-01-10,900\n", "no column of clarity"),
        ("clarity\nfar\n", "makes no sense"),
        ("clarity\n0\n", "above zero"),
        ("clarity,flow\n3,-2\n", "makes no sense"),
        ("clarity,limb\n3,sideways\n", "makes no sense"),
        ("time,clarity\nlate,3\n", "makes no sense"),
        ("clarity_furlong\n3\n", "makes no sense"),
        ("", "no column"),
    ],
)
def test_rows_that_make_no_sense_are_told(text, found):
    notes_, faults = read_notes("clarity.csv", text, UnitSystem.US, UTC)
    assert not notes_
    assert found in faults[0].found


def test_the_limb_is_that_of_the_hours_before():
    assert limb_of(10.0, 12.0) is Limb.RISING
    assert limb_of(10.0, 8.0) is Limb.FALLING
    assert limb_of(10.0, 10.0) is Limb.FALLING  # a river that stands has cleared
    assert limb_of(math.nan, 8.0) is Limb.UNKNOWN


@pytest.mark.table
def test_one_note_of_a_fall_clears_along_it_within_what_twelve_rivers_showed():
    # Davies-Colley (1990), abstract: b from 0.12 to 1.38; at half the flow 2^b as far
    note = ClarityNote(0.5, 60.0, limb=Limb.FALLING, when=START)
    model = fit_clarity([note])
    told = ask(model, 30.0, when=START + 3 * DAY, since=START - DAY)
    assert told.basis.kind is BasisKind.FALL_NOTE
    assert 0.5 * 2**0.12 < told.metres < 0.5 * 2**1.38
    assert told.low < 0.5 * 2**0.12
    assert told.high > 0.5 * 2**1.38
    # nothing of higher water, of the rise, of an older storm, nor of a fall to a tenth
    assert math.isnan(ask(model, 70.0, when=START + 3 * DAY, since=START - DAY).metres)
    assert math.isnan(ask(model, 30.0, Limb.RISING, when=START + 3 * DAY).metres)
    assert math.isnan(ask(model, 30.0, when=START + 30 * DAY, since=START + 20 * DAY).metres)
    assert math.isnan(ask(model, 6.0, when=START + 3 * DAY, since=START - DAY).metres)
