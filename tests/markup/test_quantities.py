"""Numbers as people write them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.markup.layers import Quantity
from reachmap.markup.quantities import (
    KINDS,
    UNITS_OF,
    between,
    number_within,
    read_number,
    unit_of,
)

LENGTH, FLOW, SINK = Quantity.LENGTH, Quantity.FLOW, Quantity.SINK
US, METRIC = UnitSystem.US, UnitSystem.METRIC


@pytest.mark.parametrize(
    ("written", "quantity", "units", "si"),
    [
        (5, LENGTH, US, 1.524),
        ("5", LENGTH, METRIC, 5.0),
        ("5 ft", LENGTH, METRIC, 1.524),
        ("5ft.", LENGTH, METRIC, 1.524),
        ("5'", LENGTH, METRIC, 1.524),
        ("5' 10\"", LENGTH, US, 1.778),
        ("5 ft 10 in", LENGTH, METRIC, 1.778),
        ("70 in", LENGTH, METRIC, 1.778),
        ("180 cm", LENGTH, US, 1.8),
        ("-0.5", LENGTH, METRIC, -0.5),
        ("1e2", LENGTH, METRIC, 100.0),
        ("2,400", FLOW, METRIC, 2400.0),
        ("2,400 cfs", FLOW, METRIC, 67.960432),
        ("1,234,567.5 cfs", FLOW, US, 1_234_567.5 * 0.3048**3),
        ("68 m³/s", FLOW, US, 68.0),
        ("68cms", FLOW, US, 68.0),
        (7.5, SINK, US, 0.1905),
        (19, SINK, METRIC, 0.19),
        ("1.5 fps", Quantity.SPEED, METRIC, 0.4572),
    ],
)
def test_a_number_with_or_without_its_unit(written, quantity, units, si):
    assert read_number(written, quantity, units) == pytest.approx(si, rel=1e-7)


@pytest.mark.parametrize("nothing", [None, "", "  ", math.nan])
def test_nothing_is_nan(nothing):
    assert math.isnan(read_number(nothing, LENGTH, US))


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("deep", "'deep' is not a number"),
        ("5 cfs", "'cfs' is not a unit of length"),
        ("5 fathoms", "'fathoms' is not a unit of length"),
        ("1,5", "'1,5' is not a number"),
        ("5 6", "'6' is not a unit"),
        ("nan", "'nan' is not a number"),
        ("1e999", "is not a finite number"),
        (math.inf, "is not a finite number"),
        (True, "'True' is not a number"),
    ],
)
def test_what_is_no_number_is_said_so(written, words):
    with pytest.raises(ValueError, match="is not") as caught:
        read_number(written, LENGTH, METRIC)
    assert words in str(caught.value)


@given(
    st.floats(-1e6, 1e6, allow_subnormal=False),
    st.sampled_from(list(UNITS_OF)),
    st.sampled_from(UnitSystem),
)
def test_a_plain_number_is_the_same_with_the_folders_unit_behind(value, quantity, units):
    unit = unit_of(quantity, units)
    plain = read_number(value, quantity, units)
    assert plain == pytest.approx(to_si(value, unit), rel=1e-12)
    for other in UnitSystem:
        assert read_number(f"{value!r} {unit}", quantity, other) == pytest.approx(plain, rel=1e-12)


@given(st.text(max_size=40))
def test_no_text_whatever_makes_anything_but_a_number_or_a_plain_fault(text):
    number, wrong = number_within(text, LENGTH, US, (0.0, 10.0))
    assert math.isnan(number) or 0 <= number <= 10
    assert wrong is None or all(wrong)


def test_limits_say_which_unit_was_likely_meant():
    number, wrong = number_within(6, LENGTH, METRIC, (1.0, 2.3))
    assert math.isnan(number)
    assert wrong == (
        "6 is 6 m",
        'Wants 1 to 2.3 m. Meant in ft? Then write it with its unit, like "6 ft"',
    )


def test_whoever_wrote_the_unit_is_not_asked_for_it():
    for written in ("6 m", "19 ft 8 in"):
        _, wrong = number_within(written, LENGTH, METRIC, (1.0, 2.3))
        assert wrong is not None
        assert wrong[1] == "Wants 1 to 2.3 m"
    _, wrong = number_within("6", LENGTH, METRIC, (1.0, 2.3))
    assert wrong is not None
    assert "Meant in ft?" in wrong[1]


def test_limits_are_told_in_the_folders_unit():
    assert between(1.0, 2.3, "ft") == "3.28 to 7.55 ft"
    assert between(0.01, 50_000, "cfs") == "0.353 to 1,770,000 cfs"


def test_every_quantity_has_its_units_among_those_that_fit():
    assert all(
        unit in KINDS[quantity] for quantity, units in UNITS_OF.items() for unit in units.values()
    )
