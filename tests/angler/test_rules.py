from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reachmap.angler.rules import SOURCES, strictest, strictest_rule, wade_limit
from reachmap.base.words import WadeRule

TABLES = Path(__file__).resolve().parents[2] / "shared" / "tables"
ROWS = pd.read_csv(TABLES / "wading_limits.csv", comment="#")
heights, masses = st.floats(1.4, 2.1), st.floats(40, 130)


@pytest.mark.table
@pytest.mark.parametrize("row", list(ROWS.itertuples(index=False)), ids=str)
def test_each_rule_gives_its_published_product(row):
    got = wade_limit(WadeRule(row.rule), row.height_m, row.mass_kg).product_m2_s
    assert got == pytest.approx(row.product_m2_s, abs=0.5 * 10.0**-row.printed_digits)


@pytest.mark.table
@pytest.mark.parametrize(("height", "mass"), [(1.52, 41.0), (1.83, 91.0)])
def test_the_failure_formula_lies_inside_the_range_measured_in_the_flume(height, mass):
    # Abt and others 1989: 20 adults, failure at 0.7 to 2.1 m2/s (read: Cox 2011, slides,
    # scribd 143133344); heights x masses there ran from 62 to 173 m kg
    assert 0.7 <= wade_limit(WadeRule.FAILURE, height, mass).product_m2_s <= 2.1


@given(height=heights, mass=masses)
def test_poor_conditions_allow_no_more_than_normal_and_normal_no_more_than_good(height, mass):
    poor, normal, good = (
        wade_limit(rule, height, mass).product_m2_s
        for rule in (WadeRule.POOR, WadeRule.NORMAL, WadeRule.GOOD)
    )
    assert poor <= normal <= good


@given(height=heights, mass=masses, rules=st.sets(st.sampled_from(list(WadeRule)), min_size=1))
def test_the_strictest_allows_no_more_than_any_of_them(height, mass, rules):
    least = strictest(rules, height, mass)
    for rule in rules:
        one = wade_limit(rule, height, mass)
        assert least.product_m2_s <= one.product_m2_s
        assert least.depth_m <= one.depth_m
        assert least.speed_m_s <= one.speed_m_s
    assert (
        wade_limit(strictest_rule(rules, height, mass), height, mass).product_m2_s
        == least.product_m2_s
    )


@given(height=heights, mass=masses, more=st.floats(0, 40))
def test_a_heavier_person_is_never_allowed_less(height, mass, more):
    for rule in WadeRule:
        light = wade_limit(rule, height, mass).product_m2_s
        assert wade_limit(rule, height, mass + more).product_m2_s >= light


@pytest.mark.table
def test_the_rule_of_ten_is_laxer_than_normal_conditions_for_a_middling_adult():
    # read in the published comparison: 0.929 against 0.725 m2/s for 1.75 m and 75 kg
    ten = wade_limit(WadeRule.TEN, 1.75, 75).product_m2_s
    assert ten > wade_limit(WadeRule.NORMAL, 1.75, 75).product_m2_s


def test_nonsense_is_refused():
    with pytest.raises(ValueError, match="positive"):
        wade_limit(WadeRule.TEN, 0.0, 70)
    with pytest.raises(ValueError, match="at least one"):
        strictest((), 1.75, 75)


@pytest.mark.parametrize("rule", list(WadeRule))
def test_every_rule_says_what_was_seen_of_its_source_and_the_docs_say_the_same(rule):
    docs = (TABLES.parents[1] / "docs" / "wading.md").read_text(encoding="utf-8")
    word = str(rule).removesuffix(" conditions")
    row = next(line for line in docs.splitlines() if line.startswith("| ") and f"`{word}" in line)
    assert f"| {SOURCES[rule].work} | {SOURCES[rule].seen} |" in row
    assert any(how in SOURCES[rule].seen for how in ("second-hand", "from memory", "read"))
