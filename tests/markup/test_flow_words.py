"""Numbers that were typed are told as they were typed."""

import pytest

from reachmap.base.errors import MarkupError
from reachmap.base.units import to_si
from reachmap.base.words import UnitSystem
from reachmap.markup.config import flow_text
from reachmap.pipeline.flow_checks import checked_flows


@pytest.mark.parametrize(
    ("cfs", "words"),
    [(99_999, "99,999 cfs"), (1234.6, "1,235 cfs"), (999.94, "999.9 cfs"), (12.5, "12.5 cfs")],
)
def test_a_flow_is_told_without_an_exponent(cfs, words):
    assert flow_text(to_si(cfs, "cfs"), UnitSystem.US) == words


def test_a_flow_beyond_all_rivers_is_told_as_it_was_typed():
    with pytest.raises(MarkupError, match="9,999,999 cfs is no river's flow"):
        checked_flows([to_si(9_999_999, "cfs")], UnitSystem.US)
